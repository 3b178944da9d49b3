"""Reading times that are possible but do not fit: off the schedule, their round or their order."""

import numpy as np

from .problems import Problem
from .rows import Rows, group_quantile, group_sizes
from .trial import Protocol

# From here on a rule that most readings of a file keep is taken as that file's habit.
_HABIT = 0.9
# More steps back in time than this share of all are no slips.
_BACK = 0.03
# Steps in which people and clocks write times; a thousandth of an hour is 3.6 seconds.
_STEPS_S = (300, 60, 30, 15)
_ROUNDED_S = 1.85
_STEADY = 0.98
_MANY = 40
# A round is late by more than this many times what is usual, and six minutes at least.
_LATE = 6
_LATE_H = 0.1
_ROUNDS = 5
_FEWEST = 4
_ROUND = ("phase", "session")
_FIX = "Correct the time, or nothing if it is right."


def timing_problems(file: str, rows: Rows, protocol: Protocol) -> list[Problem]:
    """Warnings about reading times that fit neither plan nor neighbours.

    Each rule is switched on by the habit of the file itself, because a person who writes
    planned times and one who writes true times make different files: distance from the
    schedule; one time for all readings of a vessel in a session; the spread of a round; the
    order of rows within a round.

    Parameters
    ----------
    file : str
        Name for messages.
    rows : Rows
        Readings, with `moment_h`, hours since the trial's start.
    protocol : Protocol
    """
    planned = planned_h(rows["phase"] == "mixing", rows["session"], protocol)
    found: list[Problem] = []
    off = _off_schedule(rows, planned, protocol)
    whole = off & (_share(rows.ids("rater", "quantity", *_ROUND), off) > 0.5)
    found += _off_rounds(file, rows.take(whole), protocol)
    off &= ~whole
    rules = (
        (off, "the reading is far from every scheduled time"),
        (_off_habit(rows, planned), "the reading is not at the scheduled time as others are"),
        (_off_vessel(rows), "the time differs from the vessel's other readings of the session"),
        (_off_round(rows), "the time lies apart from the other readings of its round"),
        (_off_grid(rows), "the time is not on the full minutes or seconds that all others are on"),
        (_off_order(rows), "the time is out of order among the rows around it"),
    )
    found += _late_rounds(file, rows, planned, protocol) + _bunched(file, rows)
    named = whole.copy()
    for rule, message in rules:
        chosen = np.flatnonzero(rule & ~named)
        named |= rule
        for row, hours in zip(rows["row"][chosen], rows["elapsed_h"][chosen], strict=True):
            value = f"{hours:.6g} h after the start"
            found.append(Problem(file, int(row), "elapsed", value, "warn", message, _FIX))
    return found


def planned_h(mixing: np.ndarray, session: np.ndarray, protocol: Protocol) -> np.ndarray:
    """The planned time of each reading's session, hours since the vessel's start."""
    schedule = np.asarray(protocol.schedule_h, float)
    days = np.asarray(protocol.storage_days or (0.0,), float) * 24
    if mixing.all():
        return schedule[session]
    return np.where(
        mixing, schedule[np.where(mixing, session, 0)], days[np.where(mixing, 0, session)]
    )


def _off_schedule(rows: Rows, planned: np.ndarray, protocol: Protocol) -> np.ndarray:
    """Readings further from their scheduled time than a third of the way to the next one."""
    before = np.diff([0.0, *protocol.schedule_h])
    gaps = np.minimum(before, [*before[1:], before[-1]])
    mixing = rows["phase"] == "mixing"
    own = gaps[np.where(mixing, rows["session"], 0)]
    allowed = np.where(mixing, np.minimum(own / 3, 1.0), 12.0)
    return np.abs(rows["elapsed_h"] - planned) > allowed + 1e-9


def _share(ids: np.ndarray, flags: np.ndarray) -> np.ndarray:
    """For each row the share of its group that is flagged, 0 in groups of one or two."""
    if not len(ids):
        return np.zeros(0)
    sizes = np.bincount(ids)
    return (np.bincount(ids, flags) / sizes * (sizes > 2))[ids]


def _off_rounds(file: str, rows: Rows, protocol: Protocol) -> list[Problem]:
    """Rounds that were read far from every scheduled time, each named once."""
    found = []
    message = "a whole round was read far from every scheduled time"
    for group in rows.split("quantity", "rater", *_ROUND) if len(rows) else []:
        first, last = group["elapsed_h"].min(), group["elapsed_h"].max()
        shown = f"{group['quantity'][0]} by {group['rater'][0]}, {first:.3g} to {last:.3g} h"
        found.append(Problem(file, None, "elapsed", shown, "warn", message, _FIX, 0))
    return found


