"""Values that look copied from other cells rather than read from water."""

import numpy as np

from .problems import Problem, row_warning
from .repeats import repeat_problems
from .rows import Rows, runs_of

_LONG_RUN = 5
# A run of equal cells is odd when chance would make it this rarely.
_ODD = 1e-6


def copy_problems(file: str, rows: Rows) -> list[Problem]:
    """Warnings about cells filled down, and rows or rounds that stand twice.

    Parameters
    ----------
    file : str
        Name for messages.
    rows : Rows
        Readings of one quantity in one unit, in the order of the file.
    """
    return _copied_cells(file, rows) + _copied_rows(file, rows) + repeat_problems(file, rows)


def _copied_cells(file: str, group: Rows) -> list[Problem]:
    """Runs of one value that chance would hardly make, given how common the value is."""
    values = group["value"]
    same = np.concatenate(([False], values[1:] == values[:-1]))
    long = [(a, b) for a, b in runs_of(same) if b - a + 1 >= _LONG_RUN]
    if not long or len(np.unique(values)) < 3:
        return []
    rounds = group.ids("role", "phase", "session")
    steady = _steady(group)
    found = []
    for start, end in long:
        run = np.zeros(len(values), bool)
        run[start - 1 : end] = True
        # Water that was clear stays clear: only rows that changed to the value are a surprise.
        changed = int((run & ~steady).sum())
        if changed > 1 and _chance(values, rounds, run) ** (changed - 1) < _ODD:
            message = (
                f"{group['quantity'][0]} stays the same over several rows; was a cell filled down"
            )
            fix = f"Compare this and the {end - start} rows that follow with the sheet."
            row, value = group["row"][start - 1], float(values[start - 1])
            found.append(row_warning(file, row, "value", value, message, fix))
    return found


def _steady(group: Rows) -> np.ndarray:
    """Whether each reading equals the one before it in its series."""
    ids = group.ids("vessel", "rater", "position", "repeat")
    order = np.lexsort((group["row"], group["elapsed_h"], ids))
    equal = (np.diff(ids[order]) == 0) & (np.diff(group["value"][order]) == 0)
    steady = np.zeros(len(ids), bool)
    steady[order[1:][equal]] = True
    return steady


def _chance(values: np.ndarray, rounds: np.ndarray, run: np.ndarray) -> float:
    """How common a run's value is outside the run, in its rounds or altogether.

    Values that many vessels share at that time (a ceiling, clear water) may well repeat.
    """
    same = values == values[run][0]
    own = np.zeros(rounds.max() + 1, bool)
    own[rounds[run]] = True
    near = own[rounds] & ~run
    shares = [same[outside].mean() for outside in (near, ~run) if outside.any()]
    return max([0.02, *shares])


def _copied_rows(file: str, group: Rows) -> list[Problem]:
    """Runs of rows that repeat the rows just before them, in other vessels.

    A vessel may well repeat its own value; that a whole run of other vessels does, in the same
    order, is as rare as their values are.
    """
    values, vessels = group["value"], group.codes("vessel")
    rarity = np.log(np.maximum(_share_in_round(group), 0.02))
    found: list[Problem] = []
    taken = np.zeros(len(values), bool)
    for lag in range(3, min(60, len(values) // 2)):
        # A run as long as the lag holds three in a row of the rows that are a third of it apart.
        step = lag // 3
        sample = values[lag::step] == values[:-lag:step]
        if not (sample[2:] & sample[1:-1] & sample[:-2]).any():
            continue
        equal = values[lag:] == values[:-lag]
        for start, end in runs_of(equal):
            begin, stop = start + lag, end + lag
            if end - start < lag or taken[begin:stop].any():
                continue
            other = vessels[begin:stop] != vessels[start:end]
            far = np.where(other, rarity[begin:stop], 0.0).sum()
            if far > np.log(_ODD / lag):
                continue
            taken[begin:stop] = True
            message = (
                f"{group['quantity'][0]} repeats the rows before, in other vessels; was it copied"
            )
            fix = f"Compare this and the {end - start - 1} rows that follow with the sheet."
            row, value = group["row"][begin], float(values[begin])
            found.append(row_warning(file, row, "value", value, message, fix))
    return found


def _share_in_round(group: Rows) -> np.ndarray:
    """How common each reading's value is, in its role's round or altogether.

    A value and its copy say nothing of how common it is.
    """
    values = np.unique(group["value"], return_inverse=True)[1]
    shares = []
    for ids, own in ((group.ids("role", "phase", "session"), 2), (group.ids("role"), 0)):
        pairs = np.unique(ids * (values.max(initial=0) + 1) + values, return_inverse=True)[1]
        shares.append(np.maximum(np.bincount(pairs)[pairs] - own, 0) / np.bincount(ids)[ids])
    return np.maximum(*shares)
