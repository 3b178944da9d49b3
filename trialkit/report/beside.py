"""Words beside a row, clear of the arrows that leave the axis."""

from typing import Any

from .canvas import INK, drawn


def room_at_right(figure: Any, wide: float = 0.0) -> None:
    """
    Keep a strip free at the right edge, since print sets type a hair wider than the layout.

    Parameters
    ----------
    figure : matplotlib.figure.Figure
    wide : float
        Space between two panels, as a share of their width.
    """
    figure.get_layout_engine().set(right=0.985, between=wide)


def write_beside(axes: Any, y: float, words: str, **look: Any) -> None:
    """
    Write words at the right of a row.

    Parameters
    ----------
    axes : matplotlib.axes.Axes
    y : float
        The row.
    words : str
    **look
        Passed to ``Axes.annotate``.
    """
    place = {"xycoords": axes.get_yaxis_transform(), "textcoords": "offset points"}
    axes.annotate(drawn(words), (1, y), (9, 0), **place, **{**_LOOK, **look})


def left_of(axes: Any, points: float) -> Any:
    """
    Transform that puts (0, row) so many points left of an axes, however wide that is.

    Parameters
    ----------
    axes : matplotlib.axes.Axes
    points : float

    Returns
    -------
    matplotlib.transforms.Transform
    """
    from matplotlib.transforms import ScaledTranslation

    shift = ScaledTranslation(-points / 72, 0, axes.figure.dpi_scale_trans)
    return axes.get_yaxis_transform() + shift


_LOOK = {"va": "center", "fontsize": 7, "color": INK, "annotation_clip": False}
