"""What the plan asks for and the readings lack: the plan is the completeness check."""

import pandas as pd

from .kinds import KINDS
from .problems import Problem
from .reading_cells import Setting
from .trial import Protocol

KEYS = ["rater", "position", "repeat"]
_FIX = "Add the reading, or leave its value empty and say why in the column note."
# A reading is expected where most vessels, or most sessions of this vessel, have its like.
_MOST = 0.5


def plan_problems(file: str, frame: pd.DataFrame, setting: Setting) -> list[Problem]:
    """Planned readings that are missing, surplus ones, and those of lost vessels.

    Parameters
    ----------
    file : str
        Name for messages.
    frame : DataFrame
        Tidy readings, at most one a session where a logger wrote many.
    setting : Setting

    Returns
    -------
    list of Problem
        A whole session, vessel, rater or quantity that is missing comes as one cause; single
        readings one by one.
    """
    if frame.empty:
        return []
    found = _quantity_problems(file, frame, setting.protocol)
    found += _rater_problems(file, frame, setting)
    for (quantity, phase), readings in frame.groupby(["quantity", "phase"], sort=False):
        found += _missing(file, quantity, phase, readings, setting)
    return found + _lost_problems(file, frame, setting) + _repeat_problems(file, frame)


def session_time(protocol: Protocol, phase: str, session: int) -> tuple[float, str]:
    """A session's planned time in hours, and in words."""
    if phase == "mixing":
        hours = protocol.schedule_h[session]
        return hours, f"{hours:g} h"
    days = protocol.storage_days[session]
    return days * 24, f"day {days:g}"


def _warn(file: str, column: str, value: str, message: str, fix: str, rank: int = 1) -> Problem:
    return Problem(file, None, column, value, "warn", message, fix, rank)


def _quantity_problems(file: str, frame: pd.DataFrame, protocol: Protocol) -> list[Problem]:
    """Declared quantities without a reading, and storage that was planned but not read."""
    found = []
    declared = {rule.quantity for rule in protocol.criteria.values()}
    declared |= {tool.quantity for tool in protocol.instruments.values()}
    declared |= {name for name, kind in protocol.quantities.items() if _is_extra(name, kind)}
    for quantity in sorted(declared - set(frame["quantity"])):
        message = "a quantity that trial.toml declares has no reading"
        found.append(_warn(file, "quantity", quantity, message, "Add its readings.", 0))
    used = set(frame["instrument"]) - {""}
    for quantity, readings in frame.groupby("quantity", sort=True):
        tools = {t.name for t in protocol.instruments.values() if t.quantity == quantity}
        unused = tools - used
        if tools and unused == tools and (readings["instrument"] == "").all():
            message = "trial.toml declares an instrument for this quantity, but no reading names it"
            fix = "Fill in the column instrument."
            found.append(_warn(file, "instrument", quantity, message, fix, 0))
    if protocol.storage_days and not (frame["phase"] == "storage").any():
        message = "trial.toml plans storage readings, but there are none"
        found.append(_warn(file, "", "", message, "Nothing, if they are still to come.", 0))
    return found


def _is_extra(name: str, kind: object) -> bool:
    """Whether trial.toml added the quantity."""
    return KINDS.get(name) is not kind


def _rater_problems(file: str, frame: pd.DataFrame, setting: Setting) -> list[Problem]:
    """Declared raters who read nothing."""
    silent = [rater for rater in setting.raters["rater"] if rater not in set(frame["rater"])]
    message = "a rater that raters.csv declares has no reading"
    fix = "Add the readings, or take the rater out of raters.csv."
    return [_warn(file, "rater", rater, message, fix, 0) for rater in silent]


def _missing(
    file: str, quantity: str, phase: str, readings: pd.DataFrame, setting: Setting
) -> list[Problem]:
    """Readings of one quantity in one phase that the plan or their like lead to expect."""
    protocol = setting.protocol
    wanted = _expected(quantity, phase, readings, setting)
    have = set(
        zip(readings["vessel"], readings["session"], *(readings[k] for k in KEYS), strict=True)
    )
    lacking = [key for key in wanted if key not in have]
    counted: dict[tuple, int] = {}
    for key in wanted:
        counted[key[1:]] = counted.get(key[1:], 0) + 1
    gone: dict[tuple, int] = {}
    for key in lacking:
        gone[key[1:]] = gone.get(key[1:], 0) + 1
    found = []
    for session, *combination in [key for key, n in gone.items() if n == counted[key] and n > 1]:
        _, when = session_time(protocol, phase, session)
        message = f"a planned round of {quantity}{_by(*combination)} is missing"
        found.append(_warn(file, "session", when, message, _FIX, 0))
    for vessel, session, *combination in lacking:
        if gone[(session, *combination)] == counted[(session, *combination)] > 1:
            continue
        _, when = session_time(protocol, phase, session)
        message = f"a planned reading of {quantity}{_by(*combination)} is missing"
        found.append(_warn(file, "vessel", f"{vessel} at {when}", message, _FIX))
    return found


