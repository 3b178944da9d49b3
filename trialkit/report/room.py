"""Room for the words around the axes of a figure, found in one look."""

from typing import Any

from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.layout_engine import LayoutEngine

_PAD = 0.03 * 72  # points between a figure's edge, or half of what is between two axes


class Room(LayoutEngine):
    """
    Axes as large as the words around them allow, the panels of a grid alike.

    The constrained layout of matplotlib does the same and more, and looks at every word twice,
    since ticks may change with the size of the axes. Those of this kit are set, and stay.
    """

    _adjust_compatible = True
    _colorbar_gridspec = True

    def __init__(self) -> None:
        super().__init__()
        self._params = {"right": 1.0, "between": 0.0}

    def set(self, **settings: float) -> None:
        """
        Change what is kept free.

        Parameters
        ----------
        **settings
            `right`: where the figure ends, as a share of its width; `between`: space between two
            columns, as a share of the width of one.
        """
        self._params.update(settings)

    def execute(self, fig: Any) -> None:
        """
        Place the axes.

        Parameters
        ----------
        fig : matplotlib.figure.Figure
            Its axes stand in one grid, one in a cell.
        """
        renderer = FigureCanvasAgg(fig).get_renderer()
        grid = fig.axes[0].get_subplotspec().get_gridspec()
        columns, rows = _Line(grid.ncols), _Line(grid.nrows)
        for axes in fig.axes:
            row, column = _cell(axes)
            outer = axes.get_tightbbox(renderer, for_layout_only=True)
            if outer is not None:
                inner = axes.get_window_extent()
                columns.keep(column, inner.x0 - outer.x0, outer.x1 - inner.x1)
                rows.keep(row, outer.y1 - inner.y1, inner.y0 - outer.y0)
        left, right, below = _shared_words(fig, renderer)
        wide, high = fig.bbox.width, fig.bbox.height
        end = wide * self._params["right"] - right
        across = columns.places(left, end, self._params["between"])
        down = rows.places(0.0, high - below, 0.0)
        for axes in fig.axes:
            row, column = _cell(axes)
            (x, width), (y, height) = across[column], down[row]
            box = (x / wide, 1 - (y + height) / high, width / wide, height / high)
            axes.set_position(box, which="both")
        for words in fig.texts:
            _centre(words, fig, across, down)


def _shared_words(fig: Any, renderer: Any) -> tuple[float, float, float]:
    """Room that what belongs to all axes takes at the left, at the right and below."""
    left = right = below = 0.0
    for words in (*fig.texts, *fig.legends):
        box = words.get_window_extent(renderer)
        if _is_turned(words):
            left = box.width + 2 * _PAD
        elif box.x0 > fig.bbox.width / 2:
            right = fig.bbox.width - box.x0 + _PAD
        else:
            below = max(below, box.height + 2 * _PAD)
    return left, right, below


def _centre(words: Any, fig: Any, across: list, down: list) -> None:
    """Set words for all axes along the middle of them."""
    (first, _), (last, size) = across[0], across[-1]
    (top, _), (lowest, height) = down[0], down[-1]
    if _is_turned(words):
        middle = 1 - (top + lowest + height) / 2 / fig.bbox.height
        words.set_position((_PAD / fig.bbox.width, middle))
    else:
        words.set_position(((first + last + size) / 2 / fig.bbox.width, _PAD / fig.bbox.height))


def _is_turned(words: Any) -> bool:
    return getattr(words, "get_rotation", float)() == 90


class _Line:
    """The columns or the rows of a grid, with the room that is needed before and after each."""

    def __init__(self, count: int) -> None:
        self.before, self.after = [0.0] * count, [0.0] * count

    def keep(self, place: int, before: float, after: float) -> None:
        """Widen the room at a place to what one more of its axes needs."""
        self.before[place] = max(self.before[place], before)
        self.after[place] = max(self.after[place], after)

    def places(self, start: float, end: float, between: float) -> list[tuple[float, float]]:
        """Where each begins and how far it goes, all of one size."""
        count = len(self.before)
        before, after = ([room + _PAD for room in side] for side in (self.before, self.after))
        gaps = [after[i] + before[i + 1] for i in range(count - 1)]
        free = end - start - before[0] - after[-1]
        size = (free - sum(gaps)) / count
        if between:
            least = between * size
            gaps = [max(gap, least) for gap in gaps]
            size = (free - sum(gaps)) / count
        places = [(start + before[0], size)]
        for gap in gaps:
            places.append((places[-1][0] + size + gap, size))
        return places


def _cell(axes: Any) -> tuple[int, int]:
    spec = axes.get_subplotspec()
    return spec.rowspan.start, spec.colspan.start
