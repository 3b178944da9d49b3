"""What the plan asks for and the readings lack: the plan is the completeness check."""

from collections import Counter

import numpy as np

from .kinds import KINDS
from .problems import Problem
from .reading_cells import Setting
from .rows import Rows, group_sizes
from .trial import Protocol

_FIX = "Add the reading, or leave its value empty and say why in the column note."
# A reading is expected where most vessels, or most sessions of this vessel, have its like.
_MOST = 0.5
_KEY = ("vessel", "session", "rater", "position", "repeat")

# Some reading or other, where nothing tells by whom.
_SOMEHOW = ("", "", 1)

# A reading that should be there: (vessel, session, rater, position, repeat).
Key = tuple[str, int, str, str, int]


def plan_problems(file: str, rows: Rows, setting: Setting, *, refused: int = 0) -> list[Problem]:
    """Planned readings that are missing, surplus ones, and those of lost vessels.

    Parameters
    ----------
    file : str
        Name for messages.
    rows : Rows
        Readings, at most one a session where a logger wrote many.
    setting : Setting
    refused : int
        Rows that are there but were refused; so many readings are not called missing.

    Returns
    -------
    list of Problem
        A whole round, rater or quantity that is missing comes as one cause; single readings
        one by one.
    """
    found = _quantity_problems(file, rows, setting.protocol)
    found += _rater_problems(file, rows, setting)
    empty, sessions = _empty_rounds(file, rows, setting)
    # A round that was refused is there.
    found += empty if 2 * refused < len(empty) * len(set(rows["vessel"].tolist())) else []
    groups = rows.split("quantity", "phase")
    missing = [_missing(file, group, setting, sessions) for group in groups]
    if sum(map(len, missing)) > refused:
        found += [problem for problems in missing for problem in problems]
    return found + _lost_problems(file, rows, setting) + _repeat_problems(file, rows, setting)


def session_words(protocol: Protocol, phase: str, session: int) -> str:
    """A session's planned time in words."""
    if phase == "mixing":
        return f"{protocol.schedule_h[session]:g} h"
    return f"day {protocol.storage_days[session]:g}"


def _warn(file: str, column: str, value: str, message: str, fix: str, rank: int = 1) -> Problem:
    return Problem(file, None, column, value, "warn", message, fix, rank)


def _quantity_problems(file: str, rows: Rows, protocol: Protocol) -> list[Problem]:
    """Declared quantities and instruments without a reading, and storage planned but not read."""
    found = []
    seen = set(rows["quantity"])
    declared = {rule.quantity for rule in protocol.criteria.values()}
    declared |= {tool.quantity for tool in protocol.instruments.values()}
    declared |= {name for name, kind in protocol.quantities.items() if KINDS.get(name) is not kind}
    for quantity in sorted(declared - seen):
        message = "a quantity that trial.toml declares has no reading"
        found.append(_warn(file, "quantity", quantity, message, "Add its readings.", 0))
    used = set(rows["instrument"])
    for tool in protocol.instruments.values():
        if tool.name not in used and tool.quantity in seen:
            message = "an instrument that trial.toml declares is named by no reading"
            fix = "Fill in the column instrument, or take it out of trial.toml."
            found.append(_warn(file, "instrument", tool.name, message, fix, 0))
    if protocol.storage_days and not (rows["phase"] == "storage").any():
        message = "trial.toml plans storage readings, but there are none"
        found.append(_warn(file, "", "", message, "Nothing, if they are still to come.", 0))
    return found


