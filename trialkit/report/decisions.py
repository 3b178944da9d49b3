"""Figures of decisions: claims, pairs of mixes, ranks."""

import math
from typing import Any

import pandas as pd

from .beside import room_at_right, write_beside
from .blocks import Figure, Prose
from .canvas import INK, RULE, TALLEST_IN, name_rows, new_axes, pens, time_axis, to_svg
from .marks import mix_marks
from .needs import needs
from .pair_ratios import inverse, ratio_words
from .selection import criterion_label, level_words, mix_codes, mix_names, mix_order, of_criterion
from .shared import shared
from .short_names import claim_lines, short_names
from .verdicts import claim_alt, comparison_alt, is_compared, is_shown, rank_alt

_LETTERED = 12  # up to so many mixes the cells of the pairs hold their numbers


@shared
@needs("claims", "claims-figure", "No claim was declared in this trial.")
def claims_figure(results: Any) -> Figure | Prose:
    """
    Claims about times on the axis of time, each with its time and the limits.

    Parameters
    ----------
    results : Results
        With the tables `mixes`, `claims`.

    Returns
    -------
    Figure
        A row a claim; claims about a ratio of times stand in the table only.
    """
    claims = results["claims"]
    claims = claims[(claims["unit"] == "h") & claims["mix"].isin(mix_codes(results))]
    if claims.empty:
        return Prose("No claim of this trial names a time.", "claims-figure")
    marks = mix_marks(mix_codes(results))
    ends = [*claims["estimate"], *claims["conf_low"], *claims["conf_high"], *claims["threshold"]]
    axis = time_axis(map(float, ends), float(results.meta["window_h"]))
    with pens("claims-figure"):
        figure, ax = new_axes(0.7 + 0.36 * len(claims))
        room_at_right(figure)
        for y, row in enumerate(claims.itertuples(index=False)):
            color = marks[row.mix].color
            low, high = axis.at(row.conf_low), axis.at(row.conf_high)
            ax.plot([low, high], [y, y], color=color, lw=3.2, alpha=0.4)
            if row.conf_high == math.inf:
                ax.plot(axis.high, y, ">", color=color, ms=4.5, clip_on=False)
            if row.estimate < math.inf:
                ax.plot(axis.at(row.estimate), y, marks[row.mix].marker, color=color, ms=5.5)
            ax.plot([axis.at(row.threshold)] * 2, [y - 0.34, y + 0.34], color=INK, lw=1.8)
            write_beside(ax, y, row.verdict)
        name_rows(ax, [claim_lines(text) for text in claims["text"]])
        axis.mark_end(ax)
        axis.draw(ax)
        svg = to_svg(figure)
    return Figure(
        label="claims-figure",
        caption="Claims against the times that were found",
        alt=claim_alt(results),
        svg=svg,
        note=(
            "Black bar: what is claimed. Mark with a line: the time found with its limits. A claim "
            "is supported, or contradicted, when the whole line lies on one side of the bar."
        ),
    )


@shared
@needs("comparisons", "pairs-figure", "No two mixes of this trial can be compared.")
def comparison_figure(results: Any, *, criterion: str | None = None) -> Figure | Prose:
    """
    Every pair of mixes in one square: which was shown to clear sooner, by how much.

    Parameters
    ----------
    results : Results
        With the tables `mixes`, `times`, `comparisons`.
    criterion : str, optional
        The trial's primary criterion unless named.

    Returns
    -------
    Figure
        Row against column; the number is the row's time divided by the column's. A sentence when
        no two mixes can be compared.
    """
    pairs = of_pairs(results, criterion)
    if not any_compared(results, criterion):
        return Prose("The data set no limit to any pair.", "pairs-figure")
    if len(pairs) == 1:
        return Prose("One pair needs no square of pairs.", "pairs-figure")
    order = [
        mix for mix in mix_order(results, criterion) if mix in {*pairs["mix_a"], *pairs["mix_b"]}
    ]
    place, names = {mix: i for i, mix in enumerate(order)}, short_names(mix_names(results))
    lettered = len(order) <= _LETTERED
    with pens("pairs-figure"):
        side = min(TALLEST_IN - 1, 1.1 + 0.42 * len(order))
        figure, ax = new_axes(side)
        for row in pairs.itertuples(index=False):
            _draw_pair(ax, row, place, lettered=lettered)
        labels = [names[mix] for mix in order]
        ax.set_xticks(range(len(order)), labels, rotation=45, ha="left")
        ax.set_yticks(range(len(order)), labels)
        ax.xaxis.tick_top()
        ax.set(xlim=(-0.5, len(order) - 0.5), ylim=(len(order) - 0.5, -0.5))
        ax.tick_params(length=0)
        for spine in ax.spines.values():
            spine.set_visible(False)
        svg = to_svg(figure)
    return Figure(
        label="pairs-figure",
        caption=f"Pairs of mixes, time until {criterion_label(results, criterion)}",
        alt=comparison_alt(results, criterion),
        svg=svg,
        note=(
            ("Number: the row's time divided by the column's. " if lettered else "")
            + "Blue: the row was shown to clear sooner. Orange with a dark corner: shown to clear "
            "later. White: not shown different, which is no evidence that the two are alike."
        ),
    )


