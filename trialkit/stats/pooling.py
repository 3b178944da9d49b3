"""Estimates from several studies pooled by a random-effects model.

The spread between studies is estimated by restricted maximum likelihood; limits of the mean
follow Hartung and Knapp, which hold up better than the usual ones with a handful of studies.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy import optimize, stats
from statsmodels.stats.meta_analysis import combine_effects

from .estimate import check_conf_level
from .shown import Shown

__all__ = ["BETWEEN_METHODS", "PooledFit", "pool_estimates"]

# What statsmodels calls the two it has; it has no REML.
_STATSMODELS = {"dersimonian-laird": "chi2", "paule-mandel": "iterated"}
BETWEEN_METHODS = ("reml", *_STATSMODELS, "none")


@dataclass(frozen=True, eq=False, repr=False)
class PooledFit(Shown):
    """Estimates of several studies, pooled.

    Parameters
    ----------
    estimates, variances : numpy.ndarray, shape (k,)
        What was pooled, with the variance of each within its study.
    between : str
        How the spread between studies was estimated.
    between_variance : float
        Variance between studies (tau squared), in squared units of the estimates.
    guard : bool
        Whether the Hartung-Knapp variance may not fall under the usual one.
    """

    estimates: np.ndarray
    variances: np.ndarray
    between: str
    between_variance: float
    guard: bool = True

    def __str__(self) -> str:
        low, high = self.interval(0.95)
        return (
            f"mean {self.mean:.3g} (95% CI {low:.3g} to {high:.3g}; {len(self.estimates)} studies, "
            f"{self.between}, Hartung-Knapp)"
        )

    @property
    def weights(self) -> np.ndarray:
        """Weight of each study, adding up to 1."""
        weights = 1 / (self.variances + self.between_variance)
        return weights / weights.sum()

    @property
    def mean(self) -> float:
        """The pooled mean."""
        return float(self.weights @ self.estimates)

    @property
    def std_error(self) -> float:
        """Standard error of the mean when the variances are taken as known."""
        return float(1 / np.sqrt((1 / (self.variances + self.between_variance)).sum()))

    @property
    def std_error_hk(self) -> float:
        """Standard error of the mean by Hartung and Knapp.

        With `guard` it is at least the usual one: two studies that happen to agree would
        otherwise give a mean with hardly any uncertainty (Knapp & Hartung 2003, p. 2698).
        """
        k = len(self.estimates)
        if k < 2:
            return math.inf
        around = self.weights @ (self.estimates - self.mean) ** 2 / (k - 1)
        plain = float(np.sqrt(around))
        return max(plain, self.std_error) if self.guard else plain

    @property
    def q(self) -> float:
        """Cochran's Q: squared distances from the fixed-effect mean, each over its variance."""
        return _generalised_q(0.0, self.estimates, self.variances)

    @property
    def i_squared(self) -> float:
        """Share of the variation between estimates that is not chance, from Q, 0 to 1."""
        return max(0.0, 1 - (len(self.estimates) - 1) / self.q) if self.q > 0 else 0.0

    def interval(self, conf_level: float = 0.95, *, reference: str = "t") -> tuple[float, float]:
        """Limits of the mean.

        Parameters
        ----------
        conf_level : float
            Two-sided level.
        reference : {"t", "normal"}
            Hartung-Knapp with k - 1 degrees of freedom, or the usual normal limits.

        Returns
        -------
        tuple of float
            Lower and upper limit, in the unit of the estimates.

        Examples
        --------
        >>> [round(x, 2) for x in pool_estimates([1, 2, 3], [0.1, 0.1, 0.1]).interval()]
        [-0.48, 4.48]
        """
        check_conf_level(conf_level)
        error = self.std_error_hk if reference == "t" else self.std_error
        return _limits(self.mean, error, self._multiplier(conf_level, reference))

    def prediction(self, conf_level: float = 0.95, *, reference: str = "t") -> tuple[float, float]:
        """Limits within which the true value of a new study is expected.

        Parameters
        ----------
        conf_level : float
            Two-sided level.
        reference : {"t", "normal"}
            Hartung-Knapp variance with k - 1 degrees of freedom (Partlett & Riley 2017), or the
            usual variance with a normal quantile.

        Returns
        -------
        tuple of float
            Lower and upper limit, in the unit of the estimates.

        Examples
        --------
        >>> fit = pool_estimates([1, 2, 3], [0.1, 0.1, 0.1])
        >>> [round(x, 2) for x in fit.prediction()]
        [-2.78, 6.78]
        """
        check_conf_level(conf_level)
        error = self.std_error_hk if reference == "t" else self.std_error
        spread = math.sqrt(error**2 + self.between_variance)
        return _limits(self.mean, spread, self._multiplier(conf_level, reference))

    def between_interval(self, conf_level: float = 0.95) -> tuple[float, float]:
        """Limits of the variance between studies, from the profile of Q.

        Parameters
        ----------
        conf_level : float
            Two-sided level.

        Returns
        -------
        tuple of float
            Lower and upper limit; the lower is 0 when the data do not exclude equal studies, the
            upper is inf for a single study.

        Examples
        --------
        >>> pool_estimates([1, 2, 3], [0.1, 0.1, 0.1]).between_interval()[0] > 0
        True
        """
        check_conf_level(conf_level)
        df = len(self.estimates) - 1
        if df < 1:
            return 0.0, math.inf
        tails = stats.chi2.ppf([(1 + conf_level) / 2, (1 - conf_level) / 2], df)
        low, high = (_solve_q(q, self.estimates, self.variances) for q in tails)
        return low, high

    def _multiplier(self, conf_level: float, reference: str) -> float:
        if reference not in ("t", "normal"):
            raise ValueError(f'reference must be "t" or "normal"; got {reference!r}.')
        tail = (1 + conf_level) / 2
        if reference == "normal":
            return float(stats.norm.ppf(tail))
        df = len(self.estimates) - 1
        return float(stats.t.ppf(tail, df)) if df else math.inf

    def tidy(self, conf_level: float = 0.95) -> pd.DataFrame:
        """Two rows, the mean and a new study: term, estimate, conf_low, conf_high and so on.

        Parameters
        ----------
        conf_level : float
            Two-sided level.

        Returns
        -------
        pandas.DataFrame
            `term`, `estimate`, `conf_low`, `conf_high`, `conf_level`, `n` (studies), `method`.

        Examples
        --------
        >>> pool_estimates([1, 2, 3], [0.1, 0.1, 0.1]).tidy()["term"].tolist()
        ['mean', 'new study']
        """
        rows = [("mean", self.interval(conf_level)), ("new study", self.prediction(conf_level))]
        return pd.DataFrame(
            [(term, self.mean, low, high) for term, (low, high) in rows],
            columns=["term", "estimate", "conf_low", "conf_high"],
        ).assign(
            conf_level=conf_level,
            n=len(self.estimates),
            method=f"random effects, {self.between}, Hartung-Knapp",
        )


