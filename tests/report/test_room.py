"""Axes share the paper with the words around them: nothing is cut off, panels are alike."""

import pytest

from trialkit.report.canvas import new_axes, pens, to_svg
from trialkit.report.room import Room


def arranged(**grid):
    figure, axes = new_axes(3.0, squeeze=False, **grid)
    return figure, axes


def boxes(figure, axes):
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    renderer = FigureCanvasAgg(figure).get_renderer()
    return [ax.get_tightbbox(renderer) for ax in axes.flat]


def test_long_words_around_an_axes_stay_on_the_paper():
    with pens("room"):
        figure, axes = arranged()
        ax = axes[0, 0]
        ax.set_yticks([0, 1], ["a name of very many letters indeed", "b"])
        ax.set_xlabel("hours")
        ax.set_title("above")
        ax.annotate("beside the last", (1, 0.5), (9, 0), textcoords="offset points")
        to_svg(figure)
        (box,) = boxes(figure, axes)
    assert box.x0 >= 0
    assert box.y0 >= 0
    assert box.x1 <= figure.bbox.width
    assert box.y1 <= figure.bbox.height
    # All of the width is used: no more than the pad is left over on either side.
    assert box.x0 < 4
    assert figure.bbox.width - box.x1 < 4


def test_panels_of_a_grid_are_of_one_size_and_do_not_touch():
    with pens("room"):
        figure, axes = arranged(nrows=2, ncols=3)
        axes[0, 1].set_yticks([0, 1], ["a long name", "b"])
        axes[1, 2].set_title("a title")
        figure.supxlabel("for all")
        figure.supylabel("for all")
        to_svg(figure)
        sizes = {(round(ax.bbox.width, 6), round(ax.bbox.height, 6)) for ax in axes.flat}
        found = boxes(figure, axes)
    assert len(sizes) == 1
    overlapping = [
        (i, j)
        for i in range(6)
        for j in range(i)
        if found[i].x0 < found[j].x1
        and found[j].x0 < found[i].x1
        and found[i].y0 < found[j].y1
        and found[j].y0 < found[i].y1
    ]
    assert overlapping == []


def test_words_for_all_axes_have_room_of_their_own():
    with pens("room"):
        figure, axes = arranged()
        below = figure.supxlabel("for all")
        beside = figure.supylabel("for all")
        to_svg(figure)
        (box,) = boxes(figure, axes)
        assert below.get_window_extent().y1 <= box.y0
        assert beside.get_window_extent().x1 <= box.x0


@pytest.mark.parametrize("share", [0.9, 0.985])
def test_a_strip_at_the_right_edge_stays_free(share):
    with pens("room"):
        figure, axes = arranged()
        figure.get_layout_engine().set(right=share)
        to_svg(figure)
        (box,) = boxes(figure, axes)
    assert box.x1 <= share * figure.bbox.width


def test_does_what_the_constrained_layout_does():
    """matplotlib's own layout of the same figure puts the axes within a point or two."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    def drawn(layout):
        with pens("room"):
            figure, axes = arranged(nrows=2, ncols=2)
            for number, ax in enumerate(axes.flat):
                ax.set_yticks([0, 1], ["name " * number, "b"])
                ax.set_xlabel("hours")
                ax.set_title("panel")
            if layout:
                figure.set_layout_engine(layout)
                figure.get_layout_engine().set(w_pad=0.03, h_pad=0.03, wspace=0, hspace=0)
            else:
                assert isinstance(figure.get_layout_engine(), Room)
            FigureCanvasAgg(figure)
            figure.get_layout_engine().execute(figure)
            return [ax.get_position().bounds for ax in axes.flat]

    for mine, theirs in zip(drawn(None), drawn("constrained"), strict=True):
        assert mine == pytest.approx(theirs, abs=0.006)
