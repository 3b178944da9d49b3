"""What every fit to intervals checks first: times, weights, groups."""

from __future__ import annotations

import numpy as np
import pandas as pd

ALL = "all"  # label of the only group when none is given


def check_intervals(left, right) -> tuple[np.ndarray, np.ndarray]:
    """Arrays of interval ends, refused when an interval (left, right] is not possible."""
    left, right = (np.atleast_1d(np.asarray(side, dtype=float)) for side in (left, right))
    if left.shape != right.shape or left.ndim != 1 or not left.size:
        raise ValueError(
            f"left and right must be two rows of the same length; got {left.shape}, {right.shape}."
        )
    bad = ~((left >= 0) & (left <= right) & np.isfinite(left))
    if bad.any():
        first = int(np.argmax(bad))
        raise ValueError(
            "each interval needs 0 <= left <= right with a finite left; "
            f"got left {left[first]}, right {right[first]} at position {first}."
        )
    return left, right


def check_weights(weights, n: int) -> np.ndarray:
    """Weights of n intervals, 1 each when None."""
    if weights is None:
        return np.ones(n)
    weights = np.asarray(weights, dtype=float)
    if weights.shape != (n,) or not (weights >= 0).all() or not 0 < weights.sum() < np.inf:
        raise ValueError(f"weights must be {n} numbers of 0 or more, not all 0; got {weights}.")
    return weights


def group_codes(group, n: int) -> tuple[np.ndarray, tuple]:
    """Group number of each interval with the groups' labels, in order of appearance."""
    if group is None:
        return np.zeros(n, dtype=int), (ALL,)
    group = np.asarray(group)
    if group.shape != (n,):
        raise ValueError(f"group must name a group for each of {n} intervals; got {group.shape}.")
    codes, labels = pd.factorize(group)
    if (codes < 0).any():
        raise ValueError(f"no group may be missing; one is at position {int(np.argmin(codes))}.")
    return codes, tuple(np.asarray(labels).tolist())


def informative(left: np.ndarray, right: np.ndarray) -> np.ndarray:
    """True where an interval says anything: (0, inf] does not."""
    return (left > 0) | np.isfinite(right)


def hours_of(log_time):
    """Time of a log time; one beyond every number is inf, "not reached"."""
    with np.errstate(over="ignore"):
        return np.exp(log_time)
