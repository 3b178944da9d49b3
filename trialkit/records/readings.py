"""The tidy frame of readings out of the rows of readings.csv."""

import math
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd

from .cells import (
    known_code,
    need_columns,
    number_between,
    one_of,
    parse_column,
    parse_text,
    reading_number,
    warn_unknown_columns,
)
from .csvtext import Table
from .kinds import POSITIONS
from .numbers import Number, tidy
from .problems import Fault, Kept, Problem, cell_problem, show
from .tables import mark_of
from .times import TIME_COLUMNS, localise, parse_clock, parse_day, parse_time
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
_INTEGERS = ("session", "repeat", "row")
_FLOATS = ("elapsed_h", "value")
NUMBER_COLUMNS = ("value", "elapsed_h", "elapsed_min")
# One reading has one of each of these.
IDENTITY = ["vessel", "quantity", "rater", "position", "repeat", "elapsed_h"]
ORDER = ["quantity", "vessel", "elapsed_h", "rater", "position", "repeat", "row"]


@dataclass(frozen=True)
class Setting:
    """What readings are checked against.

    Attributes
    ----------
    protocol : Protocol
    vessels, raters : DataFrame
    """

    protocol: Protocol
    vessels: pd.DataFrame
    raters: pd.DataFrame


def read_rows(table: Table, setting: Setting, found: list[Problem]) -> pd.DataFrame | None:
    """The readings of a table; None when a needed column is missing.

    Rows with a faulty cell are left out, so that what follows can still be checked.
    """
    if not _columns_there(table, setting, found):
        return None
    warn_unknown_columns(table, COLUMNS, found)
    raw = _parsed(table, setting, found)
    frame = pd.DataFrame({"row": pd.array(table.rows, dtype="int64")})
    for name, values in raw.items():
        frame[name] = pd.Series(values, dtype=object)
    frame = frame.dropna(subset=list(raw))
    frame = _with_numbers(table, frame, setting, found)
    frame = _with_vessel(table, frame, setting, found)
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
    if len(setting.raters) > 1:
        needed.insert(1, "rater")
    ways = [name for name in ("elapsed_min", "elapsed_h", "time") if name in table.columns]
    day_clock = [name for name in ("day", "clock") if name in table.columns]
    if len(day_clock) == 1:
        needed += ["day", "clock"]
    fault = None
    if not ways and not day_clock:
        fault = Fault(
            "no column tells the time",
            "Add one of elapsed_h, elapsed_min, time, or the pair day and clock.",
        )
    elif len(ways) + bool(day_clock) > 1:
        fault = Fault("more than one column tells the time", "Keep one of them.")
    if fault:
        place = ", ".join(ways + day_clock)
        found.append(
            Problem(table.file, table.header_row, place, "", "refuse", fault.message, fault.fix, 0)
        )
    return need_columns(table, needed, found) and fault is None


def _parsed(table: Table, setting: Setting, found: list[Problem]) -> dict[str, list]:
    """Each column's values, None where a cell is faulty."""
    protocol = setting.protocol
    vessels = frozenset(setting.vessels["vessel"])
    raters = frozenset(setting.raters["rater"])
    only_rater = next(iter(raters)) if len(raters) == 1 else ""
    decimal = mark_of(table, NUMBER_COLUMNS, found)
    number = reading_number({}, decimal)
    parsers = {
        "vessel": (known_code("vessel", vessels, "vessels.csv"), None),
        "rater": (known_code("rater", raters, "raters.csv"), only_rater),
        "quantity": (one_of("quantity", tuple(protocol.quantities)), None),
        "number": (number, None),
        "unit": (tidy, None),
        "position": (one_of("position", ("", *POSITIONS)), ""),
        "repeat": (_parse_repeat, 1),
        "instrument": (_instrument_code(protocol), ""),
        "note": (parse_text, ""),
    }
    parsed = {
        name: parse_column(
            table, "value" if name == "number" else name, parse, found, default=default
        )
        for name, (parse, default) in parsers.items()
    }
    parsed["moment"] = _moments(table, setting, decimal, found)
    if "mix" in table.columns:
        parsed["mix_cell"] = [tidy(cell).upper() for cell in table.columns["mix"]]
    return parsed


def _parse_repeat(cell: str) -> object:
    """A repeat number; an empty cell is the first."""
    text = tidy(cell)
    if not text:
        return 1
    if text.isascii() and text.isdigit() and 1 <= int(text) <= 99 and text[0] != "0":
        return int(text)
    return Fault("this is not a repeat number", "Write 1, 2, 3 and so on.")