def _rater_problems(file: str, rows: Rows, setting: Setting) -> list[Problem]:
    """Declared raters who read nothing, or nothing of what is judged by eye."""
    protocol, raters = setting.protocol, setting.raters["rater"]
    by_meter = {tool.quantity for tool in protocol.instruments.values()}
    by_eye = {rule.quantity for rule in protocol.criteria.values()} - by_meter
    read = set(zip(rows["rater"].tolist(), rows["quantity"].tolist(), strict=True))
    someone = {rater for rater, _ in read}
    message = "a rater that raters.csv declares has no reading"
    fix = "Add the readings, or take the rater out of raters.csv."
    absent = [rater for rater in raters if rater not in someone]
    found = [_warn(file, "rater", rater, message, fix, 0) for rater in absent]
    fix = "Add the rater's sheet, or nothing if the rater did not judge it."
    for quantity in sorted(by_eye & {quantity for _, quantity in read}):
        message = f"a rater has no reading of {quantity}, which others read by eye"
        found += [
            _warn(file, "rater", rater, message, fix, 0)
            for rater in raters
            if rater in someone and (rater, quantity) not in read
        ]
    return found


def _empty_rounds(
    file: str, rows: Rows, setting: Setting
) -> tuple[list[Problem], set[tuple[str, int]]]:
    """Scheduled rounds in which nothing was read of a criterion's quantity."""
    found, sessions = [], set()
    for quantity in sorted({rule.quantity for rule in setting.protocol.criteria.values()}):
        own = rows.take((rows["quantity"] == quantity) & (rows["phase"] == "mixing"))
        read = set(own["session"].tolist()) if len(own) else set()
        for session in range(len(setting.protocol.schedule_h)):
            if read and session not in read:
                when = session_words(setting.protocol, "mixing", session)
                message = f"a planned round of {quantity} is missing"
                found.append(_warn(file, "session", when, message, _FIX, 0))
                sessions.add((quantity, session))
    return found, sessions


def _missing(
    file: str, group: Rows, setting: Setting, empty: set[tuple[str, int]]
) -> list[Problem]:
    """Readings of one quantity in one phase that the plan or their like lead to expect.

    Those of `empty` rounds are named as a round.
    """
    quantity, phase = group["quantity"][0], group["phase"][0]
    # In the order of the file: that of a set is another in every process.
    have = dict.fromkeys(zip(*(group[name].tolist() for name in _KEY), strict=True))
    wanted = _expected(quantity, phase, have, setting)
    named = {session for name, session in empty if name == quantity and phase == "mixing"}
    lacking = [key for key in wanted if key not in have and key[1] not in named]
    if not lacking:
        return []
    counted, gone = Counter(key[1:] for key in wanted), Counter(key[1:] for key in lacking)
    whole = {k for k, count in gone.items() if count == counted[k] > 1 and k[1:] != _SOMEHOW}
    found = []
    for session, *combination in sorted(whole):
        when = session_words(setting.protocol, phase, session)
        message = f"a planned round of {quantity}{_by(*combination)} is missing"
        found.append(_warn(file, "session", when, message, _FIX, 0))
    for vessel, session, *combination in lacking:
        if (session, *combination) not in whole:
            when = session_words(setting.protocol, phase, session)
            message = f"a planned reading of {quantity}{_by(*combination)} is missing"
            found.append(_warn(file, "vessel", f"{vessel} at {when}", message, _FIX))
    return found


def _by(rater: str, position: str, repeat: int) -> str:
    """Rater, position and repeat in words."""
    words = f" by {rater}" if rater else ""
    words += f" at the {position}" if position else ""
    return words + (f", repeat {repeat}" if repeat > 1 else "")


