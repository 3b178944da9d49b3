"""What is wrong with a trial folder: one row a finding, worst cause first."""

import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import pandas as pd

from .rows import text_column

COLUMNS = ("file", "row", "column", "value", "level", "message", "fix")
LEVELS = ("refuse", "warn", "note")
LONGEST_SHOWN = 40
# Where the check lists what its message has no room for.
PROBLEMS_FILE = "problems.csv"
_SAMPLE = 3


@dataclass(frozen=True)
class Fault:
    """Why one cell cannot be taken as it stands, and what its writer can do."""

    message: str
    fix: str
    level: str = "refuse"


@dataclass(frozen=True)
class Kept:
    """A cell that has one possible reading, but that the reader must be told about."""

    value: object
    message: str
    fix: str
    level: str = "warn"


@dataclass(frozen=True)
class Problem:
    """One finding about a trial folder.

    Attributes
    ----------
    file, row, column, value : str, int or None, str, str
        Where it stands; `row` is the row that a spreadsheet shows (the line in trial.toml).
    level : {"refuse", "warn", "note"}
        Whether the trial can be read, must be read with care, or is only told about it.
    message, fix : str
        What is wrong and what to do about it; the message never holds the value, so that
        equal findings group.
    rank : int
        0 for a cause that explains others, 1 for the rest.
    """

    file: str
    row: int | None
    column: str
    value: str
    level: str
    message: str
    fix: str
    rank: int = 1


def show(text: object) -> str:
    r"""A cell as it may be printed: short, with invisible characters escaped.

    Control, bidirectional, zero-width and private characters come out as ``\u202e``, because
    a terminal or a page would obey or hide them; a backslash that could pass for such an escape
    comes out doubled. At most 40 characters are shown.

    Examples
    --------
    >>> show("K1\u200b7")
    'K1\\u200b7'
    >>> print(show(r"$\frac{$"), show(r"K1\u200b7"))
    $\frac{$ K1\\u200b7
    >>> len(show("x" * 500))
    40
    """
    out, start = "", str(text)[: LONGEST_SHOWN + 1]
    for char, follows in zip(start, f"{start} "[1:], strict=True):
        forged = char == "\\" and (follows in "\\xuUntr" or _is_hidden(follows))
        hidden = forged or _is_hidden(char)
        piece = char.encode("unicode_escape").decode() if hidden else char
        if len(out) + len(piece) > LONGEST_SHOWN - 1:
            return out + "…"
        out += piece
    return out


def _is_hidden(char: str) -> bool:
    """Whether a character is not seen, or is obeyed instead."""
    return unicodedata.category(char)[0] == "C" or char in "\u2028\u2029"


def _without_hidden(text: str) -> str:
    """A finding's words, where a rule put a cell into them as it was: nothing a terminal obeys."""
    if text.isascii() and text.isprintable():
        return text
    return "".join(c.encode("unicode_escape").decode() if _is_hidden(c) else c for c in text)


def cell_problem(
    file: str, row: int | None, column: str, value: object, fault: Fault | Kept
) -> Problem:
    """One cell's fault as a problem that knows where it stands."""
    return Problem(file, row, column, show(value), fault.level, fault.message, fault.fix)


def row_warning(file: str, row: int, column: str, value: object, message: str, fix: str) -> Problem:
    """A warning about one cell of a row."""
    shown = f"{value:.6g}" if isinstance(value, float) else show(value)
    return Problem(file, int(row), column, shown, "warn", message, fix)


def file_problem(file: str, message: str, fix: str, *, level: str = "refuse") -> Problem:
    """A finding about a whole file; it explains whatever else that file shows."""
    return Problem(file, None, "", "", level, message, fix, rank=0)


