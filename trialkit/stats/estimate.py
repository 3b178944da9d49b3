"""Numbers with their limits: one value that prints as the sentence a report would print."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import pandas as pd
from statsmodels.stats.proportion import proportion_confint

from trialkit.stats.shown import Shown

__all__ = ["Estimate", "proportion_exact"]


@dataclass(frozen=True)
class Estimate(Shown):
    """One estimate with its confidence limits, unit and method.

    A limit that the data cannot place is ``inf`` (or 0 on the other side), never NaN,
    and prints as "not reached" or "above".

    Parameters
    ----------
    estimate, conf_low, conf_high : float
        The value with its lower and upper limit, in `unit`.
    conf_level : float
        Confidence level, between 0 and 1.
    unit : str
        Unit of the three numbers; empty for a share.
    method : str
        How the limits were made.

    Raises
    ------
    ValueError
        When a number is NaN or the limits are in the wrong order.

    Examples
    --------
    >>> print(Estimate(1.5, 1, 4, unit="h", method="Turnbull"))
    1.5 h (95% CI 1 to 4; Turnbull)
    >>> print(Estimate(float("inf"), 19.2, float("inf"), unit="h", method="profile likelihood"))
    not reached (95% CI above 19.2 h; profile likelihood)
    """

    estimate: float
    conf_low: float
    conf_high: float
    conf_level: float = 0.95
    unit: str = ""
    method: str = ""

    def __post_init__(self):
        if any(math.isnan(value) for value in (self.estimate, self.conf_low, self.conf_high)):
            raise ValueError(f"an estimate and its limits must be numbers or inf; got {self!r}.")
        if not self.conf_low <= self.conf_high:
            raise ValueError(f"conf_low must not lie above conf_high; got {self!r}.")
        check_conf_level(self.conf_level)

    def __str__(self) -> str:
        limits = f"{100 * self.conf_level:.6g}% CI {self._limits()}"
        return f"{self._value()} ({limits}{'; ' if self.method else ''}{self.method})"

    def _value(self) -> str:
        if math.isinf(self.estimate):
            return "not reached"
        return f"{self.estimate:.3g}{' ' if self.unit else ''}{self.unit}"

    def _limits(self) -> str:
        if math.isinf(self.conf_high):
            return f"above {self.conf_low:.3g}{' ' if self.unit else ''}{self.unit}"
        return f"{self.conf_low:.3g} to {self.conf_high:.3g}"

    def tidy(self) -> pd.DataFrame:
        """One row: estimate, conf_low, conf_high, conf_level, unit, method.

        Returns
        -------
        pandas.DataFrame
            The estimate as a frame, in the columns of every result table.

        Examples
        --------
        >>> Estimate(1.5, 1, 4, unit="h").tidy().loc[0, "conf_high"].item()
        4
        """
        return pd.DataFrame([vars(self)])


def check_conf_level(conf_level: float) -> None:
    """Nothing; a confidence level outside (0, 1) is refused.

    Parameters
    ----------
    conf_level : float
        Confidence level, for instance 0.95.

    Raises
    ------
    ValueError
        When it does not lie between 0 and 1.
    """
    if not 0 < conf_level < 1:
        raise ValueError(f"conf_level must lie between 0 and 1; got {conf_level}.")


@lru_cache(maxsize=10_000)  # a trial asks the same few counts again and again
def proportion_exact(successes: float, n: float, *, conf_level: float = 0.95) -> Estimate:
    """Share of successes with exact binomial (Clopper-Pearson) limits.

    Exact limits never cover less than they say, which the usual approximations do
    at a handful of vessels.

    Parameters
    ----------
    successes, n : float
        Count of successes, and of all; ``0 <= successes <= n``, ``n > 0``.
    conf_level : float
        Two-sided confidence level.

    Returns
    -------
    Estimate
        The share, between 0 and 1, with its limits.

    Raises
    ------
    ValueError
        When the counts are not possible.

    References
    ----------
    Clopper, C. J. & Pearson, E. S. (1934). Biometrika 26, 404-413.

    Examples
    --------
    >>> print(proportion_exact(4, 4))
    1 (95% CI 0.398 to 1; Clopper-Pearson)
    """
    check_conf_level(conf_level)
    if not (n > 0 and 0 <= successes <= n):
        raise ValueError(f"successes must lie between 0 and n; got {successes} of {n}.")
    low, high = proportion_confint(successes, n, alpha=1 - conf_level, method="beta")
    return Estimate(successes / n, float(low), float(high), conf_level, method="Clopper-Pearson")
