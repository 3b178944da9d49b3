"""Sentences on whether the mixes stood alike."""

from typing import Any

import pandas as pd

from .blocks import Prose
from .markdown import escape
from .printing import print_number
from .selection import block_count, mix_names, with_names

_LISTED = 6  # more mixes than this are counted, not named
_OUT, _DIFFER = "out of balance", "mixes differ"


def balance_words(results: Any) -> Prose:
    """
    Whether the mixes were tried under like conditions, and which one was not.

    Parameters
    ----------
    results : Results
        With the tables `mixes`, `balance`.

    Returns
    -------
    Prose
        What is out of balance first.
    """
    if "balance" not in results or results["balance"].empty:
        return Prose(
            "Neither temperature nor salinity was read while the salts dissolved: whether the "
            "mixes stood alike can't be told."
        )
    table, names = results["balance"], mix_names(results)
    groups = list(table[table["mix"].isin(names)].groupby("term", sort=False))
    verdicts = {term: str(own["verdict"].iloc[0]) for term, own in groups}
    uneven = [(term, own) for term, own in groups if verdicts[term].startswith((_OUT, _DIFFER))]
    even = [term for term, own in groups if verdicts[term].startswith("no imbalance")]
    parts = [_uneven_words(term, own, names) for term, own in uneven]
    if even:
        told = "; ".join(f"{term}, {_within(verdicts[term])}" for term in even)
        parts.append(f"No imbalance was shown in: {escape(told)}.")
    rest = [verdicts[term] for term, _ in groups if term not in even]
    if block_count(results) < 2:
        # "Each of 1 blocks" would sound like a virtue.
        rest = []
        parts.append("All vessels stood in one block: place and mix may be confounded.")
    rest = [verdict for verdict in rest if not verdict.startswith((_OUT, _DIFFER))]
    parts += [f"{_sentence(short_verdict(results, verdict))}." for verdict in dict.fromkeys(rest)]
    return Prose("\n\n".join(parts))


def short_verdict(results: Any, verdict: str) -> str:
    """
    A verdict on a condition with the names of mixes, a long list of them counted.

    Parameters
    ----------
    results : Results
    verdict : str
        As the results have it: a list stands behind a colon, its items between semicolons.

    Returns
    -------
    str
    """
    head, _, listed = verdict.partition(": ")
    count = listed.count("; ") + 1
    if count <= _LISTED:
        return with_names(results, verdict)
    return f"{head}: {count} of {len(mix_names(results))} mixes from at least one block"


def _uneven_words(term: str, own: pd.DataFrame, names: dict[str, str]) -> str:
    """The mix that stands furthest from the others, with what it stood at."""
    far = own.loc[own["difference"].astype(float).abs().idxmax()]
    others = own[own["mix"] != far["mix"]]["estimate"].astype(float)
    unit = {"C": " °C", "PSU": ""}.get(far["unit"], f" {far['unit']}".rstrip())
    out = str(far["verdict"]).startswith(_OUT)
    head = "stood unequal" if out else "differed, though by little,"
    vessels = f"{_number(far['low'])} to {_number(far['high'])}"
    text = (
        f"**The mixes {head} in {escape(term)}.** {escape(names[far['mix']])} stood at "
        f"{_number(far['estimate'])}{unit} (vessels: {vessels})"
    )
    if len(others):
        ends = dict.fromkeys([_number(others.min()), _number(others.max())])
        text += f", the others at {' to '.join(ends)}{unit}"
    return text + (
        ". Part of a difference in times may come from that, not from the mix." if out else "."
    )


def _number(value: float) -> str:
    return print_number(float(value))


def _within(verdict: str) -> str:
    """How close the mixes stood, with the unit as it is printed elsewhere."""
    found = verdict.partition(": ")[2]
    # Practical salinity has no unit.
    return found.removesuffix(" PSU").replace(" C", " °C")


def _sentence(text: str) -> str:
    words = escape(text)
    return words[0].upper() + words[1:]
