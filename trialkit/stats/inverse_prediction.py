"""The value of a covariate at which a logistic model reaches a probability."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.special import logit

from ._logistic_profile import profile_interval
from .logistic import LogisticFit
from .shown import Shown


@dataclass(frozen=True)
class FiellerInterval(Shown):
    """A ratio's interval; `g` below 1 means that the denominator is told from zero."""

    estimate: float
    conf_low: float
    conf_high: float
    g: float


def fieller_interval(numerator: float, denominator: float, covariance, critical: float):
    """Fieller's interval of `numerator / denominator`.

    With g >= 1 the set is not an interval (the denominator may be zero): both limits are
    then infinite.

    Parameters
    ----------
    numerator, denominator : float
        Estimates.
    covariance : array_like, shape (2, 2)
        Their covariance.
    critical : float
        Normal or t quantile.

    Returns
    -------
    FiellerInterval

    References
    ----------
    Fieller EC (1954). Journal of the Royal Statistical Society B 16, 175-185.

    Examples
    --------
    >>> fieller_interval(4.0, 2.0, [[0.0, 0.0], [0.0, 0.25]], 2.0)
    FiellerInterval(estimate=2.0, conf_low=1.3333333333333333, conf_high=4.0, g=0.25)
    """
    (v11, v12), (_, v22) = np.asarray(covariance, float)
    ratio = numerator / denominator if denominator else np.inf
    g = critical**2 * v22 / denominator**2 if denominator else np.inf
    if not g < 1:
        return FiellerInterval(float(ratio), -np.inf, np.inf, float(g))
    centre = ratio - g * v12 / v22 if v22 else ratio
    inside = v11 - 2 * ratio * v12 + ratio**2 * v22 - g * (v11 - v12**2 / v22 if v22 else v11)
    reach = critical / abs(denominator) * np.sqrt(max(inside, 0.0))
    limits = (centre - reach) / (1 - g), (centre + reach) / (1 - g)
    return FiellerInterval(float(ratio), float(limits[0]), float(limits[1]), float(g))


def inverse_prediction(
    fit: LogisticFit,
    p: float | list[float],
    *,
    slope: str,
    at: Mapping[str, float],
    interval: str = "profile",
    conf_level: float = 0.95,
) -> pd.DataFrame:
    """The covariate value at which the probability is `p`, with its interval.

    Parameters
    ----------
    fit : LogisticFit
        The model.
    p : float or list of float
        Probabilities between 0 and 1, exclusive.
    slope : str
        Term of the covariate sought (log time, say); the answer is on its scale.
    at : mapping of str to float
        Values of the other terms, the constant among them; those not named are 0.
    interval : {"profile", "fieller"}
        A cluster-robust fit has no likelihood to profile and takes "fieller".
    conf_level : float
        Confidence level.

    Returns
    -------
    DataFrame
        term, p, estimate, conf_low, conf_high, conf_level, n, n_event, method. A limit the
        data cannot place is inf or -inf.

    Raises
    ------
    ValueError
        For an unknown term or interval, or p outside (0, 1).

    References
    ----------
    Finney DJ (1971). Probit Analysis, 3rd ed., Cambridge University Press, ch. 4.
    Williams DA (1986). Applied Statistics 35, 302-305 (profile interval).

    Examples
    --------
    >>> from trialkit.stats.logistic import fit_logistic
    >>> design = [[1, 0], [1, 1], [1, 2]]
    >>> fit = fit_logistic(design, [2, 5, 8], [10, 10, 10], terms=["const", "dose"])
    >>> found = inverse_prediction(fit, 0.5, slope="dose", at={"const": 1})
    >>> round(float(found.estimate[0]), 6)
    1.0
    """
    _check(fit, p, slope, at, interval)
    base = np.array([float(at.get(term, 0.0)) for term in fit.terms])
    index = fit.terms.index(slope)
    base[index] = 0.0
    finder = _profile if interval == "profile" else _fieller
    found = [finder(fit, base, index, float(q), conf_level) for q in np.atleast_1d(p)]
    frame = pd.DataFrame(found, columns=["estimate", "conf_low", "conf_high"])
    frame.insert(0, "term", slope)
    frame.insert(1, "p", np.atleast_1d(p))
    method = f"{fit.method}, {interval}"
    return frame.assign(conf_level=conf_level, n=fit.n, n_event=fit.n_event, method=method)


def _check(fit, p, slope, at, interval) -> None:
    unknown = sorted({slope, *at} - set(fit.terms))
    if unknown:
        raise ValueError(f"no term {', '.join(unknown)}; the model has {', '.join(fit.terms)}.")
    if not any(value for term, value in at.items() if term != slope):
        raise ValueError(f"`at` must set the level of the model, e.g. the constant; got {at}.")
    if np.any((np.asarray(p) <= 0) | (np.asarray(p) >= 1)):
        raise ValueError(f"p must lie between 0 and 1, exclusive; got {p}.")
    if interval not in ("profile", "fieller"):
        raise ValueError(f"interval must be 'profile' or 'fieller'; got {interval!r}.")
    if interval == "profile" and fit.method == "cluster-robust":
        raise ValueError("a cluster-robust fit has no likelihood to profile; use 'fieller'.")


def _fieller(fit: LogisticFit, base, index: int, p: float, conf_level: float):
    to_pair = np.vstack([-base, np.eye(len(base))[index]])
    pair = to_pair @ fit.coefficients + np.array([logit(p), 0.0])
    covariance = to_pair @ fit.covariance @ to_pair.T
    found = fieller_interval(*pair, covariance, fit.critical(conf_level))
    return found.estimate, found.conf_low, found.conf_high


def _profile(fit: LogisticFit, base, index: int, p: float, conf_level: float):
    slope = fit.coefficients[index]
    if slope == 0:
        return np.inf, -np.inf, np.inf
    estimate = float((logit(p) - base @ fit.coefficients) / slope)
    gradient = -(base + estimate * np.eye(len(base))[index]) / slope
    step = float(np.sqrt(gradient @ fit.covariance @ gradient))

    def deviance(x: float) -> float:
        contrast = base.copy()
        contrast[index] = x
        return fit.profile_deviance(contrast, float(logit(p)))

    low, high = profile_interval(deviance, estimate, step, fit.critical(conf_level) ** 2)
    return estimate, low, high
