"""Newton's method on many concave log-likelihoods at once, free or on a line.

A linear constraint ``v @ theta = c`` (one a replicate) is met by eliminating one
parameter; profile likelihoods of quantiles, probabilities and contrasts are all of
this form in the coordinates of `_likelihood`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ._likelihood import Intervals, evaluate

MAX_STEPS = 200
_RIDGE = 1e-11
_LITTLE = 1e-6  # a gain of log-likelihood that moves no limit
FLOOR = 1e-7  # tau so small that the scale has no upper end


@dataclass(frozen=True, eq=False)
class Line:
    """theta[pivot] = slope @ theta + level, with slope[pivot] = 0; one row a replicate."""

    pivot: np.ndarray
    slope: np.ndarray
    level: np.ndarray

    def take(self, rows) -> Line:
        return Line(self.pivot[rows], self.slope[rows], self.level[rows])

    def project(self, theta: np.ndarray) -> np.ndarray:
        theta = theta.copy()
        theta[np.arange(len(theta)), self.pivot] = (self.slope * theta).sum(1) + self.level
        return theta

    def reduce(self, gradient, hessian):
        """Derivatives by the other parameters; the pivot's row is made idle."""
        each = np.arange(len(gradient))
        own, row = gradient[each, self.pivot], hessian[each, self.pivot]
        corner = row[each, self.pivot]
        gradient = gradient + own[:, None] * self.slope
        crossed = row[:, :, None] * self.slope[:, None, :]
        hessian = hessian + crossed + crossed.transpose(0, 2, 1)
        hessian += corner[:, None, None] * self.slope[:, :, None] * self.slope[:, None, :]
        gradient[each, self.pivot] = 0
        hessian[each, self.pivot, :] = hessian[each, :, self.pivot] = 0
        hessian[each, self.pivot, self.pivot] = -1
        return gradient, hessian


@dataclass(frozen=True, eq=False)
class Problem:
    """Data with the bounds of tau, the parameters that move, and the line to stay on.

    `moves` (r, p + 1) is False for a parameter held where it starts. `prior` (r, 2), a
    weight w and a square s, adds w (log tau - s tau^2 / 2): what w further degrees of
    freedom of variance s would say of the scale.
    """

    data: Intervals
    cap: np.ndarray
    moves: np.ndarray
    line: Line | None = None
    prior: np.ndarray | None = None

    def evaluate(self, theta: np.ndarray):
        value, gradient, hessian = evaluate(self.data, theta)
        if self.prior is None:
            return value, gradient, hessian
        (weight, square), tau = self.prior.T, theta[:, -1]
        gradient[:, -1] += weight * (1 / tau - square * tau)
        hessian[:, -1, -1] -= weight * (1 / tau**2 + square)
        return value + weight * (np.log(tau) - square * tau**2 / 2), gradient, hessian

    def take(self, rows) -> Problem:
        return replace(
            self,
            data=self.data.take(rows),
            cap=self.cap[rows],
            moves=self.moves[rows],
            line=None if self.line is None else self.line.take(rows),
            prior=None if self.prior is None else self.prior[rows],
        )


@dataclass(frozen=True, eq=False)
class Optimum:
    """Where each replicate ended: theta, log-likelihood, free gradient, convergence."""

    theta: np.ndarray
    value: np.ndarray
    gradient: np.ndarray
    hessian: np.ndarray
    converged: np.ndarray


def maximise(problem: Problem, start: np.ndarray, tolerance: float = 1e-9) -> Optimum:
    """The maximum of each replicate's log-likelihood from a start (r, p + 1).

    Parameters
    ----------
    problem : Problem
        What is maximised.
    start : numpy.ndarray, shape (r, p + 1)
        Parameters to start from; tau above 0.
    tolerance : float
        A replicate is done after a full step that promised less than this.
    """
    theta = start if problem.line is None else problem.line.project(start)
    with np.errstate(all="ignore"):
        state = [theta.copy(), *problem.evaluate(theta)]
        done = np.zeros(len(theta), dtype=bool)
        for _ in range(MAX_STEPS):
            rows = np.flatnonzero(~done)
            if not rows.size:
                break
            # Most replicates are done after few steps: carry on with the others only.
            part = problem.take(rows) if done.any() else problem
            moved, done[rows] = _step(part, [array[rows] for array in state], tolerance)
            for array, new in zip(state, moved, strict=True):
                array[rows] = new
        late = np.flatnonzero(~done)
        if late.size:
            # A highest point at a scale of 0 is neared ever more slowly and never reached: it
            # counts as reached when next to nothing is left to gain.
            theta, _, gradient, hessian = (array[late] for array in state)
            _, gain = _direction(problem.take(late), theta, gradient, hessian)
            done[late] = (gain >= 0) & (gain < _LITTLE)
    return Optimum(*state, done)


