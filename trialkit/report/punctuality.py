"""Figure of the readings as planned and as taken."""

import math
from typing import Any

import pandas as pd

from .blocks import Figure, Prose
from .canvas import INK, SOFT, new_axes, pens, to_svg
from .needs import needs
from .printing import print_share
from .shared import shared

_ON_THE_MINUTE = 0.5  # minutes


@shared
@needs("verdicts", "plan-figure", "No single readings were given, only intervals.")
def plan_figure(results: Any) -> Figure | Prose:
    """
    When readings were planned and when they were taken.

    Parameters
    ----------
    results : Results
        With the table `verdicts`; ``meta`` with ``schedule_h``.

    Returns
    -------
    Figure or Prose
        A point a vessel and session, minutes late against the planned hour. A sentence where none
        was early or late.
    """
    read = results["verdicts"]
    read = read[read["verdict"] != "not read"].drop_duplicates(["vessel", "session"])
    planned = pd.Series(results.meta["schedule_h"], dtype=float)
    late = (read["elapsed_h"] - read["session"].map(planned)) * 60
    if late.abs().max() < _ON_THE_MINUTE:
        return Prose("Every reading is noted at the minute that was planned.", "plan-figure", True)
    with pens("plan-figure"):
        figure, ax = new_axes(2.1)
        ax.axhline(0, color=SOFT, lw=0.8)
        ax.plot(read["session"], late, "o", color=INK, ms=2.6, alpha=0.35, mew=0)
        ax.set_xticks(range(len(planned)), [f"{hour:.3g}" for hour in planned])
        ax.set(xlabel="Planned, hours since mixing began", ylabel="Minutes late")
        ax.grid(axis="y")
        svg = to_svg(figure)
    return Figure(
        label="plan-figure",
        caption="Readings as planned and as taken",
        alt=_alt(results, late),
        svg=svg,
        note="A point is one reading of one vessel; below the line it was taken early.",
    )


def _alt(results: Any, late: pd.Series) -> str:
    """How punctual the readings were, from the minutes that each was late."""
    within = float((late.abs() <= 5).mean()) if len(late) else math.nan
    most = late.abs().max() if len(late) else math.nan
    return (
        f"{len(late)} readings in {len(results.meta['schedule_h'])} sessions: "
        f"{print_share(within)} within 5 minutes of the plan, at most {most:.0f} minutes off."
    )
