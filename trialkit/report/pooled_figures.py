"""The figure of pooled trials: each trial's time under its mix, then what they say together."""

from __future__ import annotations

import math
from typing import Any

import pandas as pd

from .blocks import Figure
from .canvas import SHADE, SOFT, TALLEST_IN, TimeAxis, new_axes, pens, time_axis, to_svg
from .marks import Mark, mix_marks
from .pooled_words import mixes_by_time, shown_mixes
from .printing import print_interval, print_time
from .selection import level_words
from .short_names import short_names

_ROW_IN = 0.15
_POOLED_ROWS = 3.2  # room of a mix beside its trials
_WORDED, _THINNEST = 0.7, 0.1  # share of a row that a trial needs for words, and for a line


def pooled_figure(results: Any) -> Figure:
    """
    Forest of the mixes: trials, pooled typical time, limits for a new batch.

    Parameters
    ----------
    results : Results
        With the tables `pooled_times`, `trial_times`, `pooled_vessels`, `pooled_mixes`.

    Returns
    -------
    Figure
        A row a trial under each mix, thinner the more there are, at last one line for all trials
        of a mix; a limit that the data could not place ends in an arrow.
    """
    times, trials = results["pooled_times"], _seen(results)
    order = mixes_by_time(times)
    pitch = _pitch(len(trials), len(order))
    marks = mix_marks(sorted(order))
    shown = shown_mixes(results)
    short = short_names({mix: shown[mix] for mix in order})
    axis = _axis(results, times)
    with pens("pooled"):
        rows = sum(max(pitch * sum(trials["mix"] == mix), 1) + _POOLED_ROWS for mix in order)
        figure, ax = new_axes(min(0.7 + _ROW_IN * rows, TALLEST_IN))
        y, ticks = 0.0, []
        for mix in order:
            own = trials[trials["mix"] == mix]
            ticks.append((y, short[mix]))
            y = max(_draw_trials(ax, own, marks[mix], axis, y, pitch) + (1 - pitch) / 2, y + 1)
            y = _draw_pooled(ax, times[times["mix"] == mix], marks[mix], axis, y) + 1.2
        ax.set_ylim(y - 0.6, -0.9)
        ax.set_yticks([at for at, _ in ticks], [name for _, name in ticks])
        ax.tick_params(axis="y", length=0)
        ax.spines["left"].set_visible(False)
        axis.draw(ax)
        svg = to_svg(figure)
    return Figure(
        label="pooled",
        caption=(
            f"Times until clear by the criterion {results.meta['criterion']}: "
            "each trial, and all together"
        ),
        alt=_alt(times, order, shown),
        svg=svg,
        note=_note(level_words(results), pitch),
    )


def _pitch(n_rows: int, n_mix: int) -> float:
    """Height of a trial as a share of a row; 0 when all of a mix must share one line."""
    left = (TALLEST_IN - 0.7) / _ROW_IN - _POOLED_ROWS * n_mix
    pitch = min(1.0, left / n_rows)
    return pitch if pitch >= _THINNEST else 0.0


def _note(level: str, pitch: float) -> str:
    trials = (
        f"Small marks with thin lines: the typical time in one trial with its {level} limits. "
        "Pale lines without a mark: a trial that sets no such limits, from the last reading at "
        "which no vessel of the mix was clear to the first at which all were. "
        if pitch
        else "Small marks: typical times of trials that have limits of their own. "
    )
    return (
        f"{trials}Large mark with a thick line: typical time over all places with its {level} "
        f"limits. Pale bar: where a new batch in a new place is expected with {level} confidence. "
        "An arrow: the data set no limit there."
    )


def _seen(results: Any) -> pd.DataFrame:
    """The trials' own times with the first and last reading that they lie between."""
    ends = results["pooled_vessels"].groupby(["trial", "mix"], as_index=False)
    ends = ends.agg(from_h=("left_h", "min"), to_h=("right_h", "max"))
    trials = results["trial_times"].merge(ends, on=["trial", "mix"], how="left")
    return trials.sort_values(["mix", "to_h", "from_h", "trial"], kind="stable")


