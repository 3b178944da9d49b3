"""Sentences on whether the mixes differ, and which."""

from typing import Any

import pandas as pd

from .blocks import Prose
from .decisions import of_pairs
from .markdown import escape
from .pair_caveats import pair_caveats
from .pair_ratios import PairRatio, pair_ratio, print_ratio
from .printing import join, print_p
from .selection import criterion_label, mix_names, mix_order, with_names
from .verdicts import is_shown

_FEW = 12  # up to so many mixes every pair is told with its ratio


def comparison_words(results: Any, *, criterion: str | None = None) -> Prose:
    """
    Whether the mixes differ, which pairs do, what that rests on.

    Parameters
    ----------
    results : Results
        With the tables `mixes`, `times`, `comparisons`; `overall` and `comparisons_in_blocks`
        are told where they exist.
    criterion : str, optional
        The trial's primary criterion unless named.

    Returns
    -------
    Prose
    """
    if "comparisons" not in results or results["comparisons"].empty:
        return Prose("One mix was tried: there is nothing to compare it with.")
    pairs = of_pairs(results, criterion)
    if pairs.empty:
        return Prose("No pair of mixes was compared under this criterion.")
    if (pairs["verdict"] == "no comparison").all():
        return Prose(_refusal(results, pairs))
    parts = [
        _overall_words(results, pairs, criterion),
        _pair_words(results, pairs, criterion),
        *pair_caveats(results, pairs, criterion),
    ]
    return Prose("\n\n".join(part for part in parts if part))


def _refusal(results: Any, pairs: pd.DataFrame) -> str:
    reasons = dict.fromkeys(with_names(results, str(note)) for note in pairs["note"] if note)
    text = "No mix can be told from another in this trial."
    if len(reasons) == 1:
        # One part says why; what follows speaks of p-values, and there are none to tell.
        reason = escape(next(iter(reasons)).partition("; too few vessels")[0])
        return f"**{text}** {reason[0].upper()}{reason[1:]}."
    return f"**{text}** These vessels set no limit to any ratio of times."


def _overall_words(results: Any, pairs: pd.DataFrame, criterion: str | None) -> str:
    if "overall" not in results:
        return ""
    wanted = results.meta["primary"] if criterion is None else criterion
    label = escape(criterion_label(results, criterion))
    for row in results["overall"].itertuples(index=False):
        if row.criterion != wanted:
            continue
        test = f"p {print_p(row.p_value)}; {row.n} vessels, {row.n_event} of them cleared"
        if row.verdict == "shown":
            return (
                f"**The mixes do differ in the time until {label}** (all mixes together, vessels "
                f"permuted within blocks: {test})."
            )
        if pairs["verdict"].map(is_shown).any():
            return (
                f"**That the mixes differ in the time until {label} hangs on the model of the "
                "times.** The pairs below rest on it; a test of all mixes together without one "
                f"does not show a difference (vessels permuted within blocks: {test})."
                + _powerless(results, row.p_smallest)
            )
        return (
            f"**The mixes were not shown to differ in the time until {label}** (all mixes "
            f"together, vessels permuted within blocks: {test}). That is no evidence that they "
            "are alike." + _powerless(results, row.p_smallest)
        )
    return ""


def _powerless(results: Any, smallest: float) -> str:
    if smallest <= 1 - results.meta["conf_level"]:
        return ""
    return (
        " With these vessels that test could not have shown one: its p can't be below "
        f"{print_p(smallest)}."
    )


def _pair_words(results: Any, pairs: pd.DataFrame, criterion: str | None) -> str:
    order, names = mix_order(results, criterion), mix_names(results)
    rows = [pair_ratio(row, order) for row in pairs.itertuples(index=False)]
    shown = [row for row in rows if row.shown]
    few = len(order) <= _FEW
    text = f"{_counted(len(rows), len(shown))}{_how_long(rows, few)}."
    found = {mix: [row for row in shown if row.quicker == mix] for mix in order}
    found = {mix: slower for mix, slower in found.items() if slower}
    if few:
        lines = [_sooner_line(mix, slower, names) for mix, slower in found.items()]
        text += "\n\n" + "\n".join(lines) if lines else ""
    elif shown:
        told = [f"{escape(names[mix])} than {len(slower)}" for mix, slower in found.items()]
        text += f" Shown to clear sooner than so many others: {join(told)}."
    still_open = [row for row in rows if not row.shown]
    text += _open_words([row for row in still_open if row.placed], names, few)
    return text + _bare_words([row for row in still_open if not row.placed], names, few)


def _sooner_line(mix: str, slower: list[PairRatio], names: dict[str, str]) -> str:
    told = join([f"{escape(names[row.slower])} {_ratio(row)}" for row in slower])
    return f"- **{escape(names[mix])}** clears sooner than {told}."


def _counted(pairs: int, shown: int) -> str:
    if pairs == 1:
        return "The one pair was shown different" if shown else "The one pair was not told apart"
    if shown in (0, pairs):
        return f"{'All' if shown else 'None'} of the {pairs} pairs were shown different"
    return f"Of {pairs} pairs {shown} {'was' if shown == 1 else 'were'} shown different"


def _how_long(rows: list[PairRatio], few: bool) -> str:
    shown = any(row.shown for row in rows)
    return "; in brackets how many times as long the slower takes" if few and shown else ""


def _ratio(row: PairRatio) -> str:
    return (
        f"({print_ratio(row.estimate, row.low, row.high).replace(' (', ', limits ').rstrip(')')})"
    )


def _open_words(rows: list[PairRatio], names: dict[str, str], few: bool) -> str:
    if not rows:
        return ""
    note = "That is no evidence that they are alike: the limits say how far apart they may be."
    if not few:
        return f"\n\nNot shown different: {len(rows)} pairs. {note}"
    told = [
        f"{escape(names[r.slower])} against {escape(names[r.quicker])} {_ratio(r)}" for r in rows
    ]
    return f"\n\nNot shown different: {join(told)}. {note}"


def _bare_words(rows: list[PairRatio], names: dict[str, str], few: bool) -> str:
    """The pairs of which the data say nothing, such as two mixes that never cleared."""
    if not rows:
        return ""
    told = [f"{escape(names[row.slower])} against {escape(names[row.quicker])}" for row in rows]
    counted = "1 pair" if len(rows) == 1 else f"{len(rows)} pairs"
    return f"\n\nNot compared, as the data set no limit: {join(told) if few else counted}."
