"""Sentences on what was decided: claims, pairs of mixes, ranks."""

from typing import Any

from .printing import join, print_hours, print_interval, print_span
from .selection import mix_names, of_criterion

_NAMED = 8  # up to so many mixes are named in the answer
_NOT_COMPARED = "no comparison"
_OPEN = ("not shown different", _NOT_COMPARED)


def is_shown(verdict: str) -> bool:
    """
    Whether a verdict on two mixes tells them apart.

    Parameters
    ----------
    verdict : str

    Returns
    -------
    bool

    Examples
    --------
    >>> is_shown("M01 clears sooner"), is_shown("not shown different")
    (True, False)
    """
    return not verdict.startswith(_OPEN)


def is_compared(verdict: str) -> bool:
    """
    Whether the data said anything on two mixes.

    Parameters
    ----------
    verdict : str

    Returns
    -------
    bool

    Examples
    --------
    >>> is_compared("not shown different"), is_compared("no comparison")
    (True, False)
    """
    return not verdict.startswith(_NOT_COMPARED)


def claim_alt(results: Any) -> str:
    """
    What the claims came to.

    Parameters
    ----------
    results : Results

    Returns
    -------
    str
    """
    claims = results["claims"]
    parts = [
        f"{row.text}: {row.verdict}, {_limits(row)}, claimed {print_hours(row.threshold)} h."
        for row in claims[claims["unit"] == "h"].itertuples(index=False)
    ]
    return "Claims with the times found. " + " ".join(parts)


def _limits(row: Any) -> str:
    limits = print_interval(row.conf_low, row.conf_high)
    return limits if limits == "no limit" else f"limits {limits} h"


def comparison_alt(results: Any, criterion: str | None = None) -> str:
    """
    Which mixes were told apart.

    Parameters
    ----------
    results : Results
    criterion : str, optional

    Returns
    -------
    str
    """
    wanted = results.meta["primary"] if criterion is None else criterion
    pairs, names = results["comparisons"], mix_names(results)
    pairs = pairs[pairs["criterion"] == wanted]
    shown = [row for row in pairs.itertuples(index=False) if is_shown(row.verdict)]
    sooner: dict[str, list[str]] = {}
    for row in shown:
        first, second = (row.mix_a, row.mix_b) if row.estimate < 1 else (row.mix_b, row.mix_a)
        sooner.setdefault(names[first], []).append(names[second])
    parts = [
        f"{name} was shown to clear sooner than {join(others)}." for name, others in sooner.items()
    ]
    compared = sum(map(is_compared, pairs["verdict"]))
    if compared > len(shown):
        parts.append(_counted(compared - len(shown), "not shown different"))
    if compared < len(pairs):
        parts.append(_counted(len(pairs) - compared, "not compared: the data set no limit"))
    return f"{'1 pair' if len(pairs) == 1 else f'{len(pairs)} pairs'} of mixes. {' '.join(parts)}"


def _counted(pairs: int, what: str) -> str:
    return f"1 pair was {what}." if pairs == 1 else f"{pairs} pairs were {what}."


def rank_alt(results: Any, criterion: str | None = None) -> str:
    """
    The ranks that each mix may hold.

    Parameters
    ----------
    results : Results
    criterion : str, optional

    Returns
    -------
    str
    """
    names = mix_names(results)
    ranks = of_criterion(results, "ranks", criterion).sort_values("rank", kind="stable")
    parts = [
        f"{names[row.mix]} {row.rank}"
        + ("" if row.rank_low == row.rank_high else f" ({print_span(row.rank_low, row.rank_high)})")
        for row in ranks.itertuples(index=False)
    ]
    return f"Rank of each mix with the ranks left open: {', '.join(parts)}."


def answer_to_pairs(results: Any, mix: str, criterion: str | None = None) -> str:
    """
    What the trial shows of one mix against the others.

    Parameters
    ----------
    results : Results
    mix : str
        Code of the mix.
    criterion : str, optional

    Returns
    -------
    str
        A sentence; empty without comparisons.
    """
    if "comparisons" not in results:
        return ""
    wanted = results.meta["primary"] if criterion is None else criterion
    pairs, names = results["comparisons"], mix_names(results)
    pairs = pairs[(pairs["criterion"] == wanted) & pairs["mix_b"].isin(names)]
    if len(pairs) and not pairs["verdict"].map(is_compared).any():
        return "With these vessels no mix can be told from another."
    found: dict[str, list[str]] = {"sooner": [], "later": [], "open": [], "none": []}
    for row in pairs[(pairs["mix_a"] == mix) | (pairs["mix_b"] == mix)].itertuples(index=False):
        found[_way(row, mix)].append(names[row.mix_b if row.mix_a == mix else row.mix_a])
    parts = [
        f"shown to clear {way} than {_others(found, way)}"
        for way in ("sooner", "later")
        if found[way]
    ]
    if found["open"]:
        parts.append(f"not shown different from {_named(found['open'], len(names))}")
    if found["none"]:
        parts.append(f"not compared with {join(found['none'])}, to which no ratio has a limit")
    return f"It was {join(parts)}." if parts else ""


def _way(row: Any, mix: str) -> str:
    """How a mix came out of one of its pairs."""
    if not is_shown(row.verdict):
        return "open" if is_compared(row.verdict) else "none"
    return "sooner" if (float(row.estimate) < 1) == (row.mix_a == mix) else "later"


def _others(found: dict[str, list[str]], way: str) -> str:
    count = sum(map(len, found.values()))
    every = len(found[way]) == count > 1
    return "every other mix" if every else _named(found[way], count + 1)


def _named(mixes: list[str], of: int) -> str:
    """Some of so many mixes by name, or counted where a list would be too long to read."""
    return join(mixes) if len(mixes) <= _NAMED else f"{len(mixes)} of the other {of - 1} mixes"
