"""Figure of the weeks that each vessel stood."""

import math
from typing import Any

import pandas as pd

from .blocks import Figure, Prose
from .canvas import RULE, SOFT, new_axes, pens, to_svg
from .marks import Mark, mix_marks
from .printing import print_number
from .selection import mix_codes, mix_names
from .shared import shared
from .short_names import short_names
from .storage_figures import drawn_order

_FEW, _ACROSS, _MANY_ACROSS = 12, 3, 5  # so many panels stand three beside each other
MUCH_LOST = 0.02  # share of the mass beyond which the corrected line is drawn


@shared
def salinity_figure(results: Any) -> Figure | Prose:
    """
    Salinity of every vessel over the weeks, against the target.

    Parameters
    ----------
    results : Results
        With the tables `mixes`, `salinity_series`.

    Returns
    -------
    Figure or Prose
        A panel a mix, a line a vessel, from the last reading of mixing on. A sentence when no
        salinity was read in storage.
    """
    series = _weeks(results["salinity_series"])
    order = drawn_order(results, series)
    if not order:
        return Prose("No salinity was read in storage: there is nothing to draw.", "salinity")
    marks, names = mix_marks(mix_codes(results)), mix_names(results)
    target = float(results.meta["target_salinity"])
    across = min(_ACROSS if len(order) <= _FEW else _MANY_ACROSS, len(order))
    rows = math.ceil(len(order) / across)
    short = short_names(names, 80 // across)
    with pens("salinity"):
        figure, axes = new_axes(
            0.5 + 1.5 * rows, nrows=rows, ncols=across, sharex=True,
            sharey=True, squeeze=False,
        )  # fmt: skip
        for ax, mix in zip(axes.flat, order, strict=False):
            _draw_weeks(ax, series[series["mix"] == mix], marks[mix], target)
            ax.set_title(short[mix])
        for ax in list(axes.flat)[len(order) :]:
            ax.set_axis_off()
        figure.supxlabel("Days since the vessel was filled", fontsize=8)
        figure.supylabel("Practical salinity", fontsize=8)
        svg = to_svg(figure)
    return Figure(
        label="salinity",
        caption="Salinity of each vessel in storage",
        alt=_weeks_alt(series, order, names, target),
        svg=svg,
        note=(
            "A line is a vessel, top and bottom averaged. Dashed: the same brought back to its "
            "first mass, where more than 2% of it was lost. Dotted: the target."
        ),
    )


def _weeks(series: pd.DataFrame) -> pd.DataFrame:
    """The last session of mixing and all of storage; nothing when storage has none."""
    if not (series["phase"] == "storage").any():
        return series.iloc[:0]
    last = series.loc[series["phase"] == "mixing", "session"].max()
    return series[(series["phase"] == "storage") | (series["session"] == last)]


def _draw_weeks(ax: Any, own: pd.DataFrame, mark: Mark, target: float) -> None:
    ax.axhline(target, color=SOFT, lw=0.8, ls=":")
    for name, vessel in own.groupby("vessel"):
        vessel = vessel.sort_values("day")
        (line,) = ax.plot(
            vessel["day"], vessel["estimate"], mark.marker, ls="-", color=mark.color, lw=0.8,
            ms=2.8, alpha=0.9,
        )  # fmt: skip
        line.set_gid(f"vessel-{name}")
        if vessel["share_lost"].max() > MUCH_LOST:
            ax.plot(vessel["day"], vessel["corrected"], ls="--", color=mark.color, lw=0.9)
            words = {"fontsize": 6.5, "color": SOFT, "ha": "right", "va": "center"}
            place = vessel["day"].iloc[-1], vessel["estimate"].iloc[-1]
            ax.annotate(name, place, (-5, 1), textcoords="offset points", **words)
    ax.margins(y=0.08)
    ax.grid(axis="y", color=RULE)
    ax.set_axisbelow(True)


def _weeks_alt(series: pd.DataFrame, order: list[str], names: dict, target: float) -> str:
    parts = [f"Practical salinity over days, target {print_number(target)}."]
    for mix in order:
        own = series[series["mix"] == mix].sort_values("day")
        first, last = own.groupby("vessel")["estimate"].agg(["first", "last"]).mean()
        count = own["vessel"].nunique()
        vessels = "1 vessel" if count == 1 else f"{count} vessels"
        parts.append(f"{names[mix]}: from {first:.1f} to {last:.1f} in {vessels}.")
    return " ".join(parts)
