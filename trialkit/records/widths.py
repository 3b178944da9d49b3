"""Rows of cells with as many cells as there are headings."""

from itertools import pairwise

from .numbers import tidy
from .problems import Problem, file_problem, show

DELIMITERS = {",": "comma", ";": "semicolon", "\t": "tab"}
# Some spreadsheets write text in pieces of so many rows.
_PIECE = 16


def filled(cells: list[str]) -> bool:
    """Whether any cell holds something."""
    return bool(tidy("".join(cells)))


def rows_of_width(
    file: str, numbered: list[tuple[int, list[str]]], width: int, delimiter: str, wide: bool
) -> tuple[list[tuple[int, list[str]]], list[Problem]]:
    """Rows with as many cells as headings; the others named.

    Parameters
    ----------
    file : str
        Name for messages.
    numbered : list of (int, list of str)
        Rows below the headings, by the number that a spreadsheet shows.
    width : int
        How many headings there are.
    delimiter : str
    wide : bool
        Whether the headings run over as well, so that rows do by empty cells alone.
    """
    body, found = [], []
    padded, trimmed = _padded(numbered, width), _trimmed(numbered, width)
    padded &= wide or not all(_split_number(cells) for _, cells in numbered)
    if trimmed:
        message = f"{len(trimmed)} rows end before the last columns, which count as empty there"
        fix = "Nothing, if a spreadsheet saved the file so."
        found.append(file_problem(file, message, fix, level="warn"))
    for number, cells in numbered:
        if padded and not filled(cells[width:]):
            cells = cells[:width]
        if number in trimmed:
            cells = cells + [""] * (width - len(cells))
        if len(cells) == width:
            body.append((number, cells))
        else:
            found.append(_wrong_width(file, number, cells, width, delimiter))
    return body, found


def _padded(numbered: list[tuple[int, list[str]]], width: int) -> bool:
    """Whether all rows run over by the same number of cells, as spreadsheets save them."""
    widths = {len(cells) for _, cells in numbered}
    return len(widths) == 1 and max(widths) > width


def _trimmed(numbered: list[tuple[int, list[str]]], width: int) -> set[int]:
    """Rows without the separators of their last columns, as spreadsheets have saved them.

    They write text in pieces of sixteen rows and leave out what is empty in the whole piece, so
    that all rows of a piece end alike; a row that ends by itself has lost something. So has a
    last row that is a piece of its own, unless others end where it does.
    """
    if all(len(cells) >= width for _, cells in numbered):
        return set()
    pieces: dict[int, list[tuple[int, int]]] = {}
    for number, cells in numbered:
        pieces.setdefault((number - 1) // _PIECE, []).append((number, len(cells)))
    alike = [rows for rows in pieces.values() if len({size for _, size in rows}) == 1]
    sizes = {rows[0][1] for rows in alike if len(rows) > 1}
    return {number for rows in alike for number, size in rows if 1 < size < width and size in sizes}


def _wrong_width(file: str, number: int, cells: list[str], width: int, delimiter: str) -> Problem:
    """A row with too many or too few cells, with the likely cause."""
    message = f"the row has {len(cells)} cell{'s'[: len(cells) != 1]} for {width} headings"
    fix = f"Look for a missing or surplus {DELIMITERS[delimiter]}, or one inside a text."
    others = [word for mark, word in DELIMITERS.items() if mark != delimiter and mark in cells[0]]
    if len(cells) == 1 and cells[0].count(delimiter) >= width - 1:
        fix = "Take away the quotation marks that stand around the whole row."
    elif len(cells) == 1 and not others:
        fix = "Take the row away if it holds no reading; remarks go into the column note."
    elif len(cells) == 1:
        fix = f"Separate its cells by a {DELIMITERS[delimiter]}, not a {others[0]}."
    if delimiter == "," and len(cells) > width and _split_number(cells):
        fix = "If a decimal comma stands in it, write a point instead, as in 35.2."
    value = show(delimiter.join(cells))
    return Problem(file, number, "", value, "refuse", message, fix, rank=0)


def _split_number(cells: list[str]) -> bool:
    """Whether two whole numbers stand side by side, as a decimal comma makes them."""
    digits = [tidy(cell).lstrip("<>-").isdigit() for cell in cells]
    return any(a and b for a, b in pairwise(digits))
