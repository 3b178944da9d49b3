"""Invented trials for studies of coverage and power: log times read on a shared grid."""

from __future__ import annotations

import numpy as np


def read_on_schedule(times: np.ndarray, schedule: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Ends of (left, right] of each time when looked at on a schedule, inf after its end.

    Parameters
    ----------
    times : numpy.ndarray
        True times, hours, any shape.
    schedule : numpy.ndarray, shape (k,)
        Increasing times of the looks, hours.

    Examples
    --------
    >>> left, right = read_on_schedule(np.array([0.2, 2.0, 9.0]), np.array([1.0, 2.0, 4.0]))
    >>> left.tolist(), right.tolist()
    ([0.0, 1.0, 4.0], [1.0, 2.0, inf])
    """
    looks = np.concatenate([[0.0], schedule, [np.inf]])
    after = np.searchsorted(schedule, times, side="left")
    return looks[after], looks[after + 1]


def simulate_intervals(location, scale, n_vessel: int, n_trial: int, seed: int, *, noise=None):
    """Intervals of trials of mixes with log time = location + scale x noise, hourly to 24 h.

    Parameters
    ----------
    location, scale : array_like, shape (groups,)
        Of log time in hours; one scale may serve all groups.
    n_vessel, n_trial, seed : int
        Vessels a mix, trials, seed.
    noise : callable, optional
        Takes a generator and a shape; standard normal when left out.

    Returns
    -------
    tuple
        left and right, shape (n_trial, groups x n_vessel), and the group codes.
    """
    location = np.asarray(location, dtype=float)
    scale = np.broadcast_to(scale, location.shape)
    codes = np.repeat(np.arange(len(location)), n_vessel)
    rng = np.random.default_rng(seed)
    shape = (n_trial, len(codes))
    drawn = rng.standard_normal(shape) if noise is None else noise(rng, shape)
    times = np.exp(location[codes] + scale[codes] * drawn)
    return *read_on_schedule(times, np.arange(1.0, 25.0)), codes
