"""How far the raters of a trial agree, with the vessel as unit."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np
import pandas as pd

from trialkit.analysis.clearing import reading_gaps
from trialkit.analysis.rater_alone import claims_by_rater, times_by_rater
from trialkit.analysis.rater_drift import rater_drift
from trialkit.analysis.water_samples import reading_step
from trialkit.records.trial import Trial
from trialkit.stats.agreement import (
    category_counts,
    fleiss_agreement,
    gwet_agreement,
    krippendorff_alpha,
    unit_jackknife,
    weighted_kappa,
)
from trialkit.stats.components import mean_of_units, variance_components
from trialkit.stats.estimate import Estimate, proportion_exact
from trialkit.stats.intraclass import intraclass_correlation

__all__ = ["RaterAgreement", "rater_agreement"]

COEFFICIENT_COLUMNS = [
    "criterion", "rater", "term", "estimate", "conf_low", "conf_high", "conf_level", "n",
    "n_readings", "unit", "method",
]  # fmt: skip

#: Share of single differences that limits of agreement hold.
WITHIN = 1.959964


@dataclass(frozen=True)
class RaterAgreement:
    """What the raters' readings say about the raters.

    Attributes
    ----------
    coefficients : DataFrame
        criterion, rater (codes compared), term, estimate, conf_low, conf_high, conf_level,
        n (vessels), n_readings, unit, method.
    drift : DataFrame
        criterion, rater, term, estimate, limits, p_value, n, unit, method: how far a rater
        moved from the first to the last session.
    alone : DataFrame
        criterion, rater, mix, n, n_changed, typical_h, alone_h: vessels whose interval would be
        another, and the typical time, had this rater judged alone.
    claims : DataFrame
        claim, rater, verdict, alone, changed.
    sentence : str
        The finding in words.
    """

    coefficients: pd.DataFrame
    drift: pd.DataFrame
    alone: pd.DataFrame
    claims: pd.DataFrame
    sentence: str

    def tidy(self) -> pd.DataFrame:
        """The coefficients."""
        return self.coefficients

    def __str__(self) -> str:
        return self.sentence


def rater_agreement(trial: Trial, *, conf_level: float | None = None) -> RaterAgreement:
    """How far raters agree, whether one drifts, and whether one alone would judge otherwise.

    Every look that two raters or more took at the same vessel in the same session is compared.
    Limits leave out one vessel at a time: many looks at one vessel narrow nothing. Kappa falls
    when nearly all calls are alike, whatever the agreement; Gwet's AC1 stands beside it.

    Parameters
    ----------
    trial : Trial
        What `read_trial` returned, unblinded.
    conf_level : float, optional
        The declared one by default.

    Returns
    -------
    RaterAgreement
        With one rater: frames without rows and one sentence why.

    References
    ----------
    Gwet KL (2008). British Journal of Mathematical and Statistical Psychology 61, 29-48.
    Krippendorff K (2011). Computing Krippendorff's alpha-reliability.
    Bland JM, Altman DG (2007). Journal of Biopharmaceutical Statistics 17, 571-582.

    Examples
    --------
    >>> import trialkit as tk
    >>> found = tk.rater_agreement(tk.read_trial("data/demo/harbour"))
    >>> found.coefficients["rater"].unique().tolist()
    ['R01, R02']
    """
    level = trial.protocol.conf_level if conf_level is None else conf_level
    names = [name for name in trial.protocol.criteria if _raters_of(trial, name) > 1]
    tables = [_criterion_table(trial, name, level) for name in names]
    coefficients = pd.concat(tables, ignore_index=True) if tables else _empty()
    drift = rater_drift(trial, names, conf_level=level)
    alone, claims = times_by_rater(trial, names), claims_by_rater(trial, names)
    sentence = _sentence(coefficients, drift, alone, claims)
    return RaterAgreement(coefficients, drift, alone, claims, sentence)


def _empty() -> pd.DataFrame:
    return pd.DataFrame(columns=COEFFICIENT_COLUMNS)


def _raters_of(trial: Trial, name: str) -> int:
    given = trial.intervals
    if given is not None and (given["criterion"] == name).any():
        return 0
    return len(reading_gaps(trial, name).raters)


def joint_looks(trial: Trial, name: str) -> tuple[pd.DataFrame, pd.DataFrame]:
    """The calls (1 clear, 0 not) and the shortfalls of looks that two raters or more took.

    Returns
    -------
    tuple of DataFrame
        Two frames with a column a rater, indexed by vessel and session; NaN is not looked.
    """
    gaps = reading_gaps(trial, name)
    calls = np.stack([gaps.met(rater_rule=code) for code in gaps.raters], axis=2)
    _, n_session, n_rater = calls.shape
    index = pd.MultiIndex.from_product(
        [gaps.vessels["vessel"], range(n_session)], names=["vessel", "session"]
    )
    both = (~np.isnan(calls)).sum(axis=2).ravel() > 1
    frames = [
        pd.DataFrame(values.reshape(-1, n_rater), index=index, columns=list(gaps.raters))[both]
        for values in (calls, gaps.gap)
    ]
    return frames[0], frames[1]


def _criterion_table(trial: Trial, name: str, conf_level: float) -> pd.DataFrame:
    calls, shortfall = joint_looks(trial, name)
    rule = trial.protocol.criteria[name]
    if not len(calls):
        return _empty()
    vessel = calls.index.get_level_values("vessel").to_numpy()
    ordered = "ordinal" if rule.quantity == "clarity" else "interval"
    measures = [
        ("same call", calls, _same_call, "share of joint looks"),
        ("call, beyond chance (AC1)", calls, _ac1, "Gwet AC1"),
        ("call, beyond chance (kappa)", calls, _kappa, "kappa"),
        ("shortfall, all raters (alpha)", shortfall, _alpha(ordered), f"Krippendorff, {ordered}"),
    ]
    rows = [
        (term, _jackknife(statistic, frame, vessel, conf_level, method))
        for term, frame, statistic, method in measures
    ]
    rows.append(("vessel mean, one rater (ICC)", _vessel_correlation(shortfall, conf_level)))
    every = ", ".join(calls.columns)
    found = [(every, term, estimate, len(calls), "") for term, estimate in rows if estimate]
    for first, second in combinations(calls.columns, 2):
        step = reading_step(trial, rule.quantity, rule.unit)
        found += _pair_rows(shortfall, (first, second), conf_level, (rule.unit, step))
    return _tidy(found, name, len(set(vessel)))


def _tidy(found, name: str, n: int) -> pd.DataFrame:
    rows = [
        (name, rater, term, e.estimate, e.conf_low, e.conf_high, e.conf_level, n, looks, unit,
         e.method)
        for rater, term, e, looks, unit in found
    ]  # fmt: skip
    return pd.DataFrame(rows, columns=COEFFICIENT_COLUMNS)


def _same_call(rows) -> float:
    return float(np.mean(np.nanmax(rows, axis=1) == np.nanmin(rows, axis=1)))


def _ac1(rows) -> float:
    return gwet_agreement(category_counts(rows, [0, 1]))


def _kappa(rows) -> float:
    full = rows[~np.isnan(rows).any(axis=1)]
    if rows.shape[1] > 2:
        return fleiss_agreement(category_counts(full, [0, 1]))[0]
    table = np.zeros((2, 2))
    np.add.at(table, tuple(full.astype(int).T), 1)
    return weighted_kappa(table, None).estimate


def _alpha(level: str):
    def statistic(rows) -> float:
        return krippendorff_alpha(rows, level)

    return statistic


def _jackknife(statistic, frame, vessel, conf_level, method) -> Estimate | None:
    """The estimate with limits; None where all calls are alike and nothing can be measured."""
    rows = frame.to_numpy()
    try:
        found = unit_jackknife(statistic, rows, vessel, conf_level=conf_level, method=method)
    except ValueError:
        return None
    if found.conf_low == found.conf_high == 1.0:
        return _never_apart(found, len(set(vessel)), share=statistic is _same_call)
    low, high = max(found.conf_low, -1.0), min(found.conf_high, 1.0)
    return replace(found, conf_low=low, conf_high=high)


def _never_apart(found: Estimate, n: int, *, share: bool) -> Estimate:
    """Full agreement in all of few vessels is not certainty: the jackknife sees no spread.

    The share of calls alike is at least the share of vessels alike throughout, which has exact
    limits; of a coefficient beyond chance nothing is known but its range.
    """
    low = proportion_exact(n, n, conf_level=found.conf_level).conf_low if share else -1.0
    return replace(found, conf_low=low, method=found.method.replace("jackknife", "none apart"))


def _vessel_correlation(shortfall: pd.DataFrame, conf_level: float) -> Estimate | None:
    means = shortfall.dropna().groupby(level="vessel").mean()
    try:
        return intraclass_correlation(means.to_numpy(), conf_level=conf_level)
    except ValueError:
        return None


def _pair_rows(
    shortfall: pd.DataFrame, pair: tuple[str, str], conf_level: float, scale: tuple[str, float]
):
    """Mean difference and limits of agreement of two raters, readings nested in vessels."""
    both = shortfall[list(pair)].dropna()
    if not len(both):
        return []
    # A shortfall is how much worse than the reference: second minus first is how much more
    # clearly the first rater saw the vessel.
    difference = (both[pair[1]] - both[pair[0]]).to_numpy()
    vessel = both.index.get_level_values("vessel").to_numpy()
    codes = ", ".join(pair)
    unit, step = scale
    # Rounding alone spreads a difference of two readings this much.
    floor = step / np.sqrt(6)
    means = variance_components(difference, vessel).unit_means
    bias = mean_of_units(means, conf_level=conf_level, floor=floor)
    rows = [(codes, "mean difference", bias, len(both), unit)]
    for sign, words in ((-1, "lower"), (1, "upper")):
        limit = unit_jackknife(
            _limit(sign, floor), np.column_stack([difference, pd.factorize(vessel)[0]]), vessel,
            conf_level=conf_level, method="Bland-Altman, readings within vessels",
        )  # fmt: skip
        rows.append((codes, f"{words} limit of agreement", limit, len(both), unit))
    return rows


def _limit(sign: int, floor: float):
    def statistic(rows) -> float:
        found = variance_components(rows[:, 0], rows[:, 1])
        return found.mean + sign * WITHIN * max(found.reproducibility_sd, floor)

    return statistic


def _sentence(coefficients, drift, alone, claims) -> str:
    if not len(coefficients):
        return "One rater judged each criterion: how far raters agree cannot be measured."
    parts = []
    for row in coefficients[coefficients["term"] == "same call"].itertuples():
        parts.append(
            f"On {row.criterion}, {row.rater} gave the same call in {row.estimate:.0%} of "
            f"{row.n_readings} joint looks at {row.n} vessels."
        )
    changed = claims[claims["changed"]] if len(claims) else claims
    if len(changed):
        named = "; ".join(
            f"{row.rater} alone: {row.claim} {row.alone} instead of {row.verdict}"
            for row in changed.itertuples()
        )
        parts.append(f"Another verdict on a claim by one rater alone: {named}.")
    elif len(claims):
        parts.append("No rater alone would have given another verdict on a claim.")
    parts += [_moved_words(rater, own) for rater, own in alone.groupby("rater")]
    parts.append(_drift_words(drift))
    return " ".join(part for part in parts if part)


def _moved_words(rater: str, own: pd.DataFrame) -> str:
    return (
        f"Judged by {rater} alone, {int(own['n_changed'].sum())} of {int(own['n'].sum())} "
        "clearing intervals would be others."
    )


def _drift_words(drift: pd.DataFrame) -> str:
    sure = drift[(drift["conf_low"] > 0) | (drift["conf_high"] < 0)]
    if not len(sure):
        return "No rater is shown to drift from the first session to the last."
    named = "; ".join(
        f"{row.rater} by {row.estimate:+.2g} {row.unit} {row.term}" for row in sure.itertuples()
    )
    return f"Drift from the first session to the last: {named}."
