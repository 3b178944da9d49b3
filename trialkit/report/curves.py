"""Figures of whole mixes: the share clear over time, the times with their limits."""

import math
from typing import Any

import pandas as pd

from .blocks import Figure
from .canvas import (
    INK,
    RULE,
    SOFT,
    TALLEST_IN,
    TimeAxis,
    beside_corner,
    name_rows,
    new_axes,
    pens,
    time_axis,
    to_svg,
)
from .marks import Mark, mix_marks
from .printing import print_hours
from .selection import (
    criterion_label,
    floor_of,
    level_words,
    mix_codes,
    mix_names,
    mix_order,
    of_criterion,
    time_rows,
)
from .shared import shared
from .short_names import short_names
from .words import curve_alt, time_alt

_TITLE = {1: 60, 2: 36, 3: 26, 5: 15}  # letters that fit over a panel, by panels in a row
_FEW = 9  # up to so many mixes stand in three columns, with the others' curves behind each


@shared
def curve_figure(results: Any, *, criterion: str | None = None) -> Figure:
    """
    The share of batches clear by each time, a panel a mix.

    Parameters
    ----------
    results : Results
        With the tables `mixes`, `times`, `curves`, `steps`.
    criterion : str, optional
        The trial's primary criterion unless named.

    Returns
    -------
    Figure
        The fitted curve with its band, over the steps that need no model.
    """
    curves = of_criterion(results, "curves", criterion)
    steps = of_criterion(results, "steps", criterion)
    order = mix_order(results, criterion)
    columns = min(len(order), 3 if len(order) <= _FEW else 5)
    marks = mix_marks(mix_codes(results))
    names = short_names(mix_names(results), _TITLE[columns])
    axis = _curve_axis(results, criterion)
    rows = math.ceil(len(order) / columns)
    with pens("curves"):
        height = 0.5 + rows * (1.55 if len(order) <= _FEW else 1.15)
        figure, axes = new_axes(
            height, nrows=rows, ncols=columns, sharex=True, sharey=True, squeeze=False
        )
        for ax, mix in zip(axes.flat, order, strict=False):
            behind = curves[curves["mix"] != mix] if len(order) <= _FEW else curves[:0]
            _draw_behind(ax, behind)
            _draw_steps(ax, steps[steps["mix"] == mix], axis)
            _draw_curve(ax, curves[curves["mix"] == mix], marks[mix])
            _title(ax, marks[mix], names[mix])
        _finish_curves(figure, axes, axis, len(order))
        svg = to_svg(figure)
    level = level_words(results)
    return Figure(
        label="curves",
        caption=f"Share of batches {criterion_label(results, criterion)} by each time",
        alt=curve_alt(results, criterion),
        svg=svg,
        note=(
            f"Line: expected share by the fitted model. Band: {level} limits at each time. Dark "
            "steps: share of the vessels without a model; in a grey box the data do not say where "
            "the rise lies." + (" Pale lines: the other mixes." if 1 < len(order) <= _FEW else "")
        ),
    )


def _curve_axis(results: Any, criterion: str | None) -> TimeAxis:
    intervals = of_criterion(results, "intervals", criterion)
    hours = [*intervals["left_h"], *intervals["right_h"]]
    return time_axis(hours, float(results.meta["window_h"]))


def _draw_behind(ax: Any, curves: pd.DataFrame) -> None:
    for _, own in curves.groupby("mix"):
        ax.plot(own["time_h"], own["estimate"], color=RULE, lw=0.8)


def _draw_curve(ax: Any, own: pd.DataFrame, mark: Mark) -> None:
    if own.empty:
        return
    ax.fill_between(
        own["time_h"], own["conf_low"], own["conf_high"], color=mark.color, alpha=0.22, lw=0
    )
    ax.plot(own["time_h"], own["estimate"], color=mark.color, lw=1.5)


def _draw_steps(ax: Any, own: pd.DataFrame, axis: TimeAxis) -> None:
    """Flat where the share is known, a box where it rose somewhere."""
    share, since = 0.0, axis.low
    for step in own.sort_values("left_h").itertuples(index=False):
        left, right = axis.at(step.left_h), axis.at(step.right_h)
        ax.plot([since, left], [share, share], color=INK, lw=0.9)
        if step.right_h == math.inf:
            return
        box = [left, right], [share, share], [step.estimate, step.estimate]
        ax.fill_between(*box, color=SOFT, alpha=0.22, lw=0)
        share, since = step.estimate, right
    ax.plot([since, axis.at(axis.window_h)], [share, share], color=INK, lw=0.9)


def _title(ax: Any, mark: Mark, name: str) -> None:
    ax.set_title(" ")  # keeps the room that the two below stand in
    ax.plot(0, 1, mark.marker, color=mark.color, ms=5, transform=beside_corner(ax), clip_on=False)
    corner = {"xycoords": "axes fraction", "textcoords": "offset points"}
    ax.annotate(name, (0, 1), (11, 9), va="center", fontsize=8.5, **corner)


