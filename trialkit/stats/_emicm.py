"""Maximum likelihood for a distribution known through half-open intervals only.

Each observation covers a contiguous run of support points, so its probability is a
difference of two values of the cumulative distribution. An EM step keeps the climb
safe; an iterative-convex-minorant step (a weighted isotonic regression) takes the
long strides and can set a probability to exactly 0.

References
----------
Turnbull, B. W. (1976). Journal of the Royal Statistical Society B 38, 290-295.
Gentleman, R. & Geyer, C. J. (1994). Biometrika 81, 618-623.
Wellner, J. A. & Zhan, Y. (1997). Journal of the American Statistical Association 92, 945-959.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.optimize import isotonic_regression

TOLERANCE = 1e-10  # largest relative excess of the Gentleman-Geyer gradient
MAX_STEPS = 5000


@dataclass(frozen=True, eq=False)
class Cover:
    """Support points with the run [first, stop) that each distinct observation covers."""

    left: np.ndarray
    right: np.ndarray
    first: np.ndarray
    stop: np.ndarray
    inverse: np.ndarray  # observation -> distinct observation


def cover(left: np.ndarray, right: np.ndarray) -> Cover:
    """Innermost intervals, the only places where mass can lie, and who covers them.

    Ends are coded in the order "just before or at t" (2 x rank) < "just after t"
    (2 x rank + 1): (L, R] runs from just after L to R; an exact time is one point.
    """
    times, rank = np.unique(np.concatenate([left, right]), return_inverse=True)
    rank_left, rank_right = np.split(2 * rank, 2)
    start = np.where(left < right, rank_left + 1, rank_left)
    starts, stops = np.unique(start), np.unique(rank_right)
    # A start and the next stop enclose mass when no other start lies between them.
    following = stops[np.searchsorted(stops, starts)]
    innermost = np.append(following[:-1] < starts[1:], True)
    low, high = starts[innermost], following[innermost]
    first, stop = np.searchsorted(low, start), np.searchsorted(high, rank_right, "right")
    distinct, inverse = np.unique(first * (len(low) + 1) + stop, return_inverse=True)
    runs = np.divmod(distinct, len(low) + 1)
    return Cover(times[low // 2], times[high // 2], *runs, inverse)


@dataclass(frozen=True, eq=False)
class _State:
    """Probabilities with what each distinct observation covers of them, and the likelihood."""

    p: np.ndarray
    covered: np.ndarray
    loglik: float


@dataclass(frozen=True, eq=False)
class _Climb:
    """EM and convex-minorant steps up the likelihood of one cover."""

    first: np.ndarray
    stop: np.ndarray
    weight: np.ndarray
    size: int

    def at(self, p: np.ndarray) -> _State:
        cumulative = np.zeros(self.size + 1)
        np.cumsum(p, out=cumulative[1:])
        covered = np.maximum(cumulative[self.stop] - cumulative[self.first], 1e-300)
        return _State(p, covered, float(self.weight @ np.log(covered)))

    def gradient(self, state: _State) -> np.ndarray:
        """Score of each p over the total weight: 1 where p > 0 at the maximum, at most 1 else."""
        ratio = self.weight / state.covered
        edges = np.bincount(self.first, ratio, self.size + 1)
        edges -= np.bincount(self.stop, ratio, self.size + 1)
        return np.cumsum(edges[:-1]) / self.weight.sum()

    def minorant_step(self, state: _State) -> _State:
        """The convex-minorant proposal, drawn back towards the state until it climbs."""
        p = self._proposal(state)
        for _ in range(12):
            proposal = self.at(p)
            if proposal.loglik > state.loglik:
                return proposal
            p = (p + state.p) / 2
        return state

    def _proposal(self, state: _State) -> np.ndarray:
        ratio = self.weight / state.covered
        slope = np.bincount(self.stop, ratio, self.size + 1)
        slope -= np.bincount(self.first, ratio, self.size + 1)
        square = ratio / state.covered
        curve = np.bincount(self.stop, square, self.size + 1)
        curve += np.bincount(self.first, square, self.size + 1)
        inner = np.cumsum(state.p)[:-1]
        target = inner + slope[1:-1] / curve[1:-1]
        level = isotonic_regression(target, weights=curve[1:-1]).x
        return np.diff(np.clip(level, 0, 1), prepend=0.0, append=1.0)


def maximise(cover: Cover, weight: np.ndarray) -> tuple[np.ndarray, float, bool]:
    """Probabilities on the support, log-likelihood, and whether the optimum was proved.

    Parameters
    ----------
    cover : Cover
        Support and runs.
    weight : numpy.ndarray, shape (n,)
        Weight of each observation, above 0.
    """
    size = len(cover.left)
    grouped = np.bincount(cover.inverse, weight, len(cover.first))
    climb = _Climb(cover.first, cover.stop, grouped, size)
    state = climb.at(np.full(size, 1 / size))
    gradient = climb.gradient(state)
    for _ in range(MAX_STEPS):
        if gradient.max() < 1 + TOLERANCE:
            break
        p = state.p * gradient  # the EM step: each p times its score
        state = climb.minorant_step(climb.at(p / p.sum()))
        gradient = climb.gradient(state)
    return state.p, state.loglik, bool(gradient.max() < 1 + 1e-6)
