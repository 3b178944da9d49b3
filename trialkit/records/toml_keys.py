"""Tables of trial.toml while their keys are checked, and the checks of single values."""

import difflib
import math
import re
import tomllib
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, time
from itertools import pairwise
from zoneinfo import ZoneInfo

from .cells import CODE
from .joiners import without_joiners
from .problems import Fault, Problem, show

FILE = "trial.toml"
_NEEDED = object()


@dataclass
class Keys:
    """One table of trial.toml while it is being checked; each faulty key is named.

    Attributes
    ----------
    values : dict
        The table.
    path : str
        Its dotted name, "" for the top.
    text : str
        The whole file, for line numbers.
    found : list of Problem
    seen : set of str
        Keys that were asked for; the others are unknown.
    """

    values: dict
    path: str
    text: str
    found: list[Problem]
    seen: set[str] = field(default_factory=set)

    def take(self, key: str, check: Callable, default: object = _NEEDED) -> object:
        """A key's checked value, its default, or None when it is missing or wrong."""
        self.seen.add(key)
        if key not in self.values:
            if default is not _NEEDED:
                return default
            self.fault(key, "", Fault("the key is missing", "Add it."))
            return None
        outcome = check(self.values[key])
        if isinstance(outcome, Fault):
            self.fault(key, self.values[key], outcome)
            return None
        return outcome

    def assumed(self, key: str, check: Callable, default: object) -> object:
        """A key's checked value, or its default with a warning: what counts must be declared."""
        if key not in self.values:
            shown = f'"{default}"' if isinstance(default, str) else f"{default:g}"
            fix = f"Write {key} = {shown} if that is meant."
            self.fault(key, "", Fault(f"the key is missing; {shown} was taken", fix, "warn"))
        return self.take(key, check, default)

    def table(self, key: str) -> "Keys":
        """A table within this one, empty when absent."""
        self.seen.add(key)
        value = self.values.get(key, {})
        if not isinstance(value, dict):
            self.fault(key, value, Fault("this must be a table", f"Write [{self.full(key)}]."))
            value = {}
        return Keys(value, self.full(key), self.text, self.found)

    def tables(self, key: str) -> dict[str, "Keys"]:
        """Named tables within a table."""
        outer = self.table(key)
        return {name: outer.table(name) for name in outer.values}

    def full(self, key: str) -> str:
        """The dotted name of a key."""
        return f"{self.path}.{key}" if self.path else key

    def fault(self, key: str, value: object, fault: Fault) -> None:
        """Record what is wrong with a key."""
        line = line_of(self.text, self.path, key)
        written = value.isoformat() if isinstance(value, date | time) else value
        shown = show(written if isinstance(written, str) else repr(written)) if value != "" else ""
        self.found.append(
            Problem(
                FILE, line, show(self.full(key)), shown, fault.level, fault.message, fault.fix, 0
            )
        )

    def close(self) -> dict:
        """Warn about keys that nobody asked for, and hand them back."""
        unknown = {key: value for key, value in self.values.items() if key not in self.seen}
        for key in unknown:
            near = difflib.get_close_matches(key, sorted(self.seen), 1, 0.7)
            fix = f"Keys here: {', '.join(sorted(self.seen))}."
            if near:
                fix = f"Did you mean {near[0]}? Else it is passed over."
            self.fault(key, "", Fault("the kit does not know this key", fix, "warn"))
        return unknown


@dataclass(frozen=True)
class Toml:
    """What trial.toml holds, with its text for line numbers."""

    text: str
    settings: dict


def read_toml(data: bytes, found: list[Problem]) -> Toml | None:
    """The file's text with what it holds, if it is TOML."""
    try:
        text = data.decode("utf-8-sig").replace("\r\n", "\n").replace("\r", "\n")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        message = "the text is not UTF-8"
        fix = "Save the file again as UTF-8."
        found.append(Problem(FILE, line, "", "", "refuse", message, fix, 0))
        return None
    if not text.strip():
        message = "the file is empty"
        found.append(Problem(FILE, None, "", "", "refuse", message, "Write the plan into it.", 0))
        return None
    try:
        return Toml(text, tomllib.loads(text))
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        found.append(_syntax(text, str(error)))
        return None


