"""Intervals, curves and ranking of a trial as one piece of HTML, quick enough for a slider.

The report draws the same with more care; here a tenth of a second counts, so the picture is put
together as text.
"""

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from html import escape

import numpy as np
import pandas as pd

from trialkit.report.html import mark_html
from trialkit.report.marks import Mark
from trialkit.report.printing import print_hours, print_interval

__all__ = ["Names", "panel_html"]

WIDTH, LINE, TOP, BOTTOM = 410, 12, 8, 34
_SEEN = 0.03  # a curve that rises less lies on the axis
_LETTER = 6.5  # width of a letter on the average
MARGIN = 66  # for names and shares to the left of the axis
CURVE_HEIGHT = 220

STYLE = (
    "<style>.trialkit-panel{display:flex;flex-wrap:wrap;gap:16px;line-height:1.4}"
    ".trialkit-panel table{border-collapse:collapse}.trialkit-panel td,.trialkit-panel th"
    "{padding:2px 8px;text-align:right}.trialkit-panel td:nth-child(2),"
    ".trialkit-panel th:nth-child(2){text-align:left}.trialkit-panel svg text"
    "{font:11px sans-serif;fill:currentColor}.trialkit-panel .name{paint-order:stroke;"
    "stroke:var(--jp-layout-color0,#fff);stroke-width:3px}"
    ".trialkit-panel .axis{stroke:currentColor;"
    "stroke-width:1;opacity:.5;fill:none}</style>"
)


@dataclass(frozen=True)
class Names:
    """How the mixes of a trial are called and drawn, and its times.

    Attributes
    ----------
    mixes : dict of str to str
        Printed name by code.
    marks : dict of str to Mark
        Colour and shape by code.
    schedule_h : tuple of float
        Planned readings, hours.
    window_h : float
        End of watching, hours.
    """

    mixes: dict[str, str]
    marks: dict[str, Mark]
    schedule_h: tuple[float, ...]
    window_h: float


def panel_html(
    sentence: str, ranking: pd.DataFrame, intervals: pd.DataFrame, curves: dict, names: Names
) -> str:
    """Sentence, ranking, intervals and curves of one definition of clear.

    Parameters
    ----------
    sentence : str
        What the definition is and what it does to the order.
    ranking : pandas.DataFrame
        `mix`, `rank`, `rank_declared`, `estimate`, `conf_low`, `conf_high`, `n`, `n_event`, in
        order of the ranking; hours.
    intervals : pandas.DataFrame
        One row a vessel: `mix`, `vessel`, `left_h`, `right_h`.
    curves : dict of str to callable
        Share of batches clear by a time, by mix.
    names : Names
        How mixes are called and drawn.

    Returns
    -------
    str
        HTML that works in light and dark notebooks.
    """
    order = ranking["mix"].tolist()
    parts = (
        _ranking_table(ranking, names),
        _interval_svg(intervals, order, names),
        _curve_svg(curves, order, names),
    )
    # Read out by screen readers as it changes.
    spoken = f'<p role="status" aria-live="polite">{escape(sentence)}</p>'
    return f'{STYLE}{spoken}<div class="trialkit-panel">{"".join(parts)}</div>'


def _ranking_table(ranking: pd.DataFrame, names: Names) -> str:
    limits = "Limits by one spread, h"  # the report takes wider ones where mixes spread unequally
    heads = ("Rank", "Mix", "Typical time, h", limits, "Cleared", "Rank as declared")
    rows = [
        (
            str(row.rank),
            mark_html(names.marks[row.mix].to_json()) + escape(names.mixes[row.mix]),
            print_hours(row.estimate),
            print_interval(row.conf_low, row.conf_high),
            f"{row.n_event} of {row.n}",
            str(row.rank_declared) + ("" if row.rank == row.rank_declared else " (moved)"),
        )
        for row in ranking.itertuples()
    ]
    head = "".join(f'<th scope="col">{word}</th>' for word in heads)
    body = "".join(f"<tr>{''.join(f'<td>{cell}</td>' for cell in row)}</tr>" for row in rows)
    return f"<table><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>"


def _time_axis(names: Names) -> tuple[Callable[[float], float], float]:
    """From hours to a place across the picture, logarithmic; and the earliest time shown."""
    first = names.schedule_h[0] / 2
    span = math.log(names.window_h * 1.2 / first)

    def place(hours: float) -> float:
        inside = min(max(hours, first), names.window_h * 1.2)
        return round(MARGIN + (WIDTH - MARGIN - 6) * math.log(inside / first) / span, 1)

    return place, first


