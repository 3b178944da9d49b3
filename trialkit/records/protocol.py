"""The protocol out of trial.toml, every key checked."""

import math
import re
import tomllib
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime
from itertools import pairwise
from zoneinfo import ZoneInfo

from .cells import CODE
from .kinds import KINDS, ReadingKind, UnitRange
from .problems import Fault, Problem, file_problem, show
from .times import localise
from .trial import Claim, Criterion, DetectionLimit, Instrument, Protocol

FILE = "trial.toml"
FAMILIES = ("lognormal", "weibull", "loglogistic")
RATER_RULES = ("majority", "all", "any")
PAIRS = ("15/15", "20/20", "25/25", "60F/60F", "20/4", "25/4")
_NEEDED = object()
_NAME = re.compile(r"[a-z][a-z0-9_]{0,39}")


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
        line = _line_of(self.text, self.path, key)
        shown = show(value if isinstance(value, str) else repr(value)) if value != "" else ""
        self.found.append(
            Problem(
                FILE, line, show(self.full(key)), shown, fault.level, fault.message, fault.fix, 0
            )
        )

    def close(self) -> dict:
        """Warn about keys that nobody asked for, and hand them back."""
        unknown = {key: value for key, value in self.values.items() if key not in self.seen}
        for key in unknown:
            fix = f"Keys here: {', '.join(sorted(self.seen))}."
            self.fault(key, "", Fault("the kit does not know this key", fix, "warn"))
        return unknown


def read_protocol(data: bytes, found: list[Problem]) -> Protocol | None:
    """The protocol; None when trial.toml is not sound, with the reasons in `found`."""
    text = _toml_text(data, found)
    if text is None:
        return None
    before = len(found)
    keys = Keys(tomllib.loads(text), "", text, found)
    parts = _top(keys) | _storage(keys, keys.values.get("window_h")) | _scale(keys)
    parts["quantities"] = _quantities(keys)
    parts["instruments"] = _instruments(keys, parts["quantities"])
    parts["detection_limits"] = _limits(keys, parts["quantities"])
    parts["criteria"] = _criteria(keys, parts["quantities"])
    parts["claims"] = _claims(keys, parts["criteria"])
    parts["extra"] = keys.close()
    if any(problem.level == "refuse" for problem in found[before:]):
        return None
    return Protocol(**parts)


