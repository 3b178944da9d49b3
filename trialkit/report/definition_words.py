"""Sentences on whether the order of the mixes survives another definition of clear."""

import math
from typing import Any

import pandas as pd

from .blocks import Prose
from .markdown import escape
from .printing import join, print_hours
from .selection import criterion_label, mix_codes, mix_names

_FOIL = "midpoint"
_FAMILIES = {"lognormal": "log-normal", "weibull": "Weibull", "loglogistic": "log-logistic"}
_CHOICES = {
    "tolerance": "a tolerance of {}",
    "hold": "{} readings in a row",
    "rater_rule": "raters: {}",
    "family": "the {} family",
}


def sensitivity_words(results: Any, *, criterion: str | None = None) -> Prose:
    """
    Whether the order of the mixes is the declared one under every definition, and where not.

    Parameters
    ----------
    results : Results
        With the tables `mixes`, `sensitivity`, `sensitivity_summary`.
    criterion : str, optional
        One criterion; all that were varied unless named.

    Returns
    -------
    Prose
        A paragraph a criterion.
    """
    if "sensitivity" not in results or results["sensitivity"].empty:
        return Prose(
            "No other definition of clear was tried: that needs single readings, not intervals."
        )
    grid = results["sensitivity"]
    grid = grid[grid["mix"].isin(mix_codes(results))]
    names = [name for name in dict.fromkeys(grid["criterion"]) if criterion in (None, name)]
    parts = [_criterion_words(results, grid[grid["criterion"] == name], name) for name in names]
    if len(mix_codes(results)) > 1:
        parts.append(
            "These are other choices of how to judge the same vessels. They say nothing on what "
            "other vessels would have done: that is what the limits and the verdicts on pairs say."
        )
    return Prose("\n\n".join(parts))


def _criterion_words(results: Any, own: pd.DataFrame, name: str) -> str:
    label = escape(criterion_label(results, name))
    real, foil = own[own["placement"] != _FOIL], own[own["placement"] == _FOIL]
    ways = real["definition"].nunique()
    spans = _span_words(results, name)
    if len(mix_codes(results)) < 2:
        return f"**Until {label}**, judged in {ways} ways. {spans}"
    head = f"**Until {label}**, judged in {ways} ways: {_order_words(results, real)}"
    return f"{head} {spans} {_foil_words(results, real, foil)}".strip()


def _order_words(results: Any, real: pd.DataFrame) -> str:
    """How often the order is the declared one, who changes place, under which choices."""
    if (real["estimate"].astype(float) == math.inf).all():
        return "no mix reached a typical time in any."
    declared = real[real["declared"].astype(bool)].set_index("mix")["rank"]
    moved = real[real["rank"] != real["mix"].map(declared)]
    ways, other = real["definition"].nunique(), moved["definition"].nunique()
    if not other:
        return f"the order of the mixes is the declared one in all {ways}."
    names = mix_names(results)
    movers = [escape(names[mix]) for mix in declared.index if mix in set(moved["mix"])]
    text = f"the order of the mixes is another in {other} of the {ways}. "
    movers_words = f"{join(movers)} change places" if len(movers) <= 12 else "Most mixes change"
    text += movers_words + _only_where(real, moved)
    first = declared.index[declared == 1]
    steady = [escape(names[mix]) for mix in first if mix not in set(moved["mix"])]
    return text + (f"; {join(steady)} is first in every one." if len(steady) == 1 else ".")


def _only_where(real: pd.DataFrame, moved: pd.DataFrame) -> str:
    """The choices without which the order would be the declared one."""
    told = []
    for column, words in _CHOICES.items():
        values, every = sorted(moved[column].unique()), real[column].nunique()
        if len(values) == 1 and every > 1:
            value = values[0] if isinstance(values[0], str) else f"{values[0]:g}"
            value = _FAMILIES.get(value, value)
            told.append(words.format(escape(value)))
    return f", only with {join(told)}" if told else ""


def _span_words(results: Any, name: str) -> str:
    """The mix whose typical time moves most by ratio."""
    table, names = results["sensitivity_summary"], mix_names(results)
    own = table[(table["criterion"] == name) & table["mix"].isin(names)]
    placed = own[own["estimate_high"].astype(float) < math.inf]
    placed = placed[placed["estimate_low"].astype(float) > 0]
    if placed.empty:
        return ""
    ratio = placed["estimate_high"].astype(float) / placed["estimate_low"].astype(float)
    row = placed.loc[ratio.idxmax()]
    if row["estimate_high"] == row["estimate_low"]:
        return "No typical time moves."
    return (
        f"The typical time that moves most is that of {escape(names[row['mix']])}: "
        f"{print_hours(row['estimate_low'])} to {print_hours(row['estimate_high'])} h, declared "
        f"{print_hours(row['estimate'])} h."
    )


def _foil_words(results: Any, real: pd.DataFrame, foil: pd.DataFrame) -> str:
    """What midpoints would have given under the definition that was declared."""
    declared = real[real["declared"].astype(bool)]
    if foil.empty or declared.empty:
        return ""
    same = list(_CHOICES)
    both = declared.merge(foil, on=["mix", *same], suffixes=("", "_foil"))
    both = both[(both["estimate"] < math.inf) & (both["estimate_foil"] < math.inf)]
    both = both[both["estimate"] > 0]
    if both.empty:
        return ""
    ratio = (both["estimate_foil"] / both["estimate"]).astype(float).map(math.log).abs()
    row = both.loc[ratio.idxmax()]
    name = escape(mix_names(results)[row["mix"]])
    given, foiled = print_hours(row["estimate"]), print_hours(row["estimate_foil"])
    if given == foiled:
        return (
            "Taking the middle of each interval for the exact time, which is known to mislead, "
            "would have moved none of them."
        )
    return (
        "Had the middle of each interval been taken for the exact time, which is known to mislead, "
        f"that of {name} would move most: {foiled} h instead of {given} h."
    )
