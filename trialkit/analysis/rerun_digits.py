"""The steps in which readings are written, with the evenness of their last digits."""

from __future__ import annotations

import numpy as np
from scipy import stats

__all__ = ["last_digit_p_value", "written_steps"]

#: Steps in which instruments show values, coarse to fine.
STEPS = (1.0, 0.5, 0.2, 0.1, 0.05, 0.02, 0.01, 0.005, 0.002, 0.001)
_FEWEST = 60  # readings whose last digit is free
_SPAN = 20  # steps over which the middle half of a round spreads
_FIGURES = 100  # steps from 0 below which low digits are more common than high ones
_EDGE = 20  # steps from the least and the greatest reading, where values crowd
_MOVED = 10  # steps from the reading before, below which that foretells the digit


def written_steps(values) -> np.ndarray:
    """The step in which each value is written, nan where it is no step of a usual instrument.

    Meters that show three figures change their step at 10 and at 100, so that each decade is looked
    at by itself. A coarse step counts only when all values of the decade keep to it.

    Parameters
    ----------
    values : array_like, shape (n,)
        Finite readings.

    Returns
    -------
    numpy.ndarray, shape (n,)
        In the unit of the values.

    Examples
    --------
    >>> written_steps([0.25, 9.13, 17.2, 17.4, 18.1]).tolist()
    [0.01, 0.01, 0.1, 0.1, 0.1]
    """
    values = np.asarray(values, float)
    decade = np.searchsorted([10.0, 100.0], np.abs(values), side="right")
    steps = np.full(len(values), np.nan)
    for k in range(3):
        own = decade == k
        if own.any():
            # A step is no finer just because few values happen to show it.
            coarser = steps[decade == k - 1][:1] if k else ()
            floor = coarser[0] if len(coarser) and own.sum() < _SPAN else 0.0
            steps[own] = max(_step(values[own]), floor)
    return steps


def _step(values: np.ndarray) -> float:
    for step in STEPS:
        ratio = values / step
        if np.abs(ratio - np.round(ratio)).max() < 1e-6:
            return step
    return float("nan")


def last_digit_p_value(values, rounds, series=None) -> float:
    """Chance of last digits at least as uneven, if all ten were equally common.

    Last digits of measured values are about equally common where the values spread over many steps
    of that digit; made-up numbers and rounded ones favour some (Mosimann et al. 1995). So only
    readings whose digit is free are counted: in rounds with such a spread, of three figures or
    more, away from the ends of what was read, and moved since the reading before in their series.

    Parameters
    ----------
    values : array_like, shape (n,)
        Readings, in order of time within each series.
    rounds : array_like, shape (n,)
        The round of readings that each belongs to.
    series : array_like, shape (n,), optional
        The vessel that each belongs to; None where no reading foretells another.

    Returns
    -------
    float
        p-value of the chi-square test; 1 when too few readings have a digit that is free.

    References
    ----------
    Mosimann, J. E., Wiseman, C. V. & Edelman, R. E. (1995). Accountability in Research 4, 31-55.

    Examples
    --------
    >>> made_up = [3.0 + 0.05 * k for k in range(200)]  # nearly all end in 0 or 5
    >>> last_digit_p_value([*made_up, 7.03], [1] * 201) < 1e-4
    True
    """
    values, rounds = np.asarray(values, float), np.asarray(rounds)
    steps = written_steps(values)
    free = (np.abs(values) >= _FIGURES * steps) & (_round_spread(values, rounds) >= _SPAN * steps)
    if free.sum() < _FEWEST:
        return 1.0
    ends = np.minimum(values - values.min(), values.max() - values)
    free &= ends >= _EDGE * steps
    if series is not None:
        free &= _moved(values, np.asarray(series)) >= _MOVED * steps
    if free.sum() < _FEWEST:
        return 1.0
    digits = np.round(values[free] / steps[free]).astype(int) % 10
    return float(stats.chisquare(np.bincount(digits, minlength=10)).pvalue)


def _round_spread(values: np.ndarray, rounds: np.ndarray) -> np.ndarray:
    """For each value how far the middle half of its round spreads."""
    _, code = np.unique(rounds, return_inverse=True)
    order = np.lexsort((values, code))
    count = np.bincount(code)
    start = np.cumsum(count) - count
    ranked = values[order]
    low, high = start + (count - 1) // 4, start + (3 * (count - 1) + 3) // 4
    return (ranked[high] - ranked[low])[code]


def _moved(values: np.ndarray, series: np.ndarray) -> np.ndarray:
    """How far each value lies from the one before in its series; inf for the first."""
    _, code = np.unique(series, return_inverse=True)
    order = np.argsort(code, kind="stable")
    far = np.abs(np.diff(values[order], prepend=np.nan))
    far[np.flatnonzero(np.diff(code[order], prepend=-1))] = np.inf
    moved = np.empty(len(values))
    moved[order] = far
    return moved
