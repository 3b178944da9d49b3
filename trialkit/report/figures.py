"""Figures of single vessels: when each came clear, how each reading was judged."""

import math
from dataclasses import replace
from typing import Any

import pandas as pd

from .beside import left_of
from .blocks import Figure
from .canvas import (
    INK,
    RULE,
    SOFT,
    TALLEST_IN,
    TimeAxis,
    drawn,
    new_axes,
    pens,
    time_axis,
    to_svg,
)
from .marks import Mark, mix_marks
from .needs import needs
from .remarks import remarks, watched_to_the_end
from .selection import (
    criterion_label,
    heading_label,
    mix_codes,
    mix_names,
    mix_order,
    of_criterion,
)
from .shared import shared
from .short_names import short_names
from .words import strip_alt, vessel_alt

_GAP = 0.9  # rows left empty between two mixes
_UPRIGHT = 24  # more sessions than this across the page have their hours turned
_COLUMN_ROWS = 60  # more rows than this stand in two columns


@shared
def vessel_figure(results: Any, *, criterion: str | None = None) -> Figure:
    """
    Every vessel as the interval in which it came clear.

    Parameters
    ----------
    results : Results
        With the tables `mixes`, `vessels`, `intervals`, `times`.
    criterion : str, optional
        The trial's primary criterion unless named.

    Returns
    -------
    Figure
        One row a vessel, also for a vessel that never came clear, whose row ends in an arrow.
    """
    intervals = of_criterion(results, "intervals", criterion)
    order = [mix for mix in mix_order(results, criterion) if mix in set(intervals["mix"])]
    window = float(results.meta["window_h"])
    hours = [*intervals["left_h"], *intervals["right_h"]]
    axis = time_axis(hours, window)
    befell = remarks(results, criterion)
    with pens("vessels"):
        columns = _columns(order, intervals)
        figure, axes = _vessel_axes(columns, intervals)
        if axis.log and len(columns) > 1:
            axis = replace(axis, high=1.6 * axis.high)  # room for the arrows of a narrow axes
        marks, names = mix_marks(mix_codes(results)), short_names(mix_names(results))
        for ax, mixes in zip(axes, columns, strict=True):
            y = 0.0
            for mix in mixes:
                own = intervals[intervals["mix"] == mix].sort_values(["right_h", "left_h"])
                _draw_mix(ax, own, (marks[mix], names[mix]), axis, y, befell)
                y += len(own) + _GAP
            _finish_vessels(ax, axis, y, len(columns))
        figure.supxlabel(axis.words, fontsize=8)
        svg = to_svg(figure)
    return Figure(
        label="vessels",
        caption=f"When each vessel came {criterion_label(results, criterion)}",
        alt=vessel_alt(results, criterion),
        svg=svg,
        note=(
            "Thin line: seen not clear. Thick line: came clear somewhere in it. Filled mark: first "
            "of the readings at which it was, and stayed, clear. Open mark with an arrow: not seen "
            "clear by then. A cross: cloudy again."
        ),
    )


def _columns(order: list[str], intervals: pd.DataFrame) -> list[list[str]]:
    """The mixes in one column, or in two of about the same height."""
    sizes = intervals["mix"].value_counts()
    if sizes[order].sum() + _GAP * len(order) <= _COLUMN_ROWS:
        return [order]
    half, seen = sum(sizes[mix] + _GAP for mix in order) / 2, 0.0
    for place, mix in enumerate(order):
        if seen >= half:
            return [order[:place], order[place:]]
        seen += sizes[mix] + _GAP
    return [order]


def _vessel_axes(columns: list[list[str]], intervals: pd.DataFrame) -> tuple[Any, list[Any]]:
    rows = max(
        sum(len(intervals[intervals["mix"] == mix]) + _GAP for mix in column) for column in columns
    )
    figure, axes = new_axes(0.55 + 0.128 * rows, ncols=len(columns), squeeze=False)
    return figure, list(axes[0])


