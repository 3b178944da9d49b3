"""Figure of what each rater alone would have found."""

import math
from typing import Any

import pandas as pd

from .beside import room_at_right, write_beside
from .blocks import Figure
from .canvas import SOFT, TALLEST_IN, TimeAxis, drawn, new_axes, pens, rows_of, time_axis, to_svg
from .marks import Mark, mix_marks
from .needs import needs
from .printing import print_hours
from .selection import criterion_label, mix_codes, mix_names, mix_order, of_told_criterion
from .shared import shared
from .short_names import short_names

_ACROSS = 3  # panels that stand side by side


@shared
@needs("rater_times", "raters", "One rater made all calls: there is no other to set beside.")
def rater_figure(results: Any, *, criterion: str | None = None) -> Figure:
    """
    The typical time of each mix by one rater alone, beside the declared rule.

    Parameters
    ----------
    results : Results
        With the tables `mixes`, `times`, `rater_times`.
    criterion : str, optional
        One that several raters judged; the first such unless named.

    Returns
    -------
    Figure
        A panel a rater, a row a mix.

    Raises
    ------
    ValueError
        For a criterion that only one rater judged.
    """
    own = of_told_criterion(results, "rater_times", criterion)
    label = criterion_label(results, own["criterion"].iloc[0])
    raters = sorted(own["rater"].unique())
    order = [mix for mix in mix_order(results) if mix in set(own["mix"])]
    axis = time_axis(
        map(float, [*own["typical_h"], *own["alone_h"]]), float(results.meta["window_h"])
    )
    marks, names = mix_marks(mix_codes(results)), mix_names(results)
    short = short_names(names)
    with pens("raters"):
        figure, axes = _panels(len(raters), len(order))
        for ax, rater in zip(axes.flat, raters, strict=False):
            rows = {row.mix: row for row in own[own["rater"] == rater].itertuples(index=False)}
            for y, mix in enumerate(order):
                if mix in rows:
                    _draw_row(ax, rows[mix], marks[mix], axis, y)
            ax.set_title(drawn(f"{rater} alone"))
            rows_of(ax, len(order))
            axis.draw(ax, label=False, ticks=6)
        for ax in axes.flat[len(raters) :]:
            ax.set_visible(False)
        for ax in axes[:, 0]:
            ax.set_yticks(range(len(order)), [short[mix] for mix in order])
        figure.supxlabel(axis.words, fontsize=8)
        svg = to_svg(figure)
    return Figure(
        label="raters",
        caption=f"Typical time until {label}, by one rater alone",
        alt=_alt(own, names, order),
        svg=svg,
        note=(
            "Filled mark: judged by this rater alone. Grey ring: by the declared rule. At the "
            "right: vessels that would have another interval. An arrow: not reached."
        ),
    )


def _panels(raters: int, mixes: int) -> tuple[Any, Any]:
    columns = min(raters, _ACROSS)
    rows = math.ceil(raters / columns)
    height = 0.7 + rows * (0.3 + mixes * min(0.26, (TALLEST_IN - 1) / rows / mixes))
    figure, axes = new_axes(height, nrows=rows, ncols=columns, sharey=True, squeeze=False)
    room_at_right(figure, 0.05)
    return figure, axes


def _draw_row(ax: Any, row: Any, mark: Mark, axis: TimeAxis, y: float) -> None:
    declared, alone = float(row.typical_h), float(row.alone_h)
    if max(declared, alone) == math.inf:
        ax.plot(axis.high, y, ">", color=mark.color, ms=4.5, clip_on=False)
    ax.plot([axis.at(declared), axis.at(alone)], [y, y], color=mark.color, lw=1.2)
    if alone < math.inf:
        ax.plot(axis.at(alone), y, mark.marker, color=mark.color, ms=5)
    if declared < math.inf:
        ax.plot(axis.at(declared), y, "o", color=SOFT, mfc="none", ms=8.5, mew=0.8)
    write_beside(ax, y, f"{int(row.n_changed)} of {int(row.n)}", fontsize=6.5)


def _alt(own: pd.DataFrame, names: dict[str, str], order: list[str]) -> str:
    parts = []
    for rater, rows in own.groupby("rater"):
        at = rows.set_index("mix")
        told = [
            f"{names[mix]} {print_hours(float(at.loc[mix, 'alone_h']))} instead of "
            f"{print_hours(float(at.loc[mix, 'typical_h']))}"
            for mix in order
            if mix in at.index and at.loc[mix, "n_changed"] > 0
        ]
        parts.append(f"{rater} alone: {', '.join(told) or 'every vessel as declared'}.")
    return "Typical times by one rater alone, hours. " + " ".join(parts)
