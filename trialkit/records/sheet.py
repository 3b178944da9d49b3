"""One person's sheet of readings, from a CSV file or a workbook."""

import re
from collections.abc import Collection
from dataclasses import dataclass, field, replace

import numpy as np
import pandas as pd

from .csvtext import Table, read_table
from .files import Folder
from .logger import FROM_BYTES, read_logged
from .pieces import read_pieces
from .problems import Problem, file_problem
from .reading_cells import Setting
from .readings import COLUMNS, ORDER, absent_columns, read_rows, without_twins
from .rows import Rows
from .times import TIME_COLUMNS
from .units import convert_units
from .workbook_read import read_workbook

# Rows of a workbook are counted through all its sheets, from a number that no sheet has.
_FIRST = 10_000_000
_COUNTED = re.compile(r"\brow (\d{8,})\b")


@dataclass(frozen=True)
class Sheet:
    """Readings with a way back to the cells that they were written in.

    Attributes
    ----------
    name : str
        The file.
    rows : Rows
        Tidy readings; `row` counts through all sheets of a workbook.
    places : dict
        (sheet, row, column) by that count; empty for a CSV file, whose rows are its own.
    thin : Rows or None
        For a logger's file: of each series the reading nearest to each scheduled time.
    starts : ndarray or None
        For a logger's file: where each series begins.
    time : str
        The headings of its times.
    """

    name: str
    rows: Rows
    places: dict[int, tuple[str, int, str]] = field(default_factory=dict)
    thin: Rows | None = None
    starts: np.ndarray | None = None
    time: str = ""

    def located(self, problem: Problem) -> Problem:
        """A problem of this file with the sheet, row and column that a person can go to."""
        if problem.file == self.name and problem.column == "elapsed" and not self.places:
            return replace(problem, column=self.time)
        if problem.file != self.name or problem.row not in self.places:
            return problem
        sheet, row, column = self.places[problem.row]
        column = _COLUMNS_OF_SHEET.get(problem.column, column)
        fix = _COUNTED.sub(self._named, problem.fix)
        return replace(problem, file=sheet, row=row, column=column, fix=fix)

    def _named(self, mention: re.Match) -> str:
        """Another row that a fix speaks of, where a person finds it."""
        sheet, row, column = self.places.get(int(mention[1]), ("", mention[1], ""))
        return f"row {row}, column {column} of {sheet.removeprefix(self.name).strip()}"

    def as_written(self) -> Rows:
        """The readings with the rows of their own sheets."""
        if not self.places:
            return self.rows
        own = np.array([self.places[row][1] for row in self.rows["row"]], np.int64)
        return self.rows.with_column("row", own)


# Where a reading's parts stand in an entry sheet, apart from the vessel's own column.
_COLUMNS_OF_SHEET = {
    "elapsed": "read at",
    "elapsed_h": "read at",
    "position": "position",
    "note": "note",
    "rater": "rater",
    "unit": "unit",
    "quantity": "quantity",
    "instrument": "instrument",
}


def sheet_name(folder: Folder, stem: str) -> str | None:
    """The file that holds a person's sheet; two that both hold readings are refused."""
    names = [name for name in (f"{stem}.csv", f"{stem}.xlsx") if folder.has(name)]
    if len(names) < 2:
        return names[0] if names else None
    # A plan comes with an empty readings.csv, and the workbook may be printed and left empty.
    filled = [name for name in names if not _is_blank(folder, name)]
    if len(filled) == 2:
        message = f"readings stand in {names[0]} and in {names[1]}; it is not clear which hold"
        fix = f"Take one away, or rename it {stem}-second if it is a second person's entry."
        folder.found.append(file_problem(names[1], message, fix))
    return (filled or names)[0]


def _is_blank(folder: Folder, name: str) -> bool:
    """Whether a sheet is still as empty as it was made, and nothing is wrong with it."""
    data = folder.read(name)
    if data is None or (name.endswith(".csv") and len(data) >= FROM_BYTES):
        return False
    if name.endswith(".csv"):
        table, found = read_table(name, data, COLUMNS)
        return bool(table.columns) and not any(table.columns.get("value", ["?"])) and not found
    tables, found = read_workbook(name, data, folder.max_mb)
    return bool(tables) and all(len(table) == 0 for table in tables) and not found


def read_sheet(folder: Folder, setting: Setting, name: str) -> Sheet | None:
    """The readings of one file in one unit a quantity; None when it cannot be read."""
    data = folder.read(name)
    if data is None:
        return None
    if name.endswith(".csv") and len(data) >= FROM_BYTES:
        sheet = _large_sheet(folder, setting, name, data)
        if sheet is not None:
            return sheet
    places: dict[int, tuple[str, int, str]] = {}
    before = len(folder.found)
    if name.endswith(".csv"):
        table, problems = read_table(name, data, COLUMNS)
        tables = [table] if table.columns else []
        if any(table.columns.get("value", ())):
            problems += absent_columns(name, table.header_row, table.columns)
    else:
        tables, problems = read_workbook(name, data, folder.max_mb)
        tables = [_counted(name, table, places) for table in tables]
    folder.found += problems
    parts = [read_rows(table, setting, folder.found) for table in tables]
    if not parts or any(part is None for part in parts):
        return None
    rows = parts[0]
    if len(parts) > 1:
        frame = pd.concat([part.frame() for part in parts])
        rows = Rows.of(frame.sort_values(ORDER, ignore_index=True))
    sheet = _in_one_unit(name, rows, folder, setting)
    sheet = replace(sheet, places=places, time=_times(tables[0].columns))
    folder.found[before:] = [sheet.located(problem) for problem in folder.found[before:]]
    return sheet


def _large_sheet(folder: Folder, setting: Setting, name: str, data: bytes) -> Sheet | None:
    """The readings of a logger's file, column by column as far as it is plain; None if not."""
    logged = read_logged(data, setting)
    if logged is not None:
        folder.found += absent_columns(name, 1, logged.columns)
        rows, time = Rows.of(logged.frame), _times(logged.columns)
        return Sheet(name, rows, thin=logged.thin, starts=logged.starts, time=time)
    frame = read_pieces(name, data, setting, folder.found)
    return None if frame is None else _in_one_unit(name, Rows.of(frame), folder, setting)


def _times(columns: Collection[str]) -> str:
    """The headings under which a file tells its times."""
    return ", ".join(name for name in TIME_COLUMNS if name in columns) or "elapsed"


def _in_one_unit(name: str, rows: Rows, folder: Folder, setting: Setting) -> Sheet:
    """The readings, each once and in one unit a quantity."""
    rows = without_twins(name, rows, folder.found)
    return Sheet(name, convert_units(name, rows, setting, folder.found))


def _counted(name: str, table: Table, places: dict[int, tuple[str, int, str]]) -> Table:
    """A workbook's table under running numbers, its places remembered."""
    numbers = []
    for row, vessel in zip(table.rows, table.columns["vessel"], strict=True):
        numbers.append(_FIRST + len(places))
        places[numbers[-1]] = (table.file, row, vessel)
    return Table(name, table.columns, numbers, table.header_row)
