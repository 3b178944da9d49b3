"""What changes when each mix has a spread of its own between vessels."""

import math
from typing import Any

from .blocks import Column, Prose, Table
from .markdown import escape
from .printing import join, print_figures, print_hours, print_interval, print_p
from .selection import floor_of, level_words, mix_names, mix_order, of_criterion
from .tables import marks_of
from .words import assured_words

_MOVED = 1.25  # an assured time that grows by less is not named
_NAMED = 3  # most mixes named in a sentence


def own_spread_words(results: Any) -> Prose:
    """
    Whether the vessels of all mixes spread alike, and whose assured time rests on it most.

    Parameters
    ----------
    results : Results
        With the tables `times`, `spread`, `times_own_spread`.

    Returns
    -------
    Prose
    """
    row = of_spread(results)
    declared = declared_scale_words(results)
    if declared:
        return Prose(
            f"**The spread between vessels was declared, not measured**: {escape(declared)}. All "
            "limits of times and of ratios rest on it; if these mixes spread more, they are too "
            "narrow."
        )
    if row is None or not len(results["times_own_spread"]):
        return Prose(
            "Whether the vessels of all mixes spread alike can't be asked of this trial: too few "
            "vessels of one mix came clear at times that differ."
        )
    found = f"(p {print_p(row.p_value)}, by {row.n_simulated} simulated trials)"
    if row.verdict == "shown unequal":
        text = f"**The vessels of some mixes spread more than those of others** {found}. "
    else:
        text = (
            f"The vessels of the mixes were not shown to spread unequally {found}; with so few "
            "vessels only gross differences could be. "
        )
    if not row.matters:
        return Prose(text + "The times above, with one spread for all mixes, serve.")
    longer = longer_by_own_spread(results)
    if longer:
        text += f"With a spread of each mix's own the assured time of {escape(longer)}. "
    # 0.32 at 4 vessels a mix, spreads 1 : 4 (tests/reference/coverage_spread.csv).
    return Prose(
        text
        + "The times above have the wider limits of the two: in simulated trials, those by one "
        "spread held the true time of the most variable mix as seldom as one time in three."
    )


def declared_scale_words(results: Any) -> str:
    """
    The spread that limits rest on where it was declared, not measured.

    Parameters
    ----------
    results : Results

    Returns
    -------
    str
        Such as "0.3 on the scale of log time, from other trials (the spring re-run)"; empty where
        the vessels of the trial itself tell their spread, or nothing does.
    """
    scale = results.meta.get("declared_scale")
    if scale is None:
        return ""
    source = results.meta.get("scale_source")
    named = f" ({source})" if source else ""
    return f"{print_figures(float(scale), 2)} on the scale of log time, from other trials{named}"


def of_spread(results: Any) -> Any:
    """
    The row of the test of equal spread, None where it was not made.

    Parameters
    ----------
    results : Results

    Returns
    -------
    namedtuple or None
    """
    if "spread" not in results or not len(results["spread"]):
        return None
    return next(results["spread"].itertuples(index=False))


def longer_by_own_spread(results: Any) -> str:
    """
    The mixes whose assured time is much longer by a spread of their own, most moved first.

    Parameters
    ----------
    results : Results

    Returns
    -------
    str
        Such as "Birch is 37 h instead of 16 h"; empty when there are none.
    """
    names, own = mix_names(results), _own_rows(results, "assured time")
    moved = []
    for mix, row in _common_rows(results, "assured time").items():
        other = own.get(mix)
        if other is None or not row.conf_high < math.inf:
            continue
        if other.conf_high > _MOVED * row.conf_high:
            told = print_hours(other.conf_high) + " h" if other.conf_high < math.inf else "no limit"
            words = f"{names[mix]} is {told} instead of {print_hours(row.conf_high)} h"
            moved.append((other.conf_high / row.conf_high, words))
    told = [words for _, words in sorted(moved, reverse=True)][:_NAMED]
    return join([*told[:1], *(f"that of {words}" for words in told[1:])])


def own_spread_table(results: Any) -> Table | Prose:
    """
    The times by one spread beside those by a spread of each mix's own.

    Parameters
    ----------
    results : Results
        With the tables `times`, `spread`, `times_own_spread`.

    Returns
    -------
    Table or Prose
        A sentence where one spread serves.
    """
    row = of_spread(results)
    if row is None or not row.matters:
        words = "The times above, with one spread for all mixes, are the ones to use."
        return Prose(words, "own-spread")
    criterion, window = _criterion(results), float(results.meta["window_h"])
    names, order = mix_names(results), mix_order(results, criterion)
    times = [
        find(results, term)
        for term in ("typical time", "assured time")
        for find in (_common_rows, _own_rows)
    ]
    order = [mix for mix in order if mix in times[1] and times[1][mix].n_event]
    rows = []
    for mix in order:
        common, own, common_sure, own_sure = (found[mix] for found in times)
        floor = floor_of(common, window)
        rows.append(
            (
                names[mix],
                f"{own.scale:.2f}",
                print_interval(common.conf_low, common.conf_high),
                print_interval(own.conf_low, own.conf_high),
                assured_words(common_sure, floor).removesuffix(" h"),
                assured_words(own_sure, floor).removesuffix(" h"),
            )
        )
    level = level_words(results)
    heads = [
        Column("Mix"),
        Column("Own scale", "right"),
        Column(f"Typical, {level} limits, h"),
        Column("by its own spread, h"),
        Column("Assured, h", "right"),
        Column("by its own spread, h", "right"),
    ]
    scale = results["fits"].set_index("criterion")["scale"].get(criterion, math.nan)
    note = (
        "Scale: spread of the logarithm of the times between vessels of the mix, drawn a little "
        f"toward the common one, {float(scale):.2f}. Mixes that never cleared are "
        "left out."
    )
    caption = "Times by one spread, and by a spread of each mix's own"
    return Table("own-spread", caption, heads, rows, note, marks_of(results, order))


def _criterion(results: Any) -> str:
    return str(of_spread(results).criterion)


def _common_rows(results: Any, term: str) -> dict[str, Any]:
    return _rows(results, "times", term)


def _own_rows(results: Any, term: str) -> dict[str, Any]:
    return _rows(results, "times_own_spread", term)


def _rows(results: Any, table: str, term: str) -> dict[str, Any]:
    table = of_criterion(results, table, _criterion(results))
    return {row.mix: row for row in table[table["term"] == term].itertuples(index=False)}
