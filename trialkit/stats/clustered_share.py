"""A share of looks, when looks at one unit hang together."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike
from scipy.stats import beta, t

from .estimate import Estimate, check_conf_level

__all__ = ["clustered_share"]


def clustered_share(hits: ArrayLike, unit: ArrayLike, *, conf_level: float = 0.95) -> Estimate:
    """The share of hits with exact-type limits for an effective number of looks.

    The spread between units tells how many independent looks the data are worth; Clopper and
    Pearson's limits are taken for that number, made smaller for the few units that tell it.
    Where all units show the same share that spread is no guide: a unit then counts as one look.

    Parameters
    ----------
    hits : array_like, shape (n,)
        0 to 1 for each look.
    unit : array_like, shape (n,)
        Unit of replication of each look; each unit weighs by its looks.
    conf_level : float
        Confidence level.

    Returns
    -------
    Estimate
        Limits 0 and 1 when there is only one unit.

    References
    ----------
    Korn EL, Graubard BI (1998). Survey Methodology 24, 193-201.

    Examples
    --------
    >>> print(clustered_share([1, 1, 1, 0, 1, 1, 1, 1], ["a", "a", "b", "b", "c", "c", "d", "d"]))
    0.875 (95% CI 0.274 to 1; Korn-Graubard)
    """
    check_conf_level(conf_level)
    hits = np.asarray(hits, float)
    names, code = np.unique(np.asarray(unit), return_inverse=True)
    if hits.size == 0 or hits.shape != code.shape or np.isnan(hits).any():
        raise ValueError("hits and unit must be equally long, with a number everywhere.")
    share, units = float(hits.mean()), len(names)
    method = "Korn-Graubard"
    if units < 2:
        return Estimate(share, 0.0, 1.0, conf_level, method=f"{method}, one unit")
    size = _effective(hits, code, share, conf_level)
    tail = (1 - conf_level) / 2
    hit, miss = share * size, (1 - share) * size
    low = float(beta.ppf(tail, hit, miss + 1)) if hit > 0 else 0.0
    high = float(beta.ppf(1 - tail, hit + 1, miss)) if miss > 0 else 1.0
    return Estimate(share, min(low, share), max(high, share), conf_level, method=method)


def _effective(hits, code, share: float, conf_level: float) -> float:
    """How many independent looks the data are worth."""
    units, n = int(code.max()) + 1, hits.size
    totals = np.bincount(code, weights=hits - share)
    variance = units / (units - 1) * np.sum(totals**2) / n**2
    if variance <= 0:
        return float(units)
    size = share * (1 - share) / variance
    tail = (1 + conf_level) / 2
    penalty = (t.ppf(tail, n - 1) / t.ppf(tail, units - 1)) ** 2
    return float(max(min(size * penalty, n), 1.0))
