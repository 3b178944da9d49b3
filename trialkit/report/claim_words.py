"""Sentences on what became of each claim."""

import math
from typing import Any

import pandas as pd

from .blocks import Prose
from .markdown import escape
from .pair_ratios import print_ratio
from .printing import join, print_hours, print_interval
from .selection import level_words, mix_codes, with_names


def ratio_claims(results: Any) -> pd.DataFrame:
    """
    The claims that compare two mixes.

    Parameters
    ----------
    results : Results

    Returns
    -------
    pandas.DataFrame
    """
    claims = results["claims"]
    return claims[(claims["unit"] != "h") & claims["mix"].isin(mix_codes(results))]


def claims_words(results: Any) -> Prose:
    """
    What became of each claim, with the number that decided.

    Parameters
    ----------
    results : Results
        With the table `claims`.

    Returns
    -------
    Prose
        A sentence that counts the verdicts, then a line a claim.
    """
    if "claims" not in results or results["claims"].empty:
        return Prose("No claim was declared in this trial, so none was put to the test.")
    claims = results["claims"]
    lines = [_claim_line(results, row) for row in claims.itertuples(index=False)]
    text = f"{_claim_counts(claims)}\n\n" + "\n".join(f"- {line}" for line in lines)
    if len(claims) > 1:
        level = level_words(results)
        text += (
            f"\n\nEach claim is judged by itself, at a confidence of {level}: that "
            "one of several is misjudged is more likely than that a given one is."
        )
    return Prose(text)


def _claim_counts(claims: pd.DataFrame) -> str:
    counts = claims["verdict"].value_counts()
    kinds = [word for word in ("supported", "contradicted", "not settled") if word in counts]
    if len(claims) == 1:
        return f"The one claim of this trial is {kinds[0]}."
    parts = [f"{counts[word]} {'is' if counts[word] == 1 else 'are'} {word}" for word in kinds]
    return f"Of {len(claims)} claims {join(parts)}."


def _claim_line(results: Any, row: Any) -> str:
    return _by_declared_model(results, row) + _by_own_spread(results, row)


def _by_own_spread(results: Any, row: Any) -> str:
    """What becomes of a verdict that rests on all mixes spreading alike; empty where none does."""
    if "claims_own_spread" not in results:
        return ""
    table = results["claims_own_spread"]
    other = table[(table["claim"] == row.claim) & (table["verdict"] != row.verdict)]
    if other.empty:
        return ""
    found = other[["estimate", "conf_low", "conf_high"]].astype(float).iloc[0]
    told = print_ratio(*found) if row.unit != "h" else _time_found(found, level_words(results))
    return (
        " The verdict rests on all mixes spreading alike: by a spread of each mix's own the number "
        f"is {told}, and the claim {other['verdict'].iloc[0]}."
    )


def _by_declared_model(results: Any, row: Any) -> str:
    found = (float(row.estimate), float(row.conf_low), float(row.conf_high))
    head = f"**{escape(str(row.text))}**: {row.verdict}."
    what = escape(with_names(results, str(row.term)))
    if found[1] <= 0 and found[2] == math.inf:
        note = f" {escape(str(row.note))}." if row.unit == "h" and row.note else ""
        return f"{head} These vessels set no limits to the {what}.{note}"
    if row.unit != "h":
        return f"{head} The {what}, is {print_ratio(*found)}: {_ratio_against(row.verdict)}."
    level = level_words(results)
    line = f"{head} The {what} is {_time_found(found, level)}: {_time_against(row)}."
    line += f" {escape(str(row.note))}." if row.note else ""
    window = float(results.meta["window_h"])
    if window < found[1]:
        line += f" Beyond the {window:g} h that were watched it is the model that speaks."
    return line


def _time_found(found: tuple[float, float, float], level: str) -> str:
    estimate, low, high = found
    limits = print_interval(low, high)
    if estimate == math.inf:
        return f"{limits} h"
    return f"{print_hours(estimate)} h ({level} limits: {limits} h)"


def _time_against(row: Any) -> str:
    """Where the interval of a time lies against what is claimed."""
    claimed = f"the {float(row.threshold):g} h of the claim"
    if row.verdict == "supported":
        return f"all of that is within {claimed}"
    if row.verdict == "contradicted":
        return f"all of that is above {claimed}"
    return f"that allows less as well as more than {claimed}"


def _ratio_against(verdict: str) -> str:
    """Where the interval of a ratio lies against 1."""
    if verdict == "supported":
        return "all of that is under 1, as claimed"
    if verdict == "contradicted":
        return "all of that is above 1, against the claim"
    return "that allows for either of them first"
