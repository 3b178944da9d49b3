"""What in a person's own table is words: a title above it, a column of remarks."""

from __future__ import annotations

import re
from collections.abc import Callable

from .numbers import parse_number
from .problems import Fault, Problem, show

Rows = list[tuple[int, list[str]]]


def without_title(rows: Rows, is_time: Callable[[str], object]) -> tuple[tuple[str, ...], Rows]:
    """What stands alone above the headings, and the rows from the headings on.

    Parameters
    ----------
    rows : list of (int, list of str)
        The filled rows with their numbers.
    is_time : callable
        Whether a heading says hours or minutes.

    Returns
    -------
    tuple of (tuple of str, list)
        A row above is a title only where nothing stands beside it and headings follow.

    Examples
    --------
    >>> rows = [(1, ["My test", ""]), (3, ["hours", "Alder"]), (4, ["1", "9"])]
    >>> without_title(rows, lambda heading: heading == "hours")
    (('My test',), [(3, ['hours', 'Alder']), (4, ['1', '9'])])
    """
    lone = [sum(map(bool, cells)) < 2 for _, cells in rows]
    place = lone.index(False) if False in lone else 0
    if place and is_time(rows[place][1][0]):
        return tuple(cell for _, cells in rows[:place] for cell in cells if cell), rows[place:]
    return (), rows


def without_remarks(
    file: str, head: tuple[int, list[str]], body: Rows, mark: str, found: list[Problem]
) -> Rows:
    """The rows without columns that hold words only; each of these is told of once.

    Parameters
    ----------
    file : str
        Name of the file.
    head : (int, list of str)
        The row of the headings with its number.
    body : list of (int, list of str)
        The rows below.
    mark : str
        The decimal mark.
    found : list of Problem
        Where findings are added.

    Returns
    -------
    list of (int, list of str)
    """
    wordy = {place for place in range(1, len(head[1])) if _is_wordy(place, body, mark)}
    message = "the column holds words: this is not a number"
    fix = (
        "Delete a column of notes. If it says clear or not, write 1 or 0 throughout the table, and "
        "add --tolerance 0."
    )
    for place in sorted(wordy):
        found.append(Problem(file, head[0], show(head[1][place]), "", "refuse", message, fix))
    return [(row, ["" if i in wordy else c for i, c in enumerate(cells)]) for row, cells in body]


def time_fault(text: str, fault: Fault) -> Fault:
    """A fault in the column of the times, with what to write there.

    Parameters
    ----------
    text : str
        The cell.
    fault : Fault
        What is wrong with it as a number.

    Returns
    -------
    Fault

    Examples
    --------
    >>> time_fault("1:30", Fault("a clock time stands where a number belongs", "...")).fix
    'Write a plain number: 1.5 hours, if 1:30 is the time since the salt went in.'
    """
    clock = re.fullmatch(r"([0-9]{1,2}):([0-5][0-9])", text)
    if clock:
        hours = f"{int(clock[1]) + int(clock[2]) / 60:.3g}"
        fix = f"Write a plain number: {hours} hours, if {text} is the time since the salt went in."
        return Fault(fault.message, fix)
    if re.search(r"[0-9]", text):
        return fault
    fix = "Write a plain number. Delete a row without readings, such as one of averages."
    return Fault(fault.message, fix)


def _is_wordy(place: int, body: Rows, mark: str) -> bool:
    texts = [cells[place] for _, cells in body if place < len(cells) and cells[place]]
    return bool(texts) and not any(
        re.search(r"[0-9]", text) or not isinstance(parse_number(text, mark), Fault)
        for text in texts
    )
