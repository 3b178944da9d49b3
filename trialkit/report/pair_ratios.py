"""Ratios of two times as a reader thinks of them: how many times as long the slower takes."""

import math
from dataclasses import dataclass
from typing import Any

from .printing import print_figures
from .verdicts import is_shown


@dataclass(frozen=True)
class PairRatio:
    """
    How many times as long the slower of two mixes takes.

    Attributes
    ----------
    quicker, slower : str
        Codes, by typical time.
    estimate, low, high : float
        The slower's time divided by the quicker's; 0 and inf where the data place nothing.
    shown : bool
        Whether the two were shown different.
    """

    quicker: str
    slower: str
    estimate: float
    low: float
    high: float
    shown: bool

    @property
    def placed(self) -> bool:
        """Whether the data set any limit to the ratio."""
        return self.low > 0 or self.high < math.inf


def pair_ratio(row: Any, order: list[str]) -> PairRatio:
    """
    One row of the comparisons, turned so that the slower mix stands over the quicker.

    Parameters
    ----------
    row : namedtuple
    order : list of str
        Codes, the shortest typical time first.

    Returns
    -------
    PairRatio

    Examples
    --------
    >>> import pandas as pd
    >>> columns = ["mix_a", "mix_b", "estimate", "conf_low", "conf_high", "verdict"]
    >>> pair = pd.DataFrame([["M01", "M02", 0.5, 0.25, 1.0, "not shown different"]])
    >>> row = next(pair.set_axis(columns, axis=1).itertuples(index=False))
    >>> pair_ratio(row, ["M01", "M02"])
    PairRatio(quicker='M01', slower='M02', estimate=2.0, low=1.0, high=4.0, shown=False)
    """
    found = (float(row.estimate), float(row.conf_low), float(row.conf_high))
    shown = is_shown(row.verdict)
    if order.index(row.mix_a) > order.index(row.mix_b):
        return PairRatio(row.mix_b, row.mix_a, *found, shown)
    estimate, low, high = found
    return PairRatio(row.mix_a, row.mix_b, *map(inverse, (estimate, high, low)), shown)


def inverse(ratio: float) -> float:
    """
    The ratio seen from the other side; 0 and inf change places.

    Parameters
    ----------
    ratio : float

    Returns
    -------
    float

    Examples
    --------
    >>> inverse(4.0), inverse(0.0)
    (0.25, inf)
    """
    return math.inf if ratio == 0 else 1 / ratio


def print_ratio(estimate: float, low: float, high: float) -> str:
    """
    A ratio with its limits, or the one limit that there is.

    Parameters
    ----------
    estimate, low, high : float
        0 and inf where the data place nothing.

    Returns
    -------
    str

    Examples
    --------
    >>> print_ratio(2.0, 1.2, 3.4), print_ratio(float("inf"), 4.7, float("inf"))
    ('2.0 (1.2 to 3.4)', 'above 4.7')
    >>> print_ratio(0.0, 0.0, 0.07), print_ratio(1.0, 0.0, float("inf"))
    ('under 0.070', 'no limit')
    """
    limits = print_ratio_limits(low, high)
    return f"{print_figures(estimate, 2)} ({limits})" if low > 0 and high < math.inf else limits


def print_ratio_limits(low: float, high: float) -> str:
    """
    The limits of a ratio, or the one that there is.

    Parameters
    ----------
    low, high : float
        0 and inf mean no limit.

    Returns
    -------
    str

    Examples
    --------
    >>> print_ratio_limits(0.61, 1.4), print_ratio_limits(0, 0.12), print_ratio_limits(3, math.inf)
    ('0.61 to 1.4', 'under 0.12', 'above 3.0')
    """
    if low > 0 and high < math.inf:
        return f"{print_figures(low, 2)} to {print_figures(high, 2)}"
    if low > 0:
        return f"above {print_figures(low, 2)}"
    return f"under {print_figures(high, 2)}" if high < math.inf else "no limit"


def ratio_words(estimate: float, low: float, high: float) -> str:
    """
    A ratio of two times, or its one limit when a mix has no time of its own.

    Parameters
    ----------
    estimate, low, high : float
        0 and inf where the data place nothing.

    Returns
    -------
    str

    Examples
    --------
    >>> ratio_words(0.346, 0.23, 0.52), ratio_words(0.0, 0.0, 0.073)
    ('0.35', 'under 0.073')
    >>> ratio_words(float("inf"), 3.2, float("inf")), ratio_words(1.0, 0.0, float("inf"))
    ('above 3.2', 'no limit')
    """
    placed = 0 < estimate < math.inf and (low > 0 or high < math.inf)
    return print_figures(estimate, 2) if placed else print_ratio_limits(low, high)
