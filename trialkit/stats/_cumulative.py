"""Likelihood of ordered scores under proportional odds, each row with a weight."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.optimize import minimize
from scipy.special import expit, log_expit


@dataclass(frozen=True)
class OrdinalData:
    """Rows of scores: design (n, k), category codes 0..K-1, weights, cluster codes or None."""

    design: np.ndarray
    code: np.ndarray
    weights: np.ndarray
    cluster: np.ndarray | None
    n_category: int

    def stacked(self) -> tuple[np.ndarray, np.ndarray]:
        """The scores as "above this cut?" rows: design with a column a cut, and 0/1."""
        cuts = np.arange(self.n_category - 1)
        levels = -np.eye(len(cuts))
        rows = np.repeat(self.design, len(cuts), axis=0)
        stacked = np.column_stack([rows, np.tile(levels, (len(self.code), 1))])
        return stacked, (self.code[:, None] > cuts).astype(float).ravel()

    def start(self) -> np.ndarray:
        """Coefficients 0 and the cuts of the scores as a whole (first cut, log steps)."""
        below = np.cumsum(np.bincount(self.code, weights=self.weights))[:-1]
        share = below / self.weights.sum()
        cuts = np.log(share / (1 - share))
        return np.r_[np.zeros(self.design.shape[1]), cuts[:1], np.log(np.diff(cuts))]


def cuts_of(theta: np.ndarray, k: int) -> np.ndarray:
    """The increasing cuts from their first value and the logs of their steps."""
    return theta[k] + np.r_[0.0, np.cumsum(np.exp(theta[k + 1 :]))]


def row_loglik(theta: np.ndarray, data: OrdinalData) -> tuple[np.ndarray, np.ndarray]:
    """Log-likelihood of each row, and its gradient in theta (n, k + K - 1)."""
    k = data.design.shape[1]
    eta = data.design @ theta[:k]
    ends = np.r_[-np.inf, cuts_of(theta, k), np.inf]
    above, below = ends[data.code + 1] - eta, ends[data.code] - eta
    # log(F(a) - F(b)) = log F(a) + log F(-b) + log(1 - exp(b - a)), without cancellation.
    gap = np.exp(below - above)
    value = log_expit(above) + log_expit(-below) + np.log1p(-gap)
    inner = gap / (1 - gap)
    slope_above, slope_below = expit(-above) + inner, -expit(below) - inner
    by_cut = np.zeros((len(eta), data.n_category + 1))
    index = np.arange(len(eta))
    by_cut[index, data.code + 1] += slope_above
    by_cut[index, data.code] += slope_below
    by_cut = by_cut[:, 1:-1]
    # A step of the cuts moves its own cut and all above it.
    tail = np.cumsum(by_cut[:, ::-1], axis=1)[:, ::-1]
    steps = tail[:, 1:] * np.exp(theta[k + 1 :])
    by_beta = -(slope_above + slope_below)[:, None] * data.design
    return value, np.column_stack([by_beta, tail[:, :1], steps])


def maximise(data: OrdinalData, start: np.ndarray, held: tuple[int, float] | None = None):
    """The best theta and log-likelihood, one coefficient held where asked."""
    free = np.ones(len(start), bool)
    theta = start.copy()
    if held is not None:
        free[held[0]], theta[held[0]] = False, held[1]

    def loss(part):
        full = theta.copy()
        full[free] = part
        value, slope = row_loglik(full, data)
        return -data.weights @ value, -(data.weights @ slope)[free]

    with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
        found = minimize(loss, theta[free], jac=True, method="BFGS", options={"gtol": 1e-7})
    if not np.isfinite(found.fun) or np.abs(found.jac).max() > 1e-3 * max(1, abs(found.fun)):
        raise RuntimeError("the ordinal likelihood did not converge.")
    theta[free] = found.x
    return theta, -float(found.fun)


def information(theta: np.ndarray, data: OrdinalData) -> np.ndarray:
    """Minus the second derivative of the log-likelihood, by central differences."""
    step = 1e-5 * np.maximum(1, np.abs(theta))
    columns = []
    for i, size in enumerate(step):
        ends = [
            data.weights @ row_loglik(theta + sign * size * np.eye(len(theta))[i], data)[1]
            for sign in (1, -1)
        ]
        columns.append((ends[1] - ends[0]) / (2 * size))
    matrix = np.array(columns)
    return (matrix + matrix.T) / 2
