"""The tidy readings out of the rows of readings.csv."""

from collections.abc import Collection, Mapping
from itertools import compress

import numpy as np

from .cells import need_columns, parse_column, warn_unknown_columns
from .csvtext import Table
from .digits import digit_problems
from .headings import time_heading
from .kinds import POSITIONS
from .problems import Fault, Problem, cell_problem, show
from .reading_cells import Setting, cell_parsers, moments, swapped_headings, value_of
from .rows import Rows
from .sessions import clock_unit_problems, plain_times, swapped_times, with_sessions
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
# So many cells tell what a column holds.
_LOOK = 200
# One reading has one of each of these.
IDENTITY = ("vessel", "quantity", "rater", "position", "repeat", "elapsed_h")
ORDER = ["quantity", "vessel", "elapsed_h", "rater", "position", "repeat", "row"]
_NUMBERS = {
    "session": np.int64,
    "repeat": np.int64,
    "row": np.int64,
    "elapsed_h": np.float64,
    "value": np.float64,
}
_FACTS = ("mix", "role", "block", "start_h")
_DEFAULTS = {"position": "", "repeat": 1, "instrument": "", "note": "", "mix": ""}
_TIMES = frozenset(TIME_COLUMNS)


def read_rows(table: Table, setting: Setting, found: list[Problem]) -> Rows | None:
    """The readings of a table; None when a needed column is missing.

    Rows with a faulty cell are left out, so that what follows can still be checked.
    """
    if not _columns_there(table, setting, found):
        return None
    warn_unknown_columns(table, COLUMNS, found)
    decimal = mark_of(table, NUMBER_COLUMNS, found)
    parsers = cell_parsers(setting, decimal)
    found += digit_problems(table, NUMBER_COLUMNS, decimal)
    found += swapped_headings(table, setting, parsers)
    defaults = {"rater": setting.only_rater, **_DEFAULTS}
    columns: dict[str, list] = {
        name: parse_column(table, name, parse, found, default=defaults.get(name))
        for name, parse in parsers.items()
        if name not in _TIMES
    }
    columns["moment"] = moments(table, setting, parsers, found)
    heading = next((name for name in ("elapsed_h", "elapsed_min") if name in table.columns), "")
    if heading:
        hours = [moment for moment in columns["moment"] if moment is not None]
        found += clock_unit_problems(table.file, heading, hours, setting.protocol)
        values = [parsers[heading](cell) for cell in table.columns["value"][:_LOOK] if cell]
        found += swapped_times(table.file, heading, hours[:_LOOK], values, setting.protocol)
    elif "time" in table.columns:
        numbers = [parsers["elapsed_h"](cell) for cell in table.columns["time"][:_LOOK]]
        found += plain_times(table.file, numbers, setting.protocol)
    columns = {"row": table.rows, "place": list(range(len(table))), **columns}
    columns = _kept(columns, [None not in cells for cells in zip(*columns.values(), strict=True)])
    columns = _with_numbers(table, columns, setting.protocol, found)
    columns = _with_vessel(table.file, columns, setting, found)
    return tidy_rows(with_sessions(table.file, columns, setting.protocol, found))


def _kept(columns: dict[str, list], keep: list[bool]) -> dict[str, list]:
    """The rows to keep, of every column."""
    if all(keep):
        return columns
    return {name: list(compress(cells, keep)) for name, cells in columns.items()}


def empty_readings() -> Rows:
    """The readings of a trial without any."""
    return tidy_rows({name: [] for name in FRAME_COLUMNS})


def tidy_rows(columns: Mapping[str, list | np.ndarray]) -> Rows:
    """The readings from their columns: in order, typed, sorted."""
    rows = Rows(
        {name: np.asarray(columns[name], _NUMBERS.get(name, object)) for name in FRAME_COLUMNS}
    )
    keys = [rows[name] if name in _NUMBERS else rows.ranks(name) for name in reversed(ORDER)]
    return rows.take(np.lexsort(keys))


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
        fix = "Add one of elapsed_h, elapsed_min, time, or the pair day and clock."
        heading, meant = time_heading(table.columns)
        if meant:
            fix = f'Rename the heading "{show(heading)}" to {meant}, if that is meant.'
        fault = Fault("no column tells the time", fix)
    elif len(ways) + bool(pair) > 1:
        fault = Fault("more than one column tells the time", "Keep one of them.")
    if fault:
        place = ", ".join(ways + pair)
        found.append(
            Problem(table.file, table.header_row, place, "", "refuse", fault.message, fault.fix, 0)
        )
    return need_columns(table, needed, found, COLUMNS) and fault is None


def absent_columns(file: str, row: int, columns: Collection[str]) -> list[Problem]:
    """A note on columns that a sheet may do without, so that a lost one is noticed."""
    usual = ("position", "repeat", "instrument", "note")
    absent = [name for name in usual if name not in columns]
    if not absent:
        return []
    message, fix = "a column is missing; it counts as empty", "Nothing, if there never was one."
    return [Problem(file, row, ", ".join(absent), "", "note", message, fix, 0)]


