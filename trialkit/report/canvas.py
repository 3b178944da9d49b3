"""Paper and pens of the figures: type, colours, the axis of time, the SVG text."""

import io
import logging
import math
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

from .fonts import FALLBACK, FAMILY, font_folder, printable
from .lettering import lettered, register

INK, SOFT, RULE, SHADE = "#1b1f24", "#5b6470", "#d5dae1", "#e9ecf0"
WIDTH_IN = 6.5
TALLEST_IN = 8.6

_PENS = {
    "svg.fonttype": "none",
    "font.family": [FAMILY, FALLBACK],
    "font.size": 8.0,
    "text.parse_math": False,
    # Measured as print sets it; fitting letters to the dots of a screen took time as well.
    "text.hinting": "none",
    "figure.facecolor": "none",
    "figure.dpi": 72.0,
    "axes.facecolor": "none",
    "text.color": INK,
    "axes.labelcolor": INK,
    "axes.labelsize": 8.0,
    "axes.edgecolor": SOFT,
    "axes.linewidth": 0.6,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.titlesize": 8.5,
    "axes.titlelocation": "left",
    "xtick.color": SOFT,
    "ytick.color": SOFT,
    "xtick.labelcolor": INK,
    "ytick.labelcolor": INK,
    "xtick.labelsize": 7.5,
    "ytick.labelsize": 7.5,
    "xtick.major.width": 0.6,
    "ytick.major.width": 0.6,
    "grid.color": RULE,
    "grid.linewidth": 0.5,
    "lines.solid_capstyle": "butt",
    "hatch.linewidth": 0.5,
}

_HOURS = (0.01, 0.02, 0.05, 0.1, 0.25, 0.5, 1, 2, 4, 8, 12, 16, 24, 48, 96, 168, 336, 672, 1344)


@contextmanager
def pens(label: str) -> Iterator[None]:
    """
    Settings under which one figure is drawn and written.

    Parameters
    ----------
    label : str
        The figure's label: it salts the names inside the SVG, so that two figures on one page
        share none, and a second run gives the same.

    Yields
    ------
    None
    """
    # Its note on building a font list would turn up as an output of the notebook.
    logging.getLogger("matplotlib.font_manager").setLevel(logging.ERROR)
    import matplotlib as mpl

    _register_fonts()
    with mpl.rc_context({**_PENS, "svg.hashsalt": label}):
        yield


def new_axes(height_in: float, **grid: Any) -> tuple[Any, Any]:
    """
    A figure of the text width, with its axes.

    Parameters
    ----------
    height_in : float
        Inches.
    **grid
        Passed to ``Figure.subplots``.

    Returns
    -------
    figure : matplotlib.figure.Figure
    axes : matplotlib.axes.Axes or array of them
    """
    from matplotlib.figure import Figure

    from .room import Room

    figure = Figure(figsize=(WIDTH_IN, min(height_in, TALLEST_IN)), layout=Room())
    return figure, figure.subplots(**grid)


def to_svg(figure: Any) -> str:
    """
    The figure as SVG text with real letters, no date, no background.

    Parameters
    ----------
    figure : matplotlib.figure.Figure

    Returns
    -------
    str
    """
    from matplotlib.backends.backend_svg import FigureCanvasSVG

    file = io.StringIO()
    nothing = dict.fromkeys(("Date", "Creator", "Format", "Type"))
    with lettered(figure):
        # Arrange once and draw once: `savefig` would do both twice.
        figure.get_layout_engine().execute(figure)
        figure.set_layout_engine("none")
        FigureCanvasSVG(figure).print_svg(file, metadata=nothing)
    text = file.getvalue()
    return text[text.index("<svg") :]