def _expected(quantity: str, phase: str, have: dict[Key, None], setting: Setting) -> list[Key]:
    """The readings that should be there.

    Four reasons: most vessels of the same role have the like in the session, or in most
    sessions; the vessel itself has the like in most sessions; the schedule asks for some reading.
    """
    protocol = setting.protocol
    planned = np.asarray(
        protocol.schedule_h if phase == "mixing" else [d * 24 for d in protocol.storage_days]
    )
    criterion = any(rule.quantity == quantity for rule in protocol.criteria.values())
    sessions = _sessions(have, len(planned), scheduled=criterion and phase == "mixing")
    vessels = setting.vessels
    read = _to_be_read({key[0] for key in have}, setting.of_vessels("role"))
    columns = zip(vessels["vessel"], vessels["role"], vessels["lost_h"], strict=True)
    alive = {
        vessel: (role, [s for s in sessions if planned[s] <= lost])
        for vessel, role, lost in columns
        if vessel in read or (criterion and phase == "mixing")
    }
    usual = _usual_of_role(have, alive, len(sessions), criterion and phase == "mixing")
    wanted: dict[Key, None] = {}
    for vessel, (role, own) in alive.items():
        for session in own:
            likes = usual.get((role, session), set()) | usual.get((role, None), set())
            for like in sorted(likes):
                wanted[(vessel, session, *like)] = None
    wanted |= dict.fromkeys(_usual_of_vessel(have, alive))
    if criterion and phase == "mixing":
        wanted |= dict.fromkeys(_unread(have, wanted, alive))
    return list(wanted)


def _unread(
    have: dict[Key, None], wanted: dict[Key, None], alive: dict[str, tuple[str, list[int]]]
) -> list[Key]:
    """Scheduled sessions in which a vessel was read by nobody, however many others were not.

    Where most of a file is gone, what is left says nothing of what is usual; the schedule does.
    """
    known = {key[:2] for key in have} | {key[:2] for key in wanted}
    return [
        (vessel, session, *_SOMEHOW)
        for vessel, (_, own) in alive.items()
        for session in own
        if (vessel, session) not in known
    ]


def _to_be_read(read: set[str], roles: dict[str, str]) -> set[str]:
    """The vessels that were read, and those of a role of which most vessels were."""
    members, seen = Counter(roles.values()), Counter(roles.get(vessel) for vessel in read)
    usual = {role for role, count in members.items() if seen[role] > _MOST * count}
    return read | {vessel for vessel, role in roles.items() if role in usual}


def _sessions(have: dict[Key, None], planned: int, *, scheduled: bool) -> list[int]:
    """Sessions in which a quantity should have been read.

    A criterion's quantity: all scheduled ones. Another: those in which any vessel was read,
    and all when a single one of several is missing.
    """
    seen = sorted({key[1] for key in have})
    if scheduled or (planned > 2 and len(seen) == planned - 1):
        return list(range(planned))
    return seen


def _usual_of_role(
    have: dict[Key, None], alive: dict[str, tuple[str, list[int]]], sessions: int, criterion: bool
) -> dict[tuple[str, int | None], set]:
    """What most vessels of a role have in a session; under None what they have in most."""
    members = Counter((role, s) for role, own in alive.values() for s in own)
    vessels, *parts = zip(*have, strict=True)
    counts = Counter(zip([alive[vessel][0] for vessel in vessels], *parts, strict=True))
    usual: dict[tuple[str, int | None], set] = {}
    over_all: Counter = Counter()
    for (role, session, *like), count in counts.items():
        if count > _MOST * members[(role, session)]:
            usual.setdefault((role, session), set()).add(tuple(like))
            over_all[(role, *like)] += 1
    for (role, *like), count in over_all.items():
        if count >= max(2, _MOST * sessions):
            usual.setdefault((role, None), set()).add(tuple(like))
    # Purified water that a rater never read cannot say what is usual: the rater's vessels do.
    if criterion:
        raters = {rater for role, _, rater, *_ in counts if role == "reference"}
        for (role, session), likes in list(usual.items()):
            lacking = {like for like in likes if like[0] not in raters}
            if role == "trial" and lacking:
                usual.setdefault(("reference", session), set()).update(lacking)
    return usual


def _usual_of_vessel(have: dict[Key, None], alive: dict[str, tuple[str, list[int]]]) -> list[Key]:
    """What a vessel has in most of its sessions, in all of them."""
    vessels, _, *parts = zip(*have, strict=True)
    counts = Counter(zip(vessels, *parts, strict=True))
    return [
        (vessel, session, *like)
        for (vessel, *like), count in counts.items()
        if count >= max(2, _MOST * len(alive[vessel][1]))
        for session in alive[vessel][1]
    ]