def pool_estimates(estimates, variances, *, between: str = "reml", guard: bool = True) -> PooledFit:
    """The estimates of several studies pooled by random effects.

    Parameters
    ----------
    estimates : array_like, shape (k,)
        One estimate a study, on a scale on which errors are about normal (log hours, say).
    variances : array_like, shape (k,)
        Squared standard error of each.
    between : {"reml", "dersimonian-laird", "paule-mandel", "none"}
        How the variance between studies is estimated; "none" takes it as 0.
    guard : bool
        Whether the Hartung-Knapp variance may not fall under the usual one.

    Returns
    -------
    PooledFit
        Mean, limits, prediction limits, heterogeneity.

    Raises
    ------
    ValueError
        If the estimates are not finite numbers with variances above 0.

    References
    ----------
    Hartung, J. & Knapp, G. (2001). Statistics in Medicine 20, 3875-3889.
    Knapp, G. & Hartung, J. (2003). Statistics in Medicine 22, 2693-2710.
    Partlett, C. & Riley, R. D. (2017). Statistics in Medicine 36, 301-317.
    Viechtbauer, W. (2005). Journal of Educational and Behavioral Statistics 30, 261-293.
    Viechtbauer, W. (2007). Statistics in Medicine 26, 37-52.

    Examples
    --------
    >>> fit = pool_estimates([1, 2, 3], [0.1, 0.1, 0.1])
    >>> round(fit.mean, 2), round(fit.between_variance, 2)  # spread 1, less 0.1 within
    (2.0, 0.9)
    """
    y, v = np.atleast_1d(np.asarray(estimates, float)), np.atleast_1d(np.asarray(variances, float))
    if y.shape != v.shape or y.ndim != 1 or not y.size:
        raise ValueError(f"one variance is needed for each estimate; got {y.shape}, {v.shape}.")
    if not (np.isfinite(y).all() and np.isfinite(v).all() and (v > 0).all()):
        raise ValueError(f"estimates must be finite, variances above 0; got {y}, {v}.")
    return PooledFit(y, v, between, _between_variance(y, v, between), guard)


