"""Whether a rater's readings move during a trial."""

from __future__ import annotations

import numpy as np
import pandas as pd

from trialkit.analysis.clearing import reading_gaps
from trialkit.analysis.water_samples import reading_step
from trialkit.records.trial import Trial
from trialkit.stats.components import mean_of_units
from trialkit.stats.estimate import Estimate

__all__ = ["rater_drift"]

COLUMNS = [
    "criterion", "rater", "term", "estimate", "conf_low", "conf_high", "conf_level", "n", "unit",
    "method",
]  # fmt: skip

AGAINST_OTHERS, ON_WATER = "against the other raters", "on purified water"


def rater_drift(
    trial: Trial, criteria: list[str] | None = None, *, conf_level: float | None = None
) -> pd.DataFrame:
    """How far each rater moved from the first session to the last.

    Two yardsticks. Against the others: a rater's reading minus the mean of the other raters' of
    the same vessel and session; with two raters one's drift is the other's with the sign turned,
    and which of them moved is not known. On purified water: the readings of the reference
    vessels, which should not change; that one speaks of the rater (or the light) alone. A line is
    fitted through the sessions of each vessel; the vessels' slopes are the units.

    Parameters
    ----------
    trial : Trial
        What `read_trial` returned.
    criteria : list of str, optional
        The declared criteria by default.
    conf_level : float, optional
        The declared one by default.

    Returns
    -------
    DataFrame
        criterion, rater, term, estimate (last session minus first, in the unit of the readings;
        positive is a higher reading), conf_low, conf_high, conf_level, n (vessels), unit, method.

    Examples
    --------
    >>> import trialkit as tk
    >>> found = tk.rater_drift(tk.read_trial("data/demo/harbour"), ["clarity"])
    >>> found["term"].unique().tolist()
    ['against the other raters', 'on purified water']
    """
    names = list(trial.protocol.criteria) if criteria is None else criteria
    level = trial.protocol.conf_level if conf_level is None else conf_level
    rows = [row for name in names for row in _criterion_rows(trial, name, level)]
    return pd.DataFrame(rows, columns=COLUMNS)


def _criterion_rows(trial: Trial, name: str, conf_level: float):
    rule = trial.protocol.criteria[name]
    span = max(len(trial.protocol.schedule_h) - 1, 1)
    # A drift is a difference of two rounded readings, which alone spreads this much.
    floor = reading_step(trial, rule.quantity, rule.unit) / np.sqrt(6)
    against = _against_others(trial, name)
    water = _on_water(trial, rule)
    for term, looks in ((AGAINST_OTHERS, against), (ON_WATER, water)):
        for rater, own in looks.groupby("rater"):
            slopes = [_slope(v["session"], v["value"]) for _, v in own.groupby("vessel")]
            slopes = [slope * span for slope in slopes if slope is not None]
            if slopes:
                found = mean_of_units(slopes, conf_level=conf_level, floor=floor)
                yield _row(name, rater, term, found, (len(slopes), rule.unit))


def _row(name: str, rater: str, term: str, found: Estimate, size: tuple[int, str]) -> tuple:
    limits = found.estimate, found.conf_low, found.conf_high, found.conf_level
    return (name, rater, term, *limits, *size, "slope a vessel, t")


def _against_others(trial: Trial, name: str) -> pd.DataFrame:
    gaps = reading_gaps(trial, name)
    # A shortfall counts downward for lines and upward for haze; readings are wanted here.
    sign = 1 if gaps.criterion.better == "low" else -1
    reading = sign * gaps.gap
    seen = ~np.isnan(reading)
    total, looked = np.nansum(reading, axis=2, keepdims=True), seen.sum(axis=2, keepdims=True)
    others = np.where(looked > 1, total - np.nan_to_num(reading), np.nan) / np.maximum(
        looked - 1, 1
    )
    vessel, session, rater = np.nonzero(seen & (looked > 1))
    return pd.DataFrame(
        {
            "vessel": gaps.vessels["vessel"].to_numpy()[vessel],
            "session": session,
            "rater": np.asarray(gaps.raters, object)[rater],
            "value": (reading - others)[vessel, session, rater],
        }
    )


def _on_water(trial: Trial, rule) -> pd.DataFrame:
    readings = trial.readings
    wanted = (
        (readings["role"] == "reference")
        & (readings["phase"] == "mixing")
        & (readings["quantity"] == rule.quantity)
        & (readings["unit"] == rule.unit)
        & readings["value"].notna()
    )
    keys = ["vessel", "session", "rater"]
    return readings[wanted].groupby(keys, as_index=False)["value"].median()


def _slope(session, value) -> float | None:
    """The least-squares slope a session; None without two different sessions."""
    centred = np.asarray(session, float) - np.mean(session)
    spread = centred @ centred
    return float(centred @ np.asarray(value, float) / spread) if spread > 0 else None