def _lost_problems(file: str, rows: Rows, setting: Setting) -> list[Problem]:
    """Readings of a vessel after it was lost."""
    lost = setting.of_vessels("lost_h")
    if all(np.isinf(hours) for hours in lost.values()):
        return []
    ends = np.array([lost[vessel] for vessel in rows["vessel"]], float)
    late = np.flatnonzero((rows["elapsed_h"] > ends) & ~np.isnan(rows["value"]))
    message = "the vessel was read after vessels.csv says that it was lost"
    fix = "Correct lost_h in vessels.csv, or the reading."
    return [
        Problem(file, int(rows["row"][i]), "vessel", rows["vessel"][i], "warn", message, fix)
        for i in late
    ]


def _repeat_problems(file: str, rows: Rows, setting: Setting) -> list[Problem]:
    """Repeats that do not count 1, 2, 3, and two readings in one session."""
    ids = rows.ids("vessel", "quantity", "phase", "session", "rater", "position")
    repeat = rows["repeat"].astype(int)
    total = np.bincount(ids, repeat)[ids]
    size = group_sizes(ids)
    again = group_sizes(rows.ids(*_KEY, "quantity", "phase")) > 1
    found = _again_rounds(file, rows, setting, again) if again.any() else []
    for i in np.flatnonzero(~again & (total != size * (size + 1) / 2)):
        message, fix = "the repeats of this reading do not count 1, 2, 3", "Correct the repeat."
        row = int(rows["row"][i])
        found.append(Problem(file, row, "repeat", str(repeat[i]), "warn", message, fix))
    for i in np.flatnonzero((again & ~_whole_rounds(rows, again)) | _lone_repeats(rows)):
        message = "the vessel was read again in this session"
        fix = "Nothing, if the extra reading is meant; else correct vessel or time."
        row, vessel = int(rows["row"][i]), rows["vessel"][i]
        found.append(Problem(file, row, "vessel", vessel, "warn", message, fix))
    return found


def _lone_repeats(rows: Rows) -> np.ndarray:
    """Repeats in rounds, or of single vessels, of which fewer than half were repeated."""
    repeated = rows["repeat"].astype(int) > 1
    if not repeated.any():
        return repeated
    series = ("quantity", "rater", "position", "phase")
    rounds, own = rows.ids(*series, "role", "session"), rows.ids(*series, "vessel")
    few_of_round, few_of_own = (
        (np.bincount(ids, repeated) < _MOST * np.bincount(ids, ~repeated))[ids]
        for ids in (rounds, own)
    )
    return repeated & (few_of_round | few_of_own & (np.bincount(rounds, ~repeated)[rounds] == 1))


def _whole_rounds(rows: Rows, again: np.ndarray) -> np.ndarray:
    """Readings again of rounds in which most vessels were: the rounds themselves are named."""
    ids = rows.ids("quantity", "rater", "phase", "session")
    sizes = np.bincount(ids)
    return ((np.bincount(ids, again) > 0.5 * sizes) & (sizes > 4))[ids]


def _again_rounds(file: str, rows: Rows, setting: Setting, again: np.ndarray) -> list[Problem]:
    """Scheduled rounds near to which most vessels were read twice, each named once."""
    found = []
    message = "most vessels were read twice near to one scheduled time"
    fix = "Correct the times, or add the second round to the schedule in trial.toml."
    chosen = _whole_rounds(rows, again)
    for group in rows.take(chosen).split("quantity", "rater", "phase", "session"):
        when = session_words(setting.protocol, group["phase"][0], int(group["session"][0]))
        shown = f"{group['quantity'][0]} by {group['rater'][0]} at {when}"
        found.append(_warn(file, "elapsed", shown, message, fix, 0))
    return found
