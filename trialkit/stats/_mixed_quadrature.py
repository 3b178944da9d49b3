"""Likelihood of intervals whose cluster and cell shift log time, by nested quadrature.

Log time = location of its group + tau x + omega z + sigma e: x is shared by a cluster, z by a cell
(one group in one cluster), e belongs to one interval, all standard normal. The integral over z
stands within the one over x; both use Gauss-Hermite points moved and stretched to where the
integrand is (Naylor & Smith 1982; Pinheiro & Bates 1995).

References
----------
Naylor, J. C. & Smith, A. F. M. (1982). Applied Statistics 31, 214-225.
Pinheiro, J. C. & Bates, D. M. (1995). Journal of Computational and Graphical Statistics 4, 12-35.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import special

from ._mixed_layout import Layout

_LOG_ROOT_2PI = 0.5 * np.log(2 * np.pi)
_NEWTON_STEPS = 12
EQUAL_STEPS = 41  # from so many points on, equal steps over 6.5 standard deviations either way
_REACH = 6.5


@dataclass(frozen=True)
class Spread:
    """Standard deviations on the log scale: within a cell, between cells, between clusters."""

    sigma: float
    omega: float
    tau: float


@dataclass(frozen=True, eq=False)
class Nodes:
    """Points with log weights: x of shape (cluster, q), z of shape (cell, q, r)."""

    x: np.ndarray
    log_x: np.ndarray
    z: np.ndarray
    log_z: np.ndarray


def interval_terms(low, high, exact, sigma: float):
    """Log probability of intervals around location 0, with what its derivatives need.

    Returns log P, g and h: the slope of log P by the location is g / sigma, by log sigma h, and
    the information on the location, from 0 (nothing known) to 1 (a point), is g^2 - h.
    """
    a, b = low / sigma, high / sigma
    # In the upper tail both distribution values round to 1: mirror into the lower one.
    mirror = a + b > 0
    near = special.log_ndtr(np.where(mirror, -a, b))
    gap = special.log_ndtr(np.where(mirror, -b, a)) - near
    log_p = near + np.log1p(-np.exp(np.minimum(gap, -1e-16)))
    ratio_a = np.exp(-0.5 * a * a - _LOG_ROOT_2PI - log_p)
    ratio_b = np.exp(-0.5 * b * b - _LOG_ROOT_2PI - log_p)
    g, h = ratio_a - ratio_b, a * ratio_a - b * ratio_b
    if exact.any():
        point = a[exact]
        log_p[exact] = -0.5 * point * point - _LOG_ROOT_2PI - np.log(sigma)
        g[exact], h[exact] = point, point * point - 1
    return log_p, g, h


def evaluate(layout: Layout, location: np.ndarray, spread: Spread, nodes: Nodes):
    """Log-likelihood with its gradient by location, log sigma, omega, tau, and information.

    Returns
    -------
    loglik : float
    gradient : numpy.ndarray, shape (g + 3,)
    known : numpy.ndarray, shape (n,)
        Expected information of each interval on its location, 0 to 1.
    moments : tuple of numpy.ndarray
        Mean and standard deviation of x given the data, the same of z with its slope on x.
    """
    at = _weighted(layout, location, spread, nodes)
    weight = layout.weight[:, None, None]
    slope = at.slope / spread.sigma
    gradient = np.empty(len(location) + 3)
    gradient[:-3] = np.bincount(layout.cell_group, slope.sum(axis=(1, 2)), minlength=len(location))
    gradient[-3] = (np.add.reduceat(at.h * weight, layout.cell_start, axis=0) * at.share).sum()
    gradient[-2] = (slope * nodes.z).sum()
    gradient[-1] = (slope.sum(axis=2) * nodes.x[layout.cell_cluster]).sum()
    known = ((at.g * at.g - at.h) * at.share[layout.cell]).sum(axis=(1, 2))
    moments = _moments(layout, nodes, at.share_x, at.share_z)
    return at.loglik, gradient, np.clip(known, 0.0, 1.0), moments


def slopes_of_cells(layout: Layout, location: np.ndarray, spread: Spread, nodes: Nodes):
    """Slope of the log-likelihood by the location of each cell's group, shape (c,)."""
    return _weighted(layout, location, spread, nodes).slope.sum(axis=(1, 2)) / spread.sigma


@dataclass(frozen=True, eq=False)
class _Weighted:
    """Terms at the nodes with the share of the probability that each node holds."""

    g: np.ndarray
    h: np.ndarray
    slope: np.ndarray  # g of each cell, weighted
    share: np.ndarray
    share_x: np.ndarray
    share_z: np.ndarray
    loglik: float


def _weighted(layout: Layout, location: np.ndarray, spread: Spread, nodes: Nodes) -> _Weighted:
    log_p, g, h = _at_nodes(layout, location, spread, nodes)
    weight = layout.weight[:, None, None]
    by_cell = np.add.reduceat(log_p * weight, layout.cell_start, axis=0) + nodes.log_z
    inner = special.logsumexp(by_cell, axis=2)
    share_z = np.exp(by_cell - inner[:, :, None])
    by_cluster = np.add.reduceat(inner, layout.cluster_start, axis=0) + nodes.log_x
    outer = special.logsumexp(by_cluster, axis=1)
    share_x = np.exp(by_cluster - outer[:, None])
    share = share_z * share_x[layout.cell_cluster][:, :, None]
    slope = np.add.reduceat(g * weight, layout.cell_start, axis=0) * share
    return _Weighted(g, h, slope, share, share_x, share_z, float(outer.sum()))


