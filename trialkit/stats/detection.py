"""Detection limits from blanks."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.stats import norm, t

from .components import variance_components
from .shown import Shown

__all__ = ["DetectionLimits", "detection_limits"]

#: Currie's customary 5% for calling a blank something, and for missing what is there.
ERROR = 0.05


@dataclass(frozen=True)
class DetectionLimits(Shown):
    """What a method can tell from nothing, in the unit of the blanks, above their mean.

    Attributes
    ----------
    blank, sd : float
        Mean and standard deviation of the blanks.
    critical : float
        Net signal above which something is said to be there (5% false alarms).
    detection : float
        True amount that is missed 5% of the time only.
    quantitation : float
        Ten standard deviations: amount known to about 10%.
    method_limit : float
        The same idea with t for few blanks (99%).
    n : int
        Independent blanks (vessels).
    """

    blank: float
    sd: float
    critical: float
    detection: float
    quantitation: float
    method_limit: float
    n: int


def detection_limits(blanks: ArrayLike, unit: ArrayLike | None = None) -> DetectionLimits:
    """Critical level, detection and quantitation limits for paired observations.

    Parameters
    ----------
    blanks : array_like, shape (n,)
        Results of blanks.
    unit : array_like, shape (n,), optional
        Vessel of each blank: several results of one vessel count as one vessel, and the
        standard deviation is that of single results of different vessels.

    Returns
    -------
    DetectionLimits
        Normal factors as published take the standard deviation for known; with few blanks
        `method_limit` is the more careful one.

    Raises
    ------
    ValueError
        With fewer than two independent blanks: their spread is unknown.

    References
    ----------
    Currie LA (1968). Analytical Chemistry 40, 586-593.
    United States, 40 CFR part 136, appendix B (method detection limit).

    Examples
    --------
    >>> found = detection_limits([2.0, 4.0, 6.0])
    >>> round(found.critical, 3), round(found.detection, 3), found.quantitation
    (4.652, 9.305, 20.0)
    """
    blanks = np.asarray(blanks, float)
    unit = np.arange(blanks.size) if unit is None else np.asarray(unit)
    n = np.unique(unit).size
    if n < 2 or np.isnan(blanks).any():
        raise ValueError(f"two blanks or more are needed; got {n}.")
    spread = variance_components(blanks, unit)
    sd = spread.reproducibility_sd
    critical = float(norm.ppf(1 - ERROR)) * np.sqrt(2) * sd
    factor = float(t.ppf(0.99, n - 1))
    return DetectionLimits(
        spread.mean, sd, float(critical), float(2 * critical), 10 * sd, factor * sd, n,
    )  # fmt: skip
