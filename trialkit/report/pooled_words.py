"""Sentences of the pooled report, with its mixes called as briefly as is clear."""

from __future__ import annotations

import math
from typing import Any

import pandas as pd

from .printing import join, print_count, print_interval, print_time

_NAMED = 4  # open pairs that a sentence still names
_LOTS = 12  # lots that a line still holds


def shown_mixes(results: Any) -> dict[str, str]:
    """
    What each mix is called: its name, with its maker's lot only where lots must be told apart.

    Parameters
    ----------
    results : Results
        With the table `pooled_mixes`.

    Returns
    -------
    dict of str to str
        By mix.
    """
    mixes = results["pooled_mixes"]
    alone = ~mixes["name"].duplicated(keep=False)
    return dict(zip(mixes["mix"], mixes["name"].where(alone, mixes["mix"]), strict=True))


def mixes_by_time(times: pd.DataFrame) -> list[str]:
    """
    The mixes, the one with the shortest pooled typical time first.

    Parameters
    ----------
    times : pandas.DataFrame
        The table `pooled_times`.

    Returns
    -------
    list of str
    """
    typical = times[times["term"] == "typical time"]
    return list(typical.sort_values(["estimate", "conf_low", "mix"])["mix"])


def pooled_sentence(results: Any) -> str:
    """
    The answer in a few sentences: the quickest mix, those never seen clear, the pairs.

    Parameters
    ----------
    results : Results
        What `pool_folders` returned.

    Returns
    -------
    str
    """
    words = [_quickest(results), _never(results), _pairs(results)]
    return " ".join(sentence for sentence in words if sentence)


def lots_in_words(results: Any) -> str:
    """
    The makers' lots that the names of the mixes leave out; "" when there are none, or very many.

    Parameters
    ----------
    results : Results
        With the table `pooled_mixes`.

    Returns
    -------
    str
    """
    shown = shown_mixes(results)
    rows = results["pooled_mixes"].itertuples(index=False)
    lots = [f"{row.name} {row.lot}" for row in rows if row.lot and shown[row.mix] == row.name]
    return ", ".join(lots) if len(lots) <= _LOTS else ""


def _rows(results: Any, term: str) -> pd.DataFrame:
    times = results["pooled_times"]
    return times[times["term"] == term].set_index("mix")


def _quickest(results: Any) -> str:
    mix = mixes_by_time(results["pooled_times"])[0]
    typical, batch = (_rows(results, term).loc[mix] for term in ("typical time", "new batch"))
    if batch["conf_high"] == math.inf:
        return ""
    level = f"{100 * results.meta['conf_level']:g}%"
    limits = print_interval(batch["conf_low"], batch["conf_high"])
    # A mix that was clear at every first look has no time, only an upper limit.
    about = f", typically {print_time(typical['estimate'], 0, 0)}" if typical["estimate"] else ""
    several = len(results["pooled_mixes"]) > 1
    first = ", the mix with the shortest typical time," if several else ""
    name = shown_mixes(results)[mix]
    return (
        f"A new batch of {name}{first} in a new place can be expected to clear in {limits} h "
        f"({level} limits){about}."
    )


def _never(results: Any) -> str:
    typical = _rows(results, "typical time")
    shown = shown_mixes(results)
    never = [shown[mix] for mix in typical.index if typical.loc[mix, "estimate"] == math.inf]
    if not never:
        return ""
    return f"{join(never)} {'was' if len(never) == 1 else 'were'} never seen clear."


def _pairs(results: Any) -> str:
    pairs = results["pairs"]
    if not len(pairs):
        return ""
    shown = shown_mixes(results)
    still = pairs[pairs["decision"] == "open"]
    n = len(pairs)
    if not len(still):
        return f"{'The pair of mixes is' if n == 1 else f'All {n} pairs of mixes are'} settled."
    if n == 1:
        return "Which of the two is clear sooner is open."
    count = n - len(still)
    settled = f"{print_count(count) if count else 'None'} of {n} pairs of mixes "
    settled += "is settled" if count < 2 else "are settled"
    if len(still) > _NAMED:
        return f"{settled}."
    rows = zip(still["mix_a"], still["mix_b"], strict=True)
    open_pairs = "; ".join(f"{shown[a]} and {shown[b]}" for a, b in rows)
    return f"{settled}; open: {open_pairs}."
