"""Tables of decisions: claims, pairs of mixes, ranks, other definitions, raters, balance."""

import math
from typing import Any

from .blocks import Column, Table
from .columns import COLUMNS
from .decisions import of_pairs
from .marks import mix_marks
from .needs import needs
from .printing import print_figures, print_hours, print_interval, print_number, print_p, print_share
from .selection import criterion_label, mix_codes, mix_names, of_criterion, with_names
from .tables import frame_table
from .verdicts import is_shown, ratio_words

_MANY = 66  # pairs of twelve mixes: beyond these only those shown different are listed


@needs("claims", "claims", "Claims to be tested are declared in trial.toml, before the trial.")
def claims_table(results: Any) -> Table:
    """
    Every claim with what was found and the verdict.

    Parameters
    ----------
    results : Results
        With the table `claims`.

    Returns
    -------
    Table
    """
    rows = [
        (
            str(row.text),
            str(row.verdict),
            with_names(results, str(row.term)),
            _found(row),
            _claimed(row),
        )
        for row in results["claims"].itertuples(index=False)
    ]
    level = f"{results.meta['conf_level'] * 100:g}%"
    heads = ["Claim", "Verdict", "Judged by", f"Found ({level} limits)", "Claimed"]
    note = (
        "Supported, or contradicted: the whole interval lies on that side of what is claimed. Not "
        "settled: it holds both; more vessels or closer readings could settle it."
    )
    return Table("claims", "Claims and verdicts", [Column(head) for head in heads], rows, note)


def _found(row: Any) -> str:
    if row.unit != "h":
        return f"{_ratio(row)} ({_limits(row)})"
    time = "not reached" if row.estimate == math.inf else f"{print_hours(row.estimate)} h"
    return f"{time} ({print_interval(row.conf_low, row.conf_high)})"


def _claimed(row: Any) -> str:
    return f"within {print_hours(row.threshold)} h" if row.unit == "h" else "below 1"


def _ratio(row: Any) -> str:
    return ratio_words(float(row.estimate), float(row.conf_low), float(row.conf_high))


def _limits(row: Any) -> str:
    low, high = float(row.conf_low), float(row.conf_high)
    if low > 0 and high < math.inf:
        return f"{print_figures(low, 2)} to {print_figures(high, 2)}"
    if low > 0:
        return f"above {print_figures(low, 2)}"
    return f"under {print_figures(high, 2)}" if high < math.inf else "no limit"


@needs("comparisons", "pairs", "Pairs of mixes are compared where at least two mixes were tried.")
def comparison_table(results: Any, *, criterion: str | None = None) -> Table:
    """
    Pairs of mixes with the ratio of their times, limits, p-values and the verdict.

    Parameters
    ----------
    results : Results
        With the tables `mixes`, `comparisons`.
    criterion : str, optional
        The trial's primary criterion unless named.

    Returns
    -------
    Table
        All pairs of up to twelve mixes; of more mixes those shown different.
    """
    pairs = of_pairs(results, criterion)
    names, count = mix_names(results), len(pairs)
    if count > _MANY:
        pairs = pairs[pairs["verdict"].map(is_shown)]
    rows = [
        (
            names[row.mix_a],
            names[row.mix_b],
            _ratio(row),
            _limits(row),
            print_p(row.p_adjusted),
            print_p(row.p_permutation),
            _verdict(row, names),
        )
        for row in pairs.itertuples(index=False)
    ]
    level = f"{results.meta['conf_level'] * 100:g}%"
    heads = [
        Column("Mix"),
        Column("Against"),
        Column("Ratio of times", "right"),
        Column(f"{level} limits"),
        Column("p, adjusted", "right"),
        Column("p, permutation", "right"),
        Column("Verdict"),
    ]
    caption = f"Pairs of mixes, time until {criterion_label(results, criterion)}"
    return Table("pairs", caption, heads, rows, _pair_note(pairs, count, len(rows)))


def _verdict(row: Any, names: dict[str, str]) -> str:
    if not is_shown(row.verdict):
        return str(row.verdict)
    return str(row.verdict).replace(row.mix_a, names[row.mix_a], 1)


def _pair_note(pairs: Any, count: int, shown: int) -> str:
    smallest = pairs["p_smallest"].astype(float).min() if shown else math.nan
    note = (
        "Ratio below 1: the first clears sooner. Adjusted p: likelihood ratio, for all pairs "
        "together (Holm 1979). Permutation p: within blocks, one pair at a time, free of the model"
    )
    note += "" if math.isnan(smallest) else f"; here it can't be below {print_p(smallest)}"
    note += ". Not shown different is no evidence that two mixes are alike."
    return note + (
        f" {count - shown} pairs not shown different are left out." if shown < count else ""
    )


