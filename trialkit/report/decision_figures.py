"""Figures of ratios of times: pairs of mixes, claims that one clears before another."""

from typing import Any

import pandas as pd

from .beside import room_at_right, write_beside
from .blocks import Figure, Prose
from .canvas import TALLEST_IN, name_rows, new_axes, pens, to_svg
from .claim_words import ratio_claims
from .decisions import of_pairs
from .marks import mix_marks
from .needs import needs
from .pair_ratios import PairRatio, pair_ratio, print_ratio
from .ratio_axis import ratio_axis
from .selection import criterion_label, level_words, mix_codes, mix_names, mix_order
from .shared import shared
from .short_names import claim_lines, short_names

_BESIDE = 22  # letters of a name where two stand beside a row
_ALL_PAIRS = 28  # of eight mixes; of more mixes each stands against one only


@shared
@needs("comparisons", "ratios", "No two mixes of this trial can be compared.")
def ratio_figure(results: Any, *, criterion: str | None = None) -> Figure | Prose:
    """
    How many times as long one mix takes as another, with the limits.

    Parameters
    ----------
    results : Results
        With the tables `mixes`, `times`, `comparisons`.
    criterion : str, optional
        The trial's primary criterion unless named.

    Returns
    -------
    Figure
        A row a pair, the slower against the quicker; of more than eight mixes each against the
        quickest that it was compared with. A sentence when no pair has a limit.
    """
    pairs, order = of_pairs(results, criterion), mix_order(results, criterion)
    rows = [pair_ratio(row, order) for row in pairs.itertuples(index=False)]
    rows = [row for row in rows if row.placed]
    if not rows:
        return Prose("These vessels set no limit to any ratio of times.", "ratios")
    every, rows = len(rows), _against_one(rows, order)
    marks, names = mix_marks(mix_codes(results)), mix_names(results)
    short = short_names(names, _BESIDE)
    axis = ratio_axis(end for row in rows for end in (row.estimate, row.low, row.high))
    with pens("ratios"):
        figure, ax = new_axes(0.7 + min(0.25, (TALLEST_IN - 0.7) / len(rows)) * len(rows))
        room_at_right(figure)
        for y, row in enumerate(rows):
            axis.interval(ax, y, (row.estimate, row.low, row.high), marks[row.slower])
            weight = "bold" if row.shown else "normal"
            write_beside(ax, y, print_ratio(row.estimate, row.low, row.high), weight=weight)
        name_rows(ax, [f"{short[row.slower]} against {short[row.quicker]}" for row in rows])
        axis.draw(ax, "Times as long")
        svg = to_svg(figure)
    left_out, level = every - len(rows), level_words(results)
    return Figure(
        label="ratios",
        caption=f"How many times as long: time until {criterion_label(results, criterion)}",
        alt=_ratio_alt(rows, names),
        svg=svg,
        note=(
            f"Mark with a line: the ratio of the two times with its {level} limits; "
            "an arrow where the data set no limit. Bold: shown different, all pairs taken "
            "together. The limits speak of one pair at a time and may leave 1 out where that was "
            "not shown." + (f" {_pairs(left_out)} left to the results file." if left_out else "")
        ),
    )


def _against_one(rows: list[PairRatio], order: list[str]) -> list[PairRatio]:
    """All pairs in the order of their times; of many mixes the pairs of the quickest."""
    place = {mix: i for i, mix in enumerate(order)}
    rows = sorted(rows, key=lambda row: (place[row.quicker], place[row.slower]))
    return rows if len(rows) <= _ALL_PAIRS else [r for r in rows if r.quicker == rows[0].quicker]


def _ratio_alt(rows: list[PairRatio], names: dict[str, str]) -> str:
    parts = [
        f"{names[row.slower]} against {names[row.quicker]} "
        f"{print_ratio(row.estimate, row.low, row.high)}"
        + ("" if row.shown else ", not shown different")
        for row in rows
    ]
    return f"Ratios of times with limits, {_pairs(len(rows))}. {'; '.join(parts)}."


@shared
@needs("claims", "claims-ratios", "No claim was declared in this trial.")
def claim_ratio_figure(results: Any) -> Figure | Prose:
    """
    Claims that one mix clears before another, on the axis of ratios.

    Parameters
    ----------
    results : Results
        With the tables `mixes`, `claims`.

    Returns
    -------
    Figure
        A row a claim; the claim is the part of the axis under 1. A sentence without such claims.
    """
    claims = ratio_claims(results)
    if claims.empty:
        return Prose("No claim of this trial compares two mixes.", "claims-ratios")
    marks = mix_marks(mix_codes(results))
    ends = claims[["estimate", "conf_low", "conf_high"]].astype(float)
    axis = ratio_axis(ends.to_numpy().ravel())
    with pens("claims-ratios"):
        figure, ax = new_axes(0.7 + 0.36 * len(claims))
        room_at_right(figure)
        ax.axvspan(axis.low, 1, color="#e9ecf0", lw=0, zorder=0)
        for y, (row, ratio) in enumerate(zip(claims.itertuples(), ends.to_numpy(), strict=True)):
            axis.interval(ax, y, tuple(ratio), marks[row.mix])
            write_beside(ax, y, row.verdict)
        name_rows(ax, [claim_lines(text) for text in claims["text"]])
        axis.draw(ax, "Ratio of times")
        svg = to_svg(figure)
    level = level_words(results)
    return Figure(
        label="claims-ratios",
        caption="Claims that one mix clears before another",
        alt=_claim_alt(claims),
        svg=svg,
        note=(
            "Grey: what is claimed, a ratio under 1. Mark with a line: the ratio found with its "
            f"{level} limits. Supported: all of the line lies in the grey; "
            "contradicted: none of it."
        ),
    )


def _pairs(count: int) -> str:
    return "one pair" if count == 1 else f"{count} pairs"


def _claim_alt(claims: pd.DataFrame) -> str:
    parts = [
        f"{row.text}: {row.verdict}, ratio "
        f"{print_ratio(float(row.estimate), float(row.conf_low), float(row.conf_high))}"
        for row in claims.itertuples()
    ]
    return f"Ratios of times claimed to be under 1. {'; '.join(parts)}."
