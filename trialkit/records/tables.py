"""The small tables of a trial folder: mixes, vessels with their key, raters."""

import math
from collections import Counter
from zoneinfo import ZoneInfo

import numpy as np

from .cells import (
    known_code,
    need_columns,
    number_between,
    one_of,
    parse_column,
    parse_label,
    parse_lot,
    parse_new_code,
    warn_unknown_columns,
)
from .csvtext import Table, read_table
from .design import key_problem
from .files import Folder
from .numbers import POINT, decimal_mark, tidy
from .problems import Fault, Kept, Problem, file_problem, show
from .rows import Rows
from .small_tables import blank_problems, empty_column_problems, filled_problems, twin_texts
from .times import parse_time
from .trial import Protocol

MIX_COLUMNS = ("mix", "name", "lot", "label_dose_g_per_l", "price_per_kg")
VESSEL_COLUMNS = (
    "vessel",
    "role",
    "mix",
    "block",
    "place",
    "volume_l",
    "dose_g",
    "start",
    "lost_h",
    "salinity",
    "note",
)
RATER_COLUMNS = ("rater", "name")
KEY_COLUMNS = ("vessel", "mix")
# Columns of vessels.csv that nearly every trial has, and those to be filled in every row.
_USUAL = ("block", "place", "volume_l", "dose_g", "start")
_FILLED = ("place", "volume_l", "dose_g")
# Units that a cell may repeat, as their headings end in them.
_UNITS = {"volume_l": "L", "dose_g": "g", "lost_h": "h"}
_VESSEL_NUMBERS = ("volume_l", "dose_g", "start_h", "lost_h", "salinity")


def load_table(folder: Folder, name: str, columns: tuple[str, ...], needed: int) -> Table | None:
    """A CSV file of the folder as a table; None when it or a needed column is missing.

    Parameters
    ----------
    folder : Folder
    name : str
    columns : tuple of str
        Known headings, the needed ones first.
    needed : int
        How many of them are needed.
    """
    data = folder.read(name)
    if data is None:
        return None
    table, found = read_table(name, data, columns)
    folder.found.extend(found)
    if not table.columns or not need_columns(table, columns[:needed], folder.found, columns):
        return None
    warn_unknown_columns(table, columns, folder.found)
    return table


def read_mixes(folder: Folder) -> Rows | None:
    """The mixes: mix, name, lot, label_dose_g_per_l, price_per_kg (NaN where not given)."""
    table = load_table(folder, "mixes.csv", MIX_COLUMNS, 2)
    if table is None:
        return None
    decimal = mark_of(table, ("label_dose_g_per_l", "price_per_kg"), folder.found)
    nan = math.nan
    dose = number_between(1, 1000, decimal=decimal, empty=nan, unit="g/L")
    price = number_between(0, 1e6, decimal=decimal, empty=nan)
    found = folder.found
    columns = {
        "mix": parse_column(table, "mix", parse_new_code, found),
        "name": parse_column(table, "name", _parse_name, found),
        "lot": parse_column(table, "lot", parse_lot, found, default=""),
        "label_dose_g_per_l": parse_column(table, "label_dose_g_per_l", dose, found, default=nan),
        "price_per_kg": parse_column(table, "price_per_kg", price, found, default=nan),
    }
    rows = _rows(columns, MIX_COLUMNS[3:])
    names = rows["name"].tolist()
    _refuse_twins(table, "mix", rows["mix"].tolist(), found)
    _refuse_twins(table, "name", names, found)
    found += _like_names(table, names) + twin_texts(table, "lot")
    found += filled_problems(table, MIX_COLUMNS[3:]) + _optional(table, MIX_COLUMNS[2:])
    return _some_rows(_once(rows, "mix"), table, found)


def _optional(table: Table, columns: tuple[str, ...]) -> list[Problem]:
    """What is missing of columns that a table may do without."""
    groups = [""] * len(table)
    return empty_column_problems(table, columns) + blank_problems(table, columns, groups)


def read_raters(folder: Folder) -> Rows | None:
    """The raters: rater, name."""
    table = load_table(folder, "raters.csv", RATER_COLUMNS, 1)
    if table is None:
        return None
    columns = {
        "rater": parse_column(table, "rater", parse_new_code, folder.found),
        "name": parse_column(table, "name", parse_label, folder.found, default=""),
    }
    rows = _rows(columns)
    _refuse_twins(table, "rater", rows["rater"].tolist(), folder.found)
    folder.found += _optional(table, ("name",)) + twin_texts(table, "name")
    return _some_rows(_once(rows, "rater"), table, folder.found)