def _toml_text(data: bytes, found: list[Problem]) -> str | None:
    """The file's text if it is TOML."""
    try:
        text = data.decode("utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        message = "the text is not UTF-8"
        fix = "Save the file again as UTF-8."
        found.append(Problem(FILE, line, "", "", "refuse", message, fix, 0))
        return None
    try:
        tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        found.append(_syntax(text, str(error)))
        return None
    return text


def _syntax(text: str, reason: str) -> Problem:
    """A TOML syntax error with its line and the text that stands there."""
    match = re.search(r"line (\d+)", reason)
    lines = text.split("\n")
    line = int(match[1]) if match else len(lines)
    words = re.sub(r"\s*\(at .*\)", "", reason).lower()
    fix = 'Write key = value, with texts in "quotation marks" and a point for decimals.'
    value = show(lines[min(line, len(lines)) - 1].strip())
    return Problem(FILE, line, "", value, "refuse", f"this is not TOML: {words}", fix, 0)


def _line_of(text: str, path: str, key: str) -> int | None:
    """The line on which a key, or failing that its table, is written."""
    current, table_line = "", None
    for number, line in enumerate(text.split("\n"), 1):
        heading = re.match(r"\s*\[+\s*([^\]]+?)\s*\]+", line)
        if heading:
            current = heading[1].replace('"', "")
            if current in (path, f"{path}.{key}".lstrip(".")):
                table_line = number
            continue
        name = re.match(r'\s*"?([A-Za-z0-9_-]+)"?\s*(=|\.)', line)
        if name and current == path and name[1] == key:
            return number
        if name and f"{current}.{name[1]}".lstrip(".") == path:
            table_line = number
    return table_line


# ---- checks of one value: the value, or a Fault


def _text(value: object) -> object:
    if isinstance(value, str) and value.strip() and value.isprintable():
        return value.strip()
    return Fault("a text must stand here", 'Write words in "quotation marks".')


def _number(low: float, high: float, *, open_low: bool = False) -> Callable:
    """A check for numbers between bounds."""

    def check(value: object) -> object:
        if isinstance(value, bool) or not isinstance(value, int | float) or math.isnan(value):
            return Fault("a number must stand here", "Write the number without quotation marks.")
        if not low <= value <= high or (open_low and value == low):
            above = "above" if open_low else "from"
            return Fault(f"the number must lie {above} {low:g} to {high:g}", "Correct it.")
        return float(value)

    return check


def _whole(low: int, high: int) -> Callable:
    """A check for whole numbers between bounds."""

    def check(value: object) -> object:
        if isinstance(value, bool) or not isinstance(value, int) or not low <= value <= high:
            return Fault(f"a whole number from {low} to {high} must stand here", "Correct it.")
        return value

    return check


def _choice(*choices: str) -> Callable:
    """A check for one of some words."""

    def check(value: object) -> object:
        if isinstance(value, str) and value in choices:
            return value
        return Fault("this is not one of the choices", f"Use one of: {', '.join(choices)}.")

    return check


def _rising(high: float) -> Callable:
    """A check for a list of rising positive numbers."""

    def check(value: object) -> object:
        if not isinstance(value, list) or not value:
            return Fault("a list of numbers must stand here", "Write it as [0.5, 1, 2].")
        one = _number(0, high, open_low=True)
        numbers = [one(entry) for entry in value]
        faulty = [entry for entry in numbers if isinstance(entry, Fault)]
        if faulty:
            return faulty[0]
        if any(later <= earlier for earlier, later in pairwise(numbers)):
            return Fault("the numbers must rise, each once", "Sort them and drop doubles.")
        return tuple(numbers)

    return check


def _zone(value: object) -> object:
    try:
        ZoneInfo(value)
    except Exception:
        return Fault("this is not a time zone", 'Use an IANA name such as "UTC".')
    return value


def _code(value: object) -> object:
    if isinstance(value, str) and CODE.fullmatch(value):
        return value
    return Fault("this is not a code", "Use one letter other than E and two digits.")


def _rater_rule(value: object) -> object:
    if value in RATER_RULES or not isinstance(_code(value), Fault):
        return value
    return Fault(
        "this is not a rule for raters", f"Use {', '.join(RATER_RULES)}, or a rater's code."
    )


# ---- the parts of the file


def _top(keys: Keys) -> dict[str, object]:
    """The plain keys at the top of the file."""
    window = keys.take("window_h", _number(0, 2000, open_low=True))
    zone = keys.take("timezone", _zone)
    parts = {
        "title": keys.take("title", _text),
        "timezone": zone,
        "start": keys.take("start", _start(zone)),
        "window_h": window,
        "schedule_h": keys.take("schedule_h", _rising(window or 2000)),
        "target_salinity": keys.take("target_salinity", _number(0, 60)),
        "seed": keys.take("seed", _whole(0, 2**63 - 1)),
        "licence": keys.take("licence", _text),
        "conf_level": keys.take("conf_level", _number(0.5, 0.999), 0.95),
        "family": keys.take("family", _choice(*FAMILIES), "lognormal"),
        "comparisons": keys.take("comparisons", _choice("all pairs", "control"), "all pairs"),
        "control": keys.take("control", _code, None),
    }
    for key in ("key_sha256", "key_nonce", "seal"):
        parts[key] = keys.take(key, _text, "")
    if parts["comparisons"] == "control" and "control" not in keys.values:
        fault = Fault("the control mix is missing", 'Add control = "M01", say.')
        keys.fault("control", "", fault)
    return parts


def _start(zone: str | None) -> Callable:
    """A check for the start of the trial as a moment."""

    def check(value: object) -> object:
        if not isinstance(value, datetime):
            fix = "Write 2031-04-02T08:00:00 without quotation marks."
            return Fault("a date with its time must stand here", fix)
        local = ZoneInfo(zone or "UTC")
        return value.astimezone(local) if value.tzinfo else localise(value, local)

    return check


def _storage(keys: Keys, window: object) -> dict[str, object]:
    """The days of the storage readings."""
    table = keys.table("storage")
    if not table.values:
        return {"storage_days": ()}
    days = table.take("days", _rising(3650))
    if days and isinstance(window, int | float) and days[0] * 24 <= window:
        fault = Fault("storage begins after the window", "Use days after window_h.")
        table.fault("days", days[0], fault)
    table.close()
    return {"storage_days": days}


def _scale(keys: Keys) -> dict[str, object]:
    """The spread between vessels that is declared from other trials."""
    table = keys.table("scale")
    if not table.values:
        return {}
    parts = {
        "declared_scale": table.take("value", _number(0, 10, open_low=True)),
        "scale_source": table.take("source", _text),
    }
    table.close()
    return parts


def _quantities(keys: Keys) -> dict[str, ReadingKind]:
    """The built-in kinds and those that trial.toml adds."""
    kinds = dict(KINDS)
    for name, table in keys.tables("quantities").items():
        unit = table.take("unit", _text)
        low = table.take("low", _number(-1e9, 1e9))
        high = table.take("high", _number(-1e9, 1e9))
        better = table.take("better", _choice("low", "high", ""), "")
        label = table.take("label", _text, name.replace("_", " ").capitalize())
        reference = table.take("reference", _text, "declared in trial.toml")
        table.close()
        if name in KINDS or not _NAME.fullmatch(name):
            fault = Fault(
                "this name is taken or not a name", "Use another, in small letters, digits and _."
            )
            table.fault("", name, fault)
        elif None not in (unit, low, high) and low >= high:
            table.fault("high", high, Fault("high must lie above low", "Correct one of them."))
        elif None not in (unit, low, high):
            ranges = (UnitRange(unit, low, high, better or ""),)
            kinds[name] = ReadingKind(name, label, ranges, reference)
    return kinds


def _unit_of(kinds: dict[str, ReadingKind], quantity: str | None) -> Callable:
    """A check for a unit of one quantity, given back as the kit spells it."""

    def check(value: object) -> object:
        if quantity is None or not isinstance(value, str):
            return Fault("a unit must stand here", 'Write it in "quotation marks".')
        entry = kinds[quantity].range_of(value)
        if entry is None:
            fix = f"Use one of: {', '.join(kinds[quantity].units)}."
            return Fault(f"this is not a unit of {quantity}", fix)
        return entry.unit

    return check


def _instruments(keys: Keys, kinds: dict[str, ReadingKind]) -> dict[str, Instrument]:
    """The declared instruments."""
    instruments = {}
    for name, table in keys.tables("instruments").items():
        if isinstance(_code(name), Fault):
            table.fault("", name, _code(name))
        quantity = table.take("quantity", _choice(*kinds))
        unit = table.take("unit", _unit_of(kinds, quantity)) if quantity else None
        resolution = table.take("resolution", _number(0, 1e6, open_low=True), None)
        pair = table.take("reference_pair", _choice(*PAIRS), "")
        table.seen.add("unit")
        table.close()
        if quantity and unit:
            instruments[name] = Instrument(name, quantity, unit, resolution, pair or "")
    return instruments


def _limits(keys: Keys, kinds: dict[str, ReadingKind]) -> dict[str, DetectionLimit]:
    """Detection limits by quantity."""
    limits = {}
    for quantity, table in keys.tables("detection_limits").items():
        value = table.take("value", _number(0, 1e6, open_low=True))
        if quantity not in kinds:
            fault = Fault("this quantity is not declared", f"Use one of: {', '.join(kinds)}.")
            table.fault("", quantity, fault)
            continue
        unit = table.take("unit", _unit_of(kinds, quantity))
        table.close()
        if value is not None and unit is not None:
            limits[quantity] = DetectionLimit(value, unit)
    return limits


def _criteria(keys: Keys, kinds: dict[str, ReadingKind]) -> dict[str, Criterion]:
    """What counts as clear."""
    criteria = {}
    tables = keys.tables("criteria")
    if not tables:
        keys.fault("criteria", "", Fault("no criterion is declared", "Add [criteria.clarity]."))
    for name, table in tables.items():
        quantity = table.take("quantity", _choice(*kinds))
        unit = table.take("unit", _unit_of(kinds, quantity)) if quantity else None
        label = table.take("label", _text, name.replace("_", " "))
        tolerance = table.take("tolerance", _number(0, 1e6), 0.0)
        hold = table.take("hold", _whole(1, 20), 2)
        rule = table.take("rater_rule", _rater_rule, "majority")
        better = table.take("better", _choice("low", "high"), "")
        table.seen.add("unit")
        table.close()
        if not (quantity and unit):
            continue
        better = better or kinds[quantity].range_of(unit).better
        if not better:
            fault = Fault("it is not said which direction is clearer", 'Add better = "low".')
            table.fault("better", "", fault)
        criteria[name] = Criterion(name, label, quantity, unit, tolerance, hold, rule, better)
    return criteria


def _claims(keys: Keys, criteria: dict[str, Criterion]) -> dict[str, Claim]:
    """The statements that the trial tests."""
    claims = {}
    for name, table in keys.tables("claims").items():
        claim = Claim(
            name=name,
            text=table.take("text", _text),
            mix=table.take("mix", _code),
            criterion=table.take("criterion", _choice("fully clear", *criteria), "fully clear"),
            within_h=table.take("within_h", _number(0, 2000, open_low=True), None),
            share=table.take("share", _number(0, 1, open_low=True), 0.5),
            before=table.take("before", _code, None),
        )
        table.close()
        if ("within_h" in table.values) == ("before" in table.values):
            fault = Fault("a claim needs within_h or before, not both", "Keep one of them.")
            table.fault("within_h", "", fault)
        claims[name] = claim
    return claims


def check_codes(protocol: Protocol, mixes: set[str], raters: set[str]) -> list[Problem]:
    """Codes in trial.toml that mixes.csv and raters.csv do not declare."""
    found = []

    def need(code: str | None, known: set[str], key: str, home: str) -> None:
        if code is not None and code not in known:
            message = f"no such code is declared in {home}"
            problem = file_problem(FILE, message, f"Correct it, or declare it in {home}.")
            found.append(Problem(FILE, None, key, show(code), "refuse", *_pair(problem), 0))

    need(protocol.control, mixes, "control", "mixes.csv")
    for claim in protocol.claims.values():
        need(claim.mix, mixes, f"claims.{claim.name}.mix", "mixes.csv")
        need(claim.before, mixes, f"claims.{claim.name}.before", "mixes.csv")
    for rule in protocol.criteria.values():
        if rule.rater_rule not in RATER_RULES:
            need(rule.rater_rule, raters, f"criteria.{rule.name}.rater_rule", "raters.csv")
    return found


def _pair(problem: Problem) -> tuple[str, str]:
    return problem.message, problem.fix
