"""Numbers with fewer or more decimals than all others of their column."""

from collections import Counter

import numpy as np

from .csvtext import Table
from .numbers import Number, parse_number
from .problems import Problem, row_warning

# Zeros at the end show that a column is written with a fixed number of decimals.
_ZEROS = 4
_FEWEST = 20
# More numbers than this that differ are no slip.
_RARE = 0.05


def digit_problems(table: Table, columns: tuple[str, ...], decimal: str) -> list[Problem]:
    """Warnings about numbers that lost or gained a digit after the point.

    A person or meter that writes 0.50 writes 0.5 nowhere else; where no number ends in a zero,
    decimals may have been dropped on saving, and nothing is said.

    Parameters
    ----------
    table : Table
    columns : tuple of str
        Columns of numbers; those of `value` are taken by quantity.
    decimal : {".", ","}
        The decimal mark of the file.
    """
    found = []
    for name in columns:
        if name not in table.columns:
            continue
        groups = [""] * len(table)
        if name == "value" and "quantity" in table.columns:
            groups = table.columns["quantity"]
        found += _odd_ones(table, name, groups, decimal)
    return found


def _odd_ones(table: Table, name: str, groups: list[str], decimal: str) -> list[Problem]:
    """The odd ones of one column, group by group."""
    cells = table.columns[name]
    numbers = [parse_number(cell, decimal) if cell else None for cell in cells]
    kinds: dict[str, list[int]] = {}
    for place, (group, number) in enumerate(zip(groups, numbers, strict=True)):
        if isinstance(number, Number) and not number.limit:
            kinds.setdefault(group, []).append(place)
    message = "the number has not as many decimals as the others; was a digit lost or added"
    found = []
    for places in kinds.values():
        decimals = np.array([numbers[place].decimals for place in places])
        usual, count = Counter(decimals.tolist()).most_common(1)[0]
        zeros = sum(cells[place].endswith("0") for place in places)
        odd = np.flatnonzero(decimals != usual)
        few = len(odd) <= max(1, _RARE * len(places))
        if usual == 0 or count < _FEWEST or zeros < _ZEROS or not few:
            continue
        fix = f"Compare with the sheet; all others have {usual} after the point."
        found += [
            row_warning(table.file, table.rows[places[i]], name, cells[places[i]], message, fix)
            for i in odd
        ]
    return found
