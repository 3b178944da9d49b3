"""The tidy frame of readings out of the rows of readings.csv."""

import math
from datetime import datetime

import numpy as np
import pandas as pd

from .cells import need_columns, parse_column, warn_unknown_columns
from .csvtext import Table
from .problems import Fault, Problem, cell_problem, show
from .reading_cells import Setting, cell_parsers, moments, swapped_headings, value_of
from .sessions import with_sessions
from .tables import mark_of
from .times import TIME_COLUMNS
from .trial import Protocol

COLUMNS = (
    "vessel",
    "rater",
    *TIME_COLUMNS,
    "quantity",
    "value",
    "unit",
    "position",
    "repeat",
    "instrument",
    "note",
    "mix",
)
FRAME_COLUMNS = (
    "vessel",
    "mix",
    "role",
    "block",
    "rater",
    "phase",
    "session",
    "elapsed_h",
    "quantity",
    "value",
    "limit",
    "unit",
    "position",
    "repeat",
    "instrument",
    "note",
    "row",
)
NUMBER_COLUMNS = ("value", "elapsed_h", "elapsed_min")
# One reading has one of each of these.
IDENTITY = ["vessel", "quantity", "rater", "position", "repeat", "elapsed_h"]
ORDER = ["quantity", "vessel", "elapsed_h", "rater", "position", "repeat", "row"]
_INTEGERS = ("session", "repeat", "row")
_FLOATS = ("elapsed_h", "value")
_DEFAULTS = {"position": "", "repeat": 1, "instrument": "", "note": "", "mix": ""}
_TIMES = frozenset(TIME_COLUMNS)


def read_rows(table: Table, setting: Setting, found: list[Problem]) -> pd.DataFrame | None:
    """The readings of a table; None when a needed column is missing.

    Rows with a faulty cell are left out, so that what follows can still be checked.
    """
    if not _columns_there(table, setting, found):
        return None
    warn_unknown_columns(table, COLUMNS, found)
    parsers = cell_parsers(setting, mark_of(table, NUMBER_COLUMNS, found))
    found += swapped_headings(table, setting, parsers)
    defaults = {"rater": setting.only_rater, **_DEFAULTS}
    parsed: dict[str, list] = {
        name: parse_column(table, name, parse, found, default=defaults.get(name))
        for name, parse in parsers.items()
        if name not in _TIMES
    }
    parsed["moment"] = moments(table, setting, parsers, found)
    frame = pd.DataFrame({name: pd.Series(cells, dtype=object) for name, cells in parsed.items()})
    frame.insert(0, "row", pd.array(table.rows, dtype="int64"))
    frame = _with_numbers(table, frame.dropna(), setting.protocol, found)
    frame = _with_vessel(table.file, frame, setting, found)
    return tidy_frame(with_sessions(table.file, frame, setting.protocol, found))


def empty_readings() -> pd.DataFrame:
    """The frame of a trial without readings."""
    return tidy_frame(pd.DataFrame({name: [] for name in FRAME_COLUMNS}))


def tidy_frame(frame: pd.DataFrame) -> pd.DataFrame:
    """The frame in its order of columns and rows, with its types."""
    frame = frame[list(FRAME_COLUMNS)]
    types = dict.fromkeys(FRAME_COLUMNS, "str")
    types |= dict.fromkeys(_INTEGERS, "int64") | dict.fromkeys(_FLOATS, "float64")
    return frame.astype(types).sort_values(ORDER, ignore_index=True)


def _columns_there(table: Table, setting: Setting, found: list[Problem]) -> bool:
    """Whether needed columns are there, with one way of writing the time."""
    needed = ["vessel", "quantity", "value", "unit"]
    if setting.only_rater is None:
        needed.insert(1, "rater")
    ways = [name for name in ("elapsed_min", "elapsed_h", "time") if name in table.columns]
    pair = [name for name in ("day", "clock") if name in table.columns]
    if len(pair) == 1:
        needed += ["day", "clock"]
    fault = None
    if not ways and not pair:
        fault = Fault(
            "no column tells the time",
            "Add one of elapsed_h, elapsed_min, time, or the pair day and clock.",
        )
    elif len(ways) + bool(pair) > 1:
        fault = Fault("more than one column tells the time", "Keep one of them.")
    if fault:
        place = ", ".join(ways + pair)
        found.append(
            Problem(table.file, table.header_row, place, "", "refuse", fault.message, fault.fix, 0)
        )
    return need_columns(table, needed, found) and fault is None


