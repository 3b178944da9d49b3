"""Trial summaries pooled: one typical time a mix and trial, by random effects."""

from __future__ import annotations

import numpy as np
import pandas as pd

from trialkit.stats.aft import fit_aft
from trialkit.stats.pooling import pool_estimates

__all__ = ["pool_summaries", "summarise_trials"]

COLUMNS = ["trial", "mix", "estimate", "conf_low", "conf_high", "std_error", "n", "n_event", "note"]
POOLED = [
    "mix", "estimate", "conf_low", "conf_high", "predict_low", "predict_high", "between_sd",
    "i_squared", "q", "n_trials", "method",
]  # fmt: skip


def summarise_trials(vessels: pd.DataFrame, conf_level: float = 0.95) -> pd.DataFrame:
    """One row a trial and mix: its own typical time with a standard error of the log time.

    The spread is the trial's own, pooled over its mixes. A mix that a trial alone cannot place,
    or a trial without two vessels of any mix, has no standard error, and says why.

    Parameters
    ----------
    vessels : pandas.DataFrame
        trial, mix, left_h, right_h.
    conf_level : float
        Level of the trial's own limits.

    Returns
    -------
    pandas.DataFrame
        trial, mix, estimate, conf_low, conf_high (hours), std_error (nan when there is none), n,
        n_event, note.

    Examples
    --------
    >>> vessels = pd.DataFrame({"trial": "T1", "mix": list("aabb"), "left_h": [1, 2, 3, 4],
    ...                         "right_h": [2, 3, 4, 6]})
    >>> summarise_trials(vessels)["n"].tolist()
    [2, 2]
    """
    rows = [_summary(code, own, conf_level) for code, own in vessels.groupby("trial")]
    return pd.concat(rows, ignore_index=True)[COLUMNS]


def pool_summaries(summaries: pd.DataFrame, conf_level: float = 0.95) -> pd.DataFrame:
    """One row a mix: the mean of the trials' typical times, and where a new trial's will lie.

    Parameters
    ----------
    summaries : pandas.DataFrame
        What `summarise_trials` returned.
    conf_level : float
        Two-sided level.

    Returns
    -------
    pandas.DataFrame
        mix, estimate, conf_low, conf_high, predict_low, predict_high (hours), between_sd (of log
        time), i_squared, q, n_trials, method. Mixes with fewer than two usable trials are absent.

    Examples
    --------
    >>> trials = pd.DataFrame({"mix": "a", "estimate": [1.0, 2.0, 4.0], "std_error": 0.2})
    >>> pool_summaries(trials)["estimate"].round(2).tolist()
    [2.0]
    """
    usable = summaries[np.isfinite(summaries["std_error"])]
    rows = []
    for mix, own in usable.groupby("mix"):
        if len(own) > 1:
            fit = pool_estimates(np.log(own["estimate"]), own["std_error"] ** 2)
            low, high = np.exp(fit.interval(conf_level))
            predict_low, predict_high = np.exp(fit.prediction(conf_level))
            sd = np.sqrt(fit.between_variance)
            rows.append(
                (mix, np.exp(fit.mean), low, high, predict_low, predict_high, sd,
                 fit.i_squared, fit.q, len(own), "REML, Hartung-Knapp")
            )  # fmt: skip
    return pd.DataFrame(rows, columns=POOLED)


def _summary(code: str, own: pd.DataFrame, conf_level: float) -> pd.DataFrame:
    fit = fit_aft(own["left_h"], own["right_h"], own["mix"])
    typical = fit.quantile(0.5, conf_level=conf_level).rename(columns={"group": "mix"})
    right = own["right_h"].to_numpy(float)
    cleared = np.isfinite(right)
    place = {mix: k for k, mix in enumerate(typical["mix"])}
    group = np.array([place[mix] for mix in own["mix"]])
    typical["n"] = np.bincount(group, minlength=len(typical))
    typical["n_event"] = np.bincount(group[cleared], minlength=len(typical))
    free = len(own) - len(typical)
    typical["note"] = [_why(estimate, fit.scale, free) for estimate in typical["estimate"]]
    usable = (typical["note"] == "").to_numpy()
    typical["std_error"] = np.nan
    if usable.any():
        # The fitted scale is too small by about this much: it does not pay for the means.
        within = fit.scale**2 * (free + typical["n"].to_numpy()) / free
        kept = own.loc[cleared, ["left_h", "right_h"]].to_numpy(float)
        known = _known(*kept.T, within[group[cleared]])
        total = np.bincount(group[cleared], known, minlength=len(typical))
        typical.loc[usable, "std_error"] = 1 / np.sqrt(total[usable])
    return typical.assign(trial=code)


def _known(left: np.ndarray, right: np.ndarray, within: np.ndarray) -> np.ndarray:
    """What each bounded interval tells of the log of the typical time, as an inverse variance.

    An interval of width w adds w^2 / 12 to the variance of a vessel; an open one is worth nothing
    beyond where it starts, so it is not counted (Sheppard's correction, turned round).
    """
    width = np.log(right / np.maximum(left, right / 4))
    return 1 / (within + width**2 / 12)


def _why(estimate: float, scale: float, free: int) -> str:
    if not 0 < estimate < np.inf:
        return "this trial alone does not place its time"
    if free < 1:
        return "one vessel a mix: no spread of its own"
    if not 0 < scale < np.inf:
        return "all vessels of a mix agree within the readings: no spread of its own"
    return ""
