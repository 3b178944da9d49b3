"""Clearing intervals that were written down as such, from intervals.csv."""

import math

import numpy as np
import pandas as pd

from .cells import known_code, number_between, one_of, parse_column
from .files import Folder
from .problems import Problem, file_problem, row_warning
from .reading_cells import Setting
from .tables import load_table, mark_of

INTERVAL_COLUMNS = ("vessel", "criterion", "left_h", "right_h")


def read_intervals(folder: Folder, setting: Setting) -> pd.DataFrame | None:
    """The intervals (left_h, right_h] of intervals.csv; None when there are none.

    Not clear at left_h, clear at right_h; an empty right_h means never in the window.
    """
    if not folder.has("intervals.csv"):
        return None
    table = load_table(folder, "intervals.csv", INTERVAL_COLUMNS, 4)
    if table is None:
        return None
    protocol, found = setting.protocol, folder.found
    decimal = mark_of(table, ("left_h", "right_h"), found)
    vessels = frozenset(setting.vessels["vessel"])
    criteria = ("fully clear", *protocol.criteria)
    left = number_between(0, protocol.window_h, decimal=decimal, unit="h")
    right = number_between(0, protocol.window_h, decimal=decimal, empty=math.inf, unit="h")

    def parse_right(cell: str) -> object:
        return math.inf if cell.casefold() == "inf" else right(cell)

    columns = {
        "vessel": parse_column(
            table, "vessel", known_code("vessel", vessels, "vessels.csv"), found
        ),
        "criterion": parse_column(table, "criterion", one_of("criterion", criteria), found),
        "left_h": parse_column(table, "left_h", left, found),
        "right_h": parse_column(table, "right_h", parse_right, found),
    }
    frame = pd.DataFrame(columns).assign(row=table.rows).dropna()
    if frame.empty:
        message, fix = "there are no intervals in it", "Add them, or take the file away."
        found.append(file_problem("intervals.csv", message, fix, level="warn"))
    found += _interval_problems(frame) + _absent(frame, setting)
    found += _stopped_early(frame, setting) + _off_schedule(frame, setting)
    types = {"vessel": "str", "criterion": "str", "left_h": "float64", "right_h": "float64"}
    return frame[list(INTERVAL_COLUMNS)].astype(types).reset_index(drop=True)


def _interval_problems(frame: pd.DataFrame) -> list[Problem]:
    """Intervals that end before they begin, and vessels with two for one criterion."""
    found = []
    for row, value in frame.loc[frame["left_h"] >= frame["right_h"], ["row", "right_h"]].itertuples(
        index=False
    ):
        message, fix = "the interval ends at or before its start", "right_h must lie above left_h."
        found.append(Problem("intervals.csv", row, "right_h", f"{value:g}", "refuse", message, fix))
    twin = frame.duplicated(["vessel", "criterion"])
    for row, vessel in frame.loc[twin, ["row", "vessel"]].itertuples(index=False):
        message, fix = "the vessel has two intervals for this criterion", "Keep one of them."
        found.append(Problem("intervals.csv", row, "vessel", vessel, "refuse", message, fix))
    return found


def _absent(frame: pd.DataFrame, setting: Setting) -> list[Problem]:
    """Vessels without an interval for a criterion for which others have one."""
    vessels = setting.vessels["vessel"][setting.vessels["role"] == "trial"]
    message = "the vessel has no interval for a criterion for which others have one"
    fix = "Add it; right_h stays empty for a vessel that never came clear."
    return [
        Problem("intervals.csv", None, "vessel", f"{vessel}, {criterion}", "warn", message, fix)
        for criterion, group in frame.groupby("criterion", sort=True)
        for vessel in vessels
        if vessel not in set(group["vessel"])
    ]


def _stopped_early(frame: pd.DataFrame, setting: Setting) -> list[Problem]:
    """Vessels that never came clear, though they were watched longer than left_h says."""
    lost = setting.of_vessels("lost_h")
    last = max(setting.protocol.schedule_h)
    message = "right_h is empty, though the vessel was to be watched longer than left_h"
    fix = "Fill in right_h; for a vessel that never came clear left_h is its last reading."
    return [
        row_warning("intervals.csv", row, "left_h", left, message, fix)
        for row, vessel, left, right in _rows(frame)
        if right == math.inf and left < last * 0.9 and lost[vessel] > last
    ]


def _off_schedule(frame: pd.DataFrame, setting: Setting) -> list[Problem]:
    """Bounds that lie at no scheduled time, as those in another unit do."""
    planned = np.asarray(setting.protocol.schedule_h, float)
    found = []
    message = "the bound lies far from every scheduled time"
    fix = "Bounds are times of readings, in hours since the vessel's start."
    for row, _, *bounds in _rows(frame):
        for name, bound in zip(("left_h", "right_h"), bounds, strict=True):
            near = np.abs(planned - bound) <= np.maximum(0.15 * planned, 1 / 12)
            if 0 < bound < math.inf and not near.any():
                found.append(row_warning("intervals.csv", row, name, bound, message, fix))
    return found


def _rows(frame: pd.DataFrame) -> list[tuple]:
    """Row, vessel, left_h and right_h of each interval."""
    return list(frame[["row", "vessel", "left_h", "right_h"]].itertuples(index=False, name=None))