def _with_numbers(
    table: Table, frame: pd.DataFrame, protocol: Protocol, found: list[Problem]
) -> pd.DataFrame:
    """Value, limit and unit checked against the quantity; faulty rows left out."""
    places = {row: index for index, row in enumerate(table.rows)}
    known: dict[tuple, tuple] = {}
    out = []
    columns = ("row", "quantity", "value", "unit", "instrument")
    for row, *parts in zip(*(frame[name] for name in columns), strict=True):
        key = tuple(parts)
        if key not in known:
            known[key] = value_of(*key, protocol)
        number, unit, faults = known[key]
        for column, fault in faults:
            cell = table.columns[column][places[row]]
            found.append(cell_problem(table.file, row, column, cell, fault))
        out.append((number, unit))
    sound = np.array([number is not None and unit is not None for number, unit in out], bool)
    kept = [pair for pair, ok in zip(out, sound, strict=True) if ok]
    return frame[sound].assign(
        value=[number.value for number, _ in kept],
        limit=[number.limit for number, _ in kept],
        unit=[unit for _, unit in kept],
    )


def _with_vessel(
    file: str, frame: pd.DataFrame, setting: Setting, found: list[Problem]
) -> pd.DataFrame:
    """Mix, role and block from the vessel; times from its start; the mix column checked."""
    vessels = setting.vessels.set_index("vessel")
    cells = frame["mix"]
    frame = frame.assign(
        **{name: frame["vessel"].map(vessels[name]) for name in ("mix", "role", "block")}
    )
    wrong = (cells != frame["mix"]) & (cells != "")
    chosen = frame[wrong]
    for row, cell, mix in zip(chosen["row"], cells[wrong], chosen["mix"], strict=True):
        message = "this is not the vessel's mix" if mix else "a mix stands in a blinded sheet"
        fix = "Correct the vessel or the mix; the key decides."
        found.append(Problem(file, int(row), "mix", show(cell), "refuse", message, fix))
    starts = frame["vessel"].map(vessels["start_h"])
    begin = setting.protocol.start
    elapsed = [
        moment if isinstance(moment, float) else _hours(moment, begin) - start
        for moment, start in zip(frame["moment"], starts, strict=True)
    ]
    return frame.assign(elapsed_h=pd.Series(elapsed, frame.index, dtype="float64"))


def _hours(moment: datetime, begin: datetime) -> float:
    """Hours from one moment to another, whatever clock changes lie between."""
    return (moment.timestamp() - begin.timestamp()) / 3600


def empty_cell_problems(file: str, frame: pd.DataFrame, lost_h: pd.Series) -> list[Problem]:
    """A warning for each reading whose value was left empty, unless its vessel was lost."""
    empty = frame[frame["value"].isna() & ~(frame["elapsed_h"] > frame["vessel"].map(lost_h))]
    message = "the cell is empty; it counts as not read"
    fix = "Fill in the reading, or nothing if none was taken."
    return [
        Problem(file, int(row), "value", "", "warn", message, fix)
        for row in empty["row"].to_numpy()
    ]


def duplicate_problems(file: str, frame: pd.DataFrame) -> list[Problem]:
    """Readings that stand twice; which of them holds is not guessed."""
    twin = frame[frame.duplicated(IDENTITY, keep=False)]
    found = []
    for _, group in twin.groupby(IDENTITY, sort=False):
        first, *others = sorted(group["row"])
        fix = f"Keep one of the rows; the first is row {first}."
        for row in others:
            vessel = group["vessel"].iloc[0]
            message = "this reading stands twice"
            found.append(Problem(file, int(row), "vessel", vessel, "refuse", message, fix))
    return found


def nothing_read(file: str, frame: pd.DataFrame) -> list[Problem]:
    """A warning when there is no reading at all, as on the planning day."""
    if len(frame) and not math.isnan(frame["value"].max()):
        return []
    message = "there are no readings yet"
    return [Problem(file, None, "", "", "warn", message, "Fill in the sheet.", 0)]