def _ticks(names: Names, place: Callable, height: float) -> str:
    """Times under the picture, as many as there is room for."""
    marks, last = [], -40.0
    for hours in names.schedule_h:
        x = place(hours)
        if x - last >= 30:
            text = f'<text x="{x}" y="{height - 18}" text-anchor="middle">{hours:g}</text>'
            marks.append(f'<path class="axis" d="M{x} {height - BOTTOM}v4"/>{text}')
            last = x
    words = f'<text x="{(MARGIN + WIDTH) / 2}" y="{height - 4}" text-anchor="middle">hours</text>'
    line = f'<path class="axis" d="M{MARGIN} {height - BOTTOM}H{WIDTH}"/>'
    return line + "".join(marks) + words


def _svg(height: float, label: str, body: str) -> str:
    return (
        f'<svg width="{WIDTH}" height="{height}" viewBox="0 0 {WIDTH} {height}" role="img" '
        f'aria-label="{escape(label)}">{body}</svg>'
    )


def _interval_svg(intervals: pd.DataFrame, order: list[str], names: Names) -> str:
    place, _ = _time_axis(names)
    rank = {mix: position for position, mix in enumerate(order)}
    rows = sorted(intervals.itertuples(), key=lambda row: (rank[row.mix], row.vessel))
    lines = "".join(_vessel(row, i, place, names) for i, row in enumerate(rows))
    firsts = {row.mix: i for i, row in reversed(list(enumerate(rows)))}
    lines += "".join(
        _name(names.mixes[mix], 0, TOP + LINE * (i + 0.8)) for mix, i in firsts.items()
    )
    height = TOP + LINE * len(rows) + BOTTOM
    label = "Interval of each vessel, mixes in order of the ranking"
    return _svg(height, label, lines + _ticks(names, place, height))


def _vessel(row, index: int, place: Callable, names: Names) -> str:
    y = TOP + LINE * (index + 0.5)
    left, right = place(row.left_h), place(row.right_h)
    # An arrow where the vessel was not seen clear.
    end = f"M{right - 5} {y - 4}l5 4l-5 4" if math.isinf(row.right_h) else f"M{right} {y - 4}v8"
    title = f"{names.mixes[row.mix]}, vessel {row.vessel}"
    return (
        f'<path d="M{left} {y}H{right}{end}" stroke="{names.marks[row.mix].color}" '
        f'stroke-width="2.5" fill="none"><title>{escape(title)}</title></path>'
    )


def _name(name: str, x: float, y: float) -> str:
    return f'<text class="name" x="{x}" y="{y}">{escape(_short(name))}</text>'


def _short(name: str) -> str:
    return name if len(name) <= 11 else name[:10] + "…"


def _curve_svg(curves: dict, order: list[str], names: Names) -> str:
    place, first = _time_axis(names)
    hours = np.geomspace(first, names.window_h, 60)
    body = "".join(_curve(curves[mix](hours), mix, hours, place, names) for mix in order)
    body += "".join(_curve_name(curves[mix](hours), mix, hours, place, names) for mix in order)
    shares = "".join(_share_line(share) for share in (0, 0.5, 1))
    label = "Share of batches clear by each time, a curve a mix"
    return _svg(CURVE_HEIGHT, label, shares + body + _ticks(names, place, CURVE_HEIGHT))


def _height(share: float) -> float:
    return round(TOP + (1 - share) * (CURVE_HEIGHT - TOP - BOTTOM), 1)


def _share_line(share: float) -> str:
    y = _height(share)
    return (
        f'<path class="axis" stroke-dasharray="2 4" d="M{MARGIN} {y}H{WIDTH}"/>'
        f'<text x="{MARGIN - 6}" y="{y + 4}" text-anchor="end">{share:.0%}</text>'
    )


def _curve(shares: np.ndarray, mix: str, hours: np.ndarray, place: Callable, names: Names) -> str:
    points = " ".join(_points(shares, hours, place))
    return (
        f'<polyline points="{points}" fill="none" stroke="{names.marks[mix].color}" '
        f'stroke-width="2"><title>{escape(names.mixes[mix])}</title></polyline>'
    )


def _curve_name(shares: np.ndarray, mix: str, hours: np.ndarray, place: Callable, names: Names):
    """The name beside its curve, at a height of its own: colour alone tells nobody enough."""
    level = 0.9 - 0.12 * (list(names.mixes).index(mix) % 7)
    reached = np.flatnonzero(shares >= level)
    if shares[-1] < _SEEN:
        return ""
    # A curve that doesn't come so far is named at its end.
    at = reached[0] if reached.size else len(shares) - 1
    x, y = place(hours[at]), _height(min(level, shares[-1])) + 8
    name = names.mixes[mix]
    if x + 4 + _LETTER * len(_short(name)) <= WIDTH:
        return _name(name, x + 4, y)
    return _name(name, x - 6, y - 12).replace("<text ", '<text text-anchor="end" ')


def _points(shares: np.ndarray, hours: np.ndarray, place: Callable) -> Iterator[str]:
    for share, time in zip(shares, hours, strict=True):
        yield f"{place(time)},{_height(share)}"
