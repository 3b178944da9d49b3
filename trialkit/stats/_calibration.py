"""How far the deviance may rise before a value is out: limits fit for few vessels.

With complete normal data and a pooled scale, the deviance of a group's location is
exactly ``N log(1 + T^2 / df)`` with T Student's t on df = N - groups. The chi-square
limit is its value at infinite N; with 2-4 vessels a mix it covers far too little.
"""

from __future__ import annotations

import numpy as np
from scipy import stats


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
