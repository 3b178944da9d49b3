"""Trial summaries pooled: one typical time a mix and trial, by random effects."""

from __future__ import annotations

import numpy as np
import pandas as pd

from trialkit.stats.aft_medians import AftMedians, fit_aft_medians
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
    ordered = vessels.sort_values(["trial", "mix", "left_h", "right_h"], ignore_index=True)
    cells = ordered.groupby(["trial", "mix"], as_index=False).size()
    layouts: dict[tuple, list] = {}
    for code, sizes in cells.groupby("trial")["size"]:
        layouts.setdefault(tuple(sizes), []).append(code)
    rows = [_alike(ordered, codes, sizes, conf_level) for sizes, codes in layouts.items()]
    found = pd.concat(rows, ignore_index=True).sort_values(["trial", "mix"], ignore_index=True)
    return found[COLUMNS]


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


def _alike(ordered: pd.DataFrame, trials: list, sizes: tuple, conf_level: float) -> pd.DataFrame:
    """Summaries of the trials that have so many vessels of their first mix, second mix and so on.

    Their fits go in step.
    """
    own = ordered[ordered["trial"].isin(trials)]
    shape = len(trials), sum(sizes)
    left, right = (own[c].to_numpy(float).reshape(shape) for c in ("left_h", "right_h"))
    codes = np.repeat(np.arange(len(sizes)), sizes)
    found = fit_aft_medians(left, right, codes, conf_level=conf_level)
    member = codes[:, None] == np.arange(len(sizes))
    note = _why(found, sum(sizes) - len(sizes))
    frame = own.drop_duplicates(["trial", "mix"])[["trial", "mix"]].assign(
        estimate=found.estimate.ravel(),
        conf_low=found.conf_low.ravel(),
        conf_high=found.conf_high.ravel(),
        n=np.tile(sizes, len(trials)),
        n_event=(np.isfinite(right).astype(int) @ member).ravel(),
        note=note.ravel(),
    )
    error = _std_error(left, right, found.scale, member)
    return frame.assign(std_error=np.where(note == "", error, np.nan).ravel())


def _std_error(left, right, scale: np.ndarray, member: np.ndarray) -> np.ndarray:
    """Standard error of the log of each typical time, shape (trials, mixes)."""
    n, free = member.sum(axis=0), len(member) - member.shape[1]
    # The fitted scale is too small by about this much: it does not pay for the means.
    within = (scale[:, None] ** 2 * (free + n) / max(free, 1)) @ member.T
    with np.errstate(all="ignore"):  # what has no standard error is left out by its note
        known = np.where(np.isfinite(right), _known(left, right, within), 0.0)
        return 1 / np.sqrt(known @ member)


def _known(left: np.ndarray, right: np.ndarray, within: np.ndarray) -> np.ndarray:
    """What each bounded interval tells of the log of the typical time, as an inverse variance.

    An interval of width w adds w^2 / 12 to the variance of a vessel; an open one is worth nothing
    beyond where it starts, so it is not counted (Sheppard's correction, turned round).
    """
    width = np.log(right / np.maximum(left, right / 4))
    return 1 / (within + width**2 / 12)


def _why(found: AftMedians, free: int) -> np.ndarray:
    """Why each typical time has no standard error, shape (trials, mixes); "" where it has one."""
    placed = (found.estimate > 0) & np.isfinite(found.estimate)
    known = ((found.scale > 0) & np.isfinite(found.scale))[:, None]
    alike = "all vessels of a mix agree within the readings: no spread of its own"
    alone = "one vessel a mix: no spread of its own"
    words = np.where(known, "", alike) if free else np.full(placed.shape, alone)
    return np.where(placed, words, "this trial alone does not place its time").astype(object)
