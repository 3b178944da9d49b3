"""How far the raters of a trial agree, with the vessel as unit."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

from trialkit.analysis.clearing import reading_gaps
from trialkit.analysis.rater_alone import claims_by_rater, times_by_rater
from trialkit.analysis.rater_coefficients import coefficient_table, no_coefficients
from trialkit.analysis.rater_drift import rater_drift
from trialkit.analysis.rater_intervals import intervals_by_rater
from trialkit.records.trial import Trial
from trialkit.stats.shown import Shown

__all__ = ["RaterAgreement", "rater_agreement"]


@dataclass(frozen=True, repr=False)
class RaterAgreement(Shown):
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
    intervals : DataFrame
        criterion, rater, mix, block, vessel, left_h, right_h: when each rater alone would have
        called each vessel clear.
    claims : DataFrame
        claim, rater, verdict, alone, changed.
    sentence : str
        The finding in words.
    """

    coefficients: pd.DataFrame
    drift: pd.DataFrame
    alone: pd.DataFrame
    intervals: pd.DataFrame
    claims: pd.DataFrame
    sentence: str

    def tidy(self) -> pd.DataFrame:
        """The coefficients."""
        return self.coefficients

    def __str__(self) -> str:
        return self.sentence


def rater_agreement(
    trial: Trial, *, conf_level: float | None = None, claims: pd.DataFrame | None = None
) -> RaterAgreement:
    """How far raters agree, whether one drifts, and whether one alone would judge otherwise.

    Every look that two raters or more took at the same vessel in the same session is compared.
    Limits rest on the spread between vessels: many looks at one vessel narrow nothing. Kappa
    falls when nearly all calls are alike, whatever the agreement; Gwet's AC1 stands beside it.

    Parameters
    ----------
    trial : Trial
        What `read_trial` returned, unblinded.
    conf_level : float, optional
        The declared one by default.
    claims : DataFrame, optional
        What `assess_claims` returned for the trial, where it is at hand already.

    Returns
    -------
    RaterAgreement
        With one rater: frames without rows and one sentence why.

    References
    ----------
    Korn EL, Graubard BI (1998). Survey Methodology 24, 193-201.
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
    names = [name for name in trial.judged if len(reading_gaps(trial, name).raters) > 1]
    tables = [coefficient_table(trial, name, level) for name in names]
    coefficients = pd.concat(tables, ignore_index=True) if tables else no_coefficients()
    drift = rater_drift(trial, names, conf_level=level)
    alone, claims = times_by_rater(trial, names), claims_by_rater(trial, names, together=claims)
    sentence = _sentence(coefficients, drift, alone, claims)
    intervals = intervals_by_rater(trial, names)
    return RaterAgreement(coefficients, drift, alone, intervals, claims, sentence)


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