def _finish_curves(figure: Any, axes: Any, axis: TimeAxis, used: int) -> None:
    columns = axes.shape[1]
    for ax in axes.flat[used:]:
        ax.set_visible(False)
    for ax in axes.flat[:used]:
        axis.draw(ax, label=False, ticks=6 if columns <= 3 else 4)
        ax.set_ylim(-0.03, 1.03)
        ax.set_yticks([0, 0.5, 1], ["0%", "50%", "100%"])
        ax.grid(axis="y")
    # The lowest panel of each column keeps the hours, also where the last row is not full.
    for ax in axes.flat[max(0, used - columns) : used]:
        ax.tick_params(labelbottom=True)
    figure.supxlabel(axis.words, fontsize=8)
    figure.supylabel("Share clear", fontsize=8)


@shared
def forest_figure(results: Any, *, criterion: str | None = None) -> Figure:
    """
    Typical and assured time of each mix with their limits.

    Parameters
    ----------
    results : Results
        With the tables `mixes`, `times`.
    criterion : str, optional
        The trial's primary criterion unless named.

    Returns
    -------
    Figure
        Two rows a mix; a limit that the data could not place ends in an arrow.
    """
    typical = time_rows(results, "typical time", criterion)
    assured = time_rows(results, "assured time", criterion)
    marks, names = mix_marks(mix_codes(results)), short_names(mix_names(results))
    axis = _forest_axis(results, [*typical.values(), *assured.values()])
    with pens("times-figure"):
        height = 0.6 + len(typical) * min(0.36, TALLEST_IN / (len(typical) + 3))
        figure, ax = new_axes(height)
        for y, mix in enumerate(typical):
            _draw_typical(ax, typical[mix], marks[mix], axis, y - 0.14)
            if mix in assured:
                floor = floor_of(typical[mix], axis.window_h)
                _draw_assured(ax, (assured[mix], floor), marks[mix], axis, y + 0.22)
        _finish_forest(ax, axis, [names[mix] for mix in typical])
        svg = to_svg(figure)
    level = level_words(results)
    return Figure(
        label="times-figure",
        caption=f"Typical and assured time until {criterion_label(results, criterion)}",
        alt=time_alt(results, criterion),
        svg=svg,
        note=(
            f"Filled mark with a thick line: typical time with its {level} limits. Thin line to a "
            f"bar: from the time by which 90% of batches are expected to be clear to the assured "
            f"time, its one-sided upper {level} limit. An arrow: the data set no limit there."
        ),
    )


def _forest_axis(results: Any, rows: list[Any]) -> TimeAxis:
    ends = [end for row in rows for end in (row.estimate, row.conf_low, row.conf_high)]
    return time_axis(ends, float(results.meta["window_h"]))


def _draw_typical(ax: Any, row: Any, mark: Mark, axis: TimeAxis, y: float) -> None:
    low = axis.at(floor_of(row, axis.window_h) if row.estimate == math.inf else row.conf_low)
    high = axis.at(row.conf_high)
    ax.plot([low, high], [y, y], color=mark.color, lw=3.2, alpha=0.4)
    # What was never reached begins where watching ended, whatever limit the data leave open below.
    _arrows(ax, row.conf_low if row.estimate < math.inf else math.inf, row.conf_high, mark, axis, y)
    if row.estimate < math.inf:
        ax.plot(axis.at(row.estimate), y, mark.marker, color=mark.color, ms=5.5, zorder=4)
    words = _short(row.estimate, floor_of(row, axis.window_h))
    _beside(ax, words, (row.estimate, low), axis, y)


def _draw_assured(ax: Any, found: tuple[Any, float], mark: Mark, axis: TimeAxis, y: float) -> None:
    row, floor = found
    start = axis.at(row.estimate if row.estimate < math.inf else floor)
    bound = axis.at(row.conf_high)
    ax.plot([start, bound], [y, y], color=mark.color, lw=0.9)
    _arrows(ax, math.inf, row.conf_high, mark, axis, y)
    if row.conf_high < math.inf:
        ax.plot([bound, bound], [y - 0.14, y + 0.14], color=mark.color, lw=2)
    words = "no upper limit" if row.n_event else _short(math.inf, floor)
    words = words if row.conf_high == math.inf else print_hours(row.conf_high)
    _beside(ax, words, (row.conf_high, start), axis, y)


def _arrows(ax: Any, low: float, high: float, mark: Mark, axis: TimeAxis, y: float) -> None:
    ends = {"color": mark.color, "clip_on": False, "zorder": 4, "ms": 4.5}
    if high == math.inf:
        ax.plot(axis.high, y, ">", **ends)
    if low <= 0:
        ax.plot(axis.low, y, "<", **ends)


def _short(hours: float, floor: float) -> str:
    return f"above {print_hours(floor)}" if hours == math.inf else print_hours(hours)


def _beside(ax: Any, words: str, places: tuple[float, float], axis: TimeAxis, y: float) -> None:
    """The number over its mark, or left of a line that leaves the axis; over one that fills it."""
    hours, start = places
    look = {"ha": "center", "va": "bottom"}
    place, shift = (axis.at(hours), y), (0.0, 4.5)
    if hours == math.inf and start > axis.low:
        look, place, shift = {"ha": "right", "va": "center"}, (start, y), (-4.0, 0.0)
    elif hours == math.inf:
        look, place, shift = {"ha": "right", "va": "bottom"}, (axis.high, y), (-6.0, 1.0)
    ax.annotate(words, place, shift, textcoords="offset points", fontsize=6.5, **look)


def _finish_forest(ax: Any, axis: TimeAxis, names: list[str]) -> None:
    name_rows(ax, names, fontsize=8.5)
    axis.mark_end(ax)
    axis.draw(ax)
