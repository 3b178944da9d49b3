"""Profile likelihood of one linear combination of logistic coefficients."""

from __future__ import annotations

import warnings
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.linalg import null_space
from scipy.optimize import brentq, minimize
from scipy.special import expit, xlogy

MAX_DOUBLINGS = 24  # of the step away from the estimate, before a limit is called infinite

MAX_RESTARTS = 8  # of the search for the constrained optimum


@dataclass(frozen=True)
class LogisticData:
    """Rows of a binomial design, checked: design (n, k), events, trials, weights, cluster."""

    design: np.ndarray
    events: np.ndarray
    trials: np.ndarray
    weights: np.ndarray
    cluster: np.ndarray | None

    @classmethod
    def build(cls, design, events, trials, cluster) -> LogisticData:
        """The checked rows; those without a trial are dropped."""
        design = np.atleast_2d(np.asarray(design, float))
        events = np.asarray(events, float)
        trials = np.ones_like(events) if trials is None else np.asarray(trials, float)
        if not len(design) == len(events) == len(trials):
            raise ValueError(f"{len(design)} rows of design, {len(events)} of events.")
        if np.any((events < 0) | (events > trials)) or not np.isfinite(design).all():
            raise ValueError("events must lie between 0 and trials, the design must be finite.")
        keep = trials > 0
        if cluster is not None:
            cluster = np.unique(np.asarray(cluster)[keep], return_inverse=True)[1]
        trials = trials[keep]
        weights = _cluster_weights(cluster, trials)
        return cls(design[keep], events[keep], trials, weights, cluster)

    @property
    def n_cluster(self) -> int:
        """The number of units of replication; 0 when none were given."""
        return 0 if self.cluster is None else int(np.unique(self.cluster).size)

    def binary(self, both_classes: bool = False):
        """Rows, 0/1 outcome and weight, an outcome a row."""
        rows = np.vstack([self.design, self.design])
        outcome = np.repeat([1.0, 0.0], len(self.events))
        weights = np.r_[self.events, self.trials - self.events] * np.tile(self.weights, 2)
        if both_classes and np.unique(outcome[weights > 0]).size < 2:
            # The library wants both outcomes present; a weight of 1e-9 satisfies it and
            # changes no digit that is printed.
            weights = np.where(weights > 0, weights, 1e-9)
        keep = weights > 0
        return rows[keep], outcome[keep], weights[keep]

    def loglik(self, beta) -> float:
        """Weighted Bernoulli log-likelihood of the coefficients."""
        eta = self.design @ beta
        lost = self.trials - self.events
        terms = self.events * np.logaddexp(0, -eta) + lost * np.logaddexp(0, eta)
        return -float(np.sum(self.weights * terms))

    def loglik_saturated(self) -> float:
        """The log-likelihood when every row has its own share."""
        lost, share = self.trials - self.events, self.events / self.trials
        return float(np.sum(self.weights * (xlogy(self.events, share) + xlogy(lost, 1 - share))))


def _cluster_weights(cluster, trials) -> np.ndarray:
    # Each cluster weighs 1 in all, however often it was read: readings of one vessel are
    # sub-samples (Hurlbert 1984, Ecological Monographs 54, 187-211).
    if cluster is None:
        return np.ones(len(trials))
    return 1.0 / np.bincount(cluster, weights=trials)[cluster]


def fit_penalised(rows, outcome, weights, penalty: float, offset=None):
    """The library's fit (penalty 0.5 Firth, 0 plain likelihood) at the tightest tolerance it takes.

    Its line search gives up where rounding hides the last gain, so looser ones follow.
    """
    # Imported here: it brings scikit-learn along, which a report without scores never needs.
    from firthmodels import FirthLogisticRegression
    from sklearn.exceptions import ConvergenceWarning

    for tolerance in (1e-8, 1e-6, 1e-4):
        model = FirthLogisticRegression(
            fit_intercept=False, penalty_weight=penalty, gtol=tolerance, xtol=tolerance,
            max_iter=500,
        )  # fmt: skip
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", ConvergenceWarning)  # raised below, in our words
            model.fit(rows, outcome, weights, offset=offset)
        if model.converged_:
            return model
    raise RuntimeError("the logistic likelihood did not converge.")


