"""Which tables need a page turned on its side."""

from typing import Any

# Points of the printed form: the width of the text with the tenth that tighter columns win, of a
# letter on the average, of the space beside a cell, of a mark with its space.
_TEXT = 520.0
_LETTER, _BESIDE, _MARK = 4.4, 10.0, 13.0
# Longer cells go on over a second line, which is no hardship.
_LINE = 16


def needs_turning(table: dict[str, Any]) -> bool:
    """
    Whether the columns of a table crowd each other on a page that stands upright.

    Parameters
    ----------
    table : dict
        The block of a table, as a document holds it.

    Returns
    -------
    bool

    Examples
    --------
    >>> columns = [{"header": f"Reader {number}, h"} for number in range(9)]
    >>> rows = [["not reached (0 of 4)"] * 9]
    >>> needs_turning({"columns": columns, "rows": rows})
    True
    >>> needs_turning({"columns": columns[:4], "rows": [rows[0][:4]]})
    False
    """
    heads = [str(column["header"]) for column in table["columns"]]
    columns = zip(heads, *table["rows"], strict=True)
    width = sum(_column_width([_plain(cell) for cell in column]) for column in columns)
    return width + _MARK * bool(table.get("marks")) > _TEXT


def _column_width(cells: list[str]) -> float:
    """The narrowest that a column reads well at."""
    longest = max(len(cell) for cell in cells)
    words = max(len(word) for cell in cells for word in (cell.split() or [""]))
    return _BESIDE + _LETTER * min(longest, max(words, _LINE))


def _plain(cell: Any) -> str:
    """The letters of a cell, which may be a list of runs of text."""
    if isinstance(cell, str):
        # A digest is set small, in a width of its own.
        return cell[:32] if len(cell) == 64 else cell
    if isinstance(cell, dict):
        return str(cell.get("text", "")) + _plain(cell.get("body", []))
    return "".join(_plain(part) for part in cell)
