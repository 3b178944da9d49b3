"""Reading times that are possible but do not fit: off the schedule, their round or their order."""

import numpy as np
import pandas as pd

from .plan import session_time
from .problems import Problem
from .trial import Protocol

# From here on a rule that most readings of a file keep is taken as that file's habit.
_HABIT = 0.9
_ROUND = ["phase", "session"]


def timing_problems(file: str, frame: pd.DataFrame, protocol: Protocol) -> list[Problem]:
    """Warnings about reading times that fit neither plan nor neighbours.

    Four rules, each switched on by the habit of the file itself, because a person who writes
    planned times and one who writes true times make different files: distance from the
    schedule; one time for all readings of a vessel in a session; the spread of a round; the
    order of rows within a round.
    """
    if frame.empty:
        return []
    planned = _planned(frame, protocol)
    found: list[Problem] = []
    rules = (
        (_off_schedule(frame, planned, protocol), "the reading is far from every scheduled time"),
        (_off_habit(frame, planned), "the reading is not at the scheduled time as others are"),
        (_off_vessel(frame), "the time differs from the vessel's other readings of the session"),
        (_off_round(frame), "the time lies apart from the other readings of its round"),
        (_off_order(frame), "the time is out of order among the rows around it"),
    )
    named = np.zeros(len(frame), bool)
    for rule, message in rules:
        chosen = rule & ~named
        named |= rule
        fix = "Correct the time, or nothing if it is right."
        for row, hours in zip(frame["row"][chosen], frame["elapsed_h"][chosen], strict=True):
            value = f"{hours:.6g} h after the start"
            found.append(Problem(file, int(row), "elapsed", value, "warn", message, fix))
    return found


def _planned(frame: pd.DataFrame, protocol: Protocol) -> np.ndarray:
    """The planned time of each reading's session, hours."""
    keys = frame[_ROUND].drop_duplicates()
    times = {
        key: session_time(protocol, *key)[0] for key in keys.itertuples(index=False, name=None)
    }
    return np.array(
        [times[key] for key in zip(frame["phase"], frame["session"], strict=True)], float
    )


def _off_schedule(frame: pd.DataFrame, planned: np.ndarray, protocol: Protocol) -> np.ndarray:
    """Readings further from their scheduled time than a third of the way to the next one."""
    schedule = np.array([0.0, *protocol.schedule_h])
    before = np.diff(schedule)
    gaps = np.minimum(before, [*before[1:], before[-1]])
    session = np.minimum(frame["session"].to_numpy(), len(gaps) - 1)
    mixing = (frame["phase"] == "mixing").to_numpy()
    allowed = np.where(mixing, np.minimum(gaps[session] / 3, 1.0), 12.0)
    return np.abs(frame["elapsed_h"].to_numpy() - planned) > allowed + 1e-9


def _off_habit(frame: pd.DataFrame, planned: np.ndarray) -> np.ndarray:
    """Readings off the planned time in a file where nearly all are exactly on it."""
    exact = np.abs(frame["elapsed_h"].to_numpy() - planned) < 1e-6
    return ~exact & (exact.mean() >= _HABIT)


def _off_vessel(frame: pd.DataFrame) -> np.ndarray:
    """Readings whose time differs from the vessel's usual time of the session."""
    groups = frame.groupby(["vessel", *_ROUND])["elapsed_h"]
    away = (frame["elapsed_h"] - groups.transform("median")).abs().to_numpy()
    several = groups.transform("size").to_numpy() > 2
    same = away[several] < 1e-6
    if not several.any() or same.mean() < _HABIT:
        limit = _limit(away[several]) if several.sum() > 20 else np.inf
        return several & (away > limit)
    return several & (away > 1e-6)


def _off_round(frame: pd.DataFrame) -> np.ndarray:
    """Readings far from the middle of their round, as seen against all rounds' spread."""
    middle = frame.groupby(_ROUND)["elapsed_h"].transform("median")
    away = (frame["elapsed_h"] - middle).abs().to_numpy()
    return away > (_limit(away) if len(away) > 20 else np.inf)


def _limit(away: np.ndarray) -> float:
    """Three times what nine in ten keep to, and a minute at least."""
    return max(3 * float(np.quantile(away, 0.9)), 1 / 60)


def _off_order(frame: pd.DataFrame) -> np.ndarray:
    """Readings earlier than the row before, or later than the row after, in an ordered file.

    Only where a rater's rows of one round nearly always go forward in time.
    """
    ordered = frame.sort_values("row")
    keys = ["rater", "quantity", *_ROUND]
    clock = ordered["moment_h"] if "moment_h" in ordered else ordered["elapsed_h"]
    groups = clock.groupby([ordered[key] for key in keys])
    step_in, step_out = groups.diff(), -groups.diff(-1)
    back = (step_in < -1e-9).to_numpy()
    steps = step_in.notna().sum()
    if steps < 20 or back.sum() > (1 - _HABIT) * steps:
        return np.zeros(len(frame), bool)
    # Of the two rows at a step back the guilty one is out of step with its other neighbour.
    ahead = (step_out < -1e-9).to_numpy()
    guilty = pd.Series(back | ahead, index=ordered.index)
    return guilty.reindex(frame.index).to_numpy()
