"""Where profile likelihoods cross a limit: confidence bounds of many replicates at once.

The set of parameters whose deviance stays below a limit is convex, so the values of a
quantile, a probability or a contrast over it form one interval, and a search for its
end can bracket.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ._newton import Line, Problem, maximise

MAX_SEARCH = 80
_NEAR = 1e-6  # accuracy of the signed root at a bound
_APART = 1e-8  # accuracy of a bound where the deviance jumps
_STEEP = 20.0  # largest 1 / scale that a fit is started from
_FAR = 60.0  # log-time units beyond which a bound is said to be open


@dataclass(frozen=True, eq=False)
class Path:
    """Lines theta[pivot] = slope @ theta + y tau_rate tau + level + y level_rate, along y.

    A quantile, a probability and a contrast of locations differ in these numbers only.
    One row of pivot (r,), slope (r, p + 1) and level (r,) a replicate.
    """

    pivot: np.ndarray
    slope: np.ndarray
    level: np.ndarray
    tau_rate: float
    level_rate: float

    def take(self, rows) -> Path:
        parts = {name: getattr(self, name)[rows] for name in ("pivot", "slope", "level")}
        return replace(self, **parts)

    def at(self, y: np.ndarray) -> Line:
        slope = self.slope.copy()
        slope[:, -1] += y * self.tau_rate
        return Line(self.pivot, slope, self.level + y * self.level_rate)

    def climb(self, gradient: np.ndarray, theta: np.ndarray) -> np.ndarray:
        """Rise of the log-likelihood along y, other parameters at their best."""
        own = gradient[np.arange(len(theta)), self.pivot]
        return own * (self.tau_rate * theta[:, -1] + self.level_rate)


@dataclass(frozen=True, eq=False)
class Search:
    """What a bound is searched in: free optimum's value, limit of the deviance, events.

    `direction` is +1 for an upper and -1 for a lower bound. The deviance D is compared
    as ``sqrt(n expm1(D / n))``, which is a straight line in y for complete normal data.
    `limit` (r, k) has one column, or one for each of the values `at` of y between which
    the limit moves in straight lines.
    """

    problem: Problem
    path: Path
    best: np.ndarray
    limit: np.ndarray
    n_event: np.ndarray
    direction: np.ndarray
    at: np.ndarray | None = None

    def take(self, rows) -> Search:
        return replace(
            self,
            problem=self.problem.take(rows),
            path=self.path.take(rows),
            best=self.best[rows],
            limit=self.limit[rows],
            n_event=self.n_event[rows],
            direction=self.direction[rows],
        )

    def height(self, deviance):
        n = np.minimum(self.n_event, 1e6)
        return np.sqrt(n * np.expm1(np.minimum(deviance / n, 600.0)))

    def target(self, y):
        """Height of the limit over y, shape (r,)."""
        if self.at is None:
            return self.height(self.limit[:, 0])
        last = len(self.at) - 1
        place = np.clip(np.interp(y, self.at, np.arange(last + 1.0)), 0, last - 1e-9)
        low, rows = place.astype(int), np.arange(len(y))
        share = place - low
        limit = (1 - share) * self.limit[rows, low] + share * self.limit[rows, low + 1]
        return self.height(limit)

    def look(self, y, theta):
        """Height over y, its slope outward, and where the constrained optimum lies."""
        problem = replace(self.problem, line=self.path.at(y))
        optimum = maximise(problem, theta, tolerance=1e-8)
        if not optimum.converged.all():
            raise RuntimeError("a profile likelihood did not reach its maximum.")
        deviance = np.maximum(2 * (self.best - optimum.value), 0.0)
        height = self.height(deviance)
        n = np.minimum(self.n_event, 1e6)
        climb = -2 * self.path.climb(optimum.gradient, optimum.theta)
        growth = np.exp(np.minimum(deviance / n, 600.0))
        # Where the deviance is nothing but rounding its slope is too.
        double = np.where(height > 1e-5, 2 * height, np.nan)
        return (
            height,
            self.direction * growth * climb / double,
            less_steep(optimum.theta, problem.moves),
        )


def less_steep(theta: np.ndarray, moves: np.ndarray) -> np.ndarray:
    """Parameters to start the next fit from: a scale of next to 0 leads far into the tails."""
    shrink = np.where(moves[:, -1:], np.minimum(1.0, _STEEP / theta[:, -1:]), 1.0)
    return theta * shrink


def bound(search: Search, start: np.ndarray, theta: np.ndarray, inner: np.ndarray) -> np.ndarray:
    """End of each replicate's interval in the search's direction; infinite when open.

    Parameters
    ----------
    search : Search
        Problem, path, limits and direction.
    start : numpy.ndarray, shape (r,)
        First guesses.
    theta : numpy.ndarray, shape (r, p + 1)
        Parameters to start the constrained fits from.
    inner : numpy.ndarray, shape (r,)
        A value known to lie inside, or infinite against the direction.
    """
    target = search.target(start)
    done = np.isinf(target)
    front = _Front(
        y=np.where(done, search.direction * np.inf, start),
        theta=less_steep(theta, search.problem.moves),
        low=search.direction * inner,
        high=np.full(len(start), np.inf),
        stride=np.ones(len(start)),
        moved=np.full(len(start), np.inf),
    )
    for _ in range(MAX_SEARCH):
        rows = np.flatnonzero(~done)
        if not rows.size:
            return front.y
        done[rows] = _advance(search.take(rows), front, rows, start[rows])
    raise RuntimeError("the end of a profile interval was not found.")


@dataclass(frozen=True, eq=False)
class _Front:
    """How far each search has come: place, parameters there, brackets, next stride, last move."""

    y: np.ndarray
    theta: np.ndarray
    low: np.ndarray
    high: np.ndarray
    stride: np.ndarray
    moved: np.ndarray


def _advance(part: Search, front: _Front, rows, start) -> np.ndarray:
    """One look of the searches in `rows`; moves their front, says which have arrived."""
    y, side = front.y[rows], part.direction
    height, slope, front.theta[rows] = part.look(y, front.theta[rows])
    target = part.target(y)
    slope = slope - side * (part.target(y + 1e-5) - target) / 1e-5
    ahead, at = target - height, side * y
    low = front.low[rows] = np.where(ahead > 0, np.maximum(front.low[rows], at), front.low[rows])
    high = np.where(ahead > 0, front.high[rows], np.minimum(front.high[rows], at))
    front.high[rows] = high
    with np.errstate(divide="ignore", invalid="ignore"):
        # Far outside the deviance may grow like an exponential: halve instead.
        step = np.where(height < 10 * target, ahead / slope, np.nan)
        # Between two inflections Newton's steps can go to and fro for ever: halve the bracket
        # unless a step is at most half as long as the one before.
        slow = np.isfinite(high - low) & (np.abs(step) > front.moved[rows] / 2)
    following = side * _next(at, np.where(slow, np.nan, step), low, high, front.stride[rows])
    front.moved[rows] = np.abs(following - y)
    front.stride[rows] *= 2
    far = np.abs(y - start) > _FAR
    met = np.abs(ahead) < _NEAR
    # At a jump the last value known to be inside is the end.
    jump = ~met & (high - low < _APART)
    inside = np.where(np.isfinite(low), side * low, y)
    ended = np.where(far, np.where(side * (y - start) > 0, side * np.inf, side * low), y)
    ended = np.where(jump & ~far, inside, ended)
    front.y[rows] = np.where(met | jump | far, ended, following)
    return met | jump | far


def _next(at, step, low, high, stride):
    """Newton's step when it stays between the brackets, a half-way point or a stride else."""
    sound = np.isfinite(step) & (np.abs(step) <= stride)
    step = np.where(sound, step, np.where(np.isinf(high), stride, -stride))
    proposal = at + step
    bracketed = np.isfinite(low) & np.isfinite(high)
    outside = (proposal <= low) | (proposal >= high)
    middle = (np.where(bracketed, low, 0.0) + np.where(bracketed, high, 0.0)) / 2
    return np.where(bracketed & (outside | ~sound), middle, proposal)
