"""How far the deviance may rise before a value is out: limits fit for few vessels.

With complete normal data and a pooled scale, the deviance of a group's location is
exactly ``N log(1 + T^2 / df)`` with T Student's t on df = N - groups. The chi-square
limit is its value at infinite N; with 2-4 vessels a mix it covers far too little.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from scipy import optimize, special, stats


def deviance_limit(conf_level: float, n_event, n_group):
    """Largest deviance of a value inside a two-sided interval; inf without degrees of freedom.

    Parameters
    ----------
    conf_level : float
        Two-sided confidence level.
    n_event, n_group : array_like
        Events that tell of the scale, and groups they lie in; ``n_event = inf`` when the
        scale is known.
    """
    n_event, n_group = np.broadcast_arrays(np.asarray(n_event, float), np.asarray(n_group, float))
    known = np.isinf(n_event)
    df = np.where(known, 1.0, n_event - n_group)
    t = stats.t.isf((1 - conf_level) / 2, np.where(df > 0, df, 1.0))
    limit = np.where(known, 0.0, n_event) * np.log1p(t**2 / np.where(df > 0, df, 1.0))
    z = stats.norm.isf((1 - conf_level) / 2)
    return np.where(known, z**2, np.where(df > 0, np.where(known, 0.0, limit), np.inf))


def calibrated_p_value(deviance, n_event, n_group):
    """Two-sided p of a deviance, the inverse of `deviance_limit`; 1 without degrees of freedom."""
    deviance, n_event, n_group = np.broadcast_arrays(
        np.asarray(deviance, float), np.asarray(n_event, float), np.asarray(n_group, float)
    )
    known = np.isinf(n_event)
    df = np.where(known, 1.0, n_event - n_group)
    usable = df > 0
    per_event = deviance / np.where(known | ~usable, 1.0, n_event)
    t = np.sqrt(np.where(usable, df, 1.0) * np.expm1(np.minimum(per_event, 500.0)))
    pooled = 2 * stats.t.sf(t, np.where(usable, df, 1.0))
    z = 2 * stats.norm.sf(np.sqrt(deviance))
    return np.where(known, z, np.where(usable, pooled, 1.0))


def one_sided_limit(z, n_own, n_event, n_group, conf_level: float):
    """Largest deviance under a one-sided bound of the quantile with standard score z.

    With complete normal data the bound is mean + K s with K from the noncentral t (the
    one-sided tolerance factor); this is the profile deviance at that bound, a function of
    the counts alone. Where z = 0 it is the two-sided limit at ``2 conf_level - 1``.

    Parameters
    ----------
    z : float
        Normal score of the share, for instance 1.2816 for 0.9; minus it for a lower bound.
    n_own : array_like
        Vessels of the group that the bound is for, above 0.
    n_event, n_group : array_like
        As in `deviance_limit`.
    conf_level : float
        One-sided confidence level.

    References
    ----------
    ISO 16269-6:2014, annex on one-sided statistical tolerance limits.
    """
    return _for_distinct(_tolerance_deviance, (z, conf_level), n_own, n_event, n_group)


def drawn_limit(z, n_own, df_pool, weight: float, conf_level: float):
    """The same for a scale of the group's own, drawn toward the pool.

    The group's s^2 is ``(weight pool + f own) / (weight + f)``, f its vessels less one,
    and K is exact for it when all spreads are equal.

    Parameters
    ----------
    z, n_own, conf_level
        As in `one_sided_limit`.
    df_pool : array_like
        Degrees of freedom of the pooled variance, the group's own among them.
    weight : float
        Degrees of freedom that the pool counts for.
    """
    return _for_distinct(_drawn_deviance, (z, conf_level, weight), n_own, df_pool)


def _for_distinct(limit, fixed, *counts):
    """A limit of each row of counts, computed once for rows that are alike."""
    arrays = np.broadcast_arrays(*(np.asarray(count, float) for count in counts))
    rows = np.stack([array.ravel() for array in arrays], axis=1)
    distinct, inverse = np.unique(rows, axis=0, return_inverse=True)
    fixed = tuple(float(value) for value in fixed)
    limits = np.array([limit(*fixed, *row.tolist()) for row in distinct])
    return limits[inverse.ravel()].reshape(arrays[0].shape)


@lru_cache(maxsize=10_000)
def _tolerance_deviance(z, conf_level, n_own, n_event, n_group):
    df = n_event - n_group
    if np.isinf(n_event):
        return max(stats.norm.ppf(conf_level), 0.0) ** 2
    if df <= 0 or n_own <= 0:
        return np.inf
    factor = stats.nct.ppf(conf_level, df, z * np.sqrt(n_own)) / np.sqrt(n_own)
    return _deviance_at(factor, z, n_own, n_event, df)


@lru_cache(maxsize=10_000)
def _drawn_deviance(z, conf_level, weight, n_own, df_pool):
    f = n_own - 1
    if n_own <= 0 or df_pool <= 0:
        return np.inf
    spread = _drawn_spread(weight, f, max(df_pool, f))
    root = np.sqrt(n_own)

    def excess(factor):
        return special.ndtr(root * (factor * spread - z)).mean() - conf_level

    factor = optimize.brentq(excess, -100, 1e4, xtol=1e-8)
    return _deviance_at(factor, z, n_own, weight + n_own, weight + f)


def _drawn_spread(weight, f, df_pool):
    """Quantile points of a drawn s when sigma is 1: a sum of two chi-squares."""
    own = stats.chi2.ppf((np.arange(400) + 0.5) / 400, f) if f > 0 else np.zeros(1)
    rest = df_pool - f
    others = stats.chi2.ppf((np.arange(60) + 0.5) / 60, rest) if rest > 0 else np.zeros(1)
    pooled = weight * (own[:, None] + others) / df_pool
    return np.sqrt((pooled + own[:, None]) / (weight + f)).ravel()


def _deviance_at(factor, z, n_own, n_event, divisor):
    """Profile deviance at mean + factor s of the z-quantile, s^2 = squares / divisor."""
    if factor <= z * np.sqrt(divisor / n_event):
        return 0.0
    # Mean 0 and squares that sum to `divisor` (s = 1): the best 1 / scale with the quantile
    # held at `factor` solves a quadratic.
    a, b = divisor + n_own * factor**2, n_own * factor * z
    tau = (b + np.sqrt(b * b + 4 * a * n_event)) / (2 * a)
    free = n_event * np.log(np.sqrt(n_event / divisor)) - n_event / 2
    held = n_event * np.log(tau) - (divisor * tau**2 + n_own * (factor * tau - z) ** 2) / 2
    return 2 * (free - held)
