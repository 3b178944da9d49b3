"""Trials whose vessels agree more closely than vessels do elsewhere."""

from __future__ import annotations

import numpy as np
import pandas as pd

from trialkit.stats.mixed_aft import MixedAftFit

__all__ = ["close_agreement", "trial_flags"]

CLOSE = "vessels of one mix agree more closely than in other trials"
RARE = 1e-3  # chance of agreeing as closely, below which a trial is named
_DRAWS = (200, 3800)  # the second only for what the first shows to be rare
_PLAIN = 20  # draws as close, from which on a trial is not rare
_VARY = 0.3  # of the log of the spread, from trial to trial: an assumption, without a source
_SEED = 8311
COLUMNS = ["trial", "source", "message", "p_value"]


def trial_flags(fit: MixedAftFit, vessels: pd.DataFrame, records: dict) -> pd.DataFrame:
    """One row a trial and pattern that deserves a look at its sheet; no verdict on anybody.

    Parameters
    ----------
    fit : MixedAftFit
        The pooled fit.
    vessels : pandas.DataFrame
        trial, mix, left_h, right_h.
    records : dict of str to TrialRecord
        By trial code.

    Returns
    -------
    pandas.DataFrame
        trial, source, message, p_value (1 where the pattern is no matter of chance).

    Examples
    --------
    >>> vessels = pd.DataFrame({"trial": ["T1", "T2"], "mix": "a", "left_h": 1.0, "right_h": 2.0})
    >>> from trialkit.stats.mixed_aft import fit_mixed_aft
    >>> fit = fit_mixed_aft([1, 1], [2, 3], ["a", "a"], ["T1", "T2"])
    >>> trial_flags(fit, vessels, {}).empty
    True
    """
    rows = []
    for code, own in vessels.groupby("trial"):
        record = records.get(code)
        if record is None:
            continue
        p_value = close_agreement(own, record.schedule_h, fit.spread.sigma)
        if p_value < RARE:
            rows.append((code, record.source, CLOSE, p_value))
        rows += [(code, record.source, words, 1.0) for words in record.patterns]
    return pd.DataFrame(rows, columns=COLUMNS)


def close_agreement(own: pd.DataFrame, schedule_h, sigma: float) -> float:
    """Chance that the vessels of a trial agree at least as closely, at the usual spread.

    Vessels are drawn around the middle of their mix's times with the spread of all trials, give or
    take what careful and hasty people differ, and read at the trial's own times. What is counted is
    how many steps of the schedule lie between vessels of the same mix. Readings that are far apart
    hide any spread, and the simulation allows for it.

    Parameters
    ----------
    own : pandas.DataFrame
        The trial's vessels: mix, left_h, right_h.
    schedule_h : sequence of float
        Planned reading times, hours.
    sigma : float
        Spread of log time between vessels of one mix in one trial, from all trials.

    Returns
    -------
    float
        p-value; 1 when no mix has two vessels that were seen to clear.

    Examples
    --------
    >>> alike = pd.DataFrame({"mix": list("aaaabbbb"), "left_h": 2.0, "right_h": 2.2})
    >>> close_agreement(alike, [0.2 * k for k in range(1, 40)], 0.4) < 0.001
    True
    """
    left, right = own["left_h"].to_numpy(float), own["right_h"].to_numpy(float)
    mix = np.unique(own["mix"].to_numpy(), return_inverse=True)[1]
    seen = np.isfinite(right)
    seen &= (np.bincount(mix[seen], minlength=len(mix)) > 1)[mix]
    if not seen.any():
        return 1.0
    left, right = left[seen], right[seen]
    group = np.unique(mix[seen], return_inverse=True)[1]
    edges = np.asarray(schedule_h, float)
    step = np.searchsorted(edges, right * (1 - 1e-9)).astype(float)
    middle = np.log(np.sqrt(np.maximum(left, right / 4) * right))
    middle = np.bincount(group, middle) / np.bincount(group)
    seen_scatter = _scatter(step[None], group)[0] + 1e-9
    rng = np.random.default_rng(_SEED)
    as_close = drawn = 0
    for draws in _DRAWS:
        spread = sigma * np.exp(_VARY * rng.normal(size=(draws, 1)))
        times = np.exp(middle[group] + spread * rng.normal(size=(draws, len(group))))
        simulated = _scatter(np.searchsorted(edges, times).astype(float), group)
        as_close, drawn = as_close + int((simulated <= seen_scatter).sum()), drawn + draws
        if as_close > _PLAIN:
            break
    return float((1 + as_close) / (1 + drawn))


def _scatter(step: np.ndarray, group: np.ndarray) -> np.ndarray:
    """Squared steps of vessels about the mean of their mix, summed, for each row."""
    member = group[:, None] == np.arange(group.max() + 1)
    mean = step @ member / member.sum(axis=0)
    return ((step - mean[:, group]) ** 2).sum(axis=1)