def _late_rounds(file: str, rows: Rows, planned: np.ndarray, protocol: Protocol) -> list[Problem]:
    """Rounds that lie off the plan as a whole, where the others keep to it."""
    mixing = np.flatnonzero(rows["phase"] == "mixing")
    late = (rows["elapsed_h"] - planned)[mixing]
    sessions, first, ids = np.unique(
        rows["session"][mixing], return_index=True, return_inverse=True
    )
    if len(sessions) < _ROUNDS:
        return []
    off = group_quantile(ids, late, 0.5)[first]
    away = np.abs(off - np.median(off))
    most = max(_LATE_H, _LATE * float(np.median(away)))
    message = "a whole round lies off its scheduled time while others keep to theirs"
    fix = "See whether schedule_h in trial.toml, or the time of the round, is right."
    return [
        Problem(
            file,
            None,
            "elapsed",
            f"{protocol.schedule_h[session]:g} h, read {60 * shift:+.0f} min off",
            "warn",
            message,
            fix,
            0,
        )
        for session, shift, far in zip(sessions, off, away, strict=True)
        if far > most
    ]


def _bunched(file: str, rows: Rows) -> list[Problem]:
    """Rounds with one time for all vessels, where the times of other rounds go on."""
    ids = rows.ids("rater", "quantity", *_ROUND)
    sizes = np.bincount(ids)
    flat, spread = np.zeros(len(sizes), bool), np.zeros(len(sizes), bool)
    for name in ("elapsed_h", "moment_h"):
        order = np.lexsort((rows[name], ids))
        changed = (np.diff(ids[order]) == 0) & (np.diff(rows[name][order]) > 1e-9)
        changes = np.bincount(ids[order][1:][changed], minlength=len(sizes))
        flat |= changes == 0
        spread |= changes > 0
    large = sizes >= _FEWEST
    odd = large & flat
    if odd.sum() > max(1, (1 - _HABIT) * large.sum()) or (large & spread & ~flat).sum() < _FEWEST:
        return []
    message = "all readings of a round have one time, where those of other rounds follow each other"
    fix = "Compare the times with the sheet, or nothing if they are right."
    found = []
    for i in np.flatnonzero(odd):
        first = np.flatnonzero(ids == i)[0]
        shown = (
            f"{rows['quantity'][first]} by {rows['rater'][first]}, {rows['elapsed_h'][first]:.4g} h"
        )
        found.append(Problem(file, None, "elapsed", shown, "warn", message, fix, 0))
    return found


def _off_habit(rows: Rows, planned: np.ndarray) -> np.ndarray:
    """Readings off the planned time in a file where nearly all are exactly on it."""
    exact = np.abs(rows["elapsed_h"] - planned) < 1e-6
    return ~exact & (exact.mean() >= _HABIT)


def _off_vessel(rows: Rows) -> np.ndarray:
    """Readings whose time differs from the vessel's usual time of the session."""
    ids = rows.ids("vessel", *_ROUND)
    away = np.abs(rows["elapsed_h"] - group_quantile(ids, rows["elapsed_h"], 0.5))
    several = group_sizes(ids) > 2
    if several.any() and (away[several] < 1e-6).mean() >= _HABIT:
        return several & (away > 1e-6)
    return several & (away > _limit(away[several]))


def _off_round(rows: Rows) -> np.ndarray:
    """Readings far from the middle of their round, as seen against all rounds' spread."""
    middle = group_quantile(rows.ids(*_ROUND), rows["elapsed_h"], 0.5)
    away = np.abs(rows["elapsed_h"] - middle)
    return away > _limit(away)


def _limit(away: np.ndarray) -> float:
    """Three times what nine in ten keep to, and a minute at least; nothing for a handful."""
    if len(away) <= 20:
        return np.inf
    return max(3 * float(np.quantile(away, 0.9)), 1 / 60)


def _off_grid(rows: Rows) -> np.ndarray:
    """Readings off the steps of a clock that nearly all others keep to."""
    seconds = rows["elapsed_h"] * 3600
    if len(rows) < _MANY:
        return np.zeros(len(rows), bool)
    for step in _STEPS_S:
        off = np.abs(seconds - step * np.round(seconds / step)) > _ROUNDED_S
        if off.mean() <= 1 - _STEADY:
            return off
    return np.zeros(len(rows), bool)


def _off_order(rows: Rows) -> np.ndarray:
    """Readings at a step back in time, in a file whose rounds nearly always go forward."""
    ids = rows.ids("rater", "quantity", *_ROUND)
    order = np.lexsort((rows["row"], ids))
    same = np.diff(ids[order]) == 0
    steps = np.diff(rows["moment_h"][order])
    moved = np.diff(rows.codes("vessel")[order]) != 0
    back, still = same & (steps < -1e-9), same & moved & (np.abs(steps) <= 1e-9)
    guilty = np.zeros(len(rows), bool)
    rare = (1 - _HABIT) * same.sum()
    if same.sum() < 20 or back.sum() > max(2, _BACK * same.sum()):
        return guilty
    if still.sum() <= rare:
        # One rater does not read two vessels at once in a file that counts the minutes.
        back |= still
    # Either row of the step may hold the slip: name both.
    guilty[order[1:][back]] = True
    guilty[order[:-1][back]] = True
    return guilty
