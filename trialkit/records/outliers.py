"""Readings that are possible but lie far from all that should resemble them."""

import numpy as np
import pandas as pd

from .problems import Problem

SERIES = ["quantity", "unit", "vessel", "phase", "rater", "position", "repeat"]
_SIBLINGS = ["quantity", "unit", "vessel", "phase", "session"]
_PEERS = ["quantity", "unit", "role", "mix", "phase", "session"]
# How many times the usual departure counts as far; calibrated on simulated sound trials
# (next to no false alarm) against swapped digits and lost decimal points.
FAR = 6.0
_FEWEST = 12
_MANY = 40


def outlier_problems(file: str, frame: pd.DataFrame) -> list[Problem]:
    """Warnings about readings that jump away from their neighbours.

    Each reading is held against three expectations: the readings of the same series just
    before and after, the other readings of the same vessel in that session, and the other
    vessels of the same mix in that session. Its departure is measured in units of what is
    usual for that quantity and expectation. A reading is named when it is far off by the
    expectation that is usually the closest.

    Parameters
    ----------
    file : str
        Name for messages.
    frame : DataFrame
        Tidy readings.

    Returns
    -------
    list of Problem
    """
    read = frame[frame["value"].notna() & (frame["limit"] == "")]
    found = []
    for (quantity, unit), group in read.groupby(["quantity", "unit"], sort=True):
        if len(group) < _FEWEST:
            continue
        score, expected = far_off(group)
        for index in group.index[score > FAR]:
            row, value = group.loc[index, "row"], group.loc[index, "value"]
            message = f"this {quantity} jumps away from the readings around it"
            fix = f"Compare with the sheet; about {expected[index]:.3g} {unit} was expected."
            found.append(Problem(file, int(row), "value", f"{value:g}", "warn", message, fix))
    return found


def far_off(group: pd.DataFrame) -> tuple[np.ndarray, pd.Series]:
    """How far each reading of one quantity lies off, and what was expected.

    Returns
    -------
    score : ndarray, shape (n,)
        Departure in units of the usual one; 0 where nothing can be expected.
    expected : Series
        The value that was expected, in the reading's unit.
    """
    values = group["value"]
    shift = _shift(values)
    scaled = np.log(values + shift) if shift is not None else values
    bounds = [
        _neighbours(group, scaled),
        _others(group, scaled, _SIBLINGS),
        _others(group, scaled, _PEERS),
    ]
    score = np.zeros(len(group))
    best = np.full(len(group), np.inf)
    expected = pd.Series(np.nan, index=group.index)
    step = _step(values)
    for low, high in bounds:
        off = np.maximum(low - scaled, scaled - high).clip(lower=0)
        known = off.notna().to_numpy()
        usual = _usual(group, off, values, shift, step)
        closer = known & (usual < best)
        best = np.where(closer, usual, best)
        score = np.where(closer, (off / usual).fillna(0), score)
        middle = (low + high) / 2
        expected = expected.where(~closer, np.exp(middle) - shift if shift is not None else middle)
    return score, expected


def _shift(values: pd.Series) -> float | None:
    """What to add before a logarithm, where values span more than a decade; else None."""
    positive = values[values > 0]
    if (values < 0).any() or len(positive) < _FEWEST:
        return None
    low, high = np.quantile(positive, [0.05, 0.95])
    return float(max(low, _step(values))) if high > 10 * low else None


def _step(values: pd.Series) -> float:
    """The smallest step between values: no departure is smaller than one of it."""
    distinct = np.unique(values.round(9))
    return float(np.diff(distinct).min()) if len(distinct) > 1 else 1.0


def _neighbours(group: pd.DataFrame, scaled: pd.Series) -> tuple[pd.Series, pd.Series]:
    """The span between the readings just before and after in the same series."""
    ordered = group.sort_values(["elapsed_h", "row"]).index
    series = scaled.loc[ordered].groupby([group.loc[ordered, key] for key in SERIES])
    before, after = series.shift(1), series.shift(-1)
    both = before.notna() & after.notna()
    low, high = np.minimum(before, after).where(both), np.maximum(before, after).where(both)
    return low.reindex(group.index), high.reindex(group.index)


def _others(group: pd.DataFrame, scaled: pd.Series, keys: list[str]) -> tuple[pd.Series, pd.Series]:
    """The span of the other readings that share some keys, the reading itself left out."""
    groups = scaled.groupby([group[key] for key in keys])
    ranks = groups.rank(method="first")
    size = groups.transform("size")
    low, high = groups.transform("min"), groups.transform("max")
    second = scaled.where(ranks == 2).groupby([group[key] for key in keys]).transform("max")
    last = scaled.where(ranks == size - 1).groupby([group[key] for key in keys]).transform("max")
    low = low.where(ranks > 1, second).where(size > 1)
    high = high.where(ranks < size, last).where(size > 1)
    return low, high


def _usual(
    group: pd.DataFrame, off: pd.Series, values: pd.Series, shift: float | None, step: float
) -> np.ndarray:
    """The usual departure for each reading: a high quantile, and one step at least.

    Taken within the session where it has readings enough: the first rounds scatter more than
    the last ones.
    """
    overall = _spread(off) if off.notna().any() else np.inf
    sessions = off.groupby([group["phase"], group["session"]])
    enough = sessions.transform("count") >= _FEWEST
    typical = sessions.transform(_spread).where(enough).fillna(overall)
    smallest = step / (values + shift) if shift is not None else step
    return np.maximum(typical, smallest).to_numpy()


def _spread(off: pd.Series) -> float:
    """The scale of departures from a quantile that one wild reading cannot reach."""
    if off.count() >= _MANY:
        return float(off.quantile(0.95)) / 1.96
    return float(off.quantile(0.9)) / 1.645
