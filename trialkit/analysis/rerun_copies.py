"""Readings that a spreadsheet seems to have written: dragged, filled down, copied.

Water that is clear, and water that stands still, repeats itself. So only readings away from the
ends of what was read count, and a repetition counts by how rarely the other readings repeat.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import stats

from trialkit.analysis.rerun_digits import written_steps

__all__ = ["Sheet", "dragged", "filled_down", "repeated"]

_RARE = 1e-5  # chance of a repetition below which it is named
_LEAST_SHARE = 0.01  # of readings taken to repeat by chance, even where none did
_EDGE, _RANGE = 20, 100  # steps from the ends of what was read; steps that its range holds
_DRAGGED = 8  # values in equal steps
_DRAG_STEP = 3  # written steps: smaller ones come from water that clears slowly
_JUMP = 10  # steps by which readings beside a copy differ from it: slow water makes equal ones too
_FEWEST = 4  # values that two vessels or two rounds share
_MOST_LAGS = 60  # places down the sheet over which a copy is looked for
_MOST_PAIRS = 50_000_000  # values compared: a logger's millions are looked through less far


@dataclass(frozen=True, eq=False)
class Sheet:
    """Readings of one quantity in the order of the sheet.

    Attributes
    ----------
    values, steps : numpy.ndarray, shape (n,)
        Readings, with the step in which each is written.
    vessel, session : numpy.ndarray of int, shape (n,)
        Codes in order of first appearance; a session here is one rater's, at one height.
    """

    values: np.ndarray
    steps: np.ndarray
    vessel: np.ndarray
    session: np.ndarray

    @classmethod
    def of(cls, values, vessel, session) -> Sheet:
        """The sheet of readings with labels of vessel and session."""
        values = np.asarray(values, float)
        return cls(values, written_steps(values), _codes(vessel), _codes(session))

    @property
    def moving(self) -> np.ndarray:
        """Which readings are of water that neither is clear nor has just been filled in."""
        low, high = self.values.min(), self.values.max()
        ends = np.minimum(self.values - low, high - self.values)
        return (ends >= _EDGE * self.steps) & (high - low >= _RANGE * self.steps)

    def table(self) -> np.ndarray:
        """Moving readings, vessels down and rounds across; nan elsewhere."""
        table = np.full((self.vessel.max() + 1, self.session.max() + 1), np.nan)
        chosen = self.moving
        table[self.vessel[chosen], self.session[chosen]] = self.values[chosen]
        return table


def dragged(sheet: Sheet) -> bool:
    """Whether values rise or fall in equal steps down the sheet.

    Parameters
    ----------
    sheet : Sheet
        Readings.

    Examples
    --------
    >>> dragged(Sheet.of([9.0, 8.6, 8.2, 7.8, 7.4, 7.0, 6.6, 6.2, 0.1], [1] * 9, range(9)))
    True
    """
    step = np.round(np.diff(sheet.values), 9)
    wide = np.abs(step) >= (_DRAG_STEP - 1e-6) * np.maximum(sheet.steps[1:], sheet.steps[:-1])
    run = _longest_run((step[1:] == step[:-1]) & wide[1:])
    return run + 2 >= _DRAGGED


def filled_down(sheet: Sheet) -> bool:
    """Whether one value stands in more cells in a row than the others lead to expect.

    After it the same vessel goes on with another value: water that hardly moves repeats itself.

    Parameters
    ----------
    sheet : Sheet
        Readings.

    Examples
    --------
    >>> values = [0.1, 12.5, 12.5, 12.5, 12.5, 12.5, 12.5, 12.5, 11.1, 10.2, 9.7, 8.3, 6.2, 20.0]
    >>> filled_down(Sheet.of(values, [1] * 14, range(14)))
    True
    """
    moving = sheet.moving
    both = moving[1:] & moving[:-1]
    equal = both & (np.diff(sheet.values) == 0)
    far = np.abs(np.diff(sheet.values)) >= _JUMP * sheet.steps[1:]
    goes_on = np.append((far & (np.diff(sheet.vessel) == 0))[1:], False)
    # Breaks before and after each run of equal neighbours; a run counts where it ends in a jump.
    breaks = np.flatnonzero(np.concatenate([[True], ~equal, [True]]))
    length, last = np.diff(breaks) - 1, breaks[1:] - 2
    run = int(length[(length > 0) & goes_on[np.maximum(last, 0)]].max(initial=0))
    others = both.sum() - run
    share = max(_LEAST_SHARE, (equal.sum() - run) / others if others else 0.0)
    return bool(share**run < _RARE)


def repeated(table: np.ndarray, step: float) -> bool:
    """Whether two rows hold the same values where chance would hardly make them.

    Parameters
    ----------
    table : numpy.ndarray, shape (n, m)
        Nan where nothing counts.
    step : float
        In which the values are written.

    Examples
    --------
    >>> one = [19.3, 15.1, 12.2, 9.4, 7.7, 4.2]
    >>> repeated(np.array([one, one]), 0.1), repeated(np.array([one, one[::-1]]), 0.1)
    (True, False)
    """
    far = min(_MOST_LAGS, 2 + _MOST_PAIRS // max(table.size, 1))
    lags = range(1, min(len(table), far))
    n_pairs = sum(len(table) - lag for lag in lags)
    moves = _moves(table) >= _JUMP * step
    return any(_copied(table, lag, n_pairs, moves) for lag in lags)


def _copied(table: np.ndarray, lag: int, n_pairs: int, moves: np.ndarray) -> bool:
    row, other = table[lag:], table[:-lag]
    shared = (np.isfinite(row) & np.isfinite(other)).sum(axis=1)
    equal = (row == other).sum(axis=1)
    # The row after the later one and that before the earlier one must not be much the same too.
    apart = moves[lag + 1 :] & moves[: -lag - 1]
    alike = (shared >= _FEWEST) & (equal >= 0.9 * shared) & apart
    for k in np.flatnonzero(alike):
        rest = shared.sum() - shared[k]
        share = max(_LEAST_SHARE, (equal.sum() - equal[k]) / rest if rest else 0.0)
        if n_pairs * stats.binom.sf(equal[k] - 1, shared[k], share) < _RARE:
            return True
    return False


def _moves(table: np.ndarray) -> np.ndarray:
    """How far each row lies from the one before, in the middle of its values, shape (n + 1,).

    Inf before the first, after the last, and where two rows share nothing.
    """
    moves = np.full(len(table) + 1, np.inf)
    apart = np.abs(np.diff(table, axis=0))
    known = np.isfinite(apart).any(axis=1)
    moves[1:-1][known] = np.nanmedian(apart[known], axis=1)
    return moves


def _codes(labels) -> np.ndarray:
    _, first, code = np.unique(np.asarray(labels), return_index=True, return_inverse=True)
    return np.argsort(np.argsort(first))[code]


def _longest_run(flags: np.ndarray) -> int:
    breaks = np.flatnonzero(np.concatenate([[True], ~flags, [True]]))
    return int(np.diff(breaks).max()) - 1