@dataclass(frozen=True)
class TimeAxis:
    """
    Where hours stand on paper.

    Attributes
    ----------
    low, high : float
        Ends of the axis, hours.
    window_h : float
        End of watching.
    log : bool
        Whether equal steps stand for equal ratios.
    """

    low: float
    high: float
    window_h: float
    log: bool

    def at(self, hour: float) -> float:
        """The hour, or the end of the axis that it lies beyond."""
        return min(max(hour, self.low), self.high)

    def ticks(self) -> list[float]:
        """Round hours within the window, its end among them."""
        if self.log:
            inner = [h for h in _HOURS if self.low <= h < self.window_h / 1.3]
            # Ten at most: halve from the short end, where they crowd no one if left out.
            beyond = [h for h in _HOURS if 1.3 * self.window_h < h < self.high]
            return [*inner[-9:], self.window_h, *beyond[:3]]
        step = _round_step(self.window_h / 6)
        inner = [step * k for k in range(math.ceil(self.window_h / step))]
        return [h for h in inner if h < self.window_h - step / 2] + [self.window_h]

    def draw(self, axes: Any, *, label: bool = True, ticks: int = 10) -> None:
        """Set the scale, the ticks and the words under an axes."""
        if self.log:
            axes.set_xscale("log")
        axes.set_xlim(self.low, self.high)
        every = max(1, math.ceil(len(self.ticks()) / ticks))
        hours = self.ticks()[::-every][::-1]
        axes.set_xticks(hours, [f"{h:g}" for h in hours])
        axes.minorticks_off()
        axes.grid(axis="x")
        axes.set_axisbelow(True)
        if label:
            axes.set_xlabel(self.words)

    def mark_end(self, axes: Any) -> None:
        """Draw the end of watching, with its name over it."""
        axes.axvline(self.window_h, color=SOFT, lw=0.7, ls=(0, (4, 2)))
        place = axes.get_xaxis_transform()
        words = {"fontsize": 6.5, "color": SOFT, "ha": "center", "va": "bottom"}
        axes.text(self.window_h, 1.005, "end of watching", transform=place, **words)

    @property
    def words(self) -> str:
        """What the axis shows."""
        return "Hours since mixing began" + (", equal steps are equal ratios" if self.log else "")


def time_axis(hours: Iterable[float], window_h: float) -> TimeAxis:
    """
    The axis that suits some times: by ratio when they spread over more than eightfold.

    Parameters
    ----------
    hours : iterable of float
        Times to be shown; 0 and inf are left to the ends.
    window_h : float

    Returns
    -------
    TimeAxis

    Examples
    --------
    >>> time_axis([0.0, 0.25, 1.5, 30.0, float("inf")], 30.0)
    TimeAxis(low=0.16666666666666666, high=39.0, window_h=30.0, log=True)
    >>> time_axis([6.0, 8.0, 12.0], 24.0).log
    False
    """
    placed = [hour for hour in hours if 0 < hour < math.inf]
    low, top = min([*placed, window_h]), max([*placed, window_h])
    log = top / low > 8
    if log:
        return TimeAxis(low / 1.5, top * 1.3, window_h, True)
    return TimeAxis(0.0, top * 1.08, window_h, False)


def drawn(name: str) -> str:
    """
    A name with what no typeface holds spelled out, fit for a figure.

    Parameters
    ----------
    name : str

    Returns
    -------
    str
    """
    return printable(name)


def name_rows(axes: Any, names: list[str], **look: Any) -> None:
    """
    Make an axes a list of named rows, the first on top.

    Parameters
    ----------
    axes : matplotlib.axes.Axes
    names : list of str
        Fit for a figure, see `short_names`.
    **look
        Passed to ``Axes.set_yticks``.
    """
    axes.set_yticks(range(len(names)), names, **look)
    rows_of(axes, len(names))


def rows_of(axes: Any, count: int) -> None:
    """
    Make an axes a list of so many rows, the first on top, with a thin line between two.

    Parameters
    ----------
    axes : matplotlib.axes.Axes
    count : int
    """
    axes.set_ylim(count - 0.4, -0.6)
    axes.tick_params(axis="y", length=0)
    axes.spines["left"].set_visible(False)
    for y in range(1, count):
        axes.axhline(y - 0.5, color=RULE, lw=0.4)


def beside_corner(axes: Any, right_pt: float = 5, up_pt: float = 9) -> Any:
    """
    Transform that puts (0, 1) a little off the upper left corner of an axes.

    Parameters
    ----------
    axes : matplotlib.axes.Axes
    right_pt, up_pt : float
        Points.

    Returns
    -------
    matplotlib.transforms.Transform
    """
    from matplotlib.transforms import ScaledTranslation

    scale = axes.figure.dpi_scale_trans
    return axes.transAxes + ScaledTranslation(right_pt / 72, up_pt / 72, scale)


def _register_fonts() -> None:
    for path in sorted(font_folder().glob("*.ttf")):
        register(path)


def _round_step(rough: float) -> float:
    power = 10 ** math.floor(math.log10(rough))
    return min((f * power for f in (1, 2, 2.5, 5, 10)), key=lambda step: abs(step - rough))