def problems_frame(problems: Iterable[Problem], *, strict: bool = False) -> pd.DataFrame:
    """One row a problem: refusals first, causes before their symptoms.

    Parameters
    ----------
    problems : iterable of Problem
    strict : bool
        Whether warnings count as refusals.

    Returns
    -------
    DataFrame
        Columns file, row (nullable integer), column, value, level, message, fix.
    """
    unique = list(dict.fromkeys(problems))
    refused = {_cell(problem) for problem in unique if problem.level == "refuse" and problem.row}
    # What else is odd about a refused cell is a symptom; it comes back if it outlives the mending.
    unique = [p for p in unique if p.level == "refuse" or _cell(p) not in refused]
    ordered = sorted(unique, key=lambda p: (LEVELS.index(p.level), p.rank))
    columns = {name: [getattr(problem, name) for problem in ordered] for name in COLUMNS}
    for name in ("file", "column", "value", "message", "fix"):
        columns[name] = [_without_hidden(text) for text in columns[name]]
    frame = pd.DataFrame(
        {
            name: _row_numbers(cells) if name == "row" else text_column(cells)
            for name, cells in columns.items()
        }
    )
    if strict:
        frame["level"] = frame["level"].replace("warn", "refuse")
    return frame


def _cell(problem: Problem) -> tuple[str, int | None, str]:
    return problem.file, problem.row, problem.column


def _row_numbers(rows: list[int | None]) -> pd.arrays.IntegerArray:
    """Rows of a file as whole numbers, of which some are absent."""
    absent = np.array([row is None for row in rows], bool)
    return pd.arrays.IntegerArray(np.array([row or 0 for row in rows], np.int64), absent)


def format_problem(problem: dict[str, object]) -> str:
    """One problem as one line: where, the value, what is wrong, what to do.

    Examples
    --------
    >>> format_problem(dict(file="readings.csv", row=27, column="value", value="35,2",
    ...     message="a comma stands in the number", fix="Write 35.2."))
    'readings.csv row 27, column value: "35,2" - a comma stands in the number. Fix: Write 35.2.'
    """
    value = f'"{problem["value"]}" - ' if problem["value"] else ""
    return f"{_place(problem)}: {value}{problem['message']}. Fix: {problem['fix']}"


def format_problems(problems: pd.DataFrame) -> str:
    """All problems as text for a terminal, equal ones grouped with their first three rows.

    Parameters
    ----------
    problems : DataFrame
        From `check_trial`, or `.problems` of a trial or of a `TrialDataError`.

    Returns
    -------
    str
        A headed block for each level that occurs, then a line that counts them; a frame
        without rows gives one line that says so.
    """
    if problems.empty:
        return "Nothing to report: every file reads cleanly."
    blocks = []
    for level, heading in zip(LEVELS, _HEADINGS, strict=True):
        chosen = problems[problems["level"] == level]
        if not chosen.empty:
            blocks.append(heading + "\n" + "\n".join(_grouped_lines(chosen)))
    counts = problems["level"].value_counts()
    words = ("to put right", "to look at", "for your information")
    parts = [
        f"{counts[level]} {word}"
        for level, word in zip(LEVELS, words, strict=True)
        if level in counts
    ]
    return "\n\n".join([*blocks, ", ".join(parts) + "."])


_HEADINGS = (
    "To put right before the trial can be read:",
    "To look at (the report prints these):",
    "For your information:",
)


def _place(problem: dict[str, object]) -> str:
    """Where a problem stands, in the words of a spreadsheet."""
    place = str(problem["file"])
    if pd.notna(problem["row"]):
        place += f"{' line' if place.endswith('.toml') else ' row'} {problem['row']}"
    return place + (f", column {problem['column']}" if problem["column"] else "")


def _grouped_lines(problems: pd.DataFrame) -> list[str]:
    """Equal findings together: the first in full, two more by place, the rest counted."""
    lines = []
    for _, group in problems.groupby(["file", "column", "message"], sort=False):
        records = group.to_dict("records")
        lines.append(format_problem(records[0]))
        for record in records[1:_SAMPLE]:
            value = f': "{record["value"]}"' if record["value"] else ""
            lines.append(f"    also {_place(record)}{value}")
        if len(records) > _SAMPLE:
            lines.append(f"    (+{len(records) - _SAMPLE} more, see {PROBLEMS_FILE})")
    return lines