def penalised_loglik(rows, outcome, weights, beta, penalty: float):
    """The log-likelihood plus `penalty` times log det information, with its gradient.

    Firth (1993), Biometrika 80, 27-38: with 0.5 the gradient is X'(w(y - p) + h(1/2 - p)).
    """
    eta = rows @ beta
    share = expit(eta)
    spread = weights * share * expit(-eta)
    information = (rows * spread[:, None]).T @ rows
    value = np.sum(weights * (outcome * eta - np.logaddexp(0, eta)))
    score = weights * (outcome - share)
    if penalty:
        sign, log_det = np.linalg.slogdet(information)
        if sign <= 0:
            return -np.inf, np.zeros_like(beta)
        leverage = spread * np.einsum("ij,ji->i", rows, np.linalg.solve(information, rows.T))
        value += penalty * log_det
        score = score + 2 * penalty * leverage * (0.5 - share)
    return float(value), rows.T @ score


def profile_deviance(data: LogisticData, best, covariance, constraint, penalty: float) -> float:
    """Twice the drop of the (penalised) log-likelihood when `contrast @ beta` is `value`.

    The penalty is the one of the full model, as in Heinze & Schemper (2002).

    Parameters
    ----------
    data : LogisticData
        The rows.
    best, covariance : ndarray
        Estimates and their model-based covariance: start and scale of the search.
    constraint : tuple (contrast, value)
        The linear combination and what it is held at.
    penalty : float
        0.5 for Firth, 0 for plain likelihood.
    """
    contrast, value = np.asarray(constraint[0], float), float(constraint[1])
    rows, outcome, weights = data.binary(both_classes=True)
    lift = covariance @ contrast
    start = best + lift * (value - contrast @ best) / (contrast @ lift)
    free = _free_directions(contrast, covariance)

    def loss(z):
        height, slope = penalised_loglik(rows, outcome, weights, start + free @ z, penalty)
        return -height, -(free.T @ slope)

    top = penalised_loglik(rows, outcome, weights, best, penalty)[0]
    zero = np.zeros(free.shape[1])
    held = loss(zero)[0] if not zero.size else _lowest(loss, zero)
    return max(2 * (top + held), 0.0)


def _free_directions(contrast, covariance) -> np.ndarray:
    """A basis of the directions that leave the contrast alone, in standard-error units."""
    basis = null_space(contrast[None, :])
    if not basis.size:
        return basis
    precision = basis.T @ np.linalg.solve(covariance, basis)
    return basis @ np.linalg.inv(np.linalg.cholesky(precision)).T


def _lowest(loss, start) -> float:
    for _ in range(MAX_RESTARTS):
        with np.errstate(over="ignore", invalid="ignore"):
            found = minimize(loss, start, jac=True, method="BFGS", options={"gtol": 1e-6})
        # The line search stops short of gtol where rounding hides the last gain.
        if np.isfinite(found.fun) and np.abs(found.jac).max() <= 1e-2:
            return float(found.fun)
        # Its picture of the curvature was misled far from the optimum: begin a new one there.
        start = found.x
    raise RuntimeError("the profile likelihood did not converge.")


def profile_interval(
    deviance: Callable[[float], float], estimate: float, step: float, cut: float
) -> tuple[float, float]:
    """The limits where the deviance reaches `cut`; infinite where it never does."""
    return (
        profile_limit(deviance, estimate, -step, cut),
        profile_limit(deviance, estimate, step, cut),
    )


def profile_limit(deviance, estimate: float, step: float, cut: float) -> float:
    """The limit on the side of the sign of `step`; infinite where `cut` is never reached."""
    inside = estimate
    if not np.isfinite(cut):
        return float(np.copysign(np.inf, step))
    for _ in range(MAX_DOUBLINGS):
        outside = estimate + step
        if deviance(outside) > cut:
            return float(brentq(lambda v: deviance(v) - cut, inside, outside, xtol=1e-7))
        inside, step = outside, 2 * step
    return float(np.copysign(np.inf, step))
