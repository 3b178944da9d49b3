"""The verdict and the notes of a comparison, in plain words."""

import numpy as np
import pandas as pd

__all__ = [
    "DECLARED",
    "LETTERS_NOTE",
    "NOT_SHOWN",
    "NO_COMPARISON",
    "NO_SCALE",
    "ONE_VESSEL",
    "comparison_notes",
    "comparison_verdict",
]

NOT_SHOWN, NO_COMPARISON = "not shown different", "no comparison"

LETTERS_NOTE = (
    "Mixes that share a letter were not shown different; that is no evidence that they are alike."
)
ONE_VESSEL = (
    "one vessel a mix: a difference between mixes cannot be told from one between vessels, so no "
    "inference between mixes is made; more vessels, or a scale declared from other trials, would"
)
DECLARED = "rests wholly on the declared scale: these vessels do not tell how much vessels differ"
NO_SCALE = (
    "too few vessels cleared between two readings to tell how much vessels differ: the p-value is "
    "that of the permutation"
)
NEITHER = "neither cleared in the window: nothing to compare"
BOTH_FIRST = "every vessel of both was clear at its first reading: only earlier readings could tell"


def comparison_verdict(row, conf_level: float, refused: str = "") -> str:
    """Which of two mixes clears sooner, that it was not shown, or that nothing can be said.

    Parameters
    ----------
    row : namedtuple
        A row of the comparison: mix_a, mix_b, estimate, conf_low, conf_high, p_adjusted.
    conf_level : float
        1 less it is the chance of any false claim in the family.
    refused : str
        Why there is no inference at all; empty when there is.

    Returns
    -------
    str
        In words.
    """
    # The slack: 1 - 0.95 is a hair above 0.05 or under it.
    if row.p_adjusted <= 1 - conf_level + 1e-12 and row.estimate != 1:
        return f"{row.mix_a} clears {'sooner' if row.estimate < 1 else 'later'}"
    nothing_said = row.p_value == 1 and row.conf_low == 0 and np.isinf(row.conf_high)
    return NO_COMPARISON if refused or nothing_said else NOT_SHOWN


def comparison_notes(row, conf_level: float, counts: pd.DataFrame) -> list[str]:
    """What a reader must know of one comparison; empty when nothing is odd.

    Parameters
    ----------
    row : namedtuple
        A row of the comparison with its verdict.
    conf_level : float
        As for the verdict.
    counts : pandas.DataFrame
        Per mix n, n_event, n_first (vessels clear at their first reading), n_read (vessels judged).

    Returns
    -------
    list of str
        In words.
    """
    notes = [*_unread(row, counts), *_place_notes(row, counts), *_single_vessel(row, counts)]
    own_scale = getattr(row, "p_own_scale", 0.0)
    if row.verdict.startswith(row.mix_a) and own_scale > 1 - conf_level + 1e-12:
        notes.append(
            "holds only if all mixes spread alike: with a scale of their own these two are not "
            f"shown different (adjusted p {own_scale:.2g})"
        )
    return notes


def _unread(row, counts) -> list[str]:
    unread = [mix for mix in (row.mix_a, row.mix_b) if counts.loc[mix, "n_read"] == 0]
    return [f"no vessel of {mix} could be judged" for mix in unread]


def _place_notes(row, counts) -> list[str]:
    """What it means that a mix has no time of its own."""
    read = [mix for mix in (row.mix_a, row.mix_b) if counts.loc[mix, "n_read"] > 0]
    never = [mix for mix in read if counts.loc[mix, "n_event"] == 0]
    first = [mix for mix in read if counts.loc[mix, "n_first"] == counts.loc[mix, "n"]]
    if len(never) == 2:
        return [NEITHER]
    if len(first) == 2:
        return [BOTH_FIRST]
    one_side = "the ratio has a limit on one side"
    notes = [f"{mix} never cleared in the window: {one_side}" for mix in never]
    notes += [f"every vessel of {mix} was clear at its first reading: {one_side}" for mix in first]
    return notes


def _single_vessel(row, counts) -> list[str]:
    if counts["n"].max() == 1:
        return []
    single = [mix for mix in (row.mix_a, row.mix_b) if counts.loc[mix, "n"] == 1]
    return [f"{mix} has one vessel: its spread is taken from the other mixes" for mix in single]