def _with_numbers(
    table: Table, columns: dict[str, list], protocol: Protocol, found: list[Problem]
) -> dict[str, list]:
    """Value, limit and unit checked against the quantity; faulty rows left out."""
    known: dict[tuple, tuple] = {}
    numbers, units = [], []
    names = ("place", "quantity", "value", "unit", "instrument")
    cells = table.columns["value"]
    for place, quantity, value, unit, tool in zip(*(columns[name] for name in names), strict=True):
        key = (quantity, cells[place], unit, tool)
        if key not in known:
            known[key] = value_of(quantity, value, unit, tool, protocol)
        number, unit, faults = known[key]
        for column, fault in faults:
            cell = table.columns[column][place]
            found.append(cell_problem(table.file, table.rows[place], column, cell, fault))
        numbers.append(number)
        units.append(unit)
    sound = [number is not None for number in numbers]
    columns = _kept(columns | {"value": numbers, "unit": units}, sound)
    return columns | {
        "value": [number.value for number in columns["value"]],
        "limit": [number.limit for number in columns["value"]],
    }


def _with_vessel(
    file: str, columns: dict[str, list], setting: Setting, found: list[Problem]
) -> dict[str, list]:
    """Mix, role and block from the vessel; times from its start; the mix column checked."""
    facts = {name: setting.of_vessels(name) for name in _FACTS}
    written = columns["mix"]
    columns = columns | {
        name: [facts[name][vessel] for vessel in columns["vessel"]] for name in _FACTS
    }
    for row, cell, mix in zip(columns["row"], written, columns["mix"], strict=True):
        if cell and cell != mix:
            message = "this is not the vessel's mix" if mix else "a mix stands in a blinded sheet"
            fix = "Correct the vessel or the mix; the key decides."
            found.append(Problem(file, row, "mix", show(cell), "refuse", message, fix))
    begin = setting.protocol.start.timestamp()
    columns["elapsed_h"] = [
        moment if isinstance(moment, float) else (moment.timestamp() - begin) / 3600 - start
        for moment, start in zip(columns["moment"], columns["start_h"], strict=True)
    ]
    return columns


def empty_cell_problems(file: str, rows: Rows, lost_h: Mapping[str, float]) -> list[Problem]:
    """A warning for each reading whose value was left empty, unless its vessel was lost."""
    absent = np.isnan(rows["value"])
    if not absent.any():
        return []
    empty = rows.take(absent)
    message = "the cell is empty; it counts as not read"
    fix = "Fill in the reading, or nothing if none was taken."
    cells = zip(empty["row"], empty["vessel"], empty["elapsed_h"], strict=True)
    return [
        Problem(file, int(row), "value", "", "warn", message, fix)
        for row, vessel, hours in cells
        if hours <= lost_h[vessel]
    ]


def without_twins(file: str, rows: Rows, found: list[Problem]) -> Rows:
    """The readings, each once; which of two that stand for one holds is not guessed.

    What stands twice is refused, so that the rules that follow need not name it again.
    """
    ids = rows.ids(*IDENTITY)
    if len(ids) == ids.max(initial=-1) + 1:
        return rows
    _, first = np.unique(ids, return_index=True)
    found += _lost_positions(file, rows, ids)
    numbers, vessels, before = rows["row"], rows["vessel"], rows["row"][first[ids]]
    values, signs = np.nan_to_num(rows["value"], nan=-1), rows["limit"]
    differ = (values != values[first[ids]]) | (signs != signs[first[ids]])
    for i in np.flatnonzero(numbers != before):
        message, fix = "this reading stands twice", f"Keep one of the rows; see row {before[i]}."
        if differ[i]:
            message = "this reading stands twice, with two values"
            fix = f"Keep the row that agrees with the sheet; see row {before[i]}."
        found.append(Problem(file, int(numbers[i]), "vessel", vessels[i], "refuse", message, fix))
    return rows.take(np.sort(first))


def _lost_positions(file: str, rows: Rows, ids: np.ndarray) -> list[Problem]:
    """One cause where samples of one vessel and time stand side by side, none with its position."""
    size = np.bincount(ids)[ids]
    found = []
    for quantity in sorted(set(rows["quantity"][size > 1].tolist())):
        own = rows["quantity"] == quantity
        alike = size[own] <= len(POSITIONS)
        samples = len(np.unique(np.column_stack([ids[own], rows["value"][own]]), axis=0))
        # Rows that were pasted twice have equal values; a column that was moved repeats any time.
        differ = samples - len(np.unique(ids[own])) > 0.25 * own.sum()
        if not (rows["position"][own] != "").any() and alike.all() and differ:
            message = f"{quantity} stands twice or more for one vessel and time, without a position"
            fix = "Fill in position (top, middle, bottom) or repeat (1, 2), whichever was lost."
            found.append(Problem(file, None, "position", quantity, "refuse", message, fix, 0))
    return found


def nothing_read(file: str, rows: Rows) -> list[Problem]:
    """A warning when there is no reading at all, as on the planning day."""
    if not np.isnan(rows["value"]).all():
        return []
    message = "there are no readings yet"
    return [Problem(file, None, "", "", "warn", message, "Fill in the sheet.", 0)]
