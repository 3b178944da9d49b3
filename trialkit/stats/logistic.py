"""Logistic regression that says when the data are separated."""

from __future__ import annotations

import warnings
from dataclasses import dataclass, field

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike
from scipy.special import expit
from scipy.stats import norm, t
from statsmodels.genmod.families import Binomial
from statsmodels.genmod.generalized_linear_model import GLM
from statsmodels.tools.sm_exceptions import PerfectSeparationWarning

from ._logistic_profile import LogisticData, fit_penalised, profile_deviance, profile_interval
from .separation import Separation, find_separation
from .shown import Shown


@dataclass(frozen=True)
class LogisticFit(Shown):
    """A fitted logistic model.

    Attributes
    ----------
    terms : tuple of str
        Names of the coefficients.
    coefficients : ndarray, shape (k,)
        Log odds (ratios). Firth's estimates when `separation.separated`.
    covariance : ndarray, shape (k, k)
        Model-based, or cluster-robust when clusters were given and nothing is separated.
    loglik : float
        Maximised log-likelihood (penalised for Firth).
    deviance : float
        Residual deviance, -2 times the log-likelihood ratio to the saturated model.
    df : float
        Degrees of freedom of the reference t: clusters minus coefficients, or inf.
    separation : Separation
        What the check before the fit found.
    method : str
        "maximum likelihood", "cluster-robust" or "Firth".
    n, n_event, n_cluster : int
        Trials, events, clusters (0 when none were given).
    """

    terms: tuple[str, ...]
    coefficients: np.ndarray
    covariance: np.ndarray = field(repr=False)
    loglik: float
    deviance: float
    df: float
    separation: Separation
    method: str
    n: int
    n_event: int
    n_cluster: int
    data: LogisticData = field(repr=False)

    def critical(self, conf_level: float) -> float:
        """The two-sided t (or normal) quantile; inf without a degree of freedom to spare."""
        tail = (1 + conf_level) / 2
        if self.df <= 0:
            return np.inf
        return float(norm.ppf(tail) if np.isinf(self.df) else t.ppf(tail, self.df))

    def profile_deviance(self, contrast: ArrayLike, value: float) -> float:
        """Twice the fall of the log-likelihood when `contrast @ coefficients` is `value`."""
        penalty = 0.5 if self.method == "Firth" else 0.0
        constraint = contrast, value
        return profile_deviance(self.data, self.coefficients, self.covariance, constraint, penalty)

    def tidy(self, conf_level: float = 0.95) -> pd.DataFrame:
        """One row a term.

        Columns: term, estimate, conf_low, conf_high, conf_level, p_value, n, n_event, method.
        Profile-likelihood limits and p values, or t limits where the fit is cluster-robust.
        """
        limits = _wald_rows if self.method == "cluster-robust" else _profile_rows
        low, high, p_value = limits(self, conf_level)
        columns = {"term": self.terms, "estimate": self.coefficients, "conf_low": low}
        columns |= {"conf_high": high, "conf_level": conf_level, "p_value": p_value}
        return pd.DataFrame(columns | {"n": self.n, "n_event": self.n_event, "method": self.method})

    def __str__(self) -> str:
        size = f"{self.n_event} of {self.n}"
        return f"logistic model, {self.method}, {size} events; {self.separation}"


def fit_logistic(
    design: ArrayLike,
    events: ArrayLike,
    trials: ArrayLike | None = None,
    *,
    terms: tuple[str, ...] | list[str] | None = None,
    cluster: ArrayLike | None = None,
    firth: bool | None = None,
) -> LogisticFit:
    """A logistic regression: by maximum likelihood, or by Firth's where that has no answer.

    Separation is looked for before fitting. With clusters each cluster has the same total
    weight however often it was read; the covariance is then a sandwich kept away from false
    certainty (Morel, Bokossa & Neerchal) with t on clusters minus coefficients. Under
    separation a sandwich means nothing: Firth's penalised likelihood is profiled, with a
    cluster's readings weighing together as one.

    Firth's estimate of a probability is pulled toward one half (0 of 4 becomes 10%): take
    contrasts and times from this fit, and exact binomial limits for a probability.

    Parameters
    ----------
    design : array_like, shape (n, k)
        Full design matrix, constant included where wanted.
    events : array_like, shape (n,)
        Events in each row, from 0 to `trials`.
    trials : array_like, shape (n,), optional
        Trials in each row; 1 by default.
    terms : sequence of str, optional
        Names of the columns; x1, x2 ... by default.
    cluster : array_like, shape (n,), optional
        Unit of replication of each row.
    firth : bool, optional
        True: always penalise. By default only when the data are separated.

    Returns
    -------
    LogisticFit

    Raises
    ------
    ValueError
        On shapes that don't match, events outside 0..trials, or overlapping columns.

    References
    ----------
    Firth D (1993). Biometrika 80, 27-38.
    Heinze G, Schemper M (2002). Statistics in Medicine 21, 2409-2419.
    Morel JG, Bokossa MC, Neerchal NK (2003). Biometrical Journal 45, 395-409.

    Examples
    --------
    Four of four vessels against none of four; Firth's slope is 2 log 9.

    >>> fit = fit_logistic([[1, 0], [1, 1]], [0, 4], [4, 4], terms=["const", "mix B"])
    >>> fit.method, round(float(fit.coefficients[1]), 4)
    ('Firth', 4.3944)
    """
    data = LogisticData.build(design, events, trials, cluster)
    names = tuple(terms) if terms is not None else _default_names(data)
    if len(names) != data.design.shape[1]:
        raise ValueError(f"{len(names)} terms named for {data.design.shape[1]} columns.")
    rows, outcome, _ = data.binary()
    separation = find_separation(rows, outcome, names)
    if separation.separated or firth:
        return _firth_fit(data, names, separation)
    return _likelihood_fit(data, names, separation)


