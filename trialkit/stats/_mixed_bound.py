"""The one limit of a group that the data cannot place: how near its location can lie."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from scipy import interpolate, stats

from ._mixed_fit import loglik_at
from ._mixed_layout import Layout
from ._mixed_quadrature import Spread

# Where the likelihood is worked out, in standard deviations beyond the usual end of the intervals.
_STEPS = np.concatenate([np.linspace(-20, -6, 8), np.linspace(-5.5, 6, 24)])


def one_sided_bound(
    own: Layout, others: float, location: np.ndarray, spread: Spread, points, df: float
) -> Callable[[float], float]:
    """A function from a two-sided level to the limit of the last group's location, log time.

    At the limit, what was seen (nothing cleared, or everything at its first look) has the
    probability of one tail, as in an exact binomial limit; with few degrees of freedom the squared
    Student quantile asks for more. Spreads and other locations stay at their estimates.

    Parameters
    ----------
    own : Layout
        Clusters with the group in them; the group has the last code.
    others : float
        Log-likelihood of the same clusters without it: the supremum.
    location : numpy.ndarray
        Locations of the other groups, then inf or -inf.
    spread : Spread
        Standard deviations, as estimated.
    points : tuple of int
        Quadrature points.
    df : float
        Degrees of freedom of the spread.
    """
    sign = np.sign(location[-1])
    ends = np.where(own.low > -1e3, own.low, own.high)
    anchor = float(np.median(ends[own.cell_group[own.cell] == len(location) - 1]))
    size = float(np.sqrt(spread.sigma**2 + spread.omega**2 + spread.tau**2))
    log_deviance: list[float] = []

    def work_out() -> None:
        for step in _STEPS:
            placed = np.append(location[:-1], anchor + sign * step * size)
            deviance = 2 * (others - loglik_at(own, placed, spread, points))
            log_deviance.append(float(np.log(max(deviance, 1e-12))))

    def bound(conf_level: float) -> float:
        if not log_deviance:  # only when asked for: most fits are never asked
            work_out()
        tail = (1 - conf_level) / 2
        limit = max(stats.t.ppf(1 - tail, df) ** 2, -2 * np.log(tail))
        falling = np.minimum.accumulate(log_deviance) - 1e-9 * np.arange(len(_STEPS))
        if np.log(limit) > falling[0]:
            return float(-sign * np.inf)
        curve = interpolate.PchipInterpolator(falling[::-1], _STEPS[::-1])
        return float(anchor + sign * size * curve(max(np.log(limit), falling[-1])))

    return bound
