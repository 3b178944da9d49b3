"""Three shapes for log times: standard normal, logistic and smallest-extreme-value.

Each gives the log probability between two standardised ends and what its derivatives
need. All three densities are log-concave, so the log-likelihood is concave in
(location / scale, 1 / scale) for every kind of interval (Burridge 1981).

References
----------
Burridge, J. (1981). Journal of the Royal Statistical Society B 43, 41-45.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy import special

_LOG_ROOT_2PI = 0.5 * np.log(2 * np.pi)
_TOP = 700.0  # exp above this overflows


@dataclass(frozen=True)
class Family:
    """A standardised distribution of log time.

    `between(a, b)` is log P(a < Z <= b); `slope` and `curve` are the first and second
    derivative of the log density; `cdf` and `ppf` as in scipy.
    """

    name: str
    between: Callable
    log_density: Callable
    slope: Callable
    curve: Callable
    cdf: Callable
    ppf: Callable


def _log_1m_exp(x):
    """log(1 - exp(x)) for x <= 0, without cancelling near 0."""
    return np.log(-np.expm1(np.minimum(x, -1e-300)))


def _normal_between(a, b):
    # In the upper tail both distribution values round to 1: mirror into the lower one.
    mirror = a + b > 0
    low, high = np.where(mirror, -b, a), np.where(mirror, -a, b)
    log_high = special.log_ndtr(high)
    return log_high + _log_1m_exp(special.log_ndtr(low) - log_high)


def _logistic_between(a, b):
    return special.log_expit(b) + special.log_expit(-a) + _log_1m_exp(a - b)


def _extreme_between(a, b):
    low, high = np.exp(np.minimum(a, _TOP)), np.exp(np.minimum(b, _TOP))
    # exp(b) - exp(a) as a product where both are close; b = inf leaves survival alone.
    gap = np.where(np.isfinite(a), low * np.expm1(np.minimum(b - a, _TOP)), high)
    return _log_1m_exp(-np.where(np.isfinite(b), gap, np.inf)) - low


def _exp(z):
    return np.exp(np.minimum(z, _TOP))


LOGNORMAL = Family(
    name="lognormal",
    between=_normal_between,
    log_density=lambda z: -0.5 * z * z - _LOG_ROOT_2PI,
    slope=lambda z: -z,
    curve=lambda z: np.full_like(z, -1.0),
    cdf=special.ndtr,
    ppf=special.ndtri,
)
LOGLOGISTIC = Family(
    name="loglogistic",
    between=_logistic_between,
    log_density=lambda z: special.log_expit(z) + special.log_expit(-z),
    slope=lambda z: -np.tanh(z / 2),
    curve=lambda z: -2 * special.expit(z) * special.expit(-z),
    cdf=special.expit,
    ppf=special.logit,
)
WEIBULL = Family(
    name="weibull",
    between=_extreme_between,
    log_density=lambda z: z - _exp(z),
    slope=lambda z: 1 - _exp(z),
    curve=lambda z: -_exp(z),
    cdf=lambda z: -np.expm1(-_exp(z)),
    ppf=lambda p: np.log(-np.log1p(-np.asarray(p, dtype=float))),
)
FAMILIES = {family.name: family for family in (LOGLOGISTIC, LOGNORMAL, WEIBULL)}


def family_named(name: str) -> Family:
    """The family of that name; another name is refused."""
    if name not in FAMILIES:
        raise ValueError(f"family must be one of {', '.join(FAMILIES)}; got {name!r}.")
    return FAMILIES[name]