def _syntax(text: str, reason: str) -> Problem:
    """A TOML syntax error with its line and the text that stands there."""
    match = re.search(r"line (\d+)", reason)
    lines = text.split("\n")
    line = int(match[1]) if match else len(lines)
    words = re.sub(r"\s*\(at .*\)", "", reason).lower()
    fix = 'Write key = value, with texts in "quotation marks" and a point for decimals.'
    value = show(lines[min(line, len(lines)) - 1].strip())
    return Problem(FILE, line, "", value, "refuse", f"this is not TOML: {words}", fix, 0)


def line_of(text: str, path: str, key: str) -> int | None:
    """The line on which a key, or failing that its table, is written."""
    current, table_line = "", None
    for number, line in enumerate(text.split("\n"), 1):
        heading = re.match(r"\s*\[+\s*([^\]]+?)\s*\]+", line)
        if heading:
            current = heading[1].replace('"', "")
            whole = f"{path}.{key}".lstrip(".")
            if current in (path, whole) or current.startswith(f"{whole}."):
                table_line = number
            continue
        name = re.match(r'\s*"?([A-Za-z0-9_-]+)"?\s*(=|\.)', line)
        if name and current == path and name[1] == key:
            return number
        if name and f"{current}.{name[1]}".lstrip(".") == path:
            table_line = number
    return table_line


# Each check gives the value, or a Fault.


def a_text(value: object) -> object:
    """A text of one line that is not blank."""
    if isinstance(value, str) and value.strip() and without_joiners(value).isprintable():
        return value.strip()
    return Fault("a text must stand here", 'Write words in "quotation marks".')


def a_number(low: float, high: float, *, open_low: bool = False) -> Callable:
    """A check for numbers between bounds."""

    def check(value: object) -> object:
        if isinstance(value, bool) or not isinstance(value, int | float) or math.isnan(value):
            return Fault("a number must stand here", "Write the number without quotation marks.")
        if not low <= value <= high or (open_low and value == low):
            span = f"above {low:g}, up to {high:g}" if open_low else f"from {low:g} to {high:g}"
            return Fault(f"the number must lie {span}", "Correct it; write a point for decimals.")
        return float(value)

    return check


def a_whole_number(low: int, high: int) -> Callable:
    """A check for whole numbers between bounds."""

    def check(value: object) -> object:
        if isinstance(value, bool) or not isinstance(value, int) or not low <= value <= high:
            return Fault(f"a whole number from {low} to {high} must stand here", "Correct it.")
        return value

    return check


def a_choice(*choices: str) -> Callable:
    """A check for one of some words."""

    def check(value: object) -> object:
        if isinstance(value, str) and value in choices:
            return value
        near = difflib.get_close_matches(str(value), choices, 1, 0.6)
        hint = f" Did you mean {near[0]}?" if near else ""
        return Fault("this is not one of the choices", f"Use one of: {', '.join(choices)}.{hint}")

    return check


def rising_numbers(high: float) -> Callable:
    """A check for a list of rising positive numbers."""

    def check(value: object) -> object:
        if not isinstance(value, list) or not value:
            return Fault("a list of numbers must stand here", "Write it as [0.5, 1, 2].")
        one = a_number(0, high, open_low=True)
        numbers = [one(entry) for entry in value]
        faulty = [entry for entry in numbers if isinstance(entry, Fault)]
        if faulty:
            return faulty[0]
        if any(later <= earlier for earlier, later in pairwise(numbers)):
            return Fault("the numbers must rise, each once", "Sort them and drop doubles.")
        return tuple(numbers)

    return check


def a_zone(value: object) -> object:
    """The name of a time zone."""
    try:
        ZoneInfo(value)
    except Exception:
        return Fault("this is not a time zone", 'Use an IANA name such as "UTC".')
    return value


def a_code(value: object) -> object:
    """A code: a letter other than E and two digits."""
    if isinstance(value, str) and CODE.fullmatch(value):
        return value
    return Fault("this is not a code", "Use one letter other than E and two digits.")
