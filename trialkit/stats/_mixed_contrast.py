"""Ratios of the times of two groups in a clustered fit."""

from __future__ import annotations

import numpy as np
from scipy import stats

from ._intervals import hours_of
from ._mixed_fit import variances

_TRIES = 20  # halvings of the error rate when a p-value is searched for
_SMALLEST_P = 1e-6


def placed_contrast(fit, a: int, b: int, conf_level: float) -> dict:
    """One row for two groups that the data place: Student limits of the log ratio."""
    contrast = np.eye(len(fit.groups))[a] - np.eye(len(fit.groups))[b]
    difference = fit.location[a] - fit.location[b]
    placed = np.isfinite(fit.location)
    own = contrast[placed]
    error = float(np.sqrt(own @ fit.covariance[np.ix_(placed, placed)] @ own))
    df = fit.freedom(error**2, fit.slope_of_variance(contrast))
    half = stats.t.ppf((1 + conf_level) / 2, df) * error
    low, high = hours_of([difference - half, difference + half]).tolist()
    return {
        "estimate": float(hours_of(difference)),
        "conf_low": low,
        "conf_high": high,
        "p_value": float(2 * stats.t.sf(abs(difference) / error, df)),
        "std_error": error,
        "df": df,
        "gain": _gain(fit, a, b),
    }


def _gain(fit, a: int, b: int) -> float:
    """Information on the log ratio in one more cluster like those with both groups; 0 for none.

    The shift of a cluster cancels in it.
    """
    placed = np.flatnonzero(np.isfinite(fit.location))
    table = fit._search.working.told(variances(fit.spread), len(placed))[0]
    one, other = (table[:, np.searchsorted(placed, k)] for k in (a, b))
    both = (one > 0) & (other > 0)
    if not both.any():
        return 0.0
    return float((one[both] * other[both] / (one[both] + other[both])).mean())


def open_contrast(fit, a: int, b: int, conf_level: float) -> dict:
    """One row for two groups of which at least one was not placed.

    The limit that there is comes from the limits of both alone, each with half of the error
    (Bonferroni), so that it errs no more often than it says.
    """
    low, high = _outer_limits(fit, a, b, conf_level)
    if fit.location[a] == fit.location[b]:
        estimate = np.inf
    else:
        estimate = float(hours_of(fit.location[a] - fit.location[b]))
    return {
        "estimate": estimate,
        "conf_low": low,
        "conf_high": high,
        "p_value": _smallest_p(lambda level: _outer_limits(fit, a, b, level)),
        "std_error": np.inf,
        "df": fit.freedom(fit.total_variance, np.ones(3)),
        "gain": 0.0,
    }


def _outer_limits(fit, a: int, b: int, conf_level: float) -> tuple[float, float]:
    low_a, high_a = fit.limits_of(a, (1 + conf_level) / 2)
    low_b, high_b = fit.limits_of(b, (1 + conf_level) / 2)
    low = low_a / high_b if np.isfinite(high_b) else 0.0
    return float(low), float(high_a / low_b if low_b > 0 else np.inf)


def _smallest_p(limits) -> float:
    """The smallest error rate at which the limits leave out a ratio of 1."""

    def leaves_out(log_p: float) -> bool:
        low, high = limits(1 - np.exp(log_p))
        return low > 1 or high < 1

    low, high = np.log(_SMALLEST_P), np.log(0.999)
    if leaves_out(low) or not leaves_out(high):
        return _SMALLEST_P if leaves_out(low) else 1.0
    for _ in range(_TRIES):
        middle = (low + high) / 2
        low, high = (low, middle) if leaves_out(middle) else (middle, high)
    return float(hours_of(high))
