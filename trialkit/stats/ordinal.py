"""Regression of ordered scores by proportional odds, with separation looked for first."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import partial

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike
from scipy.stats import norm, t

from ._cumulative import OrdinalData, evaluate, maximise, row_loglik
from ._logistic_profile import profile_limit
from .estimate import check_conf_level
from .separation import Separation, find_separation
from .shown import Shown

SIDE = {"+inf": np.inf, "-inf": -np.inf, "either side": np.inf}


@dataclass(frozen=True)
class OrdinalFit(Shown):
    """A fitted proportional-odds model: logit P(score > cut) rises with the coefficients.

    Attributes
    ----------
    terms : tuple of str
        Names of the coefficients.
    coefficients : ndarray, shape (k,)
        Log odds ratios of a higher score; inf or -inf where the data are separated.
    cuts : ndarray, shape (K - 1,)
        Cut points between categories, as the search left them under separation.
    categories : ndarray, shape (K,)
        The scores seen, in order.
    covariance : ndarray or None
        Cluster-robust covariance; None when limits come from the profile likelihood.
    loglik : float
        Maximised (weighted) log-likelihood.
    df : float
        Degrees of freedom of t: clusters minus coefficients, or inf.
    separation : Separation
        What the check before the fit found, cuts included.
    method : str
        "profile likelihood" or "cluster-robust".
    n, n_cluster : int
        Scores, clusters (0 when none were given).
    """

    terms: tuple[str, ...]
    coefficients: np.ndarray
    cuts: np.ndarray
    categories: np.ndarray
    covariance: np.ndarray | None = field(repr=False)
    loglik: float
    df: float
    separation: Separation
    method: str
    n: int
    n_cluster: int
    data: OrdinalData = field(repr=False)
    theta: np.ndarray = field(repr=False)

    def tidy(self, conf_level: float = 0.95) -> pd.DataFrame:
        """One row a term: term, estimate, limits, conf_level, p_value, n, method."""
        check_conf_level(conf_level)
        row = self._profile_row if self.covariance is None else self._robust_row
        rows = [row(index, conf_level) for index in range(len(self.terms))]
        frame = pd.DataFrame(rows, columns=["conf_low", "conf_high", "p_value"])
        frame.insert(0, "term", self.terms)
        frame.insert(1, "estimate", self.coefficients)
        frame.insert(4, "conf_level", conf_level)
        return frame.assign(n=self.n, method=self.method)

    def profile_deviance(self, index: int, value: float) -> float:
        """Twice the fall of the log-likelihood when one coefficient is held at `value`."""
        held = index, np.array([float(value)])
        best = maximise(self.data, self.theta[None], self.data.weights[None], held)[1]
        return max(2 * (self.loglik - float(best[0])), 0.0)

    def _critical(self, conf_level: float) -> float:
        tail = (1 + conf_level) / 2
        if self.df <= 0:
            return np.inf
        return float(norm.ppf(tail) if np.isinf(self.df) else t.ppf(tail, self.df))

    def _p(self, statistic: float) -> float:
        if self.df <= 0:
            return 1.0
        return float(2 * (norm.sf(statistic) if np.isinf(self.df) else t.sf(statistic, self.df)))

    def _robust_row(self, index: int, conf_level: float):
        value, error = self.coefficients[index], np.sqrt(self.covariance[index, index])
        reach = self._critical(conf_level) * error
        return value - reach, value + reach, self._p(abs(value) / error)

    def _profile_row(self, index: int, conf_level: float):
        deviance = partial(self.profile_deviance, index)
        cut = self._critical(conf_level) ** 2
        side = self.separation.directions[self.terms[index]]
        low, high = -np.inf, np.inf
        if side in ("finite", "+inf"):
            low = profile_limit(deviance, self.theta[index], -1.0, cut)
        if side in ("finite", "-inf"):
            high = profile_limit(deviance, self.theta[index], 1.0, cut)
        return low, high, self._p(np.sqrt(deviance(0.0)))


def fit_ordinal(
    design: ArrayLike,
    score: ArrayLike,
    *,
    terms: tuple[str, ...] | list[str] | None = None,
    cluster: ArrayLike | None = None,
) -> OrdinalFit:
    """A proportional-odds model of ordered scores.

    Separation is looked for before the fit. A separated term has an infinite estimate and
    one finite profile limit: what the scores do bound. With clusters every cluster has the
    same total weight, however often it was scored.

    Parameters
    ----------
    design : array_like, shape (n, k)
        Covariates without a constant (the cuts are the constants).
    score : array_like, shape (n,)
        Ordered numbers.
    terms : sequence of str, optional
        Names of the columns; x1, x2 ... by default.
    cluster : array_like, shape (n,), optional
        Unit of replication of each row.

    Returns
    -------
    OrdinalFit

    Raises
    ------
    ValueError
        With fewer than two different scores, gaps, or overlapping columns.

    References
    ----------
    McCullagh P (1980). Journal of the Royal Statistical Society B 42, 109-142.

    Examples
    --------
    >>> fit = fit_ordinal([[0], [0], [0], [1], [1], [1]], [1, 1, 2, 3, 3, 2], terms=["mix B"])
    >>> fit.tidy().loc[0, ["estimate", "conf_low"]].round(2).tolist()
    [inf, 0.72]
    """
    data, categories = _checked(design, score, cluster)
    k = data.design.shape[1]
    names = tuple(terms) if terms is not None else tuple(f"x{i + 1}" for i in range(k))
    if len(names) != k:
        raise ValueError(f"{len(names)} terms named for {k} columns.")
    cut_names = [f"cut {i + 1}" for i in range(data.n_category - 1)]
    separation = find_separation(*data.stacked(), [*names, *cut_names])
    theta, loglik = (best[0] for best in maximise(data, data.start()[None], data.weights[None]))
    values = [SIDE.get(separation.directions[name]) for name in names]
    coefficients = np.array(
        [theta[i] if value is None else value for i, value in enumerate(values)]
    )
    n_cluster = 0 if data.cluster is None else int(np.unique(data.cluster).size)
    df = float(n_cluster - k) if n_cluster else np.inf
    robust = n_cluster > 0 and df > 0 and not separation.separated
    return OrdinalFit(
        names, coefficients, theta[k:], categories,
        _sandwich(theta, data) if robust else None, float(loglik), df, separation,
        "cluster-robust" if robust else "profile likelihood",
        len(data.code), n_cluster, data, theta,
    )  # fmt: skip


def _checked(design, score, cluster) -> tuple[OrdinalData, np.ndarray]:
    design, score = np.atleast_2d(np.asarray(design, float)), np.asarray(score, float)
    if len(design) != len(score) or np.isnan(score).any() or not np.isfinite(design).all():
        raise ValueError("design and score must be equally long, with a number everywhere.")
    categories, code = np.unique(score, return_inverse=True)
    if len(categories) < 2:
        raise ValueError("every score is the same: no model of scores can be fitted.")
    weights = np.ones(len(score))
    if cluster is not None:
        cluster = np.unique(np.asarray(cluster), return_inverse=True)[1]
        weights = 1.0 / np.bincount(cluster)[cluster]
    return OrdinalData(design, code, weights, cluster, len(categories)), categories


def _sandwich(theta, data: OrdinalData) -> np.ndarray:
    (upper, lower), (by_upper, by_lower) = data.ends, row_loglik(theta, data)[1]
    slope = (by_upper[:, None] * upper + by_lower[:, None] * lower) * data.weights[:, None]
    units = int(data.cluster.max()) + 1
    score = np.zeros((units, len(theta)))
    np.add.at(score, data.cluster, slope)
    bread = np.linalg.inv(evaluate(theta[None], data, data.weights[None])[2][0])
    return units / (units - 1) * bread @ (score.T @ score) @ bread
