"""Figure of two raters' times against each other, a vessel a rectangle."""

import math
from itertools import combinations
from typing import Any

import pandas as pd

from .blocks import Figure
from .canvas import SHADE, SOFT, TimeAxis, drawn, new_axes, pens, time_axis, to_svg
from .marks import Mark, mix_marks
from .needs import needs
from .printing import join, print_interval
from .selection import criterion_label, mix_codes, mix_names, mix_order, of_told_criterion
from .shared import shared
from .short_names import short_names

_ACROSS = 3  # pairs that stand side by side
_SIDE_IN = 2.9  # of one panel
_FEW = 24  # vessels whose rectangles can be told apart
_NAMED = 12  # up to so many marks are named beside the panels


@shared
@needs("rater_intervals", "rater-pairs", "One rater made all calls: no other can be set beside.")
def rater_pair_figure(results: Any, *, criterion: str | None = None) -> Figure:
    """
    When one rater called each vessel clear, against when another did.

    Parameters
    ----------
    results : Results
        With the tables `mixes`, `rater_intervals`.
    criterion : str, optional
        One that several raters judged; the first such unless named.

    Returns
    -------
    Figure
        A panel a pair of raters, a rectangle with a mark a vessel.

    Raises
    ------
    ValueError
        For a criterion that only one rater judged.
    """
    own = of_told_criterion(results, "rater_intervals", criterion)
    label = criterion_label(results, own["criterion"].iloc[0])
    pairs = [_joined(own, *pair) for pair in combinations(sorted(own["rater"].unique()), 2)]
    window = float(results.meta["window_h"])
    axis = time_axis(map(float, [*own["left_h"], *own["right_h"]]), window)
    marks = mix_marks(mix_codes(results))
    with pens("rater-pairs"):
        figure, axes = _panels(len(pairs))
        for number, (ax, pair) in enumerate(zip(axes.flat, pairs, strict=False), start=1):
            _draw_frame(ax, axis, pair)
            _draw_vessels(ax, pair, marks, axis, number)
        for ax in axes.flat[len(pairs) :]:
            ax.set_visible(False)
        _name_marks(figure, own, marks, results, beside=len(pairs) == 1)
        svg = to_svg(figure)
    return Figure(
        label="rater-pairs",
        caption=f"When two raters called each vessel {label}",
        alt=_alt(pairs, results),
        svg=svg,
        note=(
            "A rectangle is one vessel: it came clear within its width for one rater, within its "
            "height for the other. Near the line both say alike. Grey, hollow: not seen clear. "
            "Marks in one rectangle stand beside each other to be seen, not by time."
        ),
    )


def _joined(own: pd.DataFrame, first: str, second: str) -> pd.DataFrame:
    """A row a vessel that both judged, with the intervals of both."""
    columns = ["vessel", "mix", "left_h", "right_h"]
    one, other = (own.loc[own["rater"] == rater, columns] for rater in (first, second))
    pair = one.merge(other.drop(columns="mix"), on="vessel", suffixes=("_a", "_b"))
    pair.attrs["raters"] = (first, second)
    return pair


def _panels(count: int) -> tuple[Any, Any]:
    columns = min(count, _ACROSS)
    rows = math.ceil(count / columns)
    side = min(_SIDE_IN, 6.5 / columns)
    figure, axes = new_axes(rows * (side + 0.35), nrows=rows, ncols=columns, squeeze=False)
    return figure, axes


def _draw_frame(ax: Any, axis: TimeAxis, pair: pd.DataFrame) -> None:
    """The line of agreement, the time nobody watched, the ticks."""
    first, second = pair.attrs["raters"]
    axis.draw(ax, label=False, ticks=7)
    hours = ax.get_xticks()
    ax.set_yscale("log" if axis.log else "linear")
    ax.set_ylim(axis.low, axis.high)
    ax.set_yticks(hours, [f"{hour:g}" for hour in hours])
    ax.minorticks_off()
    ax.grid(axis="y")
    ax.set_aspect("equal")
    ax.axvspan(axis.window_h, axis.high, color=SHADE, lw=0, zorder=0)
    ax.axhspan(axis.window_h, axis.high, color=SHADE, lw=0, zorder=0)
    ax.plot([axis.low, axis.high], [axis.low, axis.high], color=SOFT, lw=0.7, zorder=1)
    ax.set_xlabel(drawn(f"Clear by {first}, h"))
    ax.set_ylabel(drawn(f"Clear by {second}, h"))


