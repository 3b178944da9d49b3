"""The readings out of an entry workbook, found by their labels."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

from .csvtext import Table
from .numbers import tidy
from .problems import Problem, file_problem, show
from .workbook_cells import MAX_CELLS, cell_text, open_workbook
from .workbook_labels import NOTE_LABEL, ROW_LABELS, SHEET_LABELS, STORAGE_PREFIX

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
    if not tables and not found:
        fix = "Use the workbook that `trialkit sheets` writes."
        found.append(file_problem(file, "no sheet has the labels of an entry workbook", fix))
    return tables, found


def _table(label: str, page: Worksheet, values: Worksheet, found: list[Problem]) -> Table | None:
    """One sheet as a table; None for a sheet without labels, with a word about its content."""
    if page.max_row * page.max_column > MAX_CELLS:
        found.append(file_problem(label, "the sheet has too many cells", "Delete the empty ones."))
        return None
    heads = _labelled(page)
    headings = _headings(page)
    if "quantity" not in heads or headings is None:
        if any(cell.value is not None for row in page.iter_rows() for cell in row):
            message = "the sheet has no labels of an entry sheet and was passed over"
            fix = "Nothing, unless readings stand in it."
            found.append(file_problem(label, message, fix, level="warn"))
        return None
    if page.merged_cells.ranges:
        message = "the sheet has merged cells, which hide what belongs to which vessel"
        found.append(file_problem(label, message, "Split them."))
        return None
    head, columns = headings
    if not _sound_headings(label, page, head, columns, found):
        return None
    hidden = [n for n, row in page.row_dimensions.items() if row.hidden and n > head]
    if hidden:
        message = "the sheet has hidden rows; they were read all the same"
        found.append(file_problem(label, message, "Show them and look.", level="warn"))
    return _rows(_grid(page, values, label, headings, found), found)


def _labelled(page: Worksheet) -> dict[str, str]:
    """Values that stand to the right of the sheet's labels."""
    heads = {}
    for row in page.iter_rows(max_row=min(page.max_row, 40)):
        for left, right in pairwise(row):
            label = tidy(str(left.value)).casefold() if left.value is not None else ""
            if label in SHEET_LABELS and label not in heads:
                heads[label] = tidy(str(right.value)) if right.value is not None else ""
    return heads


def _headings(page: Worksheet) -> tuple[int, dict[int, str]] | None:
    """The row of headings, and heading by column."""
    for row in page.iter_rows(max_row=min(page.max_row, 60)):
        texts = {c.column: tidy(str(c.value)) for c in row if c.value is not None}
        if {"planned", "read at"} <= {text.casefold() for text in texts.values()}:
            return row[0].row, texts
    return None


def _sound_headings(
    label: str, page: Worksheet, head: int, columns: dict[int, str], found: list[Problem]
) -> bool:
    """Whether every heading stands once and no value stands under none."""
    names = [name.casefold() for name in columns.values()]
    twice = sorted({name for name in names if names.count(name) > 1})
    for name in twice:
        message, fix = "two columns have this heading", "Correct one of them."
        found.append(Problem(label, head, show(name.upper()), "", "refuse", message, fix, 0))
    loose = [
        cell
        for row in page.iter_rows(min_row=head + 1)
        for cell in row
        if cell.value is not None and cell.column not in columns
    ]
    for cell in loose:
        message, fix = "a value stands under no heading", "Write the vessel's code above it."
        place = cell.column_letter
        value = show(cell.value)
        found.append(Problem(label, cell.row, place, value, "refuse", message, fix))
    return not (twice or loose)


@dataclass(frozen=True)
class _Grid:
    """An entry sheet's texts by row and heading, below its row of headings."""

    label: str
    heads: dict[str, str]
    head: int
    vessels: tuple[str, ...]
    rows: dict[int, dict[str, str]]


def _grid(
    page: Worksheet, values: Worksheet, label: str, headings: tuple, found: list[Problem]
) -> _Grid:
    """The sheet as texts; vessels that were never read in it are left out."""
    head, columns = headings
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
    return _Grid(label, _labelled(page), head, tuple(read), rows)


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