def read_vessels(folder: Folder, protocol: Protocol, mixes: frozenset[str]) -> Rows | None:
    """The vessels, with their mixes from vessels.csv or key.csv when either tells them."""
    table = load_table(folder, "vessels.csv", VESSEL_COLUMNS, 2)
    if table is None:
        return None
    folder.found += empty_column_problems(table, _USUAL, "warn")
    columns = _vessel_columns(table, protocol, folder.found)
    # A reference needs no dose, but a place and a volume like the others.
    folder.found += blank_problems(table, _FILLED[:2], [""] * len(table))
    folder.found += blank_problems(table, _FILLED[2:], columns["role"])
    folder.found += filled_problems(table, ("dose_g",))
    _refuse_twins(table, "vessel", columns["vessel"], folder.found)
    columns["mix"] = _mixes_of(folder, table, columns, mixes, protocol)
    folder.found += _role_problems(table, columns)
    rows = _rows(columns, _VESSEL_NUMBERS)
    return _some_rows(_once(rows, "vessel"), table, folder.found)


def _vessel_columns(table: Table, protocol: Protocol, found: list[Problem]) -> dict[str, list]:
    """The vessels' own columns, mix left open."""
    decimal = mark_of(table, ("volume_l", "dose_g", "lost_h", "salinity"), found)
    nan = math.nan

    def number(name: str, low: float, high: float, empty: float) -> list[float | None]:
        unit = _UNITS.get(name, "")
        parse = number_between(low, high, decimal=decimal, empty=empty, unit=unit)
        return parse_column(table, name, parse, found, default=empty)

    roles = one_of("role", ("trial", "reference"))
    columns = {
        "vessel": _texts(parse_column(table, "vessel", parse_new_code, found)),
        "role": _texts(parse_column(table, "role", roles, found)),
        "mix": [""] * len(table),
        "block": parse_column(table, "block", parse_label, found, default=""),
        "place": parse_column(table, "place", parse_label, found, default=""),
        "volume_l": number("volume_l", 0.01, 1e6, nan),
        "dose_g": number("dose_g", 0, 1e8, nan),
        "start_h": _starts(table, protocol, found),
        "lost_h": number("lost_h", 0, 1e5, math.inf),
    }
    if "salinity" in table.columns:
        columns["salinity"] = number("salinity", 0, 60, nan)
    return columns


def _starts(table: Table, protocol: Protocol, found: list[Problem]) -> list[float | None]:
    """Hours from the trial's start to each vessel's start."""
    zone = ZoneInfo(protocol.timezone)

    some = any(tidy(cell) for cell in table.columns.get("start", ()))

    def parse(cell: str) -> object:
        if not tidy(cell):
            message = "the start is empty; the start in trial.toml was taken"
            return Kept(0.0, message, "Write the vessel's start.") if some else 0.0
        moment = parse_time(cell, zone)
        if isinstance(moment, Fault):
            return moment
        hours = (moment - protocol.start).total_seconds() / 3600
        # A vessel that starts days off the trial is a typing slip, not a staggered start.
        if not -48 <= hours <= 24 * 14:
            return Fault(
                "the vessel starts far from the trial's start", "Correct the date or the time."
            )
        return hours

    return parse_column(table, "start", parse, found, default=0.0)


def _mixes_of(
    folder: Folder,
    table: Table,
    columns: dict[str, list],
    mixes: frozenset[str],
    protocol: Protocol,
) -> list[str]:
    """Each vessel's mix, from vessels.csv, key.csv, or nowhere while blinded."""
    parse = known_code("mix", mixes, "mixes.csv")

    def parse_or_empty(cell: str) -> object:
        return parse(cell) if tidy(cell) else ""

    own = _texts(parse_column(table, "mix", parse_or_empty, folder.found, default=""))
    if not folder.has("key.csv"):
        return own
    key_table = load_table(folder, "key.csv", KEY_COLUMNS, 2)
    if key_table is None or not len(key_table):
        if key_table is not None:
            folder.found.append(_no_rows("key.csv"))
        return own
    known = known_code("vessel", frozenset(columns["vessel"]), "vessels.csv")
    vessels = _texts(parse_column(key_table, "vessel", known, folder.found))
    keyed = _texts(parse_column(key_table, "mix", parse_or_empty, folder.found))
    _refuse_twins(key_table, "vessel", vessels, folder.found)
    key = dict(zip(vessels, keyed, strict=True))
    cells = key_table.columns["mix"]
    faulty = {v for v, mix, c in zip(vessels, keyed, cells, strict=True) if tidy(c) and not mix}
    folder.found += _key_problems(table, columns, own, key, faulty)
    folder.found += key_problem(key, protocol, _nonce(folder, protocol))
    return [own_mix or key.get(v, "") for own_mix, v in zip(own, columns["vessel"], strict=True)]


def _nonce(folder: Folder, protocol: Protocol) -> str:
    """The nonce of the key's digest, from trial.toml or from the file kept with the key."""
    if protocol.key_nonce or not folder.has("key-nonce.txt"):
        return protocol.key_nonce
    data = folder.read("key-nonce.txt") or b""
    return data.decode("ascii", "replace").strip()


