"""Clearing intervals that were written down as such, from intervals.csv."""

import math

import pandas as pd

from .cells import known_code, number_between, one_of, parse_column
from .files import Folder
from .problems import Problem
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
    found += _interval_problems(frame)
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
