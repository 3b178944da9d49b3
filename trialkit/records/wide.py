"""A person's own table, times down and vessels across, as numbers and texts."""

from __future__ import annotations

import csv
import io
import re
from dataclasses import asdict, dataclass, replace
from pathlib import Path

from .csvtext import decode
from .files import no_file
from .numbers import Number, decimal_mark, parse_number, tidy
from .problems import Fault, Problem, file_problem, format_problem, problems_frame, show
from .trial import TrialDataError
from .wide_words import time_fault, without_remarks, without_title
from .workbook_cells import MAX_CELLS, cell_text, open_workbook

_HOURS = {"h": 1.0, "hr": 1.0, "hour": 1.0, "min": 60.0, "minute": 60.0}
_UNIT = re.compile(r"(?<![a-z])(h|hr|hour|min|minute)s?(?![a-z])")
_LARGEST_MB = 20.0


@dataclass(frozen=True)
class WideTable:
    """Readings of one quantity as a person noted them.

    Attributes
    ----------
    headings : tuple of str
        What stands over each vessel's column; a mix may head several.
    hours : tuple of float
        Hours of each row.
    cells : tuple of tuple of str
        Readings by row and column, with a point for the decimal mark; "" where not read.
    above : tuple of str
        What stands alone in rows above the headings, such as a title.
    doubts : tuple of str
        What was taken all the same, such as a formula's last result, a line each.
    """

    headings: tuple[str, ...]
    hours: tuple[float, ...]
    cells: tuple[tuple[str, ...], ...]
    above: tuple[str, ...] = ()
    doubts: tuple[str, ...] = ()


def read_wide(path: str | Path) -> WideTable:
    """A table with times in its first column and a vessel in each of the others.

    Parameters
    ----------
    path : str or Path
        A CSV file, or a workbook (.xlsx) whose first sheet holds the table. The first filled row,
        or the first below a title, holds the headings; that of the times says hours or minutes.

    Returns
    -------
    WideTable

    Raises
    ------
    TrialDataError
        With every cell that can't be read.
    OSError
        The file can't be opened.
    """
    path, found, doubts = Path(path), [], []
    rows = [(n, cells) for n, cells in _texts(path, found, doubts) if any(cells)]
    above, rows = without_title(rows, lambda heading: _UNIT.search(heading.casefold()))
    if not found and len(rows) < 2:
        fix = "Write headings in the first row, and times with readings below."
        found.append(file_problem(path.name, "there is no table in it", fix))
    table = None if found else _table(path.name, rows, found)
    if found or table is None:
        raise TrialDataError(problems_frame(found))
    return replace(table, above=above, doubts=_told(doubts))


def _told(doubts: list[Problem]) -> tuple[str, ...]:
    """A line for each kind of doubt, with the first cell and how many more there are."""
    kinds: dict[str, list[Problem]] = {}
    for problem in doubts:
        kinds.setdefault(problem.message, []).append(problem)
    more = {message: len(alike) - 1 for message, alike in kinds.items()}
    return tuple(
        format_problem(asdict(alike[0])) + (f" ({more[message]} more.)" if more[message] else "")
        for message, alike in kinds.items()
    )


def _texts(path: Path, found: list[Problem], doubts: list[Problem]) -> list[tuple[int, list[str]]]:
    """The rows as tidy texts, numbered as a spreadsheet does."""
    if not path.is_file():
        path.stat()  # why it cannot be opened, where that is so
        found.append(no_file(path.name))
        return []
    if path.stat().st_size > _LARGEST_MB * 1e6:
        message = f"the file is larger than {_LARGEST_MB:g} MB"
        found.append(file_problem(path.name, message, "Save the table alone in a new file."))
        return []
    data = path.read_bytes()
    if path.suffix.lower() == ".xlsx":
        rows, problems = _first_sheet(path.name, data, _LARGEST_MB)
    else:
        text, problems = decode(path.name, data)
        rows, more = _csv_rows(path.name, text or "")
        problems += more
    found += [problem for problem in problems if problem.level == "refuse"]
    doubts += [problem for problem in problems if problem.level != "refuse"]
    return rows


