"""Variance between and within units, from a one-way random layout."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.stats import t

from .estimate import Estimate
from .shown import Shown

REPEATABILITY_FACTOR = 1.959964 * np.sqrt(2)  # ISO 5725-6: the limit is 2.8 s_r


@dataclass(frozen=True)
class VarianceComponents(Shown):
    """Between-unit and within-unit variance by the analysis of variance.

    Attributes
    ----------
    between, within : float
        Variance components; `between` is not negative.
    ms_between : float
        Mean square between units.
    mean : float
        Mean of the unit means.
    n_unit, n : int
        Units, readings.
    unit_means : ndarray
        Mean of each unit.
    """

    between: float
    within: float
    ms_between: float
    mean: float
    n_unit: int
    n: int
    unit_means: np.ndarray

    @property
    def correlation(self) -> float:
        """The share of variance that lies between units; 0 when nothing varies."""
        total = self.between + self.within
        return self.between / total if total > 0 else 0.0

    @property
    def repeatability_sd(self) -> float:
        """s_r: standard deviation of readings of one unit."""
        return float(np.sqrt(self.within))

    @property
    def reproducibility_sd(self) -> float:
        """s_R: standard deviation of single readings of different units."""
        return float(np.sqrt(self.between + self.within))

    @property
    def repeatability_limit(self) -> float:
        """Two readings of one unit differ by less than this 95 times in 100."""
        return float(REPEATABILITY_FACTOR * self.repeatability_sd)


def variance_components(values: ArrayLike, unit: ArrayLike) -> VarianceComponents:
    """Variance between units and of readings within a unit.

    Parameters
    ----------
    values : array_like, shape (n,)
        Readings.
    unit : array_like, shape (n,)
        Unit (vessel, laboratory, batch) of each.

    Returns
    -------
    VarianceComponents
        A single unit has no variance between units (0), single readings none within (0).

    References
    ----------
    Davies OL, Goldsmith PL (1972). Statistical Methods in Research and Production, 4th ed.
    ISO 5725-2:2019; ASTM E691.

    Examples
    --------
    >>> found = variance_components([1, 2, 5, 6], ["a", "a", "b", "b"])
    >>> found.within, found.between
    (0.5, 7.75)
    """
    values, unit = np.asarray(values, float), np.asarray(unit)
    if values.size == 0 or values.shape != unit.shape or np.isnan(values).any():
        raise ValueError("values and unit must be equally long, with a number everywhere.")
    names, code = np.unique(unit, return_inverse=True)
    sizes = np.bincount(code)
    means = np.bincount(code, weights=values) / sizes
    k, n = len(names), values.size
    within = np.sum((values - means[code]) ** 2) / (n - k) if n > k else 0.0
    if k < 2:
        return VarianceComponents(0.0, float(within), 0.0, float(means[0]), k, n, means)
    ms_between = np.sum(sizes * (means - values.mean()) ** 2) / (k - 1)
    typical = (n - np.sum(sizes**2) / n) / (k - 1)
    between = max((ms_between - within) / typical, 0.0)
    return VarianceComponents(
        float(between), float(within), float(ms_between), float(means.mean()), k, n, means
    )


def unit_mean(
    values: ArrayLike, unit: ArrayLike, *, conf_level: float = 0.95, unit_name: str = ""
) -> Estimate:
    """The mean over units with t limits from the unit means only.

    Reading one unit more often neither weighs it more nor narrows the limits.

    Parameters
    ----------
    values, unit : array_like, shape (n,)
        Readings, and the unit of each.
    conf_level : float
        Confidence level.
    unit_name : str
        Unit of measurement, for the result.

    Returns
    -------
    Estimate
        With one unit both limits are infinite.

    References
    ----------
    Hurlbert SH (1984). Ecological Monographs 54, 187-211 (pseudo-replication).

    Examples
    --------
    >>> print(unit_mean([1, 2, 5, 6, 3], ["a", "a", "b", "b", "c"], unit_name="h"))
    3.33 h (95% CI -1.69 to 8.35; t on unit means)
    """
    means = variance_components(values, unit).unit_means
    return mean_of_units(means, conf_level=conf_level, unit_name=unit_name)


def mean_of_units(
    means, *, conf_level: float = 0.95, unit_name: str = "", floor: float = 0.0
) -> Estimate:
    """The t interval of values that are one a unit already; both limits infinite for one.

    Parameters
    ----------
    means : array_like, shape (n,)
        One value a unit of replication.
    conf_level : float
        Confidence level.
    unit_name : str
        Unit of measurement, for the result.
    floor : float
        Smallest standard deviation that is believed: rounded readings can agree by chance.

    Returns
    -------
    Estimate

    Examples
    --------
    >>> mean_of_units([4.0]).conf_high
    inf
    """
    means = np.asarray(means, float)
    middle, n = float(means.mean()), means.size
    if n < 2:
        return Estimate(middle, -np.inf, np.inf, conf_level, unit_name, "one unit")
    sd = max(float(means.std(ddof=1)), floor)
    reach = float(t.ppf((1 + conf_level) / 2, n - 1) * sd / np.sqrt(n))
    return Estimate(
        middle, middle - reach, middle + reach, conf_level, unit_name, "t on unit means"
    )