def _draw_mix(
    ax: Any, own: pd.DataFrame, look: tuple[Mark, str], axis: TimeAxis, top: float, befell: dict
) -> None:
    mark, name = look
    for row, vessel in enumerate(own.itertuples(index=False)):
        _draw_vessel(ax, vessel, mark, axis, top + row)
        if vessel.vessel in befell:
            _write_remark(ax, vessel, axis, top + row, befell[vessel.vessel])
    middle = top + (len(own) - 1) / 2
    _write_left(ax, middle, name, 36, fontsize=8.5)
    place = left_of(ax, 26)
    ax.plot(0, middle, mark.marker, color=mark.color, ms=5, transform=place, clip_on=False)
    for row, vessel in enumerate(own["vessel"]):
        _write_left(ax, top + row, vessel, 3, fontsize=6.5, color=SOFT)


def _write_left(ax: Any, y: float, words: str, points: float, **look: Any) -> None:
    ax.text(0, y, words, transform=left_of(ax, points), ha="right", va="center", **look)


def _draw_vessel(ax: Any, vessel: Any, mark: Mark, axis: TimeAxis, y: float) -> None:
    """One row: what is known not clear, the interval, its end."""
    left, cleared = axis.at(vessel.left_h), vessel.right_h < math.inf
    ax.plot([axis.low, left], [y, y], color=mark.color, lw=0.7, alpha=0.8)
    right = axis.at(vessel.right_h) if cleared else left
    if cleared:
        ax.plot([left, right], [y, y], color=mark.color, lw=4.5, alpha=0.35)
        ax.plot([left, left], [y - 0.28, y + 0.28], color=mark.color, lw=0.9)
    else:
        arrow = {"arrowstyle": "-|>", "color": mark.color, "lw": 0.9, "shrinkA": 3}
        ax.annotate("", (_tip(vessel, axis), y), (left, y), arrowprops=arrow)
    face = mark.color if cleared else "#ffffff"
    (end,) = ax.plot(right, y, mark.marker, mfc=face, mec=mark.color, mew=0.9, ms=4.5, zorder=4)
    end.set_gid(f"vessel-{vessel.vessel}")
    if vessel.reclouded_h < math.inf:
        ax.plot(axis.at(vessel.reclouded_h), y, "x", color=INK, ms=4.5, mew=1.1, zorder=5)


def _tip(vessel: Any, axis: TimeAxis) -> float:
    """Where the arrow of a vessel that was never seen clear ends."""
    if watched_to_the_end(vessel, axis.window_h):
        return axis.high
    left = axis.at(vessel.left_h)
    return min(left * 1.5, axis.high) if axis.log else min(left + axis.high / 12, axis.high)


def _write_remark(ax: Any, vessel: Any, axis: TimeAxis, y: float, words: str) -> None:
    """Beside a row, what else befell the vessel."""
    cleared = vessel.right_h < math.inf
    place = axis.at(vessel.reclouded_h) if cleared else _tip(vessel, axis)
    late = place > axis.at(axis.window_h) / (3 if axis.log else 1.3)
    if late and not cleared:
        place = axis.at(vessel.left_h)
    ax.annotate(
        words,
        (place, y),
        (-6 if late else 6, 0),
        textcoords="offset points",
        ha="right" if late else "left",
        va="center",
        fontsize=6.5,
        color=SOFT,
        # Written over the line that leads there.
        bbox={"boxstyle": "square,pad=0.1", "fc": "#ffffff", "ec": "none"},
    )


def _finish_vessels(ax: Any, axis: TimeAxis, bottom: float, columns: int) -> None:
    ax.set_ylim(bottom - _GAP + 0.1, -1.0)
    ax.set_yticks([])
    ax.spines["left"].set_visible(False)
    axis.mark_end(ax)
    axis.draw(ax, label=False, ticks=10 if columns == 1 else 6)