def _axis(results: Any, times: pd.DataFrame) -> TimeAxis:
    shown = times[times["term"] != "assured time"]
    ends = [*shown["estimate"], *shown["conf_low"], *shown["conf_high"]]
    return time_axis(ends, float(results.meta["window_h"]))


def _draw_trials(
    ax: Any, own: pd.DataFrame, mark: Mark, axis: TimeAxis, y: float, pitch: float
) -> float:
    """The trials of one mix; the height of the next free row."""
    if not pitch:
        _draw_crowd(ax, own, mark, axis, y)
        return y
    size = 3.2 if pitch >= _WORDED else 2.4
    for trial in own.itertuples(index=False):
        limits = trial.conf_low > 0 and trial.conf_high < math.inf
        if limits:
            ax.plot(axis.at(trial.estimate), y, mark.marker, color=mark.color, ms=size)
        pen = {"lw": 0.7} if limits else {"lw": 1.4, "alpha": 0.45}
        ends = (trial.conf_low, trial.conf_high) if limits else (trial.from_h, trial.to_h)
        _draw_line(ax, ends, y, axis, {"color": mark.color, **pen})
        if pitch >= _WORDED:
            words = f"{trial.trial}, {trial.n} vessel{'s' if trial.n > 1 else ''}"
            place = ax.get_yaxis_transform()
            ax.text(1.015, y, words, transform=place, va="center", fontsize=6.5, color=SOFT)
        y += pitch
    return y


def _draw_crowd(ax: Any, own: pd.DataFrame, mark: Mark, axis: TimeAxis, y: float) -> None:
    """The times of very many trials on one line, one mark where marks would lie on each other."""
    limits = own[(own["conf_low"] > 0) & (own["conf_high"] < math.inf)]
    places = sorted({float(f"{axis.at(time):.3g}") for time in limits["estimate"]})
    pen = {"color": mark.color, "ms": 2.4, "ls": "none"}
    ax.plot(places, [y] * len(places), mark.marker, **pen)


def _draw_line(
    ax: Any, ends: tuple[float, float], y: float, axis: TimeAxis, pen: dict[str, Any]
) -> None:
    """A line between two times, with a head where it goes on beyond the axis."""
    low, high = ends
    ax.plot([axis.at(low), axis.at(high)], [y, y], solid_capstyle="butt", **pen)
    for tip, head, beyond in ((axis.low, "<", low < axis.low), (axis.high, ">", high > axis.high)):
        if beyond:
            ax.plot(tip, y, head, color=pen["color"], ms=2.6, mew=0, clip_on=False)


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
    for end, known in ((low, batch.conf_low > 0), (high, batch.conf_high < math.inf)):
        if known:
            ax.plot([end, end], [y - 0.5, y + 0.5], color=mark.color, lw=0.7)
    ends = [axis.at(typical.conf_low), axis.at(typical.conf_high)]
    ax.plot(ends, [y, y], color=mark.color, lw=3.2, alpha=0.5)
    if 0 < typical.estimate < math.inf:
        ax.plot(axis.at(typical.estimate), y, mark.marker, color=mark.color, ms=6, zorder=4)
    else:
        _arrow(ax, typical, mark, axis, y)
    return y + 1


def _alt(times: pd.DataFrame, order: list[str], shown: dict[str, str]) -> str:
    """What the figure shows, in words."""
    sentences = []
    for mix in order:
        rows = {r.term: r for r in times[times["mix"] == mix].itertuples(index=False)}
        typical, batch = rows["typical time"], rows["new batch"]
        time = print_time(typical.estimate, typical.conf_low, typical.conf_high)
        limits = print_interval(batch.conf_low, batch.conf_high)
        sentences.append(f"{shown[mix]}: typical time {time}, a new batch {limits} h.")
    return "Forest of pooled times. " + " ".join(sentences)