def _instrument_code(protocol: Protocol):
    """A parser for instruments, which trial.toml declares."""
    known = known_code("instrument", frozenset(protocol.instruments), "trial.toml")
    return lambda cell: known(cell) if tidy(cell) else ""


def _moments(
    table: Table, setting: Setting, decimal: str, found: list[Problem]
) -> list[float | datetime | None]:
    """Hours since the vessel's start, or moments that are still to be compared with it."""
    if "elapsed_h" in table.columns:
        parse = _elapsed(1.0, "h", decimal)
        return parse_column(table, "elapsed_h", parse, found)
    if "elapsed_min" in table.columns:
        parse = _elapsed(60.0, "min", decimal)
        return parse_column(table, "elapsed_min", parse, found)
    zone = ZoneInfo(setting.protocol.timezone)
    if "time" in table.columns:
        return parse_column(table, "time", lambda cell: parse_time(cell, zone), found)
    first = setting.protocol.start.date()
    days = parse_column(table, "day", lambda cell: parse_day(cell, first), found)
    clocks = parse_column(table, "clock", parse_clock, found)
    moments: list[datetime | None] = []
    for index, (day, clock) in enumerate(zip(days, clocks, strict=True)):
        moment = None
        if day is not None and clock is not None:
            moment = localise(datetime(day.year, day.month, day.day) + clock, zone)
        if isinstance(moment, Fault):
            cell = table.columns["clock"][index]
            found.append(cell_problem(table.file, table.rows[index], "clock", cell, moment))
            moment = None
        moments.append(moment)
    return moments


def _elapsed(per_hour: float, unit: str, decimal: str):
    """A parser for elapsed times in hours or minutes."""
    parse = number_between(0, 1e5 * per_hour, decimal=decimal, unit=unit)

    def parse_elapsed(cell: str) -> object:
        if not tidy(cell):
            return Fault("the time is missing", f"Write the time since the start in {unit}.")
        outcome = parse(cell)
        if isinstance(outcome, Fault):
            if tidy(cell).startswith(("-", "\u2212")):
                return Fault("the time is negative", "Times count from the vessel's start.")
            return outcome
        return outcome / per_hour

    return parse_elapsed


def _with_numbers(
    table: Table, frame: pd.DataFrame, setting: Setting, found: list[Problem]
) -> pd.DataFrame:
    """Value, limit and unit checked against the quantity; faulty rows left out."""
    cells = dict(zip(table.rows, table.columns["value"], strict=True))
    units = dict(zip(table.rows, table.columns["unit"], strict=True))
    known: dict[tuple, tuple] = {}
    out = []
    columns = ("row", "quantity", "number", "unit", "instrument")
    for row, *parts in zip(*(frame[name] for name in columns), strict=True):
        key = tuple(parts)
        if key not in known:
            known[key] = _value_of(*key, setting.protocol)
        value, unit, faults = known[key]
        for column, fault in faults:
            cell = cells[row] if column == "value" else units[row]
            found.append(cell_problem(table.file, row, column, cell, fault))
        out.append((value, unit))
    frame = frame.assign(
        value=[None if value is None else value.value for value, _ in out],
        limit=["" if value is None else value.limit for value, _ in out],
        unit=[unit for _, unit in out],
    )
    return frame.dropna(subset=["value", "unit"]) if _all_numbers(out) else _sound(frame, out)


def _all_numbers(out: list[tuple]) -> bool:
    """Whether no row holds a reading that was left empty."""
    return not any(value is not None and math.isnan(value.value) for value, _ in out)


def _sound(frame: pd.DataFrame, out: list[tuple]) -> pd.DataFrame:
    """Rows that hold a number or were left empty."""
    return frame[[value is not None and unit is not None for value, unit in out]]


def _value_of(
    quantity: str, number: Number, unit: str, instrument: str, protocol: Protocol
) -> tuple[Number | None, str | None, list[tuple[str, Fault | Kept]]]:
    """A reading checked against its quantity's units and bounds, and its instrument."""
    kind = protocol.quantities[quantity]
    entry = kind.range_of(unit)
    if entry is None:
        choices = ", ".join(kind.units)
        message = (
            f"this is not a unit of {quantity}" if unit else f"the unit of {quantity} is missing"
        )
        return None, None, [("unit", Fault(message, f"Use one of: {choices}."))]
    tool = protocol.instruments.get(instrument)
    if tool is not None and (tool.quantity, tool.unit) != (quantity, entry.unit):
        message = f"instrument {instrument} is declared for {tool.quantity} in {tool.unit}"
        return None, None, [("unit", Fault(message, "Correct the unit or the instrument."))]
    faults: list[tuple[str, Fault | Kept]] = []
    if number.unit and kind.range_of(number.unit) is not entry:
        faults.append(
            ("value", Fault("the cell holds another unit or a remark", "Write the number alone."))
        )
    if not math.isnan(number.value) and not entry.low <= number.value <= entry.high:
        bounds = f"{entry.low:g} to {entry.high:g} {entry.unit}"
        message = f"{quantity} can only lie from {bounds}"
        faults.append(("value", Fault(message, "Correct the number or its unit.")))
    return (None if faults else number), entry.unit, faults


