"""The readings of a logger's file at the speed of a column reader, or nothing.

Reading cell by cell takes minutes for millions of rows. This path takes only files without
anything odd, in which it gives what the strict path gives; for all others it gives None, and
the strict path finds the words.
"""

import io
import math
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd

from .kinds import POSITIONS
from .problems import Fault
from .reading_cells import Setting
from .readings import FRAME_COLUMNS
from .rows import Rows, text_column
from .sessions import placed
from .times import parse_time
from .timing import planned_h
from .units import plain_units

# Below this size the strict path is quick enough, and it knows more.
FROM_BYTES = 2_000_000
_CHUNK = 1 << 18  # small enough to stay in a processor's cache
_TIMES = ("elapsed_h", "elapsed_min", "time")
_TEXTS = ("vessel", "rater", "quantity", "unit", "position", "repeat", "instrument")
_NEEDED = ("vessel", "quantity", "value", "unit")


@dataclass(frozen=True)
class Logged:
    """A logger's readings.

    Attributes
    ----------
    frame : DataFrame
        Tidy readings, as the strict path would give them.
    thin : Rows
        Of each series the reading nearest to each scheduled time.
    columns : tuple of str
        The file's headings.
    starts : ndarray
        The row of the frame at which each series begins.
    """

    frame: pd.DataFrame
    thin: Rows
    columns: tuple[str, ...]
    starts: np.ndarray


def read_logged(data: bytes, setting: Setting) -> Logged | None:
    """The readings of a large and plain CSV file; None when anything in it is odd.

    Parameters
    ----------
    data : bytes
        UTF-8 without quotation marks, spaces or blank rows; commas; known headings.
    setting : Setting
    """
    header = _header(data, setting)
    if header is None:
        return None
    # Each takes about as long as the other, and neither holds the interpreter for long.
    with ThreadPoolExecutor(max_workers=1) as beside:
        plain = beside.submit(_plain_bytes, data, len(header))
        raw = _columns(data, header)
    if raw is None or not plain.result():
        return None
    codes = _known(raw, setting)
    if codes is None:
        return None
    elapsed = _elapsed(raw, codes, setting)
    if elapsed is None:
        return None
    return _assembled(raw, codes, elapsed, setting)


def _header(data: bytes, setting: Setting) -> list[str] | None:
    """The headings, when they are all plain and settle the file."""
    line = data[: data.find(b"\n") + 1].strip(b"\r\n\xef\xbb\xbf")
    names = line.decode("ascii", "replace").split(",")
    times = [name for name in names if name in _TIMES]
    known = set(names) <= {*_TEXTS, *_TIMES, "value"}
    needed = set(_NEEDED) <= set(names) and (setting.only_rater or "rater" in names)
    ok = known and needed and len(times) == 1 and len(set(names)) == len(names)
    return names if ok else None


def _plain_bytes(data: bytes, width: int) -> bool:
    """Whether the bytes hold nothing that a column reader could take in its own way.

    Every row has `width` cells; every number is plain digits with at most one point.
    """
    body = data.removeprefix(b"\xef\xbb\xbf")
    if not body.isascii() or not body.endswith(b"\n") or any(mark in body for mark in b"\"' \t+;"):
        return False
    if b"\r" in body and body.count(b"\r") != body.count(b"\r\n"):
        return False
    start = excess = 0
    while start < len(body):
        # Chunks end with a row and overlap by its line end, so that every edge is seen.
        end = body.find(b"\n", min(start + _CHUNK, len(body) - 1)) + 1
        chars = np.frombuffer(body, np.uint8, end - start, start)
        if not _plain_chunk(chars):
            return False
        rows = np.count_nonzero(chars == 10)
        excess += np.count_nonzero(chars == 44) - rows * (width - 1)
        start = end
    return excess == 0


def _plain_chunk(chars: np.ndarray) -> bool:
    """Whether the numbers of some rows are plain; the first byte follows a line end.

    With more than 16 digits the column reader may round the last one differently.
    """
    chars = np.concatenate((np.array([10], np.uint8), chars))
    digit = (chars - np.uint8(48)) < 10
    point = chars == 46
    number = digit | point
    edge = (chars == 44) | (chars == 10) | (chars == 13)
    lower = chars | np.uint8(32)
    exponent = digit[:-1] & (lower[1:] == 101)
    needless = edge[:-2] & (chars[1:-1] == 48) & digit[2:]
    bare = point[:-1] & ~digit[1:]
    blank = (chars[:-1] == 10) & edge[1:]
    if exponent.any() or needless.any() or bare.any() or blank.any() or (chars < 10).any():
        return False
    # Where runs of 1, 2, 4, 8, 16 and then 17 of a number's characters begin.
    for step in (1, 2, 4, 8, 1):
        number = number[:-step] & number[step:]
    return not number.any()


