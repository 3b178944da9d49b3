"""Limits of agreement between two ways of reading the same thing."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike
from scipy.stats import nct, t

from .estimate import check_conf_level
from .shown import Shown


@dataclass(frozen=True)
class LimitsOfAgreement(Shown):
    """Mean difference and the limits that hold most single differences.

    Attributes
    ----------
    bias, sd : float
        Mean and standard deviation of the differences.
    low, high : float
        Limits of agreement.
    bias_limits, low_limits, high_limits : tuple of float
        Confidence limits of the three.
    share, conf_level : float
        Share of differences within the limits; confidence level.
    n : int
        Independent pairs.
    """

    bias: float
    sd: float
    low: float
    high: float
    bias_limits: tuple[float, float]
    low_limits: tuple[float, float]
    high_limits: tuple[float, float]
    share: float
    conf_level: float
    n: int

    def tidy(self) -> pd.DataFrame:
        """Three rows: term, estimate, conf_low, conf_high, conf_level, n, method."""
        rows = [
            ("mean difference", self.bias, *self.bias_limits),
            ("lower limit of agreement", self.low, *self.low_limits),
            ("upper limit of agreement", self.high, *self.high_limits),
        ]
        frame = pd.DataFrame(rows, columns=["term", "estimate", "conf_low", "conf_high"])
        return frame.assign(conf_level=self.conf_level, n=self.n, method="Bland-Altman")


def limits_of_agreement(
    differences: ArrayLike, *, share: float = 0.95, conf_level: float = 0.95
) -> LimitsOfAgreement:
    """Bland and Altman's limits of agreement, with exact limits for each.

    Parameters
    ----------
    differences : array_like, shape (n,)
        First minus second reading, one an independent pair (a vessel).
    share : float
        Share of differences that the limits are to hold, if they are normal.
    conf_level : float
        Confidence level.

    Returns
    -------
    LimitsOfAgreement
        With one pair the standard deviation is unknown and every limit infinite.

    References
    ----------
    Bland JM, Altman DG (1986). Lancet 327, 307-310.
    Carkeet A (2015). Optometry and Vision Science 92, e71-e80 (exact limits).

    Examples
    --------
    >>> found = limits_of_agreement([1.0, 2.0, 3.0])
    >>> round(found.bias, 2), round(found.low, 2), round(found.high, 2)
    (2.0, 0.04, 3.96)
    """
    check_conf_level(conf_level)
    differences = np.asarray(differences, float)
    n = differences.size
    if n == 0 or np.isnan(differences).any():
        raise ValueError(f"differences must be numbers, one or more; got {differences}.")
    bias, z = float(differences.mean()), t.ppf((1 + share) / 2, np.inf)
    if n == 1:
        open_ = (-np.inf, np.inf)
        return LimitsOfAgreement(
            bias, np.inf, -np.inf, np.inf, open_, open_, open_, share, conf_level, n
        )
    sd = float(differences.std(ddof=1))
    tails = np.array([(1 - conf_level) / 2, (1 + conf_level) / 2])
    reach = t.ppf(tails, n - 1) * sd / np.sqrt(n)
    # The quantile bias + z sd of a normal sample: noncentral t, as for tolerance limits.
    factor = nct.ppf(tails, n - 1, z * np.sqrt(n)) / np.sqrt(n) * sd
    return LimitsOfAgreement(
        bias, sd, float(bias - z * sd), float(bias + z * sd),
        _pair(bias + reach), _pair(bias - factor[::-1]), _pair(bias + factor),
        share, conf_level, n,
    )  # fmt: skip


def _pair(values) -> tuple[float, float]:
    return float(values[0]), float(values[1])
