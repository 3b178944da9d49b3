"""Median times of many trials that have the same numbers of vessels, fitted in step."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ._batch import fit_aft_batch
from ._intervals import hours_of
from ._limits import has_freedom, limits_for, quantile_limits
from .estimate import check_conf_level
from .turnbull import fit_turnbull

__all__ = ["AftMedians", "fit_aft_medians"]

_TOGETHER = 500  # trials; more would only fill the memory


@dataclass(frozen=True, eq=False)
class AftMedians:
    """Medians of r trials of g groups each.

    Attributes
    ----------
    estimate, conf_low, conf_high : numpy.ndarray, shape (r, g)
        In the unit of the data; 0 and inf where the data set no limit.
    scale : numpy.ndarray, shape (r,)
        Of log time in each trial, pooled over its groups; 0 and inf where it has no estimate.
    """

    estimate: np.ndarray
    conf_low: np.ndarray
    conf_high: np.ndarray
    scale: np.ndarray


def fit_aft_medians(left, right, codes, *, conf_level: float = 0.95) -> AftMedians:
    """The same medians with the same limits as `fit_aft` gives one trial at a time, far quicker.

    Parameters
    ----------
    left, right : array_like, shape (r, n)
        Ends of (left, right], a row a trial, as in `fit_aft`.
    codes : array_like of int, shape (n,)
        Group 0, 1, ... of each column.
    conf_level : float
        Two-sided level.

    Returns
    -------
    AftMedians
        Log-normal times, one scale a trial.

    Raises
    ------
    RuntimeError
        If the fit of a trial did not reach its maximum.

    Examples
    --------
    >>> found = fit_aft_medians([[1, 2, 3, 5, 6]], [[2, 3, 4, 6, 8]], [0, 0, 0, 1, 1])
    >>> found.estimate.round(2).tolist(), found.conf_high.round(2).tolist()
    ([[2.43, 6.13]], [[4.42, 13.26]])
    """
    check_conf_level(conf_level)
    left, right, codes = np.asarray(left, float), np.asarray(right, float), np.asarray(codes)
    parts = [
        _some(left[at : at + _TOGETHER], right[at : at + _TOGETHER], codes, conf_level)
        for at in range(0, len(left), _TOGETHER)
    ]
    return AftMedians(*(np.concatenate(columns) for columns in zip(*parts, strict=True)))


def _some(left: np.ndarray, right: np.ndarray, codes: np.ndarray, conf_level: float):
    batch = fit_aft_batch(left, right, codes)
    if not batch.converged.all():
        raise RuntimeError("the fit of a trial did not reach its maximum.")
    limits = hours_of(quantile_limits(batch, 0.5, limits_for(batch, conf_level)))
    for row in np.flatnonzero(~has_freedom(batch)):
        exact = fit_turnbull(left[row], right[row], group=codes).quantile(0.5, conf_level)
        limits[row] = exact[["conf_low", "conf_high"]].to_numpy(float)
    return hours_of(batch.log_quantile(0.5)), limits[..., 0], limits[..., 1], batch.scale