@shared
@needs("verdicts", "strip", "No single readings were given, only intervals.")
def strip_figure(results: Any, *, criterion: str | None = None) -> Figure:
    """
    How every vessel was judged at every session, as a strip of cells.

    Parameters
    ----------
    results : Results
        With the tables `mixes`, `verdicts`, `times`.
    criterion : str, optional
        One criterion; all that were judged unless named.

    Returns
    -------
    Figure
        A panel a criterion, a row a vessel, a column a session.
    """
    verdicts = results["verdicts"]
    verdicts = verdicts[verdicts["mix"].isin(mix_codes(results))]
    known = list(dict.fromkeys(verdicts["criterion"]))
    panels = [name for name in known if criterion in (None, name)]
    order = [mix for mix in mix_order(results) if mix in set(verdicts["mix"])]
    vessels = _strip_rows(verdicts, order)
    marks, names = mix_marks(mix_codes(results)), short_names(mix_names(results))
    with pens("strip"):
        height = 0.75 + len(vessels) * min(0.118, TALLEST_IN / (len(vessels) + 8))
        figure, axes = new_axes(height, ncols=len(panels), sharey=True, squeeze=False)
        for ax, name in zip(axes[0], panels, strict=True):
            _draw_strip(ax, verdicts[verdicts["criterion"] == name], vessels, marks)
            _name_sessions(ax, verdicts, results.meta.get("schedule_h", ()))
            ax.set_title(drawn(heading_label(results, name)))
        _name_rows(axes[0][0], vessels, names)
        svg = to_svg(figure)
    return Figure(
        label="strip",
        caption="How each vessel was judged at each session",
        alt=strip_alt(results, panels),
        svg=svg,
        note=(
            "Filled cell: as clear as the reference vessel, within the tolerance. Dot: not so. "
            "Empty: not read. Columns are sessions, under their planned hours."
        ),
    )


def _strip_rows(verdicts: pd.DataFrame, order: list[str]) -> dict[str, tuple[float, str]]:
    """For each vessel the height of its row with its mix."""
    rows, y = {}, 0.0
    for mix in order:
        for vessel in dict.fromkeys(verdicts.loc[verdicts["mix"] == mix, "vessel"]):
            rows[vessel] = (y, mix)
            y += 1
        y += 0.5
    return rows


def _draw_strip(ax: Any, verdicts: pd.DataFrame, rows: dict, marks: dict[str, Mark]) -> None:
    place = {session: x for x, session in enumerate(sorted(verdicts["session"].unique()))}
    cells = verdicts.assign(x=verdicts["session"].map(place))
    for vessel, own in cells.groupby("vessel", sort=False):
        y, mix = rows[vessel]
        bars = [(x - 0.42, 0.84) for x in own.loc[own["verdict"] == "clear", "x"]]
        ax.broken_barh(bars, (y - 0.4, 0.8), color=marks[mix].color, lw=0)
    dots = cells[cells["verdict"] == "not clear"]
    heights = [rows[vessel][0] for vessel in dots["vessel"]]
    ax.plot(dots["x"], heights, ".", color=SOFT, ms=2.2)
    ax.set_xlim(-0.6, len(place) - 0.4)
    ax.set_xlabel("Hours since mixing began")
    ax.tick_params(length=0)
    for side in ("left", "bottom"):
        ax.spines[side].set_color(RULE)


def _name_sessions(ax: Any, verdicts: pd.DataFrame, schedule_h: Any) -> None:
    """The planned hours under the columns; the usual ones where no plan is known."""
    usual = verdicts.groupby("session")["elapsed_h"].median()
    hours = [schedule_h[s] if s < len(schedule_h) else usual[s] for s in usual.index]
    crowded = len(hours) * verdicts["criterion"].nunique() > _UPRIGHT
    look = {"rotation": 90, "fontsize": 6.5} if crowded else {"fontsize": 7}
    ax.set_xticks(range(len(hours)), [f"{hour:.3g}" for hour in hours], **look)


def _name_rows(ax: Any, rows: dict[str, tuple[float, str]], names: dict[str, str]) -> None:
    places: dict[str, list[float]] = {}
    for y, mix in rows.values():
        places.setdefault(mix, []).append(y)
    middles = [sum(ys) / len(ys) for ys in places.values()]
    ax.set_yticks(middles, [names[mix] for mix in places])
    ax.set_ylim(max(y for y, _ in rows.values()) + 0.7, -0.7)
