"""Likelihood of ordered scores under proportional odds, many sets of weights at once."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.special import expit, log_expit

MAX_STEPS = 100
_GAIN = 1e-10  # a promised gain of log-likelihood that moves no printed digit
_LITTLE = 1e-6  # the same where rounding lets no step climb any more
_LONGEST = 4.0  # logits a step
_RIDGE = 1e-10  # far below any curvature: keeps a flat direction from blowing up a step


@dataclass(frozen=True)
class OrdinalData:
    """Rows of scores: design (n, k), category codes 0..K-1, weights, cluster codes or None.

    The parameters are the k coefficients, then the K - 1 rising cuts.
    """

    design: np.ndarray
    code: np.ndarray
    weights: np.ndarray
    cluster: np.ndarray | None
    n_category: int

    @cached_property
    def ends(self) -> tuple[np.ndarray, np.ndarray]:
        """Rows (n, k + K - 1) that give each score's upper and lower end; none at infinity."""
        step = np.arange(self.n_category - 1)
        above = np.column_stack([-self.design, self.code[:, None] == step])
        below = np.column_stack([-self.design, self.code[:, None] - 1 == step])
        above[self.code == self.n_category - 1] = 0.0
        below[self.code == 0] = 0.0
        return above, below

    def stacked(self) -> tuple[np.ndarray, np.ndarray]:
        """The scores as "above this cut?" rows: design with a column a cut, and 0/1."""
        cuts = np.arange(self.n_category - 1)
        levels = -np.eye(len(cuts))
        rows = np.repeat(self.design, len(cuts), axis=0)
        stacked = np.column_stack([rows, np.tile(levels, (len(self.code), 1))])
        return stacked, (self.code[:, None] > cuts).astype(float).ravel()

    def start(self) -> np.ndarray:
        """Coefficients 0 and the cuts of the scores as a whole."""
        below = np.cumsum(np.bincount(self.code, weights=self.weights))[:-1]
        share = below / self.weights.sum()
        return np.r_[np.zeros(self.design.shape[1]), np.log(share / (1 - share))]


def row_loglik(theta: np.ndarray, data: OrdinalData):
    """Each row's log-likelihood, its slopes and curvatures in the score's two ends.

    theta is (..., k + K - 1); what comes back is (..., n): the value, the slope by the upper
    and by the lower end, and minus the second derivatives by each of them and by their gap.
    """
    upper, lower = data.ends
    above = np.where(data.code == data.n_category - 1, np.inf, theta @ upper.T)
    below = np.where(data.code == 0, -np.inf, theta @ lower.T)
    # log(F(a) - F(b)) = log F(a) + log F(-b) + log(1 - exp(b - a)), without cancellation.
    gap = np.exp(below - above)
    value = np.where(gap < 1, log_expit(above) + log_expit(-below) + np.log1p(-gap), -np.inf)
    inner = gap / (1 - gap)
    slopes = expit(-above) + inner, -expit(below) - inner
    bends = expit(above) * expit(-above), expit(below) * expit(-below), inner / (1 - gap)
    return value, slopes, bends


def evaluate(theta: np.ndarray, data: OrdinalData, weights: np.ndarray):
    """Log-likelihood (r,), gradient (r, p) and information (r, p, p) of weights (r, n)."""
    upper, lower = data.ends
    value, (by_upper, by_lower), bends = row_loglik(theta, data)
    gradient = (weights * by_upper) @ upper + (weights * by_lower) @ lower
    # The log-likelihood is concave (Pratt 1981, J. Am. Stat. Assoc. 76, 103-106): each part is
    # a square of one row.
    parts = zip((upper, lower, upper - lower), bends, strict=True)
    information = sum(row.T @ ((weights * bend)[..., None] * row) for row, bend in parts)
    # A row of no weight says nothing, wherever the cuts have gone.
    return np.where(weights > 0, weights * value, 0.0).sum(-1), gradient, information


def maximise(data: OrdinalData, start, weights, held: tuple[int, np.ndarray] | None = None):
    """The best theta (r, p) and log-likelihood (r,) for each set of weights (r, n).

    Newton's method; a step that would not climb, or would cross two cuts, is halved. Under
    separation the coefficient stops where the likelihood gains nothing more. One coefficient
    may be held at a value a replicate.
    """
    theta = np.array(start, float)
    free = np.ones(theta.shape[1], bool)
    if held is not None:
        free[held[0]], theta[:, held[0]] = False, held[1]
    with np.errstate(all="ignore"):
        state = [theta, *evaluate(theta, data, weights)]
        rows = np.arange(len(theta))
        for _ in range(MAX_STEPS):
            moved, done = _step(data, weights[rows], [part[rows] for part in state], free)
            for part, new in zip(state, moved, strict=True):
                part[rows] = new
            rows = rows[~done]
            if not rows.size:
                return state[0], state[1]
    raise RuntimeError("the ordinal likelihood did not converge.")


def _step(data: OrdinalData, weights, state, free):
    """One guarded step of each replicate, and whether it was a last one."""
    theta, value, gradient, information = state
    step = np.zeros_like(theta)
    own = information[:, free][:, :, free] + _RIDGE * np.eye(int(free.sum()))
    step[:, free] = np.linalg.solve(own, gradient[:, free, None])[..., 0]
    # Far from the scores the likelihood is a slope without curvature: no step longer than that.
    step /= np.maximum(np.abs(step).max(-1, keepdims=True) / _LONGEST, 1.0)
    gain = (step * gradient).sum(-1)
    length, best = np.ones(len(theta)), [part.copy() for part in state]
    waiting = np.arange(len(theta))
    while waiting.size and length[waiting[0]] > 1e-9:
        tried = theta[waiting] + length[waiting, None] * step[waiting]
        new = evaluate(tried, data, weights[waiting])
        climbs = new[0] >= value[waiting] - 1e-12 * (1 + np.abs(value[waiting]))
        for part, other in zip(best, (tried, *new), strict=True):
            part[waiting[climbs]] = other[climbs]
        waiting = waiting[~climbs]
        length[waiting] /= 2
    limit = np.where(length == 1, _GAIN, np.where(length > 1e-9, 0.0, _LITTLE))
    return best, gain < limit