def _columns(data: bytes, header: list[str]) -> pd.DataFrame | None:
    """The file's columns, texts as categories; None when a number is none."""
    types = dict.fromkeys(header, "category")
    types |= dict.fromkeys(("value", "elapsed_h", "elapsed_min"), "float64")
    try:
        return pd.read_csv(
            io.BytesIO(data),
            dtype={name: types[name] for name in header},
            keep_default_na=False,
            na_filter=False,
            skip_blank_lines=False,
        )
    except (ValueError, pd.errors.ParserError):
        return None


def _known(raw: pd.DataFrame, setting: Setting) -> dict[str, tuple[np.ndarray, list[str]]] | None:
    """Codes and names of each text column, when every name is declared exactly so."""
    protocol = setting.protocol
    allowed = {
        "vessel": set(setting.vessels["vessel"]),
        "rater": set(setting.raters["rater"]),
        "quantity": set(protocol.quantities),
        "unit": {unit for kind in protocol.quantities.values() for unit in kind.units},
        "position": {"", *POSITIONS},
        "repeat": {str(number) for number in range(1, 100)},
        "instrument": {"", *protocol.instruments},
    }
    defaults = {"rater": setting.only_rater, "position": "", "repeat": "1", "instrument": ""}
    codes = {}
    for name, names in allowed.items():
        if name not in raw:
            codes[name] = (np.zeros(len(raw), np.int8), [defaults[name]])
            continue
        column = raw[name].cat
        found = [str(entry) for entry in column.categories]
        if not set(found) <= names:
            return None
        codes[name] = (column.codes.to_numpy(), found)
    return codes


def _elapsed(raw: pd.DataFrame, codes: dict, setting: Setting) -> np.ndarray | None:
    """Hours since each vessel's start; None when a time cannot be read."""
    if "elapsed_h" in raw:
        return raw["elapsed_h"].to_numpy()
    if "elapsed_min" in raw:
        return raw["elapsed_min"].to_numpy() / 60
    zone = ZoneInfo(setting.protocol.timezone)
    begin = setting.protocol.start.timestamp()
    moments = [parse_time(str(text), zone) for text in raw["time"].cat.categories]
    if any(isinstance(moment, Fault) for moment in moments):
        return None
    hours = np.array([(_stamp(moment) - begin) / 3600 for moment in moments])
    starts = setting.of_vessels("start_h")
    vessel_codes, vessels = codes["vessel"]
    start = np.array([starts[vessel] for vessel in vessels])
    return hours[raw["time"].cat.codes.to_numpy()] - start[vessel_codes]


def _stamp(moment: datetime | Fault) -> float:
    return moment.timestamp() if isinstance(moment, datetime) else math.nan


def _sound(values: np.ndarray, kinds: np.ndarray, pairs: list[tuple], setting: Setting) -> bool:
    """Whether every value fits its quantity's bounds, unit and instrument."""
    protocol = setting.protocol
    for number, (quantity, unit, instrument) in enumerate(pairs):
        entry = protocol.quantities[quantity].range_of(unit)
        tool = protocol.instruments.get(instrument)
        if entry is None or entry.unit != unit or (quantity, unit) not in plain_units(setting):
            return False
        if tool is not None and (tool.quantity, tool.unit) != (quantity, unit):
            return False
        own = values[kinds == number] if len(pairs) > 1 else values
        # Comparisons with NaN and infinity are false: both are left to the strict path.
        if len(own) and not (own.min() >= entry.low and own.max() <= entry.high):
            return False
    return True


