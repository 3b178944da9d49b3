"""Cells of the small tables that a spreadsheet may have emptied, filled or dragged."""

import re
from collections import Counter
from itertools import pairwise

import numpy as np

from .csvtext import Table
from .numbers import tidy
from .problems import Fault, Problem, cell_problem
from .rows import runs_of

# So many rows in equal steps, or of one number among numbers that differ, are no chance.
_DRAGGED = 4
_FILLED = 3
EMPTY_COLUMN = "this usual column is missing or has no entry"
_DRAG = "the numbers go on in equal steps over several rows; was a cell dragged"
_FILL = "the number stays the same over several rows; was a cell filled down"
_FIX = "Compare this and the rows that follow with what was noted."


def blank_problems(table: Table, columns: tuple[str, ...], groups: list[str]) -> list[Problem]:
    """A warning for each cell that is empty while half or more of its column and group are not.

    Parameters
    ----------
    table : Table
    columns : tuple of str
        Columns that a table may do without.
    groups : list of str
        A label for each row; a reference needs no dose, whatever the others have.
    """
    fault = Fault(
        "the cell is empty while others of its column are filled",
        "Fill it in, or nothing if it is not known.",
        "warn",
    )
    found = []
    for name in columns:
        cells = [tidy(cell) for cell in table.columns.get(name, ())]
        rows = list(zip(table.rows, cells, groups, strict=True)) if cells else []
        sizes, filled = Counter(groups), Counter(g for _, cell, g in rows if cell)
        found += [
            cell_problem(table.file, row, name, "", fault)
            for row, cell, group in rows
            if not cell and filled[group] >= sizes[group] / 2
        ]
    return found


def empty_column_problems(
    table: Table, columns: tuple[str, ...], level: str = "note"
) -> list[Problem]:
    """A finding for each usual column that is absent or has no entry.

    Parameters
    ----------
    table : Table
    columns : tuple of str
    level : {"note", "warn"}
        "warn" where an analysis would use what is missing.
    """
    fix = "Fill it in, or nothing if it does not apply."
    return [
        Problem(table.file, table.header_row, name, "", level, EMPTY_COLUMN, fix, 0)
        for name in columns
        if not any(tidy(cell) for cell in table.columns.get(name, ()))
    ]


def filled_problems(table: Table, columns: tuple[str, ...]) -> list[Problem]:
    """Warnings about numbers that go on in equal steps or stay the same over several rows.

    Parameters
    ----------
    table : Table
    columns : tuple of str
        Columns of numbers.
    """
    found = []
    for name in columns:
        cells = [tidy(cell).replace(",", ".") for cell in table.columns.get(name, ())]
        places = [i for i, cell in enumerate(cells) if re.fullmatch(r"[0-9]+(\.[0-9]+)?", cell)]
        values = np.array([float(cells[i]) for i in places])
        dragged, filled = _dragged(values), _repeated(values)
        found += [_warn(table, places[i], name, _DRAG, _FIX) for i in dragged]
        found += [_warn(table, places[i], name, _FILL, _FIX) for i in filled]
    return found


def _dragged(values: np.ndarray) -> list[int]:
    """Where runs of numbers in equal steps begin."""
    same = [a == b != 0 for a, b in pairwise(np.round(np.diff(values), 9).tolist())]
    return [start for start, end in runs_of(np.array(same, bool)) if end - start + 2 >= _DRAGGED]


def _repeated(values: np.ndarray) -> list[int]:
    """Where runs of one number begin, in a column whose other numbers all differ."""
    found = []
    for start, end in runs_of(np.diff(values) == 0):
        rest = np.delete(values, slice(start, end + 1))
        few = end - start + 1 < _FILLED or len(rest) < _FILLED
        if not few and len(np.unique(rest)) > 0.8 * len(rest):
            found.append(start)
    return found


def twin_texts(table: Table, column: str) -> list[Problem]:
    """A warning for texts that stand in two rows though each row is expected to have its own."""
    cells = [tidy(cell) for cell in table.columns.get(column, ())]
    message = f"this {column} stands in another row too; was a cell filled down"
    fix = "Correct it, or nothing if it is right."
    return [
        _warn(table, i, column, message, fix)
        for i, cell in enumerate(cells)
        if cell and cells.index(cell) < i
    ]


def _warn(table: Table, place: int, column: str, message: str, fix: str) -> Problem:
    fault = Fault(message, fix, "warn")
    return cell_problem(table.file, table.rows[place], column, table.columns[column][place], fault)
