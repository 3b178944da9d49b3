"""The headings of a table: as they are compared, and what is wrong with them."""

import difflib
import re
from collections.abc import Collection

from .numbers import SPACES, tidy
from .problems import Problem, file_problem, show
from .times import TIME_COLUMNS

# Headings are looked for among so many characters.
_TOP = 3000

Numbered = list[tuple[int, list[str]]]


def plain_heading(heading: str) -> str:
    """A heading as it is compared: without quotes, spaces around it or capitals."""
    return tidy(heading).strip('"').strip(SPACES).casefold()


def near_heading(wanted: str, headings: Collection[str]) -> str:
    """The heading that somebody may have meant by another spelling; "" for none.

    Examples
    --------
    >>> near_heading("elapsed_h", ["elapsed (h)"]), near_heading("value", ["value (ntu)"])
    ('elapsed (h)', 'value (ntu)')
    >>> near_heading("unit", ["vessel"])
    ''
    """

    def bare(text: str) -> str:
        return re.sub(r"[\W_]+", "_", text.casefold()).strip("_")

    for heading in headings:
        if bare(wanted) in (bare(heading), bare(heading.partition("(")[0])):
            return heading
    near = difflib.get_close_matches(wanted, list(headings), 1, 0.7)
    return near[0] if near else ""


def time_heading(headings: Collection[str]) -> tuple[str, str]:
    """A heading that somebody may have given the times, and the one that they should have.

    A unit in it tells hours from minutes, and both from a clock.

    Examples
    --------
    >>> time_heading(["vessel", "time (h)"]), time_heading(["minutes"]), time_heading(["elapsd_h"])
    (('time (h)', 'elapsed_h'), ('minutes', 'elapsed_min'), ('elapsd_h', 'elapsed_h'))
    >>> time_heading(["vessel"])
    ('', '')
    """
    for heading in headings:
        unit = re.search(r"(?<![a-z])(h|hrs?|hours?|min|mins|minutes?)\W*$", heading)
        if unit:
            return heading, "elapsed_h" if unit[1].startswith("h") else "elapsed_min"
    for name in TIME_COLUMNS:
        heading = near_heading(name, headings)
        if heading and name.startswith("elapsed") and not name.endswith(heading[-2:]):
            return heading, "elapsed_h (hours) or elapsed_min (minutes)"
        if heading:
            return heading, name
    return "", ""


def read_headings(
    file: str, header: list[str], row: int, known: tuple[str, ...]
) -> tuple[list[str], list[Problem]]:
    """Headings in plain form ("" for one to pass over) and what is wrong with them."""
    while header and not tidy(header[-1]):
        header = header[:-1]
    names, found = [], []
    for cell in header:
        name = plain_heading(cell)
        words = None
        if name in names and name:
            words = ("two columns have this heading", "Keep one of them.")
        elif not name:
            words = ("a heading is empty", "Give the column a heading or delete it.")
        if words:
            found.append(Problem(file, row, show(name), "", "refuse", *words, rank=0))
            name = ""
        names.append(name)
    if not set(names) & set(known):
        return names, [_unknown(file, row, names, known)]
    return names, found


def rows_above(file: str, text: str, first: int, known: tuple[str, ...]) -> Problem | None:
    """A title or another row that stands above the headings, where they come a little later.

    Parameters
    ----------
    file : str
        Name for messages.
    text : str
        The whole file.
    first : int
        The first row that holds anything.
    known : tuple of str
    """
    lines = re.split("\r\n|\r|\n", text[:_TOP])[first - 1 :]
    if not lines or _known_headings(lines[0], known):
        return None
    counts = [_known_headings(line, known) for line in lines]
    if max(counts) < min(2, len(known)):
        return None
    row = first + counts.index(max(counts))
    rows = f"Take away row {first}" if row == first + 1 else f"Take away rows {first} to {row - 1}"
    message = f"the headings stand in row {row}, with something above them"
    fix = f"{rows}, so that the headings are the first row."
    return Problem(file, first, "", show(lines[0]), "refuse", message, fix, rank=0)


def _known_headings(line: str, known: tuple[str, ...]) -> int:
    """How many cells of a line are headings, whatever separates them."""
    return sum(plain_heading(cell) in known for cell in re.split("[,;\t]", line))


def _unknown(file: str, row: int, names: list[str], known: tuple[str, ...]) -> Problem:
    """One cause where no heading is known: another separator, no headings, another language."""
    if len(names) == 1 and sum(cell in known for cell in re.split("[,;\t]", names[0])) > 1:
        message = "quotation marks stand around whole rows"
        fix = "Take them away, or save the file again as CSV from where it came."
        return file_problem(file, message, fix)
    if len(names) == 1 and len(known) > 1:
        message = "the cells are separated by none of comma, semicolon and tab"
        return file_problem(file, message, "Save the file as CSV with commas.")
    message = "none of the headings is one that the kit knows"
    fix = f"Its first row holds headings in English, out of: {', '.join(known)}."
    return Problem(file, row, "", show(", ".join(names)), "refuse", message, fix, rank=0)


def without_headings(file: str, rows: Numbered, names: list[str]) -> tuple[Numbered, list[Problem]]:
    """The rows without those that repeat the headings, each named as the cause of more."""
    again = {
        number
        for number, cells in rows
        if plain_heading(cells[0]) == names[0]
        and [plain_heading(cell) for cell in cells[: len(names)]] == names
    }
    message = "the headings stand here once more: two tables were put one below the other"
    fix = "Take this row away, and what stands twice."
    found = [Problem(file, n, "", "", "refuse", message, fix, rank=0) for n in sorted(again)]
    return [row for row in rows if row[0] not in again], found
