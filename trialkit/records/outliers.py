"""Readings that are possible but lie far from all that should resemble them."""

import numpy as np

from .problems import Problem
from .rows import Rows, group_quantile, group_sizes, others_span

_SERIES = ("vessel", "phase", "rater", "position", "repeat")
_SIBLINGS = ("vessel", "phase", "session")
_PEERS = ("role", "mix", "phase", "session")
# How many times the usual departure counts as far; calibrated on simulated sound trials
# (next to no false alarm) against swapped digits and lost decimal points.
FAR = 8.0
_FEWEST = 12
_MANY = 40


def outlier_problems(file: str, rows: Rows) -> list[Problem]:
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
    rows : Rows
        Readings with a value and without a limit sign.
    """
    found = []
    for group in rows.split("quantity", "unit"):
        if len(group) < _FEWEST:
            continue
        score, expected = far_off(group)
        quantity, unit = group["quantity"][0], group["unit"][0]
        for index in np.flatnonzero(score > FAR):
            value, about = group["value"][index], expected[index]
            message = f"this {quantity} jumps away from the readings around it"
            fix = f"Compare with the sheet; about {about:.3g} {unit} was expected."
            row = int(group["row"][index])
            found.append(Problem(file, row, "value", f"{value:g}", "warn", message, fix))
    return found


def far_off(group: Rows) -> tuple[np.ndarray, np.ndarray]:
    """How far each reading of one quantity lies off, and what was expected.

    Returns
    -------
    score : ndarray, shape (n,)
        Departure in units of the usual one; 0 where nothing can be expected.
    expected : ndarray, shape (n,)
        The value that was expected, in the reading's unit.
    """
    values = group["value"]
    step = _step(values)
    shift = _shift(values, step)
    scaled = values if shift is None else np.log(values + shift)
    smallest = step if shift is None else step / (values + shift)
    score, best = np.zeros(len(values)), np.full(len(values), np.inf)
    expected = np.full(len(values), np.nan)
    spans = (
        _neighbours(group, scaled),
        others_span(group.ids(*_SIBLINGS), scaled),
        others_span(group.ids(*_PEERS), scaled),
    )
    for low, high in spans:
        off = np.maximum(np.maximum(low - scaled, scaled - high), 0)
        usual = np.maximum(_usual(group, off), smallest)
        closer = ~np.isnan(off) & (usual < best)
        best = np.where(closer, usual, best)
        score = np.where(closer, off / usual, score)
        expected = np.where(closer, (low + high) / 2, expected)
    return score, expected if shift is None else np.exp(expected) - shift


def _step(values: np.ndarray) -> float:
    """The smallest step between values: no departure is smaller than one of it."""
    distinct = np.unique(values.round(9))
    return float(np.diff(distinct).min()) if len(distinct) > 1 else 1.0


def _shift(values: np.ndarray, step: float) -> float | None:
    """What to add before a logarithm, where values span more than a decade; else None."""
    positive = np.sort(values[values > 0])
    if values.min() < 0 or len(positive) < _FEWEST:
        return None
    low, high = positive[len(positive) // 20], positive[-1 - len(positive) // 20]
    return float(max(low, step)) if high > 10 * low else None


def _neighbours(group: Rows, scaled: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The span between the readings just before and after in the same series."""
    ids = group.ids(*_SERIES)
    order = np.lexsort((group["row"], group["elapsed_h"], ids))
    series, ordered = ids[order], scaled[order]
    before, after = np.roll(ordered, 1), np.roll(ordered, -1)
    inner = (series == np.roll(series, 1)) & (series == np.roll(series, -1))
    inner[[0, -1]] = False
    low, high = np.empty(len(ids)), np.empty(len(ids))
    low[order] = np.where(inner, np.minimum(before, after), np.nan)
    high[order] = np.where(inner, np.maximum(before, after), np.nan)
    return low, high


def _usual(group: Rows, off: np.ndarray) -> np.ndarray:
    """The usual departure for each reading: a high quantile.

    Taken within the session where it has readings enough: the first rounds scatter more than
    the last ones.
    """
    usual = np.full(len(off), np.inf)
    known = np.flatnonzero(~np.isnan(off))
    if not len(known):
        return usual
    overall = _spread(np.zeros(len(known), int), off[known])
    sessions = group.ids("phase", "session")[known]
    own = _spread(sessions, off[known])
    usual[known] = np.where(group_sizes(sessions) >= _FEWEST, own, overall)
    return usual


def _spread(ids: np.ndarray, off: np.ndarray) -> np.ndarray:
    """The scale of departures in each group, from a quantile that a wild one cannot reach."""
    many = group_sizes(ids) >= _MANY
    return np.where(
        many, group_quantile(ids, off, 0.95) / 1.96, group_quantile(ids, off, 0.9) / 1.645
    )
