"""Rounds, vessels or raters whose readings repeat those of another; meters that stand still."""

from itertools import combinations

import numpy as np

from .grids import Grid, grids_of, rare_cells
from .made_series import made_problems
from .outliers import smallest_step
from .problems import Problem, row_warning
from .rows import Rows, runs_of

# A value is rare when less than this share of all are like it: clear water repeats by itself.
_COMMON = 0.15
_FEWEST = 3
# A whole round that repeats is odd from here on, given how often its vessels repeat around it.
_NEXT, _ANY = 1e-4, 1e-5
# A vessel that repeats another in all rounds; a rater who repeats another in a round, or in all.
_VESSEL, _ROUND, _SHEET = 1e-6, 1e-3, 40
_FEWEST_VESSELS, _FEWEST_OF_RATER = 3, 8
# Two values within so many steps of a meter may show as one, and never more seldom than this.
_DIGITS, _LEAST = 10, 0.005
# Repeats at the same moment, and what one of counted lines tells beside one of a meter.
_MOMENT_H, _COUNTED_TWICE = 1e-6, 0.3
# A meter flickers in readings of so many of its steps.
_FINE, _STILL = 50, 1e-4
# Steps of so many of a meter's, and of this share of a reading, are no slow drift.
_LARGE, _SLIGHT = 10, 0.01


def repeat_problems(file: str, group: Rows) -> list[Problem]:
    """Warnings about readings that repeat those of another round, vessel or rater.

    How rarely chance makes it is taken from the file itself: from the rounds around, from other
    pairs of vessels, from other rounds of the same two raters.

    Parameters
    ----------
    file : str
        Name for messages.
    group : Rows
        Readings of one quantity in one unit, in the order of the file.
    """
    # Below its limit a meter shows the limit again and again, whatever the water does.
    plain = group["limit"] == ""
    group = group if plain.all() else group.take(plain)
    if not len(group):
        return []
    quantity, step = group["quantity"][0], smallest_step(group["value"])
    grids = [grid for grid in grids_of(group) if grid.values.size > _FEWEST]
    found = []
    for grid in grids:
        rare = rare_cells(grid, _COMMON)
        fine = grid.values >= _FINE * step
        found += _rounds(file, quantity, grid, rare)
        if fine.any():
            found += _vessels(file, quantity, grid, rare & fine, step)
            found += _still(file, quantity, grid, fine) + _dragged(file, quantity, grid, step)
        else:
            found += made_problems(file, group, grid)
    found += _again(file, quantity, group, step)
    for one, two in combinations(grids, 2):
        if one.rater != two.rater:
            found += _raters(file, quantity, one, two)
    return found


def _rounds(file: str, quantity: str, grid: Grid, rare: np.ndarray) -> list[Problem]:
    """Two rounds with the very same values in every vessel, where they change around these."""
    values = grid.values
    same = values[:, None] == values[None]
    told = ~np.isnan(values)[:, None] & rare[None]
    shared = (~np.isnan(values)[:, None] & ~np.isnan(values)[None]).sum(axis=2)
    all_same = same.sum(axis=2) == shared
    count = told.sum(axis=2)
    equal = ((same & told).sum(axis=2) == count) & (count >= _FEWEST)
    found = []
    for i, j in np.argwhere(np.triu(equal | all_same & (shared >= _FEWEST), 1)):
        distinct = len(np.unique(values[j][~np.isnan(values[j])]))
        varied = all_same[i, j] and distinct >= max(4, 0.6 * shared[i, j])
        limit = _NEXT if j == i + 1 else _ANY
        copied = equal[i, j] and _chance(same, told, (i, j)) ** count[i, j] < limit
        if (varied and j == i + 1) or copied:
            which = "the one before" if j == i + 1 else "an earlier one"
            message = f"a round of {quantity} repeats {which} in every vessel"
            fix = "See whether the round was copied; this is its first row."
            row = grid.rows[j][grid.rows[j] > 0].min()
            found.append(row_warning(file, row, "value", "", message, fix))
    return found


def _chance(same: np.ndarray, told: np.ndarray, pair: tuple[int, int]) -> float:
    """How often the vessels of two rounds repeat in the rounds around them, and anywhere."""
    (i, j), last = pair, len(same) - 1
    near = {(i - 1, i), (i, i + 1), (j - 1, j), (j, j + 1), (i, j - 1), (i, j + 1), (i - 1, j)}
    near = [(a, b) for a, b in near if 0 <= a < b <= last and (a, b) != pair]
    own = told[pair]
    around = [(same[a, b] & own).sum() / own.sum() for a, b in near]
    steps = np.arange(last)
    known = told[steps, steps + 1]
    anywhere = ((same[steps, steps + 1] & known).sum() - own.sum() * (j == i + 1) + 1) / (
        known.sum() - own.sum() * (j == i + 1) + 2
    )
    return float(max(anywhere, np.mean(around) if around else 0.0))