def _step(problem: Problem, state, tolerance: float):
    """One guarded Newton step of every replicate, and whether it was a last one."""
    theta, value, gradient, hessian = state
    step, gain = _direction(problem, theta, gradient, hessian)
    length = _longest(theta[:, -1], step[:, -1], problem.cap)
    proposal = _moved(problem, theta, step, length)
    new = [proposal, *problem.evaluate(proposal)]
    last = ((gain < tolerance) & (gain >= 0) & (length == 1)) | (proposal[:, -1] < FLOOR)
    worse = ~(new[1] >= value - 1e-12 * (1 + np.abs(value)))
    for _ in range(50):
        rows = np.flatnonzero(worse)
        if not rows.size:
            break
        length[rows] /= 4
        part = problem.take(rows)
        shorter = _moved(part, theta[rows], step[rows], length[rows])
        for array, other in zip(new, [shorter, *part.evaluate(shorter)], strict=True):
            array[rows] = other
        worse[rows] = ~(new[1][rows] >= value[rows] - 1e-12 * (1 + np.abs(value[rows])))
    # No step climbs: rounding is all that is left, which is the maximum only when little
    # was promised.
    return new, last | ((gain < _LITTLE) & (gain >= 0) & (length < 1e-12))


def _moved(problem: Problem, theta, step, length):
    moved = theta + length[:, None] * step
    moved[:, -1] = np.minimum(moved[:, -1], problem.cap)
    return moved if problem.line is None else problem.line.project(moved)


def _longest(tau, step, cap):
    """Longest share of a step that leaves tau above a tenth of itself and below its cap."""
    shrink = np.where(step < 0, 0.9 * tau / np.maximum(-step, 1e-300), np.inf)
    grow = np.where(step > 0, (cap - tau) / np.maximum(step, 1e-300), np.inf)
    return np.minimum(1.0, np.minimum(shrink, grow))


def _direction(problem: Problem, theta, gradient, hessian):
    """Newton's step and the gain that it promises, tau held where it presses on its cap."""
    if problem.line is not None:
        gradient, hessian = problem.line.reduce(gradient, hessian)
    at_cap = theta[:, -1] >= problem.cap
    moves = problem.moves.copy()
    moves[:, -1] &= ~(at_cap & (gradient[:, -1] >= 0))
    step, gain = _solve(moves, gradient, hessian)
    pressed = np.flatnonzero(at_cap & (step[:, -1] > 0))
    if pressed.size:
        moves[pressed, -1] = False
        step[pressed], gain[pressed] = _solve(moves[pressed], gradient[pressed], hessian[pressed])
    return step, gain


def _solve(moves, gradient, hessian):
    gradient = np.where(moves, gradient, 0.0)
    hessian = np.where(moves[:, :, None] & moves[:, None, :], hessian, 0.0)
    diagonal = np.arange(hessian.shape[1])
    size = -hessian[:, diagonal, diagonal]
    # A ridge far below the curvature keeps flat directions from blowing up a step.
    ridge = _RIDGE * np.maximum(size, size.max(1, keepdims=True) * 1e-6) + 1e-13
    hessian[:, diagonal, diagonal] -= ridge + ~moves
    step = np.linalg.solve(-hessian, gradient[:, :, None])[:, :, 0]
    gain = (step * gradient).sum(1)
    # Far out in a tail the curvature may be lost to rounding: climb by each own slope.
    lost = ~(gain >= 0)
    step[lost] = (gradient / np.maximum(np.abs(size), 1e-12))[lost]
    return step, np.where(lost, np.inf, gain)
