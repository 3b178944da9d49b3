"""Figures of each vessel at the end of storage."""

import math
from typing import Any

import pandas as pd

from .beside import room_at_right
from .blocks import Figure, Prose
from .canvas import INK, RULE, SHADE, SOFT, name_rows, new_axes, pens, rows_of, to_svg
from .marks import Mark, mix_marks
from .printing import print_number, print_span
from .selection import level_words, mix_codes, mix_names
from .shared import shared
from .short_names import short_names

_ROW_IN = 0.34  # height of a mix's row
_SPREAD = 0.26  # half the height over which the vessels of a mix are spread


@shared
def residue_figure(results: Any) -> Figure | Prose:
    """
    The residue of every vessel as a dot, the detection limit as a line.

    Parameters
    ----------
    results : Results
        With the tables `mixes`, `residue`, `residue_vessels`, `residue_limits`.

    Returns
    -------
    Figure or Prose
        A row a mix. A result below the limit is a hollow dot with an arrow to the left. A
        sentence when no residue was read.
    """
    vessels = results["residue_vessels"]
    own = vessels[vessels["role"] == "trial"]
    order = drawn_order(results, own)
    if not order:
        return Prose("No residue was read: there is nothing to draw.", "residue")
    unit, limit = own["unit"].iloc[0], _detection_limit(results)
    table = results["residue"].set_index("mix")
    marks = mix_marks(mix_codes(results))
    with pens("residue"):
        figure, ax = new_axes(0.75 + _ROW_IN * len(order))
        ax.set_xscale("log")
        ax.set_xlim(*_log_ends([*own["value"], limit]))
        for y, mix in enumerate(order):
            _draw_median(ax, table.loc[mix], marks[mix], y)
            _draw_amounts(ax, own[own["mix"] == mix], marks[mix], y)
        if limit:
            _draw_limit(ax, limit)
        name_rows(ax, [short_names(mix_names(results))[mix] for mix in order])
        ax.set_xlabel(f"Residue, {unit}, equal steps are equal ratios")
        _plain_ticks(ax)
        svg = to_svg(figure)
    return Figure(
        label="residue",
        caption="What was left on each vessel at the end of storage",
        alt=_residue_alt(results, own, order, unit),
        svg=svg,
        note=(
            "A mark is a vessel; hollow with an arrow: below the detection limit. The pale bar is "
            f"the {level_words(results)} interval of the median of all batches, its tick the "
            "estimate."
        ),
    )


@shared
def evenness_figure(results: Any) -> Figure | Prose:
    """
    Salinity at the top minus at the bottom of every vessel, with margin and zero.

    Parameters
    ----------
    results : Results
        With the tables `mixes`, `homogeneity`, `homogeneity_vessels`.

    Returns
    -------
    Figure or Prose
        A panel a stage, a row a mix. A sentence when no vessel was read at top and bottom.
    """
    vessels, table = results["homogeneity_vessels"], results["homogeneity"]
    order = drawn_order(results, vessels)
    if not order:
        return Prose("No vessel was read at top and bottom: there is nothing to draw.", "evenness")
    stages = list(dict.fromkeys(vessels["stage"]))
    marks, margin = mix_marks(mix_codes(results)), float(table["margin"].iloc[0])
    with pens("evenness"):
        figure, axes = new_axes(
            0.85 + _ROW_IN * len(order), ncols=len(stages), sharey=True, sharex=True, squeeze=False
        )
        room_at_right(figure, 0.08)
        for number, (ax, stage) in enumerate(zip(axes[0], stages, strict=True), start=1):
            ax.axvspan(-margin, margin, color=SHADE, lw=0, zorder=0)
            ax.axvline(0, color=SOFT, lw=0.8)
            shown = vessels[vessels["stage"] == stage], table[table["stage"] == stage]
            _draw_evenness(ax, shown, order, marks, number)
            ax.set_title(stage.capitalize())
            rows_of(ax, len(order))
            ax.set_xlabel("Top minus bottom, practical salinity")
        widest = max([margin, *vessels["difference"].abs()])
        axes[0][0].set_xlim(-1.25 * widest, 1.25 * widest)
        name_rows(axes[0][0], [short_names(mix_names(results))[mix] for mix in order])
        svg = to_svg(figure)
    return Figure(
        label="evenness",
        caption="Whether top and bottom of a vessel held the same water",
        alt=_evenness_alt(vessels, stages, margin),
        svg=svg,
        note=(
            f"A mark is a vessel. Shaded: within the margin of {print_number(margin)} that does "
            f"not matter. The pale bar is the {level_words(results)} interval of the mean; it may "
            "run beyond the axis."
        ),
    )


def drawn_order(results: Any, frame: pd.DataFrame) -> list[str]:
    """The mixes of the frame in the order of the trial's list."""
    return [mix for mix in mix_codes(results) if mix in set(frame["mix"])]