def _default_names(data: LogisticData) -> tuple[str, ...]:
    return tuple(f"x{i + 1}" for i in range(data.design.shape[1]))


def _counts(data: LogisticData) -> dict[str, int]:
    return {
        "n": int(data.trials.sum()),
        "n_event": int(data.events.sum()),
        "n_cluster": data.n_cluster,
    }


def _likelihood_fit(data: LogisticData, names, separation) -> LogisticFit:
    share, size = data.events / data.trials, data.trials * data.weights
    model = GLM(share, data.design, family=Binomial(), var_weights=size)
    with warnings.catch_warnings():
        # Raised for any perfect fit (2, 5, 8 of 10 on a line); separation is ruled out by now.
        warnings.simplefilter("ignore", PerfectSeparationWarning)
        glm = model.fit(tol=1e-12)
    covariance, df, method = glm.cov_params(), np.inf, "maximum likelihood"
    if data.cluster is not None:
        method, df = "cluster-robust", float(data.n_cluster - len(names))
        if df > 0:
            covariance = _sandwich(data, glm.params, covariance)
    return LogisticFit(
        names, glm.params, covariance, float(data.loglik(glm.params)), float(glm.deviance), df,
        separation, method, data=data, **_counts(data),
    )  # fmt: skip


def _sandwich(data: LogisticData, beta, naive) -> np.ndarray:
    """The covariance from the spread of the clusters' scores, plus a share of the pooled one.

    The plain sandwich calls a group certain whose few clusters happen to look alike: measured,
    its 95% limits hold 7-31% for tight groups of 3-6 clusters, these 90% and more
    (tests/reference/coverage_logistic.md). Morel, Bokossa & Neerchal (2003), without their
    factor for the number of rows, which would reward repeated readings.
    """
    share = expit(data.design @ beta)
    residual = data.weights * (data.events - data.trials * share)
    score = np.zeros((data.n_cluster, len(beta)))
    np.add.at(score, data.cluster, data.design * residual[:, None])
    units, k = score.shape
    middle = score.T @ score
    robust = units / (units - 1) * naive @ middle @ naive
    design_effect = np.trace(naive @ middle) / k
    return robust + min(0.5, k / (units - k)) * design_effect * naive


def _firth_fit(data: LogisticData, names, separation) -> LogisticFit:
    rows, outcome, weights = data.binary(both_classes=True)
    model = fit_penalised(rows, outcome, weights, 0.5)
    share = expit(rows @ model.coef_)
    information = (rows * (weights * share * (1 - share))[:, None]).T @ rows
    df = np.inf if data.cluster is None else float(data.n_cluster - len(names))
    deviance = 2 * (data.loglik_saturated() - data.loglik(model.coef_))
    return LogisticFit(
        names, model.coef_, np.linalg.inv(information), float(model.loglik_), float(deviance), df,
        separation, "Firth", data=data, **_counts(data),
    )  # fmt: skip


def _two_sided(statistic: float, df: float) -> float:
    if df <= 0:
        return 1.0
    return float(2 * (norm.sf(statistic) if np.isinf(df) else t.sf(statistic, df)))


def _wald_rows(fit: LogisticFit, conf_level: float):
    error = np.sqrt(np.diag(fit.covariance))
    reach = fit.critical(conf_level) * error
    p_value = [_two_sided(abs(z), fit.df) for z in fit.coefficients / error]
    return fit.coefficients - reach, fit.coefficients + reach, p_value


def _profile_rows(fit: LogisticFit, conf_level: float):
    low, high, p_value = [], [], []
    cut = fit.critical(conf_level) ** 2
    for unit, value in zip(np.eye(len(fit.terms)), fit.coefficients, strict=True):
        step = float(np.sqrt(unit @ fit.covariance @ unit))

        def deviance(v, unit=unit):
            return fit.profile_deviance(unit, v)

        bounds = profile_interval(deviance, value, step, cut)
        low.append(bounds[0])
        high.append(bounds[1])
        p_value.append(_two_sided(float(np.sqrt(deviance(0.0))), fit.df))
    return low, high, p_value