def _key_problems(
    table: Table,
    columns: dict[str, list],
    own: list[str],
    key: dict[str, str],
    faulty: set[str],
) -> list[Problem]:
    """Vessels that key.csv leaves out, and vessels whose two mixes differ."""
    found = []
    each = zip(table.rows, columns["vessel"], columns["role"], own, strict=True)
    for row, vessel, role, own_mix in each:
        if role == "trial" and not own_mix and not key.get(vessel) and vessel not in faulty:
            message, fix = "key.csv gives this vessel no mix", "Add the vessel to key.csv."
            found.append(Problem("vessels.csv", row, "vessel", vessel, "refuse", message, fix))
        if own_mix and key.get(vessel) and own_mix != key[vessel]:
            message = f"key.csv gives this vessel another mix ({key[vessel]})"
            found.append(
                Problem("vessels.csv", row, "mix", own_mix, "refuse", message, "Correct one.")
            )
    return found


def _role_problems(table: Table, columns: dict[str, list]) -> list[Problem]:
    """References with a mix, vessels without one among vessels with, no reference at all."""
    found = []
    vessels, roles, mixes = (columns[name] for name in ("vessel", "role", "mix"))
    some = any(mix for role, mix in zip(roles, mixes, strict=True) if role == "trial")
    cells = zip(table.rows, table.columns.get("mix", ()), strict=False)
    unfilled = {row for row, cell in cells if not tidy(cell)}
    for row, vessel, role, mix in zip(table.rows, vessels, roles, mixes, strict=True):
        if role == "reference" and mix:
            message, fix = "a reference vessel has a mix", "Clear its mix, or make its role trial."
            found.append(Problem("vessels.csv", row, "mix", mix, "refuse", message, fix))
        if role == "trial" and not mix and some and row in unfilled:
            message, fix = "this vessel has no mix while others have", "Write its mix."
            found.append(Problem("vessels.csv", row, "mix", vessel, "refuse", message, fix))
    if roles and all(roles) and "reference" not in roles:
        message = "no vessel has the role reference"
        fix = "Add the vessel of purified water that the others are compared with."
        found.append(file_problem("vessels.csv", message, fix))
    return found


def mark_of(table: Table, columns: tuple[str, ...], found: list[Problem]) -> str:
    """The decimal mark of a table's number columns, with a warning when it is a comma."""
    cells = {cell for name in columns for cell in table.columns.get(name, ())}
    mark, sure = decimal_mark(sorted(cells))
    # Where some have a point, they are refused one by one.
    if mark == "," and not any(POINT.search(cell) for cell in cells):
        message = "all decimals are written with a comma; they were read as decimals"
        fix = "Nothing, if that is so."
        if not sure:
            message = "every comma stands before three digits: decimals or thousands"
            fix = "Use a point for decimals and no mark for thousands."
        level = "warn" if sure else "refuse"
        found.append(file_problem(table.file, message, fix, level=level))
    return mark


def _refuse_twins(table: Table, column: str, values: list[str], found: list[Problem]) -> None:
    """Refuse a value that stands in more than one row of a column of identities."""
    counts = Counter(values)
    for row, value in zip(table.rows, values, strict=True):
        if value and counts[value] > 1:
            message, fix = f"this {column} stands in more than one row", "Keep one of the rows."
            found.append(Problem(table.file, row, column, show(value), "refuse", message, fix))


def _like_names(table: Table, names: list[str]) -> list[Problem]:
    """A warning for names that a reader of the report would take for one."""
    bare = ["".join(c for c in name.casefold() if c.isalnum()) or name for name in names]
    message = "the name differs from another only in capitals, spaces or marks"
    fix = "Make the names differ, or take one mix away if they are one."
    return [
        Problem(table.file, row, "name", show(name), "warn", message, fix)
        for row, name, text in zip(table.rows, names, bare, strict=True)
        if name and bare.count(text) > 1 and names.count(name) == 1
    ]


def _parse_name(cell: str) -> object:
    """A mix's name, which may hold anything but may not be empty."""
    if not tidy(cell):
        return Fault("the name is missing", "Write the mix's name.")
    return parse_label(cell)


def _once(rows: Rows, column: str) -> Rows:
    """The first row of each code, so that what follows can go on after a refusal."""
    codes = rows[column].tolist()
    if all(codes) and len(set(codes)) == len(codes):
        return rows
    first = {code: place for place, code in reversed(list(enumerate(codes))) if code}
    return rows.take(np.array(sorted(first.values()), int))


def _some_rows(rows: Rows, table: Table, found: list[Problem]) -> Rows | None:
    """The rows, or None with the reason when there are none; refused ones have theirs."""
    if not len(table):
        found.append(_no_rows(table.file))
    return rows if len(rows) else None


def _no_rows(file: str) -> Problem:
    return file_problem(file, "the file has headings but no rows", "Add its rows.")


def _rows(columns: dict[str, list], numbers: tuple[str, ...] = ()) -> Rows:
    """Columns of numbers and texts; what could not be read is NaN or empty."""
    return Rows(
        {
            name: np.array(cells, float) if name in numbers else np.array(_texts(cells), object)
            for name, cells in columns.items()
        }
    )


def _texts(cells: list[str | None]) -> list[str]:
    return [cell or "" for cell in cells]
