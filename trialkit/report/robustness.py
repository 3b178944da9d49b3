"""Figures of what the times rest on: other definitions, raters, the plan."""

import math
from typing import Any

import pandas as pd

from .blocks import Figure, Prose
from .canvas import INK, SOFT, drawn, new_axes, pens, rows_of, time_axis, to_svg
from .marks import mix_marks
from .needs import needs
from .selection import criterion_label, mix_codes, mix_names, mix_order
from .verdicts import agreement_alt, plan_alt, sensitivity_alt


@needs("sensitivity_summary", "sensitivity-figure", "No other definition of clear was tried.")
def sensitivity_figure(results: Any, *, criterion: str | None = None) -> Figure:
    """
    How far the typical times move when "clear" is defined in other ways.

    Parameters
    ----------
    results : Results
        With the tables `mixes`, `sensitivity_summary`.
    criterion : str, optional
        One criterion; all that were varied unless named.

    Returns
    -------
    Figure
        A panel a criterion.
    """
    table = results["sensitivity_summary"]
    table = table[table["mix"].isin(mix_codes(results))]
    panels = [name for name in dict.fromkeys(table["criterion"]) if criterion in (None, name)]
    ends = [*table["estimate"], *table["estimate_low"], *table["estimate_high"]]
    axis = time_axis(map(float, ends), float(results.meta["window_h"]))
    marks, names = mix_marks(mix_codes(results)), mix_names(results)
    order = [mix for mix in mix_order(results) if mix in set(table["mix"])]
    with pens("sensitivity-figure"):
        figure, axes = new_axes(
            0.8 + 0.24 * len(order), ncols=len(panels), sharey=True, squeeze=False
        )
        for ax, name in zip(axes[0], panels, strict=True):
            own = table[table["criterion"] == name].set_index("mix")
            for y, mix in enumerate(order):
                _draw_span(ax, own.loc[mix], marks[mix], axis, y)
            ax.set_title(drawn(criterion_label(results, name)).capitalize())
            axis.draw(ax, label=False, ticks=6)
            rows_of(ax, len(order))
        axes[0][0].set_yticks(range(len(order)), [drawn(names[mix]) for mix in order])
        figure.supxlabel(axis.words, fontsize=8)
        svg = to_svg(figure)
    return Figure(
        label="sensitivity-figure",
        caption="Typical times under other definitions of clear",
        alt=sensitivity_alt(results, panels),
        svg=svg,
        note=(
            "Mark: the declared definition. Line: the shortest and the longest typical time over "
            "other tolerances, numbers of readings, rules for raters, families and placements of "
            "the time. These are choices, not chance: the line is no confidence interval."
        ),
    )


def _draw_span(ax: Any, row: Any, mark: Any, axis: Any, y: float) -> None:
    low, high = float(row["estimate_low"]), float(row["estimate_high"])
    ax.plot([axis.at(low), axis.at(high)], [y, y], color=mark.color, lw=1.4)
    if high == math.inf:
        ax.plot(axis.high, y, ">", color=mark.color, ms=4.5, clip_on=False)
    if float(row["estimate"]) < math.inf:
        ax.plot(axis.at(float(row["estimate"])), y, mark.marker, color=mark.color, ms=5.5)


@needs("agreement", "agreement-figure", "One rater made all calls: no agreement to measure.")
def agreement_figure(results: Any) -> Figure | Prose:
    """
    How far the raters agree, each measure with its limits.

    Parameters
    ----------
    results : Results
        With the table `agreement`.

    Returns
    -------
    Figure
        The measures without a unit, whose 1 is full agreement.
    """
    table = results["agreement"]
    table = table[table["unit"].fillna("") == ""].reset_index(drop=True)
    if table.empty:
        return Prose("No measure of agreement is free of a unit.", "agreement-figure")
    with pens("agreement-figure"):
        figure, ax = new_axes(0.7 + 0.26 * max(1, len(table)))
        for y, row in table.iterrows():
            low, high = max(float(row["conf_low"]), -1), min(float(row["conf_high"]), 1)
            ax.plot([low, high], [y, y], color=SOFT, lw=3.2, alpha=0.45)
            ax.plot(float(row["estimate"]), y, "o", color=INK, ms=4.5)
        words = [drawn(f"{row.criterion}: {row.term}") for row in table.itertuples(index=False)]
        ax.set_yticks(range(len(table)), words)
        rows_of(ax, len(table))
        lowest = min([0.0, *table["conf_low"].astype(float)])
        ax.set(xlim=(max(lowest, -1) - 0.02, 1.02), xlabel="Agreement, 1 is full")
        ax.grid(axis="x")
        svg = to_svg(figure)
    return Figure(
        label="agreement-figure",
        caption="How far the raters agree",
        alt=agreement_alt(results),
        svg=svg,
        note="Point: the measure named at the left. Line: its limits.",
    )


@needs(
    "verdicts",
    "plan-figure",
    "No single readings were given, only intervals.",
)
def plan_figure(results: Any) -> Figure:
    """
    When readings were planned and when they were taken.

    Parameters
    ----------
    results : Results
        With the table `verdicts`; ``meta`` with ``schedule_h``.

    Returns
    -------
    Figure
        A point a vessel and session, minutes late against the planned hour.
    """
    read = results["verdicts"]
    read = read[read["verdict"] != "not read"].drop_duplicates(["vessel", "session"])
    planned = pd.Series(results.meta["schedule_h"], dtype=float)
    late = (read["elapsed_h"] - read["session"].map(planned)) * 60
    with pens("plan-figure"):
        figure, ax = new_axes(2.1)
        ax.axhline(0, color=SOFT, lw=0.8)
        ax.plot(read["session"], late, "o", color=INK, ms=2.6, alpha=0.35, mew=0)
        ax.set_xticks(range(len(planned)), [f"{hour:g}" for hour in planned])
        ax.set(xlabel="Planned, hours since mixing began", ylabel="Minutes late")
        ax.grid(axis="y")
        svg = to_svg(figure)
    return Figure(
        label="plan-figure",
        caption="Readings as planned and as taken",
        alt=plan_alt(results, late),
        svg=svg,
        note="A point is one reading of one vessel; below the line it was taken early.",
    )
