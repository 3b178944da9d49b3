"""Limits of any statistic by leaving out one unit of replication at a time."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import ArrayLike
from scipy.stats import t

from .estimate import Estimate, check_conf_level

__all__ = ["unit_jackknife"]


def unit_jackknife(
    statistic: Callable[[np.ndarray], float],
    rows: ArrayLike,
    unit: ArrayLike,
    *,
    conf_level: float = 0.95,
    method: str = "",
) -> Estimate:
    """A statistic with limits from leaving out one unit of replication at a time.

    Rows of one unit (readings of one vessel) leave together, so that reading it more often
    narrows nothing. Limits use t on units minus 1; fewer than two units give no limits.

    Parameters
    ----------
    statistic : callable
        Takes rows, gives a number; may raise ValueError, which leaves the limits open.
    rows : array_like, shape (n, ...)
        What it is computed from.
    unit : array_like, shape (n,)
        Unit of replication of each row.
    conf_level : float
        Confidence level.
    method : str
        Name of the statistic, for the result.

    References
    ----------
    Tukey JW (1958). Annals of Mathematical Statistics 29, 614 (abstract).
    Efron B, Tibshirani R (1993). An Introduction to the Bootstrap, ch. 11.

    Examples
    --------
    The jackknife of a mean is the usual t interval.

    >>> import numpy as np
    >>> print(unit_jackknife(np.mean, np.array([1.0, 2.0, 3.0]), ["a", "b", "c"], method="mean"))
    2 (95% CI -0.484 to 4.48; mean, jackknife over units)
    """
    check_conf_level(conf_level)
    rows, unit = np.asarray(rows), np.asarray(unit)
    whole = float(statistic(rows))
    parts = _leave_one_out(statistic, rows, unit)
    n = len(parts)
    if n < 2:
        return Estimate(whole, -np.inf, np.inf, conf_level, method=f"{method}, too few units")
    error = np.sqrt((n - 1) / n * np.sum((parts - parts.mean()) ** 2))
    reach = float(t.ppf((1 + conf_level) / 2, n - 1) * error)
    method = f"{method}, jackknife over units"
    return Estimate(whole, whole - reach, whole + reach, conf_level, method=method)


def _leave_one_out(statistic, rows, unit) -> np.ndarray:
    names = np.unique(unit)
    if len(names) < 2:
        return np.array([])
    try:
        return np.array([float(statistic(rows[unit != name])) for name in names])
    except ValueError:  # without one of them there is nothing left to measure
        return np.array([])
