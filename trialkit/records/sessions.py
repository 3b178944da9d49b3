"""Each reading's phase and session, from the schedule in trial.toml."""

from collections.abc import Mapping

import numpy as np

from .problems import Problem
from .trial import Protocol

_FEWEST = 10
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


def plain_times(file: str, cells: list, protocol: Protocol) -> list[Problem]:
    """One cause when the column of moments holds plain numbers of hours or minutes.

    Parameters
    ----------
    file : str
    cells : list
        What the column time would be in hours; faults where it is no number.
    protocol : Protocol
    """
    hours = np.array([cell for cell in cells if isinstance(cell, float)], float)
    if len(hours) < 0.9 * len(cells) or not len(hours):
        return []
    fit = {"elapsed_h": _fit(hours, protocol), "elapsed_min": _fit(hours / 60, protocol)}
    which = max(fit, key=fit.get)
    if fit[which] < 0.5:
        which = "elapsed_h (hours) or elapsed_min (minutes)"
    message = "the column time holds plain numbers, not moments"
    fix = f"Rename the heading to {which}."
    return [Problem(file, None, "time", "", "refuse", message, fix, 0)]


def swapped_times(
    file: str, heading: str, elapsed: list[float], values: list, protocol: Protocol
) -> list[Problem]:
    """One cause when values go on like the times of rounds, and times do not.

    Parameters
    ----------
    file, heading : str
        The file, and elapsed_h or elapsed_min.
    elapsed : list of float
        Hours as the column of that heading has them.
    values : list
        What the column value would be as times, in hours; faults where it is none.
    protocol : Protocol
    """
    hours = np.array([value for value in values if isinstance(value, float)], float)
    if len(hours) < max(_FEWEST, 0.9 * len(values)) or len(elapsed) < _FEWEST:
        return []
    forward, times_forward = (
        float((np.diff(column) >= 0).mean()) for column in (hours, np.array(elapsed, float))
    )
    # Within a round one vessel may be noted before another that was read a little earlier.
    if forward < 0.9 or times_forward > 0.8 or _fit(hours, protocol) < 0.9:
        return []
    message = f"the headings {heading} and value look swapped"
    place = f"{heading}, value"
    return [Problem(file, None, place, "", "refuse", message, "Exchange the two headings.", 0)]


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
