"""Sentences on decisions: claims, pairs, ranks, definitions, raters, the plan."""

import math
from typing import Any

import pandas as pd

from .printing import join, print_figures, print_hours, print_interval, print_share
from .selection import mix_codes, mix_names, of_criterion

_OPEN = ("not shown different", "no comparison")


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
        f"{row.text}: {row.verdict}, limits {print_interval(row.conf_low, row.conf_high)} h, "
        f"claimed {print_hours(row.threshold)} h."
        for row in claims[claims["unit"] == "h"].itertuples(index=False)
    ]
    return "Claims with the times found. " + " ".join(parts)


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
    rest = len(pairs) - len(shown)
    return (
        f"{len(pairs)} pairs of mixes. {' '.join(parts)} {rest} pairs were not shown different."
    ).replace("  ", " ")


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
        + ("" if row.rank_low == row.rank_high else f" ({row.rank_low} to {row.rank_high})")
        for row in ranks.itertuples(index=False)
    ]
    return f"Rank of each mix with the ranks left open: {', '.join(parts)}."


def sensitivity_alt(results: Any, criteria: list[str]) -> str:
    """
    How far the typical times move with the definition of clear.

    Parameters
    ----------
    results : Results
    criteria : list of str

    Returns
    -------
    str
    """
    table, names = results["sensitivity_summary"], mix_names(results)
    parts = []
    for name in criteria:
        own = table[(table["criterion"] == name) & table["mix"].isin(mix_codes(results))]
        spans = [
            f"{names[row.mix]} {_span(float(row.estimate_low), float(row.estimate_high))}"
            for row in own.itertuples(index=False)
        ]
        parts.append(f"{name}: {', '.join(spans)}.")
    return "Typical times over other definitions, hours. " + " ".join(parts)


def _span(low: float, high: float) -> str:
    return print_hours(low) if low == high else f"{print_hours(low)} to {print_hours(high)}"


def ratio_words(estimate: float, low: float, high: float) -> str:
    """
    A ratio of two times, or its one limit when a mix has no time of its own.

    Parameters
    ----------
    estimate, low, high : float
        0 and inf where the data place nothing.

    Returns
    -------
    str

    Examples
    --------
    >>> ratio_words(0.346, 0.23, 0.52), ratio_words(0.0, 0.0, 0.073)
    ('0.35', 'under 0.073')
    >>> ratio_words(float("inf"), 3.2, float("inf")), ratio_words(1.0, 0.0, float("inf"))
    ('above 3.2', 'no limit')
    """
    if low <= 0 and high == math.inf:
        return "no limit"
    if estimate <= 0:
        return f"under {print_figures(high, 2)}"
    if estimate == math.inf:
        return f"above {print_figures(low, 2)}"
    return print_figures(estimate, 2)


def agreement_alt(results: Any) -> str:
    """
    How far the raters agree.

    Parameters
    ----------
    results : Results

    Returns
    -------
    str
    """
    table = results["agreement"]
    rows = table[table["unit"].fillna("") == ""].itertuples(index=False)
    parts = [f"{row.criterion}, {row.term}: {float(row.estimate):.2f}." for row in rows]
    return "Agreement of the raters, 1 is full. " + " ".join(parts)


def plan_alt(results: Any, late: pd.Series) -> str:
    """
    How punctual the readings were.

    Parameters
    ----------
    results : Results
    late : pandas.Series
        Minutes late, a value a reading.

    Returns
    -------
    str
    """
    within = float((late.abs() <= 5).mean()) if len(late) else math.nan
    most = late.abs().max() if len(late) else math.nan
    return (
        f"{len(late)} readings in {len(results.meta['schedule_h'])} sessions: "
        f"{print_share(within)} within 5 minutes of the plan, at most {most:.0f} minutes off."
    )


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
    if len(pairs) and pairs["verdict"].str.startswith(_OPEN[1]).all():
        return "With these vessels no mix can be told from another."
    found: dict[str, list[str]] = {"sooner": [], "later": [], "open": []}
    for row in pairs[(pairs["mix_a"] == mix) | (pairs["mix_b"] == mix)].itertuples(index=False):
        other = row.mix_b if row.mix_a == mix else row.mix_a
        sooner = (float(row.estimate) < 1) == (row.mix_a == mix)
        way = ("sooner" if sooner else "later") if is_shown(row.verdict) else "open"
        found[way].append(names[other])
    parts = [
        f"shown to clear {way} than {_others(found, way)}"
        for way in ("sooner", "later")
        if found[way]
    ]
    if found["open"]:
        parts.append(f"not shown different from {join(found['open'])}")
    return f"It was {join(parts)}." if parts else ""


def _others(found: dict[str, list[str]], way: str) -> str:
    count = sum(map(len, found.values()))
    every = len(found[way]) == count > 1
    return "every other mix" if every else join(found[way])