def _by(rater: str, position: str, repeat: int) -> str:
    """A combination in words."""
    words = f" by {rater}" if rater else ""
    words += f" at the {position}" if position else ""
    return words + (f", repeat {repeat}" if repeat > 1 else "")


def _expected(quantity: str, phase: str, readings: pd.DataFrame, setting: Setting) -> list[tuple]:
    """Keys (vessel, session, rater, position, repeat) of the readings that should be there.

    Three reasons: the schedule (for a criterion's quantity), the peers of the same role in the
    session, and the vessel's own other sessions.
    """
    protocol = setting.protocol
    vessels = setting.vessels.set_index("vessel")
    lost = vessels["lost_h"]
    sessions = _sessions(quantity, phase, readings, protocol)
    roles = readings.drop_duplicates("vessel").set_index("vessel")["role"]
    criterion = any(rule.quantity == quantity for rule in protocol.criteria.values())
    if criterion and phase == "mixing":
        roles = vessels["role"]
    usual = _usual(readings, roles, sessions)
    keys = dict.fromkeys(
        (vessel, session, *combination)
        for session in sessions
        for role in ("trial", "reference")
        for combination in usual(role, session)
        for vessel in roles.index[roles == role]
        if session_time(protocol, phase, session)[0] <= lost[vessel]
    )
    own = readings.groupby(["vessel", *KEYS])["session"].nunique()
    for (vessel, *combination), count in own.items():
        alive = [s for s in sessions if session_time(protocol, phase, s)[0] <= lost[vessel]]
        if count >= max(2, _MOST * len(alive)):
            keys |= dict.fromkeys((vessel, session, *combination) for session in alive)
    return list(keys)


def _sessions(quantity: str, phase: str, readings: pd.DataFrame, protocol: Protocol) -> list[int]:
    """Sessions in which a quantity should have been read.

    A criterion's quantity: all scheduled ones. Another: those in which any vessel was read,
    and all when a single one of several is missing.
    """
    planned = protocol.schedule_h if phase == "mixing" else protocol.storage_days
    seen = sorted(set(readings["session"]))
    criterion = any(rule.quantity == quantity for rule in protocol.criteria.values())
    if (criterion and phase == "mixing") or (len(planned) > 2 and len(seen) == len(planned) - 1):
        return list(range(len(planned)))
    return seen


def _usual(readings: pd.DataFrame, roles: pd.Series, sessions: list[int]):
    """A function (role, session) -> combinations that most vessels of the role have then."""
    sizes = roles.value_counts()
    counts = readings.groupby(["role", "session", *KEYS])["vessel"].nunique()
    by_session: dict[tuple, list] = {}
    overall: dict[str, dict[tuple, int]] = {}
    for (role, session, *combination), count in counts.items():
        if count > _MOST * sizes.get(role, 1):
            by_session.setdefault((role, session), []).append(tuple(combination))
            totals = overall.setdefault(role, {})
            totals[tuple(combination)] = totals.get(tuple(combination), 0) + 1

    def usual(role: str, session: int) -> list[tuple]:
        common = [
            combination
            for combination, count in overall.get(role, {}).items()
            if count >= max(2, _MOST * len(sessions))
        ]
        return list(dict.fromkeys(by_session.get((role, session), []) + common))

    return usual


def _lost_problems(file: str, frame: pd.DataFrame, setting: Setting) -> list[Problem]:
    """Readings of a vessel after it was lost."""
    lost = frame["vessel"].map(setting.vessels.set_index("vessel")["lost_h"])
    late = frame[(frame["elapsed_h"] > lost) & frame["value"].notna()]
    message = "the vessel was read after vessels.csv says that it was lost"
    fix = "Correct lost_h in vessels.csv, or the reading."
    return [
        Problem(file, int(row), "vessel", vessel, "warn", message, fix)
        for vessel, row in zip(late["vessel"], late["row"], strict=True)
    ]


def _repeat_problems(file: str, frame: pd.DataFrame) -> list[Problem]:
    """A second repeat without a first, and two readings in one session."""
    keys = ["vessel", "quantity", "phase", "session", "rater", "position"]
    found = []
    lowest = frame.groupby(keys)["repeat"].transform("min")
    count = frame.groupby(keys)["repeat"].transform("nunique")
    highest = frame.groupby(keys)["repeat"].transform("max")
    gaps = frame[(lowest != 1) | (highest > count)]
    for row, repeat in zip(gaps["row"], gaps["repeat"], strict=True):
        message, fix = "the repeats of this reading do not count 1, 2, 3", "Correct the repeat."
        found.append(Problem(file, int(row), "repeat", str(repeat), "warn", message, fix))
    again = frame[frame.duplicated([*keys, "repeat"])]
    for row, vessel in zip(again["row"], again["vessel"], strict=True):
        message = "the vessel was read again in this session"
        fix = "Nothing, if the extra reading is meant; else correct vessel or time."
        found.append(Problem(file, int(row), "vessel", vessel, "warn", message, fix))
    return found
