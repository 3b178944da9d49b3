"""Log-likelihood of many sets of intervals at once, with gradient and Hessian.

Every array has a leading replicate axis. A parameter vector is (gamma, tau) with
``z = tau x log t - design @ gamma``: tau is 1 / scale, gamma location / scale. In these
coordinates the log-likelihood is concave (see `_families`).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ._families import Family

NARROW = 1e-6  # log-time width under which an interval is its density times its width


@dataclass(frozen=True, eq=False)
class Intervals:
    """Sets of intervals on the log scale, shape (replicate, vessel), with their design.

    `low` and `high` are log ends less `centre`, 0 where the end is open; `exact` marks
    points; `offset` is the part of the log-likelihood that no parameter touches.
    """

    family: Family
    low: np.ndarray
    high: np.ndarray
    has_low: np.ndarray
    has_high: np.ndarray
    exact: np.ndarray
    weight: np.ndarray
    offset: np.ndarray
    design: np.ndarray
    pairs: np.ndarray
    centre: float

    def take(self, rows) -> Intervals:
        names = ("low", "high", "has_low", "has_high", "exact", "weight", "offset")
        return replace(self, **{name: getattr(self, name)[rows] for name in names})


def log_intervals(left: np.ndarray, right: np.ndarray, design, family: Family) -> Intervals:
    """Intervals of shape (replicate, vessel) made ready for `evaluate`.

    Parameters
    ----------
    left, right : numpy.ndarray, shape (r, n)
        Ends of (left, right], in hours.
    design : numpy.ndarray, shape (n, p)
        One row a vessel, the same in each replicate.
    family : Family
        Shape of the log times.
    """
    has_low, has_high = left > 0, np.isfinite(right)
    with np.errstate(divide="ignore"):
        low, high = np.log(left), np.log(right)
    finite = np.concatenate([low[has_low], high[has_high]])
    centre = float(np.median(finite)) if finite.size else 0.0
    low = np.where(has_low, low - centre, 0.0)
    high = np.where(has_high, high - centre, 0.0)
    both = has_low & has_high
    exact = both & (high - low < NARROW)
    width = np.where(exact & (high > low), high - low, 1.0)
    points = exact & (high == low)
    # The density is per unit of time for a point, and times the width for a narrow interval.
    offset = np.where(points, -(low + centre), np.log(width))
    low = np.where(exact, (low + high) / 2, low)
    pairs = (design[:, :, None] * design[:, None, :]).reshape(len(design), -1)
    weight = (has_low | has_high).astype(float)
    return Intervals(
        family, low, np.where(exact, low, high), has_low, has_high, exact, weight, offset,
        design, pairs, centre,
    )  # fmt: skip


def evaluate(data: Intervals, theta: np.ndarray):
    """Log-likelihood (r,), gradient (r, p + 1) and Hessian (r, p + 1, p + 1) at theta."""
    tau = theta[:, -1:]
    eta = theta[:, :-1] @ data.design.T
    value, slope_a, slope_b, aa, bb, ab = _ends(data, tau, eta)
    low, high, weight = data.low, data.high, data.weight
    by_eta = -(slope_a + slope_b) * weight
    by_tau = ((slope_a * low + slope_b * high) * weight).sum(1)
    eta_eta = (aa + bb + 2 * ab) * weight
    eta_tau = -(aa * low + bb * high + ab * (low + high)) * weight
    tau_tau = ((aa * low**2 + bb * high**2 + 2 * ab * low * high) * weight).sum(1)
    points = (data.exact * weight).sum(1)
    by_tau, tau_tau = by_tau + points / tau[:, 0], tau_tau - points / tau[:, 0] ** 2
    size = theta.shape[1]
    hessian = np.empty((len(theta), size, size))
    hessian[:, :-1, :-1] = (eta_eta @ data.pairs).reshape(-1, size - 1, size - 1)
    hessian[:, :-1, -1] = hessian[:, -1, :-1] = eta_tau @ data.design
    hessian[:, -1, -1] = tau_tau
    gradient = np.concatenate([by_eta @ data.design, by_tau[:, None]], axis=1)
    return (value * weight).sum(1), gradient, hessian


def _ends(data: Intervals, tau, eta):
    """Log probability with its first and second derivatives by the two standardised ends."""
    family = data.family
    a = np.where(data.has_low, tau * data.low - eta, -np.inf)
    b = np.where(data.has_high, tau * data.high - eta, np.inf)
    if not data.exact.any():
        return _between(family, a, b, data)
    between = _between(family, np.where(data.exact, -1.0, a), np.where(data.exact, 1.0, b), data)
    z = np.where(data.exact, a, 0.0)
    nothing = np.zeros_like(z)
    at_point = (
        family.log_density(z) + np.log(tau) + data.offset,
        nothing, family.slope(z), nothing, family.curve(z), nothing,
    )  # fmt: skip
    return tuple(np.where(data.exact, p, i) for p, i in zip(at_point, between, strict=True))


def _between(family: Family, a, b, data: Intervals):
    nothing_known = ~(data.has_low | data.has_high)
    if nothing_known.any():
        a = np.where(nothing_known, -1.0, a)
        b = np.where(nothing_known, 1.0, b)
    return family.between(a, b)