def of_pairs(results: Any, criterion: str | None = None) -> pd.DataFrame:
    """
    The comparisons between mixes of the trial under one criterion.

    Parameters
    ----------
    results : Results
    criterion : str, optional

    Returns
    -------
    pandas.DataFrame
    """
    wanted = results.meta["primary"] if criterion is None else criterion
    pairs, codes = results["comparisons"], mix_codes(results)
    inside = pairs["mix_a"].isin(codes) & pairs["mix_b"].isin(codes)
    return pairs[(pairs["criterion"] == wanted) & inside]


def any_compared(results: Any, criterion: str | None = None) -> bool:
    """
    Whether the data told anything of any two mixes.

    Parameters
    ----------
    results : Results
    criterion : str, optional

    Returns
    -------
    bool
        True also where pairs were not asked about.
    """
    if "comparisons" not in results or results["comparisons"].empty:
        return True
    return bool(of_pairs(results, criterion)["verdict"].map(is_compared).any())


def _draw_pair(ax: Any, row: Any, place: dict[str, int], *, lettered: bool) -> None:
    there = (float(row.estimate), float(row.conf_low), float(row.conf_high))
    estimate, low, high = there
    back = (inverse(estimate), inverse(high), inverse(low))
    for mix, other, found in ((row.mix_a, row.mix_b, there), (row.mix_b, row.mix_a, back)):
        y, x = place[mix], place[other]
        sooner, shown = found[0] < 1, is_shown(row.verdict)
        face = "none" if not shown else "#9ecae8" if sooner else "#f3c49d"
        corners = [x - 0.46, x + 0.46, x + 0.46, x - 0.46], [y - 0.46] * 2 + [y + 0.46] * 2
        ax.fill(*corners, facecolor=face, edgecolor=RULE, lw=0.6)
        if shown and not sooner:
            corner = [x + 0.46, x + 0.46, x + 0.3], [y + 0.22, y + 0.46, y + 0.46]
            ax.fill(*corner, color="#b5651d", lw=0)
        if lettered:
            look = {"ha": "center", "va": "center", "fontsize": 7, "color": INK}
            number = ax.text(x, y, ratio_words(*found), **look)
            if shown:
                # A page that is dark turns letters pale, but not those on a pale cell.
                number.set_gid(f"on-pale-{y}-{x}")


@shared
@needs("ranks", "ranks-figure", "The mixes of this trial are not ranked.")
def rank_figure(results: Any, *, criterion: str | None = None) -> Figure | Prose:
    """
    The ranks that each mix may hold, with its most likely one.

    Parameters
    ----------
    results : Results
        With the tables `mixes`, `times`, `ranks`.
    criterion : str, optional
        The trial's primary criterion unless named.

    Returns
    -------
    Figure or Prose
        A sentence where fewer than three mixes, or none, could be compared.
    """
    ranks = of_criterion(results, "ranks", criterion).sort_values("rank", kind="stable")
    if len(ranks) < 3 or not any_compared(results, criterion):
        return Prose("There is no order to draw.", "ranks-figure")
    marks, names = mix_marks(mix_codes(results)), short_names(mix_names(results))
    with pens("ranks-figure"):
        figure, ax = new_axes(0.7 + 0.26 * len(ranks))
        for y, row in enumerate(ranks.itertuples(index=False)):
            look = marks[row.mix]
            ends = [row.rank_low - 0.12, row.rank_high + 0.12]
            ax.plot(ends, [y, y], color=look.color, lw=4.5, alpha=0.35)
            ax.plot(row.rank, y, look.marker, color=look.color, ms=6)
        name_rows(ax, [names[mix] for mix in ranks["mix"]])
        every = range(1, len(ranks) + 1)
        ax.set_xticks([rank for rank in every if len(ranks) <= 12 or rank % 5 == 0 or rank == 1])
        ax.set(xlim=(0.5, len(ranks) + 0.5), xlabel="Rank, 1 clears first")
        ax.grid(axis="x")
        svg = to_svg(figure)
    level = level_words(results)
    return Figure(
        label="ranks-figure",
        caption=f"Ranks by time until {criterion_label(results, criterion)}",
        alt=rank_alt(results, criterion),
        svg=svg,
        note=f"Mark: rank by typical time. Band: ranks that the trial leaves open, at {level}.",
    )