def _between_variance(y: np.ndarray, v: np.ndarray, between: str) -> float:
    if between not in BETWEEN_METHODS:
        raise ValueError(f"between must be one of {', '.join(BETWEEN_METHODS)}; got {between!r}.")
    if between == "none" or len(y) < 2:
        return 0.0
    if between == "reml":
        return _reml(y, v)
    return max(0.0, float(combine_effects(y, v, method_re=_STATSMODELS[between]).tau2))


def _reml(y: np.ndarray, v: np.ndarray) -> float:
    """Variance between studies with the highest restricted likelihood.

    The likelihood can have two peaks, so that the best of a grid is refined.
    """
    top = 10 * (np.var(y, ddof=1) + v.max())
    grid = np.concatenate([[0.0], np.geomspace(1e-8 * top, top, 200)])
    best = int(np.argmax([_restricted_loglik(tau2, y, v) for tau2 in grid]))
    low, high = grid[max(best - 1, 0)], grid[min(best + 1, len(grid) - 1)]
    if best == 0 and _reml_score(0.0, y, v) <= 0:
        return 0.0
    return float(optimize.brentq(_reml_score, low, high, args=(y, v), xtol=1e-14 * top + 1e-300))


def _restricted_loglik(tau2: float, y: np.ndarray, v: np.ndarray) -> float:
    w = 1 / (v + tau2)
    residual = y - (w @ y) / w.sum()
    return float(0.5 * (np.log(w).sum() - np.log(w.sum()) - w @ residual**2))


def _reml_score(tau2: float, y: np.ndarray, v: np.ndarray) -> float:
    """Twice the slope of the restricted log-likelihood (Viechtbauer 2005, p. 266)."""
    w = 1 / (v + tau2)
    residual = y - (w @ y) / w.sum()
    return float((w * residual) @ (w * residual) - w.sum() + (w @ w) / w.sum())


def _generalised_q(tau2: float, y: np.ndarray, v: np.ndarray) -> float:
    w = 1 / (v + tau2)
    return float(w @ (y - (w @ y) / w.sum()) ** 2)


def _solve_q(target: float, y: np.ndarray, v: np.ndarray) -> float:
    """The variance between studies at which Q falls to the target; 0 if it lies under it at 0."""
    if _generalised_q(0.0, y, v) <= target:
        return 0.0
    top = v.max()
    while _generalised_q(top, y, v) > target:
        top *= 2
    return float(optimize.brentq(lambda t: _generalised_q(t, y, v) - target, 0.0, top))


def _limits(middle: float, error: float, multiplier: float) -> tuple[float, float]:
    half = multiplier * error
    return (middle - half, middle + half) if math.isfinite(half) else (-math.inf, math.inf)
