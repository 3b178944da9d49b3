"""Salinities at several heights of one vessel that stand in the wrong order."""

from itertools import pairwise

import numpy as np

from .kinds import POSITIONS
from .outliers import smallest_step
from .problems import Problem, row_warning
from .rows import Rows, group_indices

_FEWEST = 10
_FEWEST_FALLS = 7
# A file keeps the order when so many of its steps do.
_HABIT = 0.95
# More steps the wrong way than this share are no slips.
_SLIPS = 0.3
# Steps up by less than this many of the instrument's are flicker; no whole number, so that
# rounding settles nothing.
_FLICKER = 2.5


def layer_problems(file: str, rows: Rows) -> list[Problem]:
    """Warnings where salt water would lie above fresher water.

    Saltier water is heavier, so salinity does not fall from top to bottom in a vessel at rest.
    Pumped water may differ; the rule holds only in a file in which nearly all vessels keep it.

    Parameters
    ----------
    file : str
        Name for messages.
    rows : Rows
        Readings with a value.
    """
    chosen = (rows["quantity"] == "salinity") & (rows["position"] != "")
    found = []
    for group in rows.take(chosen).split("unit"):
        upper, lower = _steps(group)
        if len(upper) < _FEWEST:
            continue
        values = group["value"]
        flicker = _FLICKER * _step(values, values[lower] - values[upper])
        falls = values[upper] - values[lower] > flicker
        rises = values[lower] - values[upper] > flicker
        found += _inverted_pairs(file, group, upper, falls, rises)
        if falls.sum() > _SLIPS * (falls | rises).sum():
            continue
        found += [_inverted(file, group, upper[i], lower[i]) for i in np.flatnonzero(falls)]
    return found


def _step(values: np.ndarray, apart: np.ndarray) -> float:
    """The instrument's step: what all readings are multiples of, if they are.

    Converted from another unit they are not; then the least that two heights lie apart.
    """
    fine = smallest_step(values)
    ratio = values / fine
    if np.abs(ratio - ratio.round()).max(initial=0) < 1e-3:
        return fine
    return float(np.abs(apart[apart.round(9) != 0]).min(initial=np.inf))


def _inverted_pairs(
    file: str, group: Rows, upper: np.ndarray, falls: np.ndarray, rises: np.ndarray
) -> list[Problem]:
    """One cause where salinity falls below one height in nearly every vessel that has layers."""
    message = "salinity falls from top to bottom in nearly all vessels; were the words exchanged"
    fix = "Compare the positions with the sheet; salty water lies at the bottom."
    found = []
    for position in POSITIONS[:-1]:
        own = group["position"][upper] == position
        down, up = (falls & own).sum(), (rises & own).sum()
        if down >= _FEWEST_FALLS and down >= _HABIT * (down + up):
            shown = f"below {position}"
            found.append(Problem(file, None, "position", shown, "warn", message, fix, 0))
    return found


def _steps(group: Rows) -> tuple[np.ndarray, np.ndarray]:
    """Pairs of rows of one vessel and moment, the upper and the one just below it."""
    height = np.array([POSITIONS.index(position) for position in group["position"]])
    pairs = []
    for index in group_indices(group.ids("vessel", "rater", "repeat", "phase", "session")):
        ordered = index[np.argsort(height[index], kind="stable")]
        pairs += [(a, b) for a, b in pairwise(ordered) if height[a] < height[b]]
    table = np.array(pairs, int).reshape(-1, 2)
    return table[:, 0], table[:, 1]


def _inverted(file: str, group: Rows, upper: int, lower: int) -> Problem:
    """The upper of two readings in the wrong order."""
    message = "this salinity lies above a lower one in the same vessel; were two exchanged"
    fix = f"Compare with the sheet; row {group['row'][lower]} below it says less."
    return row_warning(
        file, group["row"][upper], "value", float(group["value"][upper]), message, fix
    )
