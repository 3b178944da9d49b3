"""The axis of ratios of times: equal steps are equal ratios, open ends are arrows."""

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from .canvas import SOFT
from .marks import Mark

_STEPS = (0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100, 200, 500)


@dataclass(frozen=True)
class RatioAxis:
    """
    Where ratios stand on paper.

    Attributes
    ----------
    low, high : float
        Ends of the axis.
    """

    low: float
    high: float

    def at(self, ratio: float) -> float:
        """The ratio, or the end of the axis that it lies beyond."""
        return min(max(ratio, self.low), self.high)

    def draw(self, axes: Any, words: str) -> None:
        """Set scale, ticks and words under an axes, with a line at equal times."""
        axes.set_xscale("log")
        axes.set_xlim(self.low, self.high)
        ticks = [step for step in _STEPS if self.low <= step <= self.high]
        axes.set_xticks(ticks, [f"{step:g}" for step in ticks])
        axes.minorticks_off()
        axes.grid(axis="x")
        axes.set_axisbelow(True)
        axes.axvline(1, color=SOFT, lw=0.9)
        axes.set_xlabel(f"{words}, equal steps are equal ratios")

    def interval(self, axes: Any, y: float, ratio: tuple[float, float, float], mark: Mark) -> None:
        """Draw estimate, lower and upper limit in a row; an arrow where the data set no limit."""
        estimate, low, high = ratio
        color = mark.color
        axes.plot([self.at(low), self.at(high)], [y, y], color=color, lw=3.2, alpha=0.4)
        if high == math.inf:
            axes.plot(self.high, y, ">", color=color, ms=4.5, clip_on=False)
        if low <= 0:
            axes.plot(self.low, y, "<", color=color, ms=4.5, clip_on=False)
        if low <= 0 and high == math.inf:
            return  # where nothing bounds a ratio its estimate is only a convention
        if 0 < estimate < math.inf:
            axes.plot(self.at(estimate), y, mark.marker, color=color, ms=5.5)


def ratio_axis(ratios: Iterable[float]) -> RatioAxis:
    """
    The axis that holds some ratios with 1 among them.

    Parameters
    ----------
    ratios : iterable of float
        Estimates and limits; 0 and inf are left to the ends.

    Returns
    -------
    RatioAxis

    Examples
    --------
    >>> ratio_axis([0.25, 0.0, float("inf"), 4.0])
    RatioAxis(low=0.2, high=5.0)
    >>> ratio_axis([])
    RatioAxis(low=0.5, high=2.0)
    """
    placed = [ratio for ratio in ratios if 0 < ratio < math.inf]
    return RatioAxis(0.8 * min([0.625, *placed]), 1.25 * max([1.6, *placed]))
