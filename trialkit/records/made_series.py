"""Vessels whose counted readings a spreadsheet may have filled in from first to last."""

import numpy as np

from .grids import STORAGE, Grid
from .problems import Problem, row_warning
from .rows import Rows

# Slow water gains a line a round for seven rounds; so many in a row, and no other, are odd.
_STEPS, _STILL = 8, 6


def made_problems(file: str, group: Rows, grid: Grid) -> list[Problem]:
    """Warnings about vessels that change by one fixed step while they are mixed, or not at all.

    Water that comes clear does so fast and then slowly, while rounds lie further and further apart.
    A vessel at the best or the worst that anybody read may well stay there, and purified water has
    no reason to change.

    Parameters
    ----------
    file : str
        Name for messages.
    group : Rows
        Readings of one quantity in one unit.
    grid : Grid
        Those of one rater.
    """
    mixing = grid.rounds < STORAGE
    values, rows = grid.values[mixing], grid.rows[mixing]
    if len(values) < _STILL:
        return []
    least, most = group["value"].min(), group["value"].max()
    steps = np.round(np.diff(values, axis=0), 9)
    one_step = (steps == steps[0]).all(axis=0)
    one_step &= ~np.isin(grid.vessels, group["vessel"][group["role"] == "reference"])
    still = one_step & (steps[0] == 0) & (values[0] > least) & (values[0] < most)
    made = one_step & (steps[0] != 0) & (len(values) >= _STEPS)
    found = []
    for vessel in np.flatnonzero(still | made):
        how = "goes on in equal steps" if made[vessel] else "stays the same"
        message = f"{group['quantity'][0]} of a vessel {how} from its first round to its last"
        fix = f"See whether a cell of {grid.vessels[vessel]} was dragged down."
        row, value = rows[0, vessel], float(values[0, vessel])
        found.append(row_warning(file, row, "value", value, message, fix))
    return found
