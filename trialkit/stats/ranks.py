"""Places of groups in the order of their times, with what the data leave open about them.

Convention: a value cleared in `(left, right]`, hours; the smallest typical time is place 1.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from trialkit.stats._batch import BatchFit, fit_aft_batch
from trialkit.stats.aft import AftFit

__all__ = ["rank_sets", "share_first"]

# Ends closer than this factor are one look at vessels that were read one after another.
SAME_LOOK = 1.05


def rank_sets(earlier) -> pd.DataFrame:
    """The places that each group may hold, all of them right at once at the level of the claims.

    A group comes after each one shown to be earlier than it and before each one shown to be
    later; every other order is open. When the claims are a family with a bounded chance of any
    false one (Holm), the sets hold the true places of all groups with at least that confidence.

    Parameters
    ----------
    earlier : array_like of bool, shape (k, k)
        earlier[i, j] is True where group i was shown to be earlier than group j.

    Returns
    -------
    pandas.DataFrame
        rank_low and rank_high, integers from 1 to k, one row a group in the order given.

    Raises
    ------
    ValueError
        The matrix is not square, or two groups are each earlier than the other.

    References
    ----------
    Mohamad, D. A., Goeman, J. J. & van Zwet, E. W. (2018). Simultaneous confidence intervals for
    ranks with application to ranking institutions. arXiv:1812.05507.

    Examples
    --------
    >>> rank_sets([[False, False, True], [False, False, False], [False, False, False]]).values
    array([[1, 2],
           [1, 3],
           [2, 3]])
    """
    earlier = np.asarray(earlier, dtype=bool)
    k = len(earlier)
    if earlier.shape != (k, k) or (earlier & earlier.T).any():
        raise ValueError("`earlier` must be square, and no two groups each earlier than the other.")
    low, high = 1 + earlier.sum(axis=0), k - earlier.sum(axis=1)
    return pd.DataFrame({"rank_low": low.astype(int), "rank_high": high.astype(int)})


def share_first(fit: AftFit, *, n_random: int = 2_000, seed: int = 1) -> pd.Series:
    """The share of simulated repeats of the same trial in which each group came first.

    Each repeat draws a scale from what the data tell of it (the estimate alone is too small with
    few values), draws times for the same vessels about the fitted locations, looks at them at the
    same times, and is fitted again. Equal first places are shared out evenly. It is a measure of
    how well the trial can be repeated, not the probability that a group is the best: a group that
    never cleared can at most share the place, in a repeat where nothing cleared.

    Parameters
    ----------
    fit : AftFit
        What `fit_aft` returned. Covariates are held at 0.
    n_random : int
        Repeats.
    seed : int
        Seed of the repeats.

    Returns
    -------
    pandas.Series
        Share by group, in the order of the fit; sums to 1. Without any event all are equal.

    Raises
    ------
    RuntimeError
        A repeat could not be fitted.

    Examples
    --------
    >>> from trialkit.stats.aft import fit_aft
    >>> fit = fit_aft([1, 1, 1, 6, 8, 6], [2, 2, 1.5, 8, 10, 8], group=list("aaabbb"))
    >>> share_first(fit).round(2).tolist()
    [1.0, 0.0]
    """
    batch = fit._batch
    rng = np.random.default_rng(seed)
    location = batch.location()
    if np.isfinite(location).any():
        repeats = _repeats(batch, _scales(batch, n_random, rng), rng)
        again = fit_aft_batch(*repeats, batch.codes, fit.family, scale=batch.known_scale)
        if not again.converged.all():
            raise RuntimeError("a simulated repeat did not reach its maximum.")
        location = again.location()
    return pd.Series(_first_places(location), index=list(fit.groups), name="share_first")


def _scales(fit: BatchFit, n_random: int, rng) -> np.ndarray:
    """Scales that the data allow, one a repeat: estimate x sqrt(events / chi-square)."""
    if fit.known_scale is not None:
        return np.full(n_random, fit.known_scale)
    scale = float(fit.scale[0])
    if not 0 < scale < np.inf:
        scale = _scale_from_widths(fit)
    events, df = float(fit.n_event[0]), float(fit.n_event[0] - fit.lost_freedom[0])
    if df <= 0:  # one value a group: the scale is a guess already
        return np.full(n_random, scale)
    return scale * np.sqrt(events / rng.chisquare(df, n_random))


def _scale_from_widths(fit: BatchFit) -> float:
    """A scale for data that show none: that of times spread evenly over each interval."""
    left, right = fit.left[0], fit.right[0]
    known = (left > 0) & np.isfinite(right) & (right > left)
    if not known.any():
        return 1.0
    return float(np.log(right[known] / left[known]).mean() / np.sqrt(12))


def _repeats(fit: BatchFit, scales: np.ndarray, rng) -> tuple[np.ndarray, np.ndarray]:
    """Intervals of simulated repeats, shape (repeat, vessel)."""
    left, right, codes = fit.left[0], fit.right[0], fit.codes
    looks = np.concatenate([[0.0], _looks(left, right), [np.inf]])
    noise = fit.data.family.ppf(rng.random((len(scales), len(codes))))
    with np.errstate(over="ignore"):
        times = np.exp(fit.location()[0][codes] + scales[:, None] * noise)
    at = np.searchsorted(looks, np.maximum(times, 1e-300))
    # A vessel that was lost before the last look was lost in each repeat too.
    end = np.where(np.isfinite(right), looks[-2], left)
    new_left, new_right = looks[at - 1], looks[at]
    lost = new_right > end
    return np.where(lost, np.minimum(new_left, end), new_left), np.where(lost, np.inf, new_right)


def _looks(left, right) -> np.ndarray:
    """The times at which vessels were looked at, as far as the ends tell."""
    ends = np.unique(np.concatenate([left[left > 0], right[np.isfinite(right)]]))
    looks = []
    for end in ends:
        # The last end of a round of looks stands for it.
        if looks and end < looks[-1][0] * SAME_LOOK:
            looks[-1].append(end)
        else:
            looks.append([end])
    return np.array([group[-1] for group in looks])


def _first_places(location: np.ndarray) -> np.ndarray:
    """Mean share of the first place, equal ones shared out; location has shape (repeat, group)."""
    best = location.min(axis=1, keepdims=True)
    with np.errstate(invalid="ignore"):
        first = (location == best) | (location - best < 1e-9)
    return (first / first.sum(axis=1, keepdims=True)).mean(axis=0)