def _csv_rows(file: str, text: str) -> tuple[list[tuple[int, list[str]]], list[Problem]]:
    head = next((line for line in text.splitlines() if tidy(line.strip(",;\t"))), "")
    delimiter = max(",;\t", key=head.count)
    try:
        records = list(csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True))
    except csv.Error:
        fix = "Look for a quotation mark that is not closed, or save the file again."
        return [], [file_problem(file, "the rows can't be told apart", fix)]
    return [(n, [tidy(cell) for cell in cells]) for n, cells in enumerate(records, 1)], []


def _first_sheet(
    file: str, data: bytes, max_mb: float
) -> tuple[list[tuple[int, list[str]]], list[Problem]]:
    """The rows of a workbook's first sheet as texts, and what is wrong with its cells."""
    formulas, values, problem = open_workbook(file, data, max_mb)
    if problem:
        return [], [problem]
    page = formulas.worksheets[0]
    if page.max_row * page.max_column > MAX_CELLS:
        return [], [file_problem(file, "the sheet has too many cells", "Delete the empty ones.")]
    found: list[Problem] = []
    label, cached = f"{file} sheet {show(page.title)}", values[page.title]
    rows = [
        (
            cells[0].row,
            [
                cell_text(label, cell, cached.cell(cell.row, cell.column), cell.coordinate, found)
                for cell in cells
            ],
        )
        for cells in page.iter_rows()
    ]
    return rows, found


def _table(file: str, rows: list[tuple[int, list[str]]], found: list[Problem]) -> WideTable | None:
    (head_row, head), body = rows[0], rows[1:]
    per_hour = _per_hour(file, head_row, head[0], found)
    width = max(i for i, cell in enumerate(head) if cell) + 1
    for place in [i for i in range(1, width) if not head[i]]:
        message, fix = "a column has no heading", "Head it with its mix, or delete it."
        found.append(Problem(file, head_row, f"column {place + 1}", "", "refuse", message, fix))
    texts = [cell for _, cells in body for cell in cells[:width] if cell]
    mark, sure = decimal_mark(list(dict.fromkeys(texts)))
    body = without_remarks(file, (head_row, head[:width]), body, mark, found)
    if not sure:
        message = "a comma may mark decimals or thousands"
        found.append(file_problem(file, message, "Write the numbers with a decimal point."))
    hours, cells = [], []
    for row, texts in body:
        padded = [*texts, *[""] * (width - len(texts))]
        for surplus in filter(None, padded[width:]):
            message, fix = "a value stands under no heading", "Write its mix above it."
            found.append(Problem(file, row, "", show(surplus), "refuse", message, fix))
        numbers = [
            _number((file, row, head[i]), padded[i], mark, found, is_time=not i)
            if i or any(padded[1:])
            else ""
            for i in range(width)
        ]
        if any(numbers[1:]):
            told = bool(padded[0] and not numbers[0])  # what is wrong with the time
            hours.append(0.0 if told else _hours(file, row, head[0], numbers[0], per_hour, found))
            cells.append(tuple(numbers[1:]))
    return WideTable(tuple(head[1:width]), tuple(hours), tuple(cells))


def _per_hour(file: str, row: int, heading: str, found: list[Problem]) -> float:
    """How many units of the time column make an hour."""
    units = {_HOURS[unit] for unit in _UNIT.findall(heading.casefold())}
    if len(units) != 1:
        message = "the heading of the first column does not say whether times are hours or minutes"
        fix = 'Head it "hours" or "minutes", counted since the salt went in.'
        found.append(Problem(file, row, show(heading), "", "refuse", message, fix, rank=0))
    return units.pop() if units else 1.0


def _number(
    place: tuple[str, int, str], text: str, mark: str, found: list[Problem], *, is_time: bool
) -> str:
    """A cell's number with a point, its < or > before it; "" for an empty cell."""
    number = parse_number(text, mark) if text else None
    if isinstance(number, Fault):
        fault = time_fault(text, number) if is_time else number
        file, row, heading = place
        told = (fault.message, fault.fix)
        found.append(Problem(file, row, show(heading), show(text), "refuse", *told))
    return f"{number.limit}{number.value:.12g}" if isinstance(number, Number) else ""


def _hours(
    file: str, row: int, heading: str, text: str, per_hour: float, found: list[Problem]
) -> float:
    """The time of a row in hours."""
    if text and not text.startswith(("<", ">", "-")):
        return float(text) / per_hour
    fix = "Write the time since the salt went in, a plain number."
    message = "the row has readings but no time" if not text else "this is not a time"
    found.append(Problem(file, row, show(heading), show(text), "refuse", message, fix))
    return 0.0
