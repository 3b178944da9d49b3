"""Readings of one series as a table of rounds by vessels, for rules that hold rounds together."""

from dataclasses import dataclass

import numpy as np

from .rows import Rows

# What is added to the number of a storage round.
STORAGE = 100_000


@dataclass(frozen=True)
class Grid:
    """One quantity by one rater at one height, rounds down and vessels across.

    Attributes
    ----------
    values : ndarray, shape (rounds, vessels)
        NaN where nothing was read.
    rows : ndarray, shape (rounds, vessels)
        The row of the file; 0 where nothing was read.
    rounds, vessels, mixes : ndarray
        Numbers of the rounds (storage after mixing), codes of the vessels, what they hold.
    rater : str
        Who read it.
    """

    values: np.ndarray
    rows: np.ndarray
    rounds: np.ndarray
    vessels: np.ndarray
    mixes: np.ndarray
    rater: str = ""


def grids_of(group: Rows) -> list[Grid]:
    """A table for each rater, position and repeat of a quantity.

    Parameters
    ----------
    group : Rows
        Readings of one quantity in one unit with a value.
    """
    rounds = group["session"] + STORAGE * (group["phase"] == "storage")
    ids = group.ids("rater", "position", "repeat")
    return [_grid(group, rounds, np.flatnonzero(ids == i)) for i in range(int(ids.max()) + 1)]


def _grid(group: Rows, rounds: np.ndarray, chosen: np.ndarray) -> Grid:
    down, at = np.unique(rounds[chosen], return_inverse=True)
    _, first, across = np.unique(
        group.codes("vessel")[chosen], return_index=True, return_inverse=True
    )
    values = np.full((len(down), len(first)), np.nan)
    rows = np.zeros(values.shape, np.int64)
    values[at, across], rows[at, across] = group["value"][chosen], group["row"][chosen]
    own = chosen[first]
    rater = str(group["rater"][chosen[0]])
    return Grid(values, rows, down, group["vessel"][own], group["mix"][own], rater)


def rare_cells(grid: Grid, share: float) -> np.ndarray:
    """Whether each cell was read and holds a value that less than a share of all cells hold."""
    read = ~np.isnan(grid.values)
    _, inverse, counts = np.unique(grid.values[read], return_inverse=True, return_counts=True)
    rare = np.zeros(grid.values.shape, bool)
    rare[read] = counts[inverse] < share * read.sum()
    return rare


def shared_cells(one: Grid, two: Grid) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """The vessels that two tables share, and both tables' values in the rounds they share.

    Parameters
    ----------
    one, two : Grid
        Of one quantity, by two raters, say.
    """
    _, down, down_2 = np.intersect1d(one.rounds, two.rounds, return_indices=True)
    vessels, across, across_2 = np.intersect1d(one.vessels, two.vessels, return_indices=True)
    return vessels, one.values[np.ix_(down, across)], two.values[np.ix_(down_2, across_2)]