def _detection_limit(results: Any) -> float:
    limits = results["residue_limits"].set_index("term")["estimate"]
    return float(limits.get("declared detection limit", 0.0))


def _log_ends(values: list[float]) -> tuple[float, float]:
    placed = [value for value in values if value > 0]
    return min(placed) / 2.2, max(placed) * 1.6


def _heights(count: int, y: float) -> list[float]:
    """Places of the vessels of a mix around its row."""
    if count == 1:
        return [y]
    step = 2 * _SPREAD / (count - 1)
    return [y - _SPREAD + step * i for i in range(count)]


def _draw_median(ax: Any, row: pd.Series, mark: Mark, y: float) -> None:
    low, high = ax.get_xlim()
    ends = max(float(row["conf_low"]), low), min(float(row["conf_high"]), high)
    ax.plot(ends, [y, y], color=mark.color, lw=9, alpha=0.18, zorder=1)
    if row["estimate"] > low:
        ax.plot(row["estimate"], y, "|", color=INK, ms=11, mew=1.1, zorder=3)


def _draw_amounts(ax: Any, own: pd.DataFrame, mark: Mark, y: float) -> None:
    own = own.sort_values(["value", "vessel"])
    for height, vessel in zip(_heights(len(own), y), own.itertuples(), strict=True):
        face = "#ffffff" if vessel.below else mark.color
        if vessel.below:
            arrow = {"arrowstyle": "-|>", "color": mark.color, "lw": 0.8, "shrinkA": 2}
            tip = (vessel.value / 1.45, height)
            ax.annotate("", tip, (vessel.value, height), arrowprops=arrow)
        _dot(ax, (vessel.value, height), mark, face, vessel.vessel)


def _dot(ax: Any, place: tuple[float, float], mark: Mark, face: str, name: str) -> None:
    (dot,) = ax.plot(
        *place, mark.marker, mfc=face, mec=mark.color, mew=0.9, ms=4.3, zorder=4, clip_on=False
    )
    dot.set_gid(f"vessel-{name}")


def _draw_limit(ax: Any, limit: float) -> None:
    ax.axvline(limit, color=SOFT, lw=0.8, ls=(0, (4, 2)), zorder=2)
    words = {"fontsize": 6.5, "color": SOFT, "ha": "center", "va": "bottom"}
    ax.text(limit, 1.005, "detection limit", transform=ax.get_xaxis_transform(), **words)


def _plain_ticks(ax: Any) -> None:
    low, high = ax.get_xlim()
    steps = [f * 10.0**p for p in range(-4, 7) for f in (1, 2, 5)]
    shown = [step for step in steps if low <= step <= high]
    ax.set_xticks(shown, [f"{step:g}" for step in shown])
    ax.minorticks_off()
    ax.grid(axis="x", color=RULE)
    ax.set_axisbelow(True)


def _draw_evenness(
    ax: Any, shown: tuple, order: list[str], marks: dict[str, Mark], number: int
) -> None:
    vessels, table = shown
    means = table.set_index("mix")
    for y, mix in enumerate(order):
        own = vessels[vessels["mix"] == mix].sort_values(["difference", "vessel"])
        for height, vessel in zip(_heights(len(own), y), own.itertuples(), strict=True):
            place = (vessel.difference, height)
            # A page may hold each name once, and a vessel is in every panel.
            _dot(ax, place, marks[mix], marks[mix].color, f"{vessel.vessel}-panel-{number}")
        if mix in means.index and math.isfinite(means.loc[mix, "conf_low"]):
            row = means.loc[mix]
            ends = [row["conf_low"], row["conf_high"]]
            ax.plot(ends, [y, y], color=marks[mix].color, lw=9, alpha=0.18, zorder=1)


def _residue_alt(results: Any, own: pd.DataFrame, order: list[str], unit: str) -> str:
    names = mix_names(results)
    parts = []
    for mix in order:
        rows = own[own["mix"] == mix]
        seen = rows.loc[~rows["below"].astype(bool), "value"]
        words = f"{names[mix]}: {len(rows) - len(seen)} of {len(rows)} below the limit"
        if len(seen):
            words += f", the others {print_span(seen.min(), seen.max(), print_number)} {unit}"
        parts.append(words + ".")
    return f"Residue of {len(own)} vessels. " + " ".join(parts)


def _evenness_alt(vessels: pd.DataFrame, stages: list[str], margin: float) -> str:
    parts = []
    for stage in stages:
        own = vessels.loc[vessels["stage"] == stage, "difference"]
        inside = int((own.abs() <= margin + 1e-9).sum())
        low, high = print_number(own.min()), print_number(own.max())
        parts.append(
            f"{stage.capitalize()}: {inside} of {len(own)} vessels within the margin of "
            f"{print_number(margin)}, differences {low} to {high}."
        )
    return "Salinity at the top minus at the bottom. " + " ".join(parts)
