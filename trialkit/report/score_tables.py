"""Ordered scores of each mix against another's."""

import math
from typing import Any

import pandas as pd

from .blocks import Table
from .needs import needs
from .printing import print_figures, print_p
from .selection import mix_names
from .storage_cells import heads_of, print_limits
from .tables import marks_of

_NO_LOOKS = (
    "No look of this trial has lines or scores of two mixes that differ, so there is no table."
)
_NOTE = (
    "Lines and scores have an order and no even steps: proportional odds use the order alone "
    "(McCullagh 1980). p and limits come from the ways to deal these vessels' scores out to the "
    "two mixes; p is adjusted for the other rows (Holm 1979), the limits are not. "
)


@needs("look_scores", "look-scores", _NO_LOOKS, told=True)
def look_score_table(results: Any) -> Table:
    """
    Odds that one look reads a higher score in each mix than in the control, or the first mix.

    Parameters
    ----------
    results : Results
        With the tables `mixes`, `look_scores`.

    Returns
    -------
    Table
        A row a mix; a sentence when nothing was read in lines or scores.
    """
    scores = results["look_scores"]
    looks = scores[["quantity", "time_h"]].drop_duplicates().itertuples(index=False)
    told = " and ".join(f"{quantity} at {hours:.3g} h" for quantity, hours in looks)
    note = f"{_NOTE}The look taken is the one whose scores differ most: {told}. "
    return _score_table(results, "look-scores", "Ordered scores of one look", scores, note)


@needs("residue_scores", "residue-scores", "No residue was scored by eye.")
def residue_score_table(results: Any) -> Table:
    """
    Odds of a higher score of what storage left, in each mix against the control or the first.

    Parameters
    ----------
    results : Results
        With the tables `mixes`, `residue_scores`.

    Returns
    -------
    Table
        A row a quantity and mix; a sentence when nothing was scored.
    """
    scores = results["residue_scores"]
    return _score_table(results, "residue-scores", "Scores of what storage left", scores, _NOTE)


def _score_table(results: Any, label: str, caption: str, scores: pd.DataFrame, note: str) -> Table:
    names = mix_names(results)
    rows = [
        (names.get(row.mix_a, row.mix_a), names.get(row.mix_b, row.mix_b), row.quantity,
         _odds(row.estimate), print_limits(row, None), print_p(row.p_value),
         print_p(row.p_adjusted))
        for row in scores.itertuples(index=False)
    ]  # fmt: skip
    heads = heads_of(
        results, "Mix", "Against", "Score", "Odds of a higher score>", "limits>", "p>",
        "p, adjusted>",
    )  # fmt: skip
    least = print_p(scores["p_smallest"].min())
    note += f"The smallest p possible with so many vessels: {least}."
    return Table(label, caption, heads, rows, note, marks_of(results, scores["mix_a"]))


def _odds(value: float) -> str:
    """An odds ratio; the words for one that no overlap leaves without an end."""
    if math.isinf(value):
        return "all higher"
    return print_figures(value, 3) if value > 0 else "all lower"
