"""Intraclass correlations of ratings by the same raters on every subject."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike
from scipy.stats import f as f_distribution

from .estimate import Estimate, check_conf_level


@dataclass(frozen=True)
class TwoWayTable:
    """Mean squares of a complete subjects-by-raters table.

    Attributes
    ----------
    n, k : int
        Subjects, raters.
    between, raters, error, within : float
        Mean squares between subjects, between raters, residual, within subjects.
    """

    n: int
    k: int
    between: float
    raters: float
    error: float
    within: float

    @classmethod
    def of(cls, ratings: ArrayLike) -> TwoWayTable:
        """The mean squares of `ratings`, shape (n, k), without gaps."""
        ratings = np.asarray(ratings, float)
        if ratings.ndim != 2 or min(ratings.shape) < 2 or np.isnan(ratings).any():
            raise ValueError("ratings must be a full table of 2 or more subjects and raters.")
        n, k = ratings.shape
        grand = ratings.mean()
        rows = k * np.sum((ratings.mean(axis=1) - grand) ** 2)
        columns = n * np.sum((ratings.mean(axis=0) - grand) ** 2)
        total = np.sum((ratings - grand) ** 2)
        residual = max(total - rows - columns, 0.0) / ((n - 1) * (k - 1))
        within = (total - rows) / (n * (k - 1))
        return cls(n, k, rows / (n - 1), columns / (k - 1), residual, within)


def intraclass_correlations(ratings: ArrayLike) -> pd.DataFrame:
    """The six intraclass correlations of Shrout & Fleiss: columns term, estimate.

    ICC(2,1) is the one for raters drawn from many, each reading alone.

    Parameters
    ----------
    ratings : array_like, shape (n, k)
        One row a subject, one column a rater, no gaps.

    References
    ----------
    Shrout PE, Fleiss JL (1979). Psychological Bulletin 86, 420-428.

    Examples
    --------
    >>> frame = intraclass_correlations([[1, 2], [3, 4], [5, 6.0]])
    >>> frame.estimate.round(3).tolist()
    [0.882, 0.889, 1.0, 0.938, 0.941, 1.0]
    """
    m = TwoWayTable.of(ratings)
    if m.between == 0:
        raise ValueError("all subjects have the same mean rating: no correlation can be measured.")
    absolute = m.k * (m.raters - m.error) / m.n
    values = {
        "ICC(1,1)": (m.between - m.within) / (m.between + (m.k - 1) * m.within),
        "ICC(2,1)": (m.between - m.error) / (m.between + (m.k - 1) * m.error + absolute),
        "ICC(3,1)": (m.between - m.error) / (m.between + (m.k - 1) * m.error),
        "ICC(1,k)": (m.between - m.within) / m.between,
        "ICC(2,k)": (m.between - m.error) / (m.between + absolute / m.k),
        "ICC(3,k)": (m.between - m.error) / m.between,
    }
    return pd.DataFrame({"term": list(values), "estimate": list(values.values())})


def intraclass_correlation(ratings: ArrayLike, *, conf_level: float = 0.95) -> Estimate:
    """ICC(2,1), absolute agreement of single readings, with Satterthwaite-type F limits.

    Parameters
    ----------
    ratings : array_like, shape (n, k)
        One row a subject (a vessel, not a reading of it), one column a rater, no gaps.
    conf_level : float
        Confidence level.

    Returns
    -------
    Estimate
        At most 1; negative when subjects differ less than readings of one subject.

    References
    ----------
    Shrout PE, Fleiss JL (1979). Psychological Bulletin 86, 420-428.
    McGraw KO, Wong SP (1996). Psychological Methods 1, 30-46, table 7.

    Examples
    --------
    >>> print(intraclass_correlation([[1, 2], [3, 5], [5, 6.0]]))
    0.8 (95% CI -0.0654 to 0.994; ICC(2,1))
    """
    check_conf_level(conf_level)
    table = intraclass_correlations(ratings)
    value = float(table.set_index("term").estimate["ICC(2,1)"])
    low, high = _agreement_limits(TwoWayTable.of(ratings), value, conf_level)
    return Estimate(value, low, high, conf_level, method="ICC(2,1)")


def _agreement_limits(m: TwoWayTable, value: float, conf_level: float) -> tuple[float, float]:
    if m.error == 0 and m.raters == 0:
        return 1.0, 1.0
    if value >= 1:
        return value, value
    a = m.k * value / (m.n * (1 - value))
    b = 1 + m.k * value * (m.n - 1) / (m.n * (1 - value))
    weight = (a * m.raters) ** 2 / (m.k - 1) + (b * m.error) ** 2 / ((m.n - 1) * (m.k - 1))
    df = (a * m.raters + b * m.error) ** 2 / weight
    tail = (1 + conf_level) / 2
    lower, upper = f_distribution.ppf(tail, [m.n - 1, df], [df, m.n - 1])
    cross = m.k * m.raters + (m.k * m.n - m.k - m.n) * m.error
    low = m.n * (m.between - lower * m.error) / (lower * cross + m.n * m.between)
    high = m.n * (upper * m.between - m.error) / (cross + m.n * upper * m.between)
    return float(low), float(high)