def _with_vessel(
    table: Table, frame: pd.DataFrame, setting: Setting, found: list[Problem]
) -> pd.DataFrame:
    """Mix, role and block from the vessel; times from its start; the mix column checked."""
    vessels = setting.vessels.set_index("vessel")
    frame = frame.assign(
        **{name: frame["vessel"].map(vessels[name]) for name in ("mix", "role", "block")}
    )
    if "mix_cell" in frame:
        wrong = (frame["mix_cell"] != frame["mix"]) & (frame["mix_cell"] != "")
        for row, cell, mix in frame.loc[wrong, ["row", "mix_cell", "mix"]].itertuples(index=False):
            message = "this is not the vessel's mix" if mix else "a mix stands in a blinded sheet"
            fix = "Correct the vessel or the mix; the key decides."
            found.append(Problem(table.file, row, "mix", show(cell), "refuse", message, fix))
    starts = frame["vessel"].map(vessels["start_h"])
    begin = setting.protocol.start
    frame["elapsed_h"] = [
        moment if isinstance(moment, float) else _hours(moment - begin) - start
        for moment, start in zip(frame["moment"], starts, strict=True)
    ]
    return frame


def _hours(span: timedelta) -> float:
    return span.total_seconds() / 3600


def with_sessions(
    file: str, frame: pd.DataFrame, protocol: Protocol, found: list[Problem]
) -> pd.DataFrame:
    """Phase and session of each reading; times before the start or after the window refused."""
    # Four ways of writing one time must give one number: round to 4 microseconds.
    elapsed = np.round(frame["elapsed_h"].to_numpy(float), 9)
    mixing = elapsed <= protocol.window_h + late_h(protocol)
    schedule = np.asarray(protocol.schedule_h, float)
    days = np.asarray(protocol.storage_days, float) * 24
    session = np.where(mixing, nearest(schedule, elapsed), nearest(days, elapsed))
    distance = (
        np.abs(elapsed - days[session * ~mixing]) if len(days) else np.full(len(frame), np.inf)
    )
    stray = ~mixing & (distance > 24)
    negative = elapsed < 0
    fix = "Correct the time, or the schedule in trial.toml."
    for bad, message in (
        (negative, "the reading lies before its vessel's start"),
        (stray, "the reading lies after the window and on no storage day"),
    ):
        for row, hours in zip(frame["row"][bad], elapsed[bad], strict=True):
            value = f"{hours:g} h"
            found.append(Problem(file, int(row), "elapsed", value, "refuse", message, fix))
    frame = frame.assign(
        elapsed_h=elapsed, phase=np.where(mixing, "mixing", "storage"), session=session
    )
    return frame[~(negative | stray)]


def late_h(protocol: Protocol) -> float:
    """How long the round of readings at the end of the window may take, in hours."""
    return min(0.5, 0.02 * protocol.window_h)


def nearest(times: np.ndarray, elapsed: np.ndarray) -> np.ndarray:
    """Index of the nearest scheduled time, the earlier of two equally near."""
    if not len(times):
        return np.zeros(len(elapsed), int)
    middles = (times[1:] + times[:-1]) / 2
    return np.searchsorted(middles, elapsed, side="left")


def duplicate_problems(file: str, frame: pd.DataFrame) -> list[Problem]:
    """Readings that stand twice; which of them holds is not guessed."""
    twin = frame.duplicated(IDENTITY, keep=False)
    found = []
    for _, group in frame[twin].groupby(IDENTITY, sort=False):
        first, *others = sorted(group["row"])
        for row in others:
            message, fix = (
                "this reading stands twice",
                f"Keep one of the rows; the other is row {first}.",
            )
            vessel = group["vessel"].iloc[0]
            found.append(Problem(file, int(row), "vessel", vessel, "refuse", message, fix))
    return found