def _at_nodes(layout: Layout, location, spread: Spread, nodes: Nodes):
    x, z = nodes.x, nodes.z
    shift = location[layout.cell_group][:, None, None] + spread.omega * z
    shift = (shift + spread.tau * x[layout.cell_cluster][:, :, None])[layout.cell]
    low, high = layout.low[:, None, None] - shift, layout.high[:, None, None] - shift
    return interval_terms(low, high, layout.exact, spread.sigma)


def _moments(layout: Layout, nodes: Nodes, share_x, share_z):
    x_mean = (share_x * nodes.x).sum(axis=1)
    off_x = nodes.x - x_mean[:, None]
    x_var = (share_x * off_x**2).sum(axis=1)
    z_at = (share_z * nodes.z).sum(axis=2)
    here, off = share_x[layout.cell_cluster], off_x[layout.cell_cluster]
    z_mean = (here * z_at).sum(axis=1)
    slope = (here * off * z_at).sum(axis=1) / np.maximum(x_var[layout.cell_cluster], 1e-300)
    z_var = (here[:, :, None] * share_z * (nodes.z - z_at[:, :, None]) ** 2).sum(axis=(1, 2))
    return x_mean, np.sqrt(x_var), z_mean, np.sqrt(z_var), slope


def adapt(layout: Layout, location: np.ndarray, spread: Spread, points: tuple[int, int]) -> Nodes:
    """Quadrature points placed where the data put x and z, at these parameters.

    First around the mode, then around mean and standard deviation found there: a mode says too
    little where an interval is wide and flat.
    """
    first = place_nodes(layout, _modes(layout, location, spread, points), points)
    moments = evaluate(layout, location, spread, first)[3]
    return place_nodes(layout, moments, points)


def place_nodes(layout: Layout, where: tuple, points: tuple[int, int]) -> Nodes:
    """Gauss-Hermite points of a normal x, and of a normal z whose mean follows x.

    `where` holds mean and standard deviation of x, the same of z, and the slope of z on x.
    """
    x_mean, x_sd, z_mean, z_sd, slope = where
    t, log_t = _rule(points[0])
    r, log_r = _rule(points[1])
    x_mean, x_sd = _unless_single(points[0], x_mean, x_sd)
    z_mean, z_sd = _unless_single(points[1], z_mean, z_sd)
    x = x_mean[:, None] + x_sd[:, None] * t
    log_x = log_t + np.log(x_sd)[:, None] + 0.5 * (t * t - x * x)
    follow = (x - x_mean[:, None])[layout.cell_cluster] * slope[:, None]
    z = (z_mean[:, None] + follow)[:, :, None] + z_sd[:, None, None] * r
    log_z = log_r + np.log(z_sd)[:, None, None] + 0.5 * (r * r - z * z)
    return Nodes(x, log_x, z, log_z)


def _unless_single(points: int, mean, sd):
    """Mean and spread for the points of one level; a single point stands for no effect at all."""
    if points == 1:
        return np.zeros_like(mean), np.ones_like(sd)
    return mean, np.maximum(sd, 1e-6)


def _rule(points: int):
    """Points and log weights for a standard normal; a single point is its mean.

    Many points stand at equal steps: where wide readings cut an effect off sharply, that converges
    faster than Gauss-Hermite, and elsewhere as fast (Trefethen & Weideman 2014, SIAM Review 56).
    """
    if points >= EQUAL_STEPS:
        t = np.linspace(-_REACH, _REACH, points)
        return t, -0.5 * t * t - _LOG_ROOT_2PI + np.log(t[1] - t[0])
    t, weight = special.roots_hermitenorm(points)
    return t, np.log(weight) - _LOG_ROOT_2PI


def _modes(layout: Layout, location, spread: Spread, points):
    """Mode of x and z in each cluster with the spread of the normal that fits there."""
    x, z = np.zeros(layout.n_cluster), np.zeros(len(layout.cell_start))
    omega = spread.omega if points[1] > 1 else 0.0
    tau = spread.tau if points[0] > 1 else 0.0
    for _ in range(_NEWTON_STEPS):
        push, hold = _cell_forces(layout, location, spread.sigma, omega * z, tau * x)
        stiff = 1 + omega**2 * hold
        own = (omega * push - z) / stiff
        pull = tau * (push - omega * hold * own)
        x_stiff = 1 + _by_cluster(layout, tau**2 * hold / stiff)
        x_step = (_by_cluster(layout, pull) - x) / x_stiff
        z_step = own - tau * omega * hold / stiff * x_step[layout.cell_cluster]
        # Log-concave, so Newton's direction is right; a long first step may overshoot.
        x, z = x + np.clip(x_step, -2, 2), z + np.clip(z_step, -2, 2)
        if max(np.abs(x_step).max(), np.abs(z_step).max()) < 1e-6:
            break
    slope = -tau * omega * hold / stiff
    return x, 1 / np.sqrt(x_stiff), z, 1 / np.sqrt(stiff), slope


def _cell_forces(layout: Layout, location, sigma: float, z_shift, x_shift):
    """Slope and curvature of each cell's log probability by its location."""
    at = (location[layout.cell_group] + z_shift + x_shift[layout.cell_cluster])[layout.cell]
    _, g, h = interval_terms(layout.low - at, layout.high - at, layout.exact, sigma)
    push = np.add.reduceat(layout.weight * g, layout.cell_start) / sigma
    hold = np.add.reduceat(layout.weight * (g * g - h), layout.cell_start) / sigma**2
    return push, np.maximum(hold, 0.0)


def _by_cluster(layout: Layout, of_cell: np.ndarray) -> np.ndarray:
    return np.add.reduceat(of_cell, layout.cluster_start)