def _vessels(file: str, quantity: str, grid: Grid, rare: np.ndarray, step: float) -> list[Problem]:
    """Two vessels with the very same values in every round, where other pairs differ.

    Held against each other where a meter flickers: lines that two alike vessels clear by are
    counted alike.
    """
    values, read = grid.values.T, ~np.isnan(grid.values.T)
    same = values[:, None] == values[None]
    both = read[:, None] & read[None]
    told = both & rare.T[:, None]
    kin = (grid.mixes[:, None] == grid.mixes[None])[..., None]
    upper = np.triu(np.ones(same.shape[:2], bool), 1)
    # Values that lie so far apart in a round are seldom the same to the last digit.
    apart = np.nanmax(grid.values, axis=1) - np.nanmin(grid.values, axis=1)
    by_digit = np.maximum(_DIGITS * step / np.maximum(apart, step), _LEAST)
    twins = upper & ((same == both).all(axis=2)) & (told.sum(axis=2) >= _FEWEST_VESSELS)
    found = []
    for v, w in np.argwhere(twins):
        like = told & (kin == kin[v, w]) & upper[..., None]
        equal = (like & same).sum(axis=(0, 1)) - told[v, w]
        rate = (equal + 1) / (like.sum(axis=(0, 1)) - told[v, w] + 2)
        rate = np.where(equal > 0, rate, np.minimum(rate, by_digit))
        if rate[told[v, w]].prod() < _VESSEL:
            shown = f"{grid.vessels[v]} and {grid.vessels[w]}"
            message = f"two vessels have the very same {quantity} in every round; was one copied"
            fix = "Compare the readings of both with the sheet."
            found.append(Problem(file, None, "value", shown, "warn", message, fix, 0))
    return found


def _again(file: str, quantity: str, group: Rows, step: float) -> list[Problem]:
    """Repeats that show the very value and time of the first reading: rows that were copied."""
    second = group["repeat"] > 1
    if not second.any():
        return []
    ids = group.ids("vessel", "rater", "position", "phase", "session")
    first = np.full(ids.max() + 1, -1)
    first[ids[~second]] = np.flatnonzero(~second)
    own = np.flatnonzero(second & (first[ids] >= 0))
    pair = first[ids[own]]
    same = (group["value"][own] == group["value"][pair]) & (
        np.abs(group["elapsed_h"][own] - group["elapsed_h"][pair]) < _MOMENT_H
    )
    # Lines are counted alike twice in a row; a meter hardly ever shows the same number again.
    told = np.where(group["value"][own] >= _FINE * step, 1.0, _COUNTED_TWICE)
    if not len(own) or not same.all() or told.sum() < _FEWEST:
        return []
    message = f"all repeats of {quantity} show the value of the first reading; were rows copied"
    fix = f"Compare this and the {len(own) - 1} other repeats with the sheet."
    row = group["row"][own].min()
    return [row_warning(file, row, "repeat", "", message, fix)]


def _still(file: str, quantity: str, grid: Grid, fine: np.ndarray) -> list[Problem]:
    """A vessel whose meter shows one value on and on, where that of others flickers."""
    values = grid.values
    fine = fine[1:] & ~np.isnan(values[:-1])
    equal = fine & (values[1:] == values[:-1])
    rate = (equal.sum(axis=1)[:, None] - equal + 1) / (fine.sum(axis=1)[:, None] - fine + 2)
    message = f"{quantity} of a vessel stays the same over several rounds, where others change"
    found = []
    for vessel in np.flatnonzero(equal.sum(axis=0) >= 2):
        for start, end in runs_of(equal[:, vessel]):
            if end - start >= 2 and rate[start:end, vessel].prod() < _STILL:
                fix = f"See whether it was copied on, or the meter stood still, in {end - start}"
                fix += f" rounds of {grid.vessels[vessel]}."
                row, value = grid.rows[start + 1, vessel], float(values[start + 1, vessel])
                found.append(row_warning(file, row, "value", value, message, fix))
    return found


def _dragged(file: str, quantity: str, grid: Grid, step: float) -> list[Problem]:
    """A vessel whose readings go on in equal steps from round to round, as a dragged cell makes."""
    steps = np.round(np.diff(grid.values, axis=0), 9)
    # A lid lets the same mass go week by week: what is dragged goes on by much more.
    large = np.maximum(_LARGE * step, _SLIGHT * np.abs(grid.values[2:]))
    same = (steps[1:] == steps[:-1]) & (np.abs(steps[1:]) >= large)
    message = f"{quantity} of a vessel goes on in equal steps over several rounds"
    found = []
    for vessel in np.flatnonzero(same.sum(axis=0) >= _FEWEST):
        for start, end in runs_of(same[:, vessel]):
            if end - start >= _FEWEST:
                row, value = grid.rows[start, vessel], float(grid.values[start, vessel])
                fix = f"See whether a cell of {grid.vessels[vessel]} was dragged down from here on."
                found.append(row_warning(file, row, "value", value, message, fix))
    return found


def _raters(file: str, quantity: str, one: Grid, two: Grid) -> list[Problem]:
    """Two raters who agree to the last in a round, or in all, where they else differ."""
    rounds, down, down_2 = np.intersect1d(one.rounds, two.rounds, return_indices=True)
    _, across, across_2 = np.intersect1d(one.vessels, two.vessels, return_indices=True)
    first, second = one.values[np.ix_(down, across)], two.values[np.ix_(down_2, across_2)]
    told = rare_cells(one, _COMMON)[np.ix_(down, across)] & ~np.isnan(second)
    equal, count = (told & (first == second)).sum(axis=1), told.sum(axis=1)
    shown = f"{one.rater} and {two.rater}"
    if count.sum() >= _SHEET and equal.sum() == count.sum():
        message = f"two raters agree in every single {quantity}; was one sheet copied"
        fix = f"Compare both sheets with the file; {count.sum()} readings below the best agree."
        return [Problem(file, None, "rater", shown, "warn", message, fix, 0)]
    rate = (equal.sum() - equal + 1) / (count.sum() - count + 2)
    message = f"two raters agree in every single {quantity} of a round; was it copied"
    rows = two.rows[np.ix_(down_2, across_2)]
    return [
        row_warning(file, rows[i][rows[i] > 0].min(), "rater", shown, message, _COMPARE)
        for i in range(len(rounds))
        if count[i] >= _FEWEST_OF_RATER and equal[i] == count[i] and rate[i] ** count[i] < _ROUND
    ]


_COMPARE = "Compare the round with both sheets; this is its first row."