@needs("ranks", "ranks", "Ranks need at least two mixes with comparable times.")
def rank_table(results: Any, *, criterion: str | None = None) -> Table:
    """
    The rank of each mix with the ranks left open.

    Parameters
    ----------
    results : Results
        With the tables `mixes`, `times`, `ranks`.
    criterion : str, optional
        The trial's primary criterion unless named.

    Returns
    -------
    Table
    """
    ranks = of_criterion(results, "ranks", criterion).sort_values("rank", kind="stable")
    names, marks = mix_names(results), mix_marks(mix_codes(results))
    rows = [
        (
            names[row.mix],
            str(int(row.rank)),
            _range(row.rank_low, row.rank_high),
            print_share(float(row.probability_first)),
            str(row.letters),
        )
        for row in ranks.itertuples(index=False)
    ]
    heads = [
        Column("Mix"),
        Column("Rank", "right"),
        Column("Left open", "right"),
        Column("Chance of being first", "right"),
        Column("Letters"),
    ]
    note = (
        "Mixes that share a letter were not shown different; that is no evidence that they are "
        "alike."
    )
    caption = f"Ranks by time until {criterion_label(results, criterion)}"
    return Table("ranks", caption, heads, rows, note, [marks[m].to_json() for m in ranks["mix"]])


def _range(low: float, high: float) -> str:
    return f"{int(low)}" if low == high else f"{int(low)} to {int(high)}"


@needs(
    "sensitivity_summary",
    "sensitivity",
    "Definitions can be varied where readings, not intervals, were given.",
)
def sensitivity_table(results: Any) -> Table:
    """
    How times and ranks move with the definition of clear.

    Parameters
    ----------
    results : Results
        With the tables `mixes`, `sensitivity_summary`.

    Returns
    -------
    Table
    """
    table, names = results["sensitivity_summary"], mix_names(results)
    rows = [
        (
            names[row.mix],
            criterion_label(results, row.criterion),
            print_hours(float(row.estimate)),
            _hours(float(row.estimate_low), float(row.estimate_high)),
            str(int(row.rank)),
            _range(row.rank_low, row.rank_high),
            print_share(float(row.share_same_rank)),
        )
        for row in table[table["mix"].isin(mix_codes(results))].itertuples(index=False)
    ]
    heads = [
        Column("Mix"),
        Column("Until"),
        Column("As declared, h", "right"),
        Column("Over all definitions, h", "right"),
        Column("Rank", "right"),
        Column("Over all", "right"),
        Column("Same rank in", "right"),
    ]
    ways = int(table["n_definition"].max()) if len(table) else 0
    note = (
        f"Up to {ways} definitions a criterion: choices that a reviewer could defend, not chance."
    )
    return Table("sensitivity", "Typical times under other definitions", heads, rows, note)


def _hours(low: float, high: float) -> str:
    return print_hours(low) if low == high else f"{print_hours(low)} to {print_hours(high)}"


@needs("agreement", "agreement", "Agreement needs at least two raters on the same vessels.")
def agreement_table(results: Any) -> Table:
    """
    How far the raters agree.

    Parameters
    ----------
    results : Results
        With the table `agreement`.

    Returns
    -------
    Table
    """
    rows = [
        (
            str(row.criterion),
            str(row.term),
            print_number(float(row.estimate)),
            f"{print_number(float(row.conf_low))} to {print_number(float(row.conf_high))}",
            str(row.unit or ""),
            str(int(row.n)),
            str(row.method),
        )
        for row in results["agreement"].itertuples(index=False)
    ]
    level = f"{results.meta['conf_level'] * 100:g}%"
    heads = ["Criterion", "Measure", "Value", f"{level} limits", "Unit", "Vessels", "Method"]
    aligned = [Column(h, "right" if h in ("Value", "Vessels") else "left") for h in heads]
    return Table("agreement", "How far the raters agree", aligned, rows)


@needs(
    "balance",
    "balance",
    "Nothing was measured that could show unequal treatment.",
)
def balance_table(results: Any) -> Table:
    """
    Whether the mixes were treated alike: temperature, salinity, dose and the like.

    Parameters
    ----------
    results : Results
        With the table `balance`.

    Returns
    -------
    Table
        One row a quantity.
    """
    once = results["balance"].drop_duplicates("term")
    return frame_table(
        once.assign(note=[with_names(results, text) for text in once["verdict"]]),
        "balance",
        "Were the mixes treated alike",
        columns=["term", "unit", "p_value", "note"],
        note=f"{COLUMNS['p_value'].header}: permutation within blocks.",
    )
