"""Rows of text cells out of the bytes of a CSV file, with row numbers as a spreadsheet shows."""

import contextlib
import csv
import io
import re
from dataclasses import dataclass

from .headings import plain_heading, read_headings, rows_above, without_headings
from .joiners import without_joiners
from .numbers import SPACES
from .problems import Fault, Problem, cell_problem, file_problem, show
from .widths import DELIMITERS, filled, rows_of_width

_SAVE_AS = "Save the file again as CSV UTF-8."
# What UTF-8 text looks like after it was opened as Windows-1252 and saved again.
_MOJIBAKE = re.compile("[ÃÂ][\u0080-\u00bf]|â€|ï»¿")
_LONGEST_CELL = 10_000


@dataclass(frozen=True)
class Table:
    """A CSV file as text.

    Attributes
    ----------
    file : str
        Its name.
    columns : dict of list of str
        Cells by heading, tidied of spaces around them.
    rows : list of int
        The row that a spreadsheet shows, for each cell of a column.
    header_row : int
        The row that holds the headings.
    """

    file: str
    columns: dict[str, list[str]]
    rows: list[int]
    header_row: int = 1

    def __len__(self) -> int:
        return len(self.rows)


def read_table(file: str, data: bytes, headings: tuple[str, ...]) -> tuple[Table, list[Problem]]:
    r"""The cells of a CSV file by heading, and what is wrong with its text.

    Parameters
    ----------
    file : str
        Name for messages.
    data : bytes
        UTF-8 with or without mark, UTF-16 with mark, or Windows-1252 (with a warning).
    headings : tuple of str
        Headings that the file may have; they also settle its delimiter.

    Returns
    -------
    table : Table
        Rows whose number of cells differs from the headings' are left out.
    problems : list of Problem

    Examples
    --------
    >>> data = b"rater;name\r\nR01;Ada\r\n"
    >>> table, problems = read_table("raters.csv", data, ("rater", "name"))
    >>> table.columns, table.rows, problems
    ({'rater': ['R01'], 'name': ['Ada']}, [2], [])
    """
    text, found = decode(file, data)
    empty = Table(file, {}, [])
    if text is None:
        return empty, found
    delimiter = _delimiter(text, headings)
    try:
        records = list(csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True))
    except csv.Error as error:
        return empty, [*found, _broken_quotes(file, text, delimiter, str(error))]
    numbered = [(number, cells) for number, cells in enumerate(records, 1) if filled(cells)]
    if not numbered:
        fix = f"Write its headings into its first row, out of: {', '.join(headings)}."
        return empty, [*found, file_problem(file, "the file is empty", fix)]
    header_row, header = numbered[0]
    if above := rows_above(file, text, header_row, headings):
        return empty, [*found, above]
    names, header_problems = read_headings(file, header, header_row, headings)
    found += header_problems
    if not set(names) & set(headings):
        return empty, found
    width = len(names)
    rows, repeated = without_headings(file, numbered[1:], names)
    body, shape_problems = rows_of_width(file, rows, width, delimiter, len(header) > width)
    if '"' in text:
        shape_problems += _line_breaks(file, body, delimiter)
    found += repeated + shape_problems + _blank_rows(file, numbered)
    # As `tidy` does, without a call for each of very many cells.
    columns = {
        name: [cells[index].strip(SPACES) for _, cells in body]
        for index, name in enumerate(names)
        if name
    }
    table = Table(file, columns, [number for number, _ in body], header_row)
    return table, found + _odd_text(table, text)


def decode(file: str, data: bytes) -> tuple[str | None, list[Problem]]:
    """The text of a file in one of the encodings that spreadsheets write."""
    if data[:4] == b"PK\x03\x04" or data[:4] == b"\xd0\xcf\x11\xe0":
        fix = f"Open it in the spreadsheet and save it as CSV UTF-8 under the name {file}."
        return None, [file_problem(file, "this is a workbook, not a CSV file", fix)]
    try:
        return _clean_text(file, *_decoded(data))
    except UnicodeDecodeError:
        message = "the text is in no encoding that the kit reads"
        return None, [file_problem(file, message, _SAVE_AS)]


def _decoded(data: bytes) -> tuple[str, bool]:
    """Text, and whether Windows-1252 had to be assumed."""
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return data.decode("utf-16"), False
    try:
        return data.decode("utf-8-sig"), False
    except UnicodeDecodeError:
        return data.decode("cp1252"), True


