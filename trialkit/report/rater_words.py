"""Sentences on the raters: how far they agree, what each alone would have found."""

from typing import Any

import pandas as pd

from .blocks import Prose
from .markdown import escape
from .printing import join, print_figures, print_hours, print_share
from .selection import criterion_label, level_words, mix_names

_ONE = (
    "One rater made all calls. How far another would have agreed was not measured, and a drift "
    "of the eye can't be told from a change of the water."
)

#: More pairs of raters than this are told of together.
FEW_PAIRS = 3

_TERMS = ("mean difference", "lower limit of agreement", "upper limit of agreement")


def rater_words(results: Any) -> Prose:
    """
    How far the raters agree, and whether one alone would have come to another answer.

    Parameters
    ----------
    results : Results
        With the tables `agreement`, `rater_times`, `rater_claims`, `rater_drift`.

    Returns
    -------
    Prose
    """
    if "agreement" not in results or results["agreement"].empty:
        return Prose(_ONE)
    names = dict.fromkeys(results["agreement"]["criterion"])
    parts = [_agreement_words(results, name) for name in names]
    parts += [_alone_words(results), _claim_words(results), _drift_words(results)]
    return Prose("\n\n".join(part for part in parts if part))


def _agreement_words(results: Any, criterion: str) -> str:
    table = results["agreement"]
    own = table[table["criterion"] == criterion]
    label = escape(criterion_label(results, criterion))
    parts = []
    for row in own[own["term"] == "same call"].itertuples(index=False):
        share, low, high = map(print_share, (row.estimate, row.conf_low, row.conf_high))
        parts.append(
            f"**{escape(_pair(row.rater))} made the same call, {label} or not, in {share} of their "
            f"{int(row.n_readings)} joint looks** at {int(row.n)} vessels ({level_words(results)} "
            f"limits: {low} to {high}, from the spread between vessels)."
        )
    for unit, measured in own[own["unit"].fillna("") != ""].groupby("unit"):
        pairs = {pair: rows.set_index("term") for pair, rows in measured.groupby("rater")}
        pairs = {pair: rows for pair, rows in pairs.items() if set(_TERMS) <= set(rows.index)}
        if len(pairs) > FEW_PAIRS:
            parts.append(_many_pairs_words(results, pairs, unit))
        else:
            parts += [_difference_words(results, pair, unit, pairs[pair]) for pair in pairs]
    return " ".join(part for part in parts if part)


def _difference_words(results: Any, pair: str, unit: str, rows: pd.DataFrame) -> str:
    mean, lower, upper = (rows.loc[term] for term in _TERMS)
    first, second = pair.split(", ")
    low, high = float(mean["conf_low"]), float(mean["conf_high"])
    limits = f"{_two(low)} to {_two(high)}"
    text = (
        f"On average {first} saw the water {_clearer(float(mean['estimate']), unit)} than {second} "
        f"({level_words(results)} limits {limits} {unit})"
    )
    if low <= 0 <= high:
        text = (
            f"A difference between {first} and {second} on average was not shown: "
            f"{_two(float(mean['estimate']))} {unit} ({level_words(results)} limits {limits})"
        )
    return text + (
        f"; single looks differ by {_two(float(lower['estimate']))} to "
        f"{_two(float(upper['estimate']))} {unit} in 95 of 100."
    )


def _many_pairs_words(results: Any, pairs: dict[str, pd.DataFrame], unit: str) -> str:
    """How many pairs differ, which the most on average, which the most in a single look."""
    means = pd.DataFrame({pair: rows.loc["mean difference"] for pair, rows in pairs.items()}).T
    means = means[["estimate", "conf_low", "conf_high"]].astype(float)
    sure = means[(means["conf_low"] > 0) | (means["conf_high"] < 0)]
    text = f"Of {len(pairs)} pairs of raters {len(sure) or 'none'} was shown to differ on average"
    if len(sure) > 1:
        text = text.replace(" was shown", " were shown")
    if len(sure):
        first, second = sure["estimate"].abs().idxmax().split(", ")
        most = sure.loc[f"{first}, {second}"]
        text += (
            f", most of all {first}, who saw the water {_clearer(most['estimate'], unit)} than "
            f"{second} ({level_words(results)} limits {_two(most['conf_low'])} to "
            f"{_two(most['conf_high'])} {unit})"
        )
    ends = pd.DataFrame({pair: _agreement_ends(rows) for pair, rows in pairs.items()}).T
    widest = ends.abs().max(axis=1).idxmax()
    low, high = ends.loc[widest]
    return (
        f"{text}. Single looks differ most between {_pair(widest)}: by {_two(low)} to "
        f"{_two(high)} {unit} in 95 of 100."
    )


def _agreement_ends(rows: pd.DataFrame) -> list[float]:
    return [float(rows.loc[term, "estimate"]) for term in _TERMS[1:]]


def _clearer(difference: float, unit: str) -> str:
    # Second minus first in how much worse than purified water: above 0 the first saw it clearer.
    word = "clearer" if difference > 0 else "less clear"
    return f"{_two(abs(difference))} {unit} {word}"


def _alone_words(results: Any) -> str:
    if "rater_times" not in results or results["rater_times"].empty:
        return ""
    names, parts = mix_names(results), []
    for (rater, criterion), own in results["rater_times"].groupby(["rater", "criterion"]):
        changed, count = int(own["n_changed"].sum()), int(own["n"].sum())
        label = escape(criterion_label(results, criterion))
        text = (
            f"{rater} alone would give {changed} of {count} vessels another interval until {label}"
        )
        moved = own[
            own["typical_h"].astype(float).map(print_hours)
            != own["alone_h"].astype(float).map(print_hours)
        ]
        told = [
            f"{escape(names[row.mix])} {_hours(row.alone_h)} instead of {_hours(row.typical_h)}"
            for row in moved.itertuples(index=False)
            if row.mix in names
        ]
        if 0 < len(told) <= 12:
            text += f" (typical times: {join(told)})"
        parts.append(text + ".")
    return " ".join(parts)


def _hours(value: float) -> str:
    text = print_hours(float(value))
    return text if text == "not reached" else f"{text} h"


def _claim_words(results: Any) -> str:
    if "rater_claims" not in results or results["rater_claims"].empty:
        return ""
    claims = results["rater_claims"]
    changed = claims[claims["changed"].astype(bool)]
    if changed.empty:
        return "No rater alone would have come to another verdict on a claim."
    told = [
        f"{row.rater} alone finds “{escape(str(row.text))}” {row.alone} instead of {row.verdict}"
        for row in changed.itertuples(index=False)
    ]
    return f"**A claim hangs on who looked:** {'; '.join(told)}."


def _drift_words(results: Any) -> str:
    if "rater_drift" not in results or results["rater_drift"].empty:
        return ""
    drift = results["rater_drift"]
    sure = drift[(drift["conf_low"].astype(float) > 0) | (drift["conf_high"].astype(float) < 0)]
    if sure.empty:
        return (
            "No rater is shown to drift between the first session and the last. That is no "
            "evidence that none does."
        )
    told = [
        f"{row.rater} by {_two(float(row.estimate))} {row.unit} {row.term} "
        f"(limits {_two(float(row.conf_low))} to {_two(float(row.conf_high))})"
        for row in sure.itertuples(index=False)
    ]
    return f"Readings drift between the first session and the last: {join(told)}."


def _two(value: float) -> str:
    return print_figures(value, 2)


def _pair(raters: str) -> str:
    return join(raters.split(", "))
