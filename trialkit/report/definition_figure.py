"""Figure of every definition of clear that was tried."""

import math
from typing import Any

import pandas as pd

from .beside import room_at_right, write_beside
from .blocks import Figure, Prose
from .canvas import SOFT, TALLEST_IN, TimeAxis, drawn, new_axes, pens, rows_of, time_axis, to_svg
from .marks import Mark, mix_marks
from .needs import needs
from .printing import print_hours, print_span
from .selection import heading_label, mix_codes, mix_names, mix_order
from .shared import shared
from .short_names import short_names

_FOIL = "midpoint"


@shared
@needs("sensitivity", "definitions", "No other definition of clear was tried.")
def definitions_figure(results: Any, *, criterion: str | None = None) -> Figure | Prose:
    """
    The typical time of each mix under every definition of clear.

    Parameters
    ----------
    results : Results
        With the tables `mixes`, `times`, `sensitivity`, `sensitivity_summary`.
    criterion : str, optional
        One criterion; all that were varied unless named.

    Returns
    -------
    Figure
        A panel a criterion, a row a mix: a stroke a definition, a mark for the declared one, the
        known-biased midpoints below the row, the ranks that the mix takes at the right. A
        sentence when no mix reached a typical time.
    """
    grid = results["sensitivity"]
    grid = grid[grid["mix"].isin(mix_codes(results))]
    panels = [name for name in dict.fromkeys(grid["criterion"]) if criterion in (None, name)]
    grid = grid[grid["criterion"].isin(panels)]
    if (grid["estimate"].astype(float) == math.inf).all():
        return Prose("No mix reached a typical time under any definition of clear.", "definitions")
    axis = time_axis(map(float, grid["estimate"]), float(results.meta["window_h"]))
    marks, names = mix_marks(mix_codes(results)), short_names(mix_names(results))
    order = [mix for mix in mix_order(results) if mix in set(grid["mix"])]
    with pens("definitions"):
        height = 0.85 + len(order) * min(0.3, (TALLEST_IN - 0.85) / len(order))
        figure, axes = new_axes(height, ncols=len(panels), sharey=True, squeeze=False)
        room_at_right(figure, 0.05)
        for ax, name in zip(axes[0], panels, strict=True):
            own = grid[grid["criterion"] == name]
            for y, mix in enumerate(order):
                _draw_mix(ax, own[own["mix"] == mix], marks[mix], axis, y)
            _write_ranks(ax, results, name, order)
            ax.set_title(drawn(heading_label(results, name)))
            rows_of(ax, len(order))
            axis.draw(ax, label=False, ticks=6)
        axes[0][0].set_yticks(range(len(order)), [names[mix] for mix in order])
        figure.supxlabel(axis.words, fontsize=8)
        svg = to_svg(figure)
    return Figure(
        label="definitions",
        caption="Typical times under every definition of clear that was tried",
        alt=_span_alt(results, panels) + _foil_alt(grid, panels),
        svg=svg,
        note=(
            "A stroke is one definition: a tolerance, a number of readings in a row, a rule for "
            "raters, a family of the model. Large mark: the declared one. Grey strokes below: the "
            "middle of each interval taken for the exact time, which is known to mislead and has "
            "no vote. An arrow: not reached. At the right: rank under all definitions. These are "
            "choices, not chance."
        ),
    )


def _draw_mix(ax: Any, own: pd.DataFrame, mark: Mark, axis: TimeAxis, y: float) -> None:
    foil = own["placement"] == _FOIL
    _strokes(ax, own.loc[~foil, "estimate"], (mark.color, 0.9), axis, (y - 0.3, y + 0.1))
    _strokes(ax, own.loc[foil, "estimate"], (SOFT, 0.6), axis, (y + 0.18, y + 0.38))
    for time in own.loc[own["declared"].astype(bool), "estimate"].astype(float):
        if time < math.inf:
            look = {"color": mark.color, "ms": 6, "mec": "white", "mew": 0.7, "zorder": 4}
            ax.plot(axis.at(time), y - 0.1, mark.marker, **look)


def _strokes(
    ax: Any, times: pd.Series, pen: tuple[str, float], axis: TimeAxis, ends: tuple[float, float]
) -> None:
    """One stroke a time that differs on paper, an arrow when a time was not reached."""
    color, width = pen
    # Two strokes closer than the third figure print as one: draw it once.
    placed = sorted({float(f"{axis.at(float(time)):.3g}") for time in times if time < math.inf})
    xs = [x for time in placed for x in (time, time, math.nan)]
    ax.plot(xs, [*ends, math.nan] * len(placed), color=color, lw=width)
    if (times.astype(float) == math.inf).any():
        ax.plot(axis.high, sum(ends) / 2, ">", color=color, ms=4, clip_on=False)


def _write_ranks(ax: Any, results: Any, criterion: str, order: list[str]) -> None:
    table = results["sensitivity_summary"]
    own = table[table["criterion"] == criterion].set_index("mix")
    write_beside(ax, -0.72, "rank", fontsize=6.5, color=SOFT, va="bottom")
    for y, mix in enumerate(order):
        low, high = int(own.loc[mix, "rank_low"]), int(own.loc[mix, "rank_high"])
        weight = "normal" if low == high else "bold"
        write_beside(ax, y, print_span(low, high), weight=weight)


def _span_alt(results: Any, criteria: list[str]) -> str:
    """How far the typical times move with the definition of clear."""
    table, names = results["sensitivity_summary"], mix_names(results)
    parts = []
    for name in criteria:
        own = table[(table["criterion"] == name) & table["mix"].isin(mix_codes(results))]
        spans = [
            f"{names[row.mix]} {print_span(row.estimate_low, row.estimate_high, print_hours)}"
            for row in own.itertuples(index=False)
        ]
        parts.append(f"{name}: {', '.join(spans)}.")
    return "Typical times over other definitions, hours. " + " ".join(parts)


def _foil_alt(grid: pd.DataFrame, panels: list[str]) -> str:
    parts = []
    for name in panels:
        own = grid[grid["criterion"] == name]
        count = own.loc[own["placement"] != _FOIL, "definition"].nunique()
        foils = own.loc[own["placement"] == _FOIL, "definition"].nunique()
        parts.append(f"{name}: {count} definitions, {foils} with midpoints.")
    return " " + " ".join(parts)