def _combined(codes: dict, names: tuple[str, ...]) -> tuple[np.ndarray, list[tuple]]:
    """One group number for several text columns, in order of their texts, and its texts."""
    total = np.zeros(len(codes["vessel"][0]), np.int32)
    sizes = []
    for name in names:
        numbers, texts = codes[name]
        # A column of one text tells no rows apart.
        if len(texts) > 1:
            rank = np.argsort(np.argsort(np.array(texts, object))).astype(np.int32)
            total = total * np.int32(len(texts)) + rank[numbers]
        sizes.append(sorted(texts))
    used = np.flatnonzero(np.bincount(total, minlength=1))
    place = np.zeros(int(used.max(initial=0)) + 1, np.int32)
    place[used] = np.arange(len(used), dtype=np.int32)
    shape = [len(texts) for texts in sizes]
    keys = zip(*np.unravel_index(used, shape), strict=True)
    return place[total], [tuple(t[i] for t, i in zip(sizes, key, strict=True)) for key in keys]


def _assembled(
    raw: pd.DataFrame, codes: dict, elapsed: np.ndarray, setting: Setting
) -> Logged | None:
    """The tidy frame in its order, with phases and sessions."""
    names = ("quantity", "vessel", "rater", "position", "repeat", "unit", "instrument")
    if any(len(codes[name][1]) > 1 for name in ("rater", "position", "repeat")):
        return None
    groups, keys = _combined(codes, names)
    kinds, pairs = _combined(codes, ("quantity", "unit", "instrument"))
    values, elapsed = raw["value"].to_numpy(), np.round(elapsed, 9)
    if not len(values) or not _sound(values, kinds, pairs, setting):
        return None
    if len({(quantity, vessel) for quantity, vessel, *_ in keys}) < len(keys):
        return None
    # Radix sort of small numbers: groups in order, rows of a group as they came.
    order = np.argsort(groups.astype(np.uint16), kind="stable") if len(keys) < 65_536 else None
    if order is None:
        return None
    groups, elapsed, values = groups[order], elapsed[order], values[order]
    step = np.diff(elapsed)
    if not (step[np.diff(groups) == 0] > 0).all():
        return None
    end = setting.protocol.window_h
    mixing, session, stray = placed(elapsed, setting.protocol)
    if stray.any() or (mixing & (elapsed > end)).any() or elapsed.min() < 0:
        return None
    columns = {"value": values, "elapsed_h": elapsed, "phase": mixing, "session": session}
    columns["row"] = order + 2
    frame, thin = _logged(columns, groups, keys, setting)
    starts = np.concatenate(([0], np.flatnonzero(np.diff(groups)) + 1))
    return Logged(frame, thin, tuple(raw.columns), starts)


def _logged(
    columns: dict, groups: np.ndarray, keys: list[tuple], setting: Setting
) -> tuple[pd.DataFrame, Rows]:
    """The frame, and of each series and session the reading nearest to the plan."""
    names = ("quantity", "vessel", "rater", "position", "repeat", "unit", "instrument")
    texts = {name: np.array([key[i] for key in keys], object) for i, name in enumerate(names)}
    for name in ("mix", "role", "block"):
        facts = setting.of_vessels(name)
        texts[name] = np.array([facts[vessel] for vessel in texts["vessel"]], object)
    repeat = texts.pop("repeat").astype(np.int64)
    texts |= {name: np.full(len(keys), "", object) for name in ("limit", "note")}
    columns = columns | {"repeat": repeat[groups]}
    mixing = columns["phase"]
    change = (np.diff(groups) != 0) | (np.diff(columns["session"]) != 0) | np.diff(mixing)
    firsts = np.concatenate(([0], np.flatnonzero(change) + 1))
    planned = planned_h(mixing, columns["session"], setting.protocol)
    away = np.abs(columns["elapsed_h"] - planned)
    ends = np.concatenate((firsts[1:], [len(groups)]))
    near = np.array([a + int(np.argmin(away[a:b])) for a, b in zip(firsts, ends, strict=True)])
    thin = {name: column[near] for name, column in columns.items()}
    thin |= {name: text[groups[near]] for name, text in texts.items()}
    thin["phase"] = np.where(mixing[near], "mixing", "storage").astype(object)
    full = {name: _strings(text, groups) for name, text in texts.items()}
    full |= {"phase": _strings(np.array(["storage", "mixing"], object), mixing.astype(np.int8))}
    full = columns | full
    # Stacking the columns of millions of rows would take as long as reading them did.
    frame = pd.DataFrame({name: full[name] for name in FRAME_COLUMNS}, copy=False)
    return frame, Rows(thin)


def _strings(texts: np.ndarray, groups: np.ndarray) -> pd.array:
    """A text column from few texts and the number of each row's."""
    return text_column(texts).take(groups)
