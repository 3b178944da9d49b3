"""The figure of pooled trials: each trial's time under its mix, then what they say together."""

from __future__ import annotations

import math
from typing import Any

import pandas as pd

from .blocks import Figure
from .canvas import SHADE, SOFT, TALLEST_IN, TimeAxis, new_axes, pens, time_axis, to_svg
from .marks import Mark, mix_marks
from .printing import print_interval, print_time
from .short_names import short_names

_MOST_ROWS = 60  # with more, the trials of a mix share one line
_ROW_IN = 0.15


def pooled_figure(results: Any) -> Figure:
    """
    Forest of the mixes: trials, pooled typical time, limits for a new batch.

    Parameters
    ----------
    results : Results
        With the tables `pooled_times`, `trial_times`.

    Returns
    -------
    Figure
        A row a trial under each mix, or one line for all trials of a mix when there are many; a
        limit that the data could not place ends in an arrow.
    """
    times, trials = results["pooled_times"], results["trial_times"]
    order = mixes_by_time(times)
    each = len(trials) + 2 * len(order) <= _MOST_ROWS
    marks = mix_marks(sorted(order))
    short = short_names({mix: mix for mix in order})
    axis = _axis(results, times)
    with pens("pooled"):
        rows = sum((sum(trials["mix"] == mix) if each else 1) + 3.2 for mix in order)
        figure, ax = new_axes(min(0.7 + _ROW_IN * rows, TALLEST_IN))
        y, ticks = 0.0, []
        for mix in order:
            own = trials[trials["mix"] == mix]
            ticks.append((y, short[mix]))
            y = _draw_trials(ax, own, marks[mix], axis, y, each=each)
            y = _draw_pooled(ax, times[times["mix"] == mix], marks[mix], axis, y) + 1.2
        ax.set_ylim(y - 0.6, -0.9)
        ax.set_yticks([at for at, _ in ticks], [name for _, name in ticks])
        ax.tick_params(axis="y", length=0)
        ax.spines["left"].set_visible(False)
        axis.draw(ax)
        svg = to_svg(figure)
    level = f"{results.meta['conf_level'] * 100:g}%"
    return Figure(
        label="pooled",
        caption=f"Times until {results.meta['criterion']} is met: each trial, and all together",
        alt=_alt(times, order),
        svg=svg,
        note=(
            f"Small marks with thin lines: the typical time in one trial with its {level} limits; "
            "hollow: one vessel, or no limits by itself. Large mark with a thick line: typical "
            f"time over all places with its {level} limits. Pale bar: where a new batch in a new "
            f"place is expected with {level} confidence. An arrow: the data set no limit there."
        ),
    )


def mixes_by_time(times: pd.DataFrame) -> list[str]:
    """
    The mixes, the one with the shortest pooled typical time first.

    Parameters
    ----------
    times : pandas.DataFrame
        The table `pooled_times`.

    Returns
    -------
    list of str
    """
    typical = times[times["term"] == "typical time"]
    return list(typical.sort_values(["estimate", "conf_low", "mix"])["mix"])


def _axis(results: Any, times: pd.DataFrame) -> TimeAxis:
    shown = times[times["term"] != "assured time"]
    ends = [*shown["estimate"], *shown["conf_low"], *shown["conf_high"]]
    return time_axis(ends, float(results.meta["window_h"]))


def _draw_trials(
    ax: Any, own: pd.DataFrame, mark: Mark, axis: TimeAxis, y: float, *, each: bool
) -> float:
    """The trials of one mix; the height of the next free row."""
    for trial in own.itertuples(index=False):
        limits = trial.conf_low > 0 and trial.conf_high < math.inf
        if each and limits:
            ends = [axis.at(trial.conf_low), axis.at(trial.conf_high)]
            ax.plot(ends, [y, y], color=mark.color, lw=0.7)
        if 0 < trial.estimate < math.inf:
            face = mark.color if limits else "#ffffff"
            ax.plot(
                axis.at(trial.estimate), y, mark.marker, mfc=face, mec=mark.color, ms=3.2, mew=0.6
            )
        else:
            _arrow(ax, trial, mark, axis, y)
        if each:
            words = f"{trial.trial}, {trial.n} vessel{'s' if trial.n > 1 else ''}"
            place = ax.get_yaxis_transform()
            ax.text(1.005, y, words, transform=place, va="center", fontsize=5.5, color=SOFT)
            y += 1
    return y if each else y + 1


def _arrow(ax: Any, row: Any, mark: Mark, axis: TimeAxis, y: float) -> None:
    """A time that was not placed: an arrow from its one limit."""
    late = row.estimate == math.inf
    start = axis.at(row.conf_low if late and row.conf_low > 0 else axis.window_h)
    start = start if late else axis.at(row.conf_high)
    tip = axis.high if late else axis.low
    arrow = {"arrowstyle": "-|>", "color": mark.color, "lw": 0.8}
    ax.annotate("", (tip, y), (start, y), arrowprops=arrow, annotation_clip=False)


def _draw_pooled(ax: Any, own: pd.DataFrame, mark: Mark, axis: TimeAxis, y: float) -> float:
    """Typical time with its limits on the bar of a new batch; the height of the next free row."""
    rows = {row.term: row for row in own.itertuples(index=False)}
    typical, batch = rows["typical time"], rows["new batch"]
    y += 0.25
    low, high = axis.at(batch.conf_low), axis.at(batch.conf_high)
    ax.fill_betweenx([y - 0.5, y + 0.5], low, high, color=SHADE, lw=0)
    ax.plot([low, low], [y - 0.5, y + 0.5], color=mark.color, lw=0.7)
    ax.plot([high, high], [y - 0.5, y + 0.5], color=mark.color, lw=0.7)
    ends = [axis.at(typical.conf_low), axis.at(typical.conf_high)]
    ax.plot(ends, [y, y], color=mark.color, lw=3.2, alpha=0.5)
    if 0 < typical.estimate < math.inf:
        ax.plot(axis.at(typical.estimate), y, mark.marker, color=mark.color, ms=6, zorder=4)
    else:
        _arrow(ax, typical, mark, axis, y)
    return y + 1


def _alt(times: pd.DataFrame, order: list[str]) -> str:
    """What the figure shows, in words."""
    sentences = []
    for mix in order:
        rows = {r.term: r for r in times[times["mix"] == mix].itertuples(index=False)}
        typical, batch = rows["typical time"], rows["new batch"]
        time = print_time(typical.estimate, typical.conf_low, typical.conf_high)
        limits = print_interval(batch.conf_low, batch.conf_high)
        sentences.append(f"{mix}: typical time {time}, a new batch {limits} h.")
    return "Forest of pooled times. " + " ".join(sentences)
