"""Sentences on what the verdicts on pairs of mixes rest on."""

from typing import Any

import pandas as pd

from .markdown import escape
from .printing import print_p
from .selection import block_count, mix_names, with_names
from .verdicts import is_shown

_FEW = 12  # more pairs than this are counted, not named


def pair_caveats(results: Any, pairs: pd.DataFrame, criterion: str | None = None) -> list[str]:
    """
    What the verdicts on pairs rest on: equal spread, blocks, a model of the times.

    Parameters
    ----------
    results : Results
        `comparisons_in_blocks` is told where it exists.
    pairs : pandas.DataFrame
        Rows of `comparisons` of one criterion.
    criterion : str, optional
        The trial's primary criterion unless named.

    Returns
    -------
    list of str
        Sentences in markdown; empty when nothing can be said.
    """
    found = [
        _spread_words(results, pairs),
        _block_words(results, pairs, criterion),
        _permutation_words(results, pairs),
    ]
    return [words for words in found if words]


def _spread_words(results: Any, pairs: pd.DataFrame) -> str:
    """Pairs that are shown different only if all mixes spread alike."""
    if "p_own_scale" not in pairs or "declared_scale" in results.meta:
        return ""
    shown = pairs[pairs["verdict"].map(is_shown)]
    # The slack: 1 - 0.95 is a hair above 0.05 or under it.
    frail = shown[shown["p_own_scale"].astype(float) > 1 - results.meta["conf_level"] + 1e-12]
    if shown.empty:
        return ""
    if frail.empty:
        return (
            "All of this stands as well when each mix is given a spread of its own between vessels."
        )
    named = _named(results, frail)
    verb = "rests" if len(frail) == 1 else "rest"
    return (
        f"{len(frail)} of the {len(shown)} {verb} on one assumption, that the vessels of all mixes "
        f"spread alike{named}. With a spread of each mix's own "
        f"{'it is' if len(frail) == 1 else 'they are'} not shown different."
    )


def _block_words(results: Any, pairs: pd.DataFrame, criterion: str | None) -> str:
    """Pairs whose verdict changes when blocks are held equal."""
    wanted = results.meta["primary"] if criterion is None else criterion
    if "comparisons_in_blocks" not in results or block_count(results) < 2:
        return ""
    table = results["comparisons_in_blocks"]
    held = table[table["criterion"] == wanted].set_index(["mix_a", "mix_b"])["verdict"]
    if held.empty:
        return ""
    keys = list(zip(pairs["mix_a"], pairs["mix_b"], strict=True))
    other = [held.get(key, verdict) for key, verdict in zip(keys, pairs["verdict"], strict=True)]
    moved = pairs.assign(held=other)[pairs["verdict"].to_numpy() != other]
    if moved.empty:
        return "Blocks held equal, every verdict stands."
    word = "verdict is another" if len(moved) == 1 else "verdicts are others"
    return f"Blocks held equal, {len(moved)} {word}{_named(results, moved)}."


def _permutation_words(results: Any, pairs: pd.DataFrame) -> str:
    """Whether single pairs could be confirmed without a model."""
    smallest = pairs["p_smallest"].astype(float).min()
    if not pairs["verdict"].map(is_shown).any():
        return ""
    if not smallest > 1 - results.meta["conf_level"]:
        return ""
    return (
        "A test of one pair that needs no model for the times can't confirm any of these: with "
        f"so few vessels its p can't be below {print_p(smallest)}."
    )


def _named(results: Any, pairs: pd.DataFrame) -> str:
    """The pairs by name, unless they are too many to read."""
    names = mix_names(results)
    if len(pairs) > _FEW:
        return ""
    told = [
        f"{escape(names[row.mix_a])} with {escape(names[row.mix_b])}"
        + (f": {escape(with_names(results, row.held))}" if "held" in pairs else "")
        for row in pairs.itertuples(index=False)
    ]
    return f" ({'; '.join(told)})"
