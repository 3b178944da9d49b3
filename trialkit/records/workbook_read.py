"""The readings out of an entry workbook, found by their labels."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from .csvtext import Table
from .problems import Problem, file_problem, show
from .workbook_cells import MAX_CELLS, cell_text, open_workbook
from .workbook_labels import NOTE_LABEL, ROW_LABELS, STORAGE_PREFIX
from .workbook_layout import (
    Layout,
    find_layout,
    heading_problems,
    hidden_problems,
    layout_problems,
)

if TYPE_CHECKING:
    from openpyxl.worksheet.worksheet import Worksheet


def read_workbook(file: str, data: bytes, max_mb: float) -> tuple[list[Table], list[Problem]]:
    """One table of readings for each sheet of an entry workbook, and what is wrong with it.

    Parameters
    ----------
    file : str
        Name for messages.
    data : bytes
    max_mb : float
        Limit for the unpacked size: a workbook is a packed archive, and a small one can hold
        more than any memory.

    Returns
    -------
    tables : list of Table
        Columns as readings.csv has them; rows are those of the sheet.
    problems : list of Problem
    """
    from openpyxl.worksheet.worksheet import Worksheet

    formulas, values, problem = open_workbook(file, data, max_mb)
    if problem:
        return [], [problem]
    tables, found = [], []
    for name in formulas.sheetnames:
        page = formulas[name]
        if not isinstance(page, Worksheet):
            continue
        label = f"{file} sheet {show(name)}"
        table = _table(label, page, values[name], found)
        if table is not None:
            tables.append(table)
    if not tables and all(problem.level != "refuse" for problem in found):
        fix = "Use the workbook that `trialkit sheets` writes."
        found.append(file_problem(file, "no sheet has the labels of an entry workbook", fix))
    return tables, found


def _table(label: str, page: Worksheet, values: Worksheet, found: list[Problem]) -> Table | None:
    """One sheet as a table; None for a sheet without labels, with a word about its content."""
    if page.max_row * page.max_column > MAX_CELLS:
        message = f"the sheet reaches to row {page.max_row} and has too many cells"
        fix = "Delete the rows and columns beyond the table; what looks empty may hold a format."
        found.append(file_problem(label, message, fix))
        return None
    layout = find_layout(page)
    problems = layout_problems(label, page, layout)
    if layout.whole and not problems:
        problems = heading_problems(label, page, layout)
    found += problems
    if problems or not layout.whole:
        return None
    grid = _grid(page, values, label, layout, found)
    if grid.vessels:
        found += hidden_problems(label, page, layout)
    return _rows(grid, found)


@dataclass(frozen=True)
class _Grid:
    """An entry sheet's texts by row and heading, below its row of headings."""

    label: str
    heads: dict[str, str]
    head: int
    vessels: tuple[str, ...]
    rows: dict[int, dict[str, str]]


def _grid(
    page: Worksheet, values: Worksheet, label: str, layout: Layout, found: list[Problem]
) -> _Grid:
    """The sheet as texts; vessels that were never read in it are left out."""
    head, columns = layout.head, layout.columns
    keys = {c: n.casefold() if n.casefold() in _LABELS else n for c, n in columns.items()}
    rows = {
        row: {
            key: cell_text(label, page.cell(row, c), values.cell(row, c), columns[c], found)
            for c, key in keys.items()
        }
        for row in range(head + 1, page.max_row + 1)
    }
    read = [key for key in keys.values() if key not in _LABELS]
    read = [key for key in read if any(cells[key] for cells in rows.values())]
    return _Grid(label, layout.labels, head, tuple(read), rows)


def _rows(grid: _Grid, found: list[Problem]) -> Table:
    """The sheet's cells as rows of readings."""
    out: dict[str, list[str]] = {name: [] for name in _COLUMNS}
    numbers = []
    fixed = [grid.heads.get(name, "") for name in ("rater", "quantity", "unit", "instrument")]
    for row, cells in grid.rows.items():
        if not any(cells[vessel] for vessel in grid.vessels):
            continue
        hours = _read_at(grid.label, row, cells["planned"], cells["read at"], found)
        if hours is None:
            continue
        extra = (cells.get("position", ""), cells.get(NOTE_LABEL, ""))
        for vessel in grid.vessels:
            record = (vessel, hours, cells[vessel], *fixed, *extra)
            for name, text in zip(_COLUMNS, record, strict=True):
                out[name].append(text)
            numbers.append(row)
    return Table(grid.label, out, numbers, grid.head)


_COLUMNS = (
    "vessel",
    "elapsed_h",
    "value",
    "rater",
    "quantity",
    "unit",
    "instrument",
    "position",
    "note",
)
_LABELS = {*ROW_LABELS, NOTE_LABEL}


def _read_at(label: str, row: int, planned: str, read_at: str, found: list[Problem]) -> str | None:
    """A row's time in hours: what was written under 'read at', else what was planned."""
    if read_at:
        return read_at
    if not planned:
        message, fix = "the row has readings but no time", "Fill in 'read at'."
        found.append(Problem(label, row, "read at", "", "refuse", message, fix))
        return None
    if planned.casefold().startswith(STORAGE_PREFIX):
        try:
            planned = f"{float(planned[len(STORAGE_PREFIX) :]) * 24:g}"
        except ValueError:
            message, fix = "the planned day cannot be read", "Fill in 'read at'."
            found.append(Problem(label, row, "planned", show(planned), "refuse", message, fix))
            return None
    message = "'read at' is empty; the planned time was taken"
    found.append(
        Problem(label, row, "read at", "", "warn", message, "Fill in 'read at' if it was another.")
    )
    return planned