def _draw_vessels(
    ax: Any, pair: pd.DataFrame, marks: dict[str, Mark], axis: TimeAxis, number: int
) -> None:
    from matplotlib.collections import PolyCollection

    colors = [marks[mix].color for mix in pair["mix"]]
    boxes = [_corners(row, axis) for row in pair.itertuples(index=False)]
    # An endless rectangle would colour a quarter of the picture: only its edge is drawn.
    fills = [color if seen else "none" for color, seen in zip(colors, _seen(pair), strict=True)]
    # Many rectangles of one session lie on each other: together no darker than a few would be.
    pale = min(1.0, _FEW / len(pair))
    ax.add_collection(PolyCollection(boxes, facecolors=fills, alpha=0.12 * pale, lw=0, zorder=2))
    edges = {"facecolors": "none", "edgecolors": colors, "lw": 0.5, "alpha": 0.2 + 0.5 * pale}
    ax.add_collection(PolyCollection(boxes, **edges, zorder=3))
    places, seen = _places(pair, axis), _seen(pair)
    for vessel, mix, place, full in zip(pair["vessel"], pair["mix"], places, seen, strict=True):
        look = marks[mix]
        pen = {"mfc": look.color if full else "#ffffff", "mec": look.color, "mew": 0.7}
        (point,) = ax.plot(*place, look.marker, ms=4, zorder=4, **pen)
        point.set_gid(f"pair-{number}-{vessel}")


def _seen(pair: pd.DataFrame) -> list[bool]:
    """Whether both raters saw the vessel clear."""
    return list((pair["right_h_a"] < math.inf) & (pair["right_h_b"] < math.inf))


def _name_marks(figure: Any, own: pd.DataFrame, marks: dict, results: Any, beside: bool) -> None:
    """Names beside one panel or below several; more than a dozen would fill the page."""
    shown = [mix for mix in mix_order(results) if mix in set(own["mix"])]
    if len(shown) > _NAMED:
        return
    from matplotlib.lines import Line2D

    names = short_names(mix_names(results))
    looks = {"ls": "none", "ms": 5, "mew": 0}
    lines = [Line2D([], [], color=marks[m].color, marker=marks[m].marker, **looks) for m in shown]
    place = {"loc": "outside right center"} if beside else {"loc": "outside lower center"}
    across = 1 if beside else 6
    labels = [names[mix] for mix in shown]
    figure.legend(lines, labels, frameon=False, fontsize=7.5, ncols=across, **place)


def _corners(row: Any, axis: TimeAxis) -> list[tuple[float, float]]:
    left, right = axis.at(row.left_h_a), axis.at(row.right_h_a)
    low, high = axis.at(row.left_h_b), axis.at(row.right_h_b)
    return [(left, low), (right, low), (right, high), (left, high)]


def _places(pair: pd.DataFrame, axis: TimeAxis) -> list[tuple[float, float]]:
    """A point in each vessel's rectangle; vessels of one session stand along its diagonal."""
    rounded = pair[["right_h_a", "right_h_b"]].round(1)
    groups = rounded.groupby(["right_h_a", "right_h_b"], dropna=False)
    number, size = groups.cumcount(), groups["right_h_a"].transform("size")
    places = []
    for row, k, n in zip(pair.itertuples(index=False), number, size, strict=True):
        share = (k + 1) / (n + 1)
        places.append(
            (
                _between(axis, row.left_h_a, row.right_h_a, share),
                # Against the line of agreement, so that neighbours keep apart.
                _between(axis, row.left_h_b, row.right_h_b, 1 - share),
            )
        )
    return places


def _between(axis: TimeAxis, left: float, right: float, share: float) -> float:
    low, high = axis.at(left), axis.at(right)
    if right == math.inf and left < 0.95 * axis.window_h:
        high = low + (high - low) / 8  # no longer followed: near where it was last seen
    return low * (high / low) ** share if axis.log else low + (high - low) * share


def _alt(pairs: list[pd.DataFrame], results: Any) -> str:
    names, parts = mix_names(results), []
    for pair in pairs:
        first, second = pair.attrs["raters"]
        apart = pair[
            (pair["right_h_a"] <= pair["left_h_b"]) | (pair["right_h_b"] <= pair["left_h_a"])
        ]
        text = f"{first} against {second}: {len(pair)} vessels, {len(apart)} with intervals apart"
        told = [
            f"{row.vessel} ({names[row.mix]}) {print_interval(row.left_h_a, row.right_h_a)} h and "
            f"{print_interval(row.left_h_b, row.right_h_b)} h"
            for row in apart.head(8).itertuples(index=False)
        ]
        parts.append(f"{text}{': ' + join(told) if told else ''}.")
    return "Times by one rater against another's. " + " ".join(parts)
