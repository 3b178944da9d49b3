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

    `between(a, b)` is log P(a < Z <= b) with its derivatives by a, b, aa, bb and ab, for
    a up from -inf and b up to inf; `slope` and `curve` are the first and second derivative
    of the log density; `cdf` and `ppf` as in scipy.
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
    value = log_high + _log_1m_exp(special.log_ndtr(low) - log_high)
    inner_a, inner_b = np.where(np.isfinite(a), a, 0.0), np.where(np.isfinite(b), b, 0.0)
    by_a = np.where(np.isfinite(a), np.exp(_normal_log_density(inner_a) - value), 0.0)
    by_b = np.where(np.isfinite(b), np.exp(_normal_log_density(inner_b) - value), 0.0)
    return value, -by_a, by_b, by_a * (inner_a - by_a), -by_b * (inner_b + by_b), by_a * by_b


def _normal_log_density(z):
    return -0.5 * z * z - _LOG_ROOT_2PI


def _logistic_between(a, b):
    # P = F(b) (1 - F(a)) (1 - exp(a - b)): every derivative is a sum of one sign.
    rest = np.expm1(np.minimum(b - a, _TOP))
    odds = 1 / rest
    bend = odds * (1 + odds)
    below, above = special.expit(a), special.expit(-b)
    value = special.log_expit(b) + special.log_expit(-a) + _log_1m_exp(a - b)
    aa, bb = -below * special.expit(-a) - bend, -above * special.expit(b) - bend
    return value, -below - odds, above + odds, aa, bb, bend


def _extreme_between(a, b):
    # P = S(a) (1 - exp(-gap)), gap = exp(b) - exp(a); in logs, so that neither two close
    # ends nor two ends far out in the lower tail cancel.
    low, high = _exp(a), _exp(b)
    log_gap = b + _log_1m_exp(a - b)
    gap = np.exp(np.minimum(log_gap, _TOP))
    share = np.where(gap < _TOP, gap / np.expm1(np.clip(gap, 1e-300, _TOP)), 0.0)
    by_a = share / np.expm1(np.minimum(b - a, _TOP))
    by_b = -share / np.expm1(np.maximum(a - b, -_TOP))
    value = np.where(gap < 1e-10, log_gap, _log_1m_exp(-gap)) - low
    aa = -(low + by_a) * (1 + by_a)
    return value, -low - by_a, by_b, aa, by_b * (1 - high - by_b), by_b * (low + by_a)


def _exp(z):
    return np.exp(np.minimum(z, _TOP))


LOGNORMAL = Family(
    name="lognormal",
    between=_normal_between,
    log_density=_normal_log_density,
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