def _clean_text(file: str, text: str, assumed: bool) -> tuple[str | None, list[Problem]]:
    """The text unless it holds what no text file holds."""
    found = []
    if "\0" in text:
        message = "the file holds NUL characters: it is damaged or not text"
        if 0.4 < text.count("\0") / len(text) < 0.8:
            message = "the text is UTF-16 or UTF-32 without the mark that says so"
        return None, [file_problem(file, message, _SAVE_AS)]
    if assumed:
        message = "the text is not UTF-8; it was read as Windows-1252"
        fix = f"Look at accented letters in the report. {_SAVE_AS}"
        found.append(file_problem(file, message, fix, level="warn"))
    if not text.isascii() and ("\ufffd" in text or _MOJIBAKE.search(text)):
        message = "letters were garbled when the file was saved before"
        fix = f"Mend the garbled letters. {_SAVE_AS}"
        found.append(file_problem(file, message, fix, level="warn"))
    if text and text[-1] not in "\r\n":
        message = "the last row has no line end; the file may have been cut off"
        fix = "See whether its last rows are complete, and save it again."
        found.append(file_problem(file, message, fix, level="warn"))
    return text, found


def _delimiter(text: str, headings: tuple[str, ...]) -> str:
    """The delimiter under which the first filled line yields most known headings."""
    lines = (match[0] for match in re.finditer(r"[^\r\n]+", text))
    line = next((line for line in lines if line.strip(SPACES)), "")

    def known(delimiter: str) -> int:
        return sum(plain_heading(cell) in headings for cell in line.split(delimiter))

    return max(DELIMITERS, key=known)


def _broken_quotes(file: str, text: str, delimiter: str, error: str) -> Problem:
    """Where the csv reader gave up."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    row = 0
    with contextlib.suppress(csv.Error):
        for _ in reader:
            row += 1
    if "field larger" in error:
        fault = Fault("a cell is longer than any reading", "Look for a missing quotation mark.")
    else:
        fault = Fault(
            "a quotation mark is not closed, or text follows after it",
            "Take the quotation mark away, or close it at the end of the cell.",
        )
    return Problem(file, row + 1, "", "", "refuse", fault.message, fault.fix, rank=0)


def _line_breaks(file: str, body: list[tuple[int, list[str]]], delimiter: str) -> list[Problem]:
    """Quoted cells that run over several lines: a remark may, swallowed rows may not."""
    message = "a quotation mark that is not closed has swallowed rows"
    fix = "Take the quotation mark at the start of this cell away."
    return [
        Problem(file, number, "", show(cell), "refuse", message, fix, rank=0)
        for number, cells in body
        for cell in cells
        if ("\n" in cell or "\r" in cell) and _swallowed(cell, len(cells), delimiter)
    ]


def _swallowed(cell: str, width: int, delimiter: str) -> bool:
    """Whether a line of a cell has as many delimiters as a row."""
    return any(line.count(delimiter) >= width - 1 for line in re.split(r"[\r\n]+", cell))


def _blank_rows(file: str, numbered: list[tuple[int, list[str]]]) -> list[Problem]:
    """A note when rows in between are blank."""
    first, last = numbered[0][0], numbered[-1][0]
    blank = last - first + 1 - len(numbered)
    if not blank:
        return []
    message = f"{blank} blank row{'s'[: blank != 1]} between filled rows"
    return [file_problem(file, message, "Nothing to do if no reading is missing.", level="note")]


def _odd_text(table: Table, text: str) -> list[Problem]:
    """Cells whose text has one reading only by luck: stray quotation marks, hidden characters."""
    found = []
    for name, cells in table.columns.items():
        whole = "".join(cells)
        if whole.isascii() and whole.isprintable() and '"' not in whole:
            continue
        for row, cell in zip(table.rows, cells, strict=True):
            if cell.isascii() and cell.isprintable() and '"' not in cell:
                continue
            fault = _odd_cell(cell, text)
            if fault:
                found.append(cell_problem(table.file, row, name, cell, fault))
    return found


def _odd_cell(cell: str, text: str) -> Fault | None:
    """What is odd about one cell, if anything."""
    if len(cell) > _LONGEST_CELL:
        return Fault("a cell is longer than any reading", "Look for a missing quotation mark.")
    if any(ord(char) < 32 and char not in "\r\n\t" for char in cell) or "\x7f" in cell:
        return Fault("control characters stand in the cell", "Type the cell again.")
    if '"' in cell and '"' + cell.replace('"', '""') not in text:
        return Fault(
            "a quotation mark stands in a cell that is not quoted",
            "See whether the cell is complete; save the file again.",
            "warn",
        )
    bare = without_joiners(cell)
    if show(bare[:1000]) != bare[:1000] and any(_hidden(char) for char in bare):
        return Fault(
            "characters that cannot be seen stand in the cell", "Type the cell again.", "warn"
        )
    return None


def _hidden(char: str) -> bool:
    """Whether a character is a zero-width, bidirectional or other mark without a shape."""
    return char not in "\r\n\t" and show(char) != char and char != "\\"
