"""Table of the pairs of mixes."""

import math
from typing import Any

import pandas as pd

from .blocks import Column, Prose, Table
from .decisions import any_compared, of_pairs
from .needs import needs
from .pair_ratios import PairRatio, pair_ratio, print_ratio_limits, ratio_words
from .printing import print_p
from .selection import criterion_label, level_words, mix_names, mix_order
from .verdicts import is_shown

_MOST = 60  # pairs that a reader looks through; all of them are in the results file


@needs("comparisons", "pairs", "Pairs of mixes are compared where at least two mixes were tried.")
def comparison_table(results: Any, *, criterion: str | None = None) -> Table | Prose:
    """
    Pairs of mixes with the ratio of their times, limits, p-values and the verdict.

    Parameters
    ----------
    results : Results
        With the tables `mixes`, `times`, `comparisons`.
    criterion : str, optional
        The trial's primary criterion unless named.

    Returns
    -------
    Table or Prose
        All pairs, up to sixty. Of more, those of the first-placed mix, then those not shown
        different until sixty are full; a note counts the rest. A sentence where none could be
        compared.
    """
    pairs, order = of_pairs(results, criterion), mix_order(results, criterion)
    if not any_compared(results, criterion):
        return Prose("No pair of mixes could be compared.", "pairs")
    pairs = _nearest_first(pairs, order)
    listed = _listed(pairs)
    names = mix_names(results)
    rows = [_cells(row, pair_ratio(row, order), names) for row in listed.itertuples(index=False)]
    level = level_words(results)
    heads = [
        Column("Slower mix"),
        Column("Quicker mix"),
        Column("Times as long", "right"),
        Column(f"{level} limits"),
        Column("p, adjusted", "right"),
        Column("p, permutation", "right"),
        Column("Verdict"),
    ]
    caption = f"Pairs of mixes, time until {criterion_label(results, criterion)}"
    note = _note(pairs) + _rest_note(pairs.drop(listed.index))
    return Table("pairs", caption, heads, rows, note)


def _nearest_first(pairs: pd.DataFrame, order: list[str]) -> pd.DataFrame:
    """The pairs by the place of the quicker mix, then of the slower: the order of the figure."""
    places = pairs[["mix_a", "mix_b"]].apply(lambda mixes: mixes.map(order.index))
    placed = pairs.assign(front=places.min(axis=1), back=places.max(axis=1))
    return placed.sort_values(["front", "back"], ignore_index=True)


def _listed(pairs: pd.DataFrame) -> pd.DataFrame:
    """The pairs that have a row: of many the first-placed mix's, then the open ones."""
    if len(pairs) <= _MOST:
        return pairs
    leads = pairs["front"] == pairs["front"].min()
    still_open = ~pairs["verdict"].map(is_shown)
    room = max(0, _MOST - int(leads.sum()))
    return pd.concat([pairs[leads], pairs[~leads & still_open][:room]])


def _cells(row: Any, pair: PairRatio, names: dict[str, str]) -> tuple[str, ...]:
    return (
        names[pair.slower],
        names[pair.quicker],
        ratio_words(pair.estimate, pair.low, pair.high),
        print_ratio_limits(pair.low, pair.high),
        print_p(row.p_adjusted),
        print_p(row.p_permutation),
        "shown different" if pair.shown else str(row.verdict),
    )


def _note(pairs: pd.DataFrame) -> str:
    smallest = pairs["p_smallest"].astype(float).min() if len(pairs) else math.nan
    note = (
        "Slower, quicker: by typical time. Adjusted p: likelihood ratio, for all pairs "
        "together (Holm 1979). Permutation p: within blocks, one pair at a time, free of the model"
    )
    note += "" if math.isnan(smallest) else f"; here it can't be below {print_p(smallest)}"
    return f"{note}. Not shown different is no evidence that two mixes are alike."


def _rest_note(rest: pd.DataFrame) -> str:
    """How many pairs have no row."""
    if rest.empty:
        return ""
    shown = int(rest["verdict"].map(is_shown).sum())
    pairs = "1 more pair stands" if len(rest) == 1 else f"{len(rest)} more pairs stand"
    return f" {pairs} in results.json, {shown} of them shown different."
