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
    cleared = np.isfinite(own["right_h"]).groupby(own["mix"]).agg(["size", "sum"])
    typical["n"] = cleared["size"].reindex(typical["mix"]).to_numpy()
    typical["n_event"] = cleared["sum"].reindex(typical["mix"]).astype(int).to_numpy()
    free = len(own) - len(typical)
    typical["std_error"] = [_error(row, own, fit.scale, free) for row in typical.itertuples()]
    typical["note"] = [_why(row, fit.scale, free) for row in typical.itertuples()]
    return typical.assign(trial=code)


def _error(row, own: pd.DataFrame, scale: float, free: int) -> float:
    """Standard error of the log of the typical time, from the information in the intervals.

    An interval of width w adds w^2 / 12 to the variance of a vessel; an open one is worth nothing
    beyond where it starts, so it is not counted (Sheppard's correction, turned round).
    """
    if _why(row, scale, free):
        return np.nan
    mine = own[(own["mix"] == row.mix) & np.isfinite(own["right_h"])]
    low = np.maximum(mine["left_h"], mine["right_h"] / 4)
    width = np.log(mine["right_h"]) - np.log(low)
    # The fitted scale is too small by about this much: it does not pay for the means.
    variance = scale**2 * (free + row.n) / free + width**2 / 12
    return float(1 / np.sqrt((1 / variance).sum()))


def _why(row, scale: float, free: int) -> str:
    if not 0 < row.estimate < np.inf:
        return "this trial alone does not place its time"
    if free < 1:
        return "one vessel a mix: no spread of its own"
    if not 0 < scale < np.inf:
        return "all vessels of a mix agree within the readings: no spread of its own"
    return ""
