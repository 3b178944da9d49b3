"""Each reading's phase and session, from the schedule in trial.toml."""

from collections.abc import Mapping

import numpy as np

from .problems import Problem
from .trial import Protocol

_FIX = "Correct the time, or the schedule in trial.toml."
# A storage reading belongs to a storage day when it is no further from it than this.
STORAGE_SLACK_H = 24.0


def with_sessions(
    file: str, columns: Mapping[str, list], protocol: Protocol, found: list[Problem]
) -> dict[str, np.ndarray]:
    """The readings with phase and session; impossible times are refused and left out.

    Parameters
    ----------
    file : str
        Name for messages.
    columns : dict of list
        Has elapsed_h (hours since the vessel's start) and row.
    protocol : Protocol
    found : list of Problem
        Refusals are added to it.
    """
    # Four ways of writing one time must give one number: round to 4 microseconds.
    elapsed = np.round(np.asarray(columns["elapsed_h"], float), 9)
    mixing, session, stray = placed(elapsed, protocol)
    negative = elapsed < 0
    late = mixing & (elapsed > protocol.window_h)
    rows = np.asarray(columns["row"], np.int64)
    for bad, level, message in (
        (negative, "refuse", "the reading lies before its vessel's start"),
        (stray, "refuse", "the reading lies after the window and on no storage day"),
        (late, "warn", "the reading lies a little after the window; it counts to the last round"),
    ):
        for row, hours in zip(rows[bad], elapsed[bad], strict=True):
            value = f"{hours:.6g} h after the start"
            found.append(Problem(file, int(row), "elapsed", value, level, message, _FIX))
    keep = ~(negative | stray)
    out = {
        name: np.fromiter(cells, object, len(cells))[keep]
        for name, cells in columns.items()
        if name not in ("elapsed_h", "row")
    }
    return out | {
        "row": rows[keep],
        "elapsed_h": elapsed[keep],
        "phase": np.where(mixing[keep], "mixing", "storage").astype(object),
        "session": session[keep],
    }


def placed(elapsed: np.ndarray, protocol: Protocol) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Whether each time lies in the mixing phase, its session, and whether it lies in neither.

    Parameters
    ----------
    elapsed : ndarray, shape (n,)
        Hours since the vessel's start.
    protocol : Protocol
    """
    mixing = elapsed <= protocol.window_h + late_h(protocol)
    schedule = np.asarray(protocol.schedule_h, float)
    days = np.asarray(protocol.storage_days, float) * 24
    session = np.where(mixing, nearest(schedule, elapsed), nearest(days, elapsed))
    stray = ~mixing
    if len(days):
        away = np.abs(elapsed - days[np.where(mixing, 0, session)])
        stray = stray & (away > STORAGE_SLACK_H)
    return mixing, session, stray


def clock_unit_problems(
    file: str, heading: str, elapsed: list[float], protocol: Protocol
) -> list[Problem]:
    """One cause when all times fit the schedule in another unit than the heading says.

    Parameters
    ----------
    file, heading : str
        The file, and elapsed_h or elapsed_min.
    elapsed : list of float
        Hours as the heading has it.
    protocol : Protocol
    """
    hours = np.asarray(elapsed, float)
    other, factor = ("minutes", 1 / 60) if heading == "elapsed_h" else ("hours", 60.0)
    if len(hours) < 5 or _fit(hours, protocol) >= 0.5 or _fit(hours * factor, protocol) < 0.8:
        return []
    message = f"the times fit the schedule as {other}, not as {heading} says"
    fix = f"Rename the heading to {'elapsed_min' if other == 'minutes' else 'elapsed_h'}."
    return [Problem(file, None, heading, "", "refuse", message, fix, 0)]


def _fit(hours: np.ndarray, protocol: Protocol) -> float:
    """Share of times within a tenth, or five minutes, of a planned one."""
    planned = np.array([*protocol.schedule_h, *(day * 24 for day in protocol.storage_days)])
    near = planned[nearest(planned, hours)]
    return float((np.abs(hours - near) <= np.maximum(0.1 * near, 1 / 12)).mean())


def late_h(protocol: Protocol) -> float:
    """How long the round of readings at the end of the window may take, in hours."""
    return min(0.5, 0.02 * protocol.window_h)


def nearest(times: np.ndarray, elapsed: np.ndarray) -> np.ndarray:
    """Index of the nearest scheduled time, the earlier of two equally near.

    Examples
    --------
    >>> nearest(np.array([1.0, 2.0, 4.0]), np.array([0.1, 1.5, 3.1, 9.0])).tolist()
    [0, 0, 2, 2]
    """
    if not len(times):
        return np.zeros(len(elapsed), int)
    return np.searchsorted((times[1:] + times[:-1]) / 2, elapsed, side="left")
