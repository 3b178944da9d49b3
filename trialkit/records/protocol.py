"""The protocol out of trial.toml, every key checked."""

import re
from collections.abc import Callable
from datetime import datetime
from zoneinfo import ZoneInfo

from .authors import read_authors
from .kinds import KINDS, ReadingKind, UnitRange
from .problems import Fault, Problem, file_problem, show
from .times import localise
from .toml_keys import (
    FILE,
    Keys,
    Toml,
    a_choice,
    a_code,
    a_number,
    a_text,
    a_whole_number,
    a_zone,
    rising_numbers,
)
from .trial import Claim, Criterion, DetectionLimit, Instrument, Protocol

FAMILIES = ("lognormal", "weibull", "loglogistic")
RATER_RULES = ("majority", "all", "any")
PAIRS = ("15/15", "20/20", "25/25", "60F/60F", "20/4", "25/4")
_USUAL_TARGET = (28, 40)
_NAME = re.compile(r"[a-z][a-z0-9_]{0,39}")


def read_protocol(toml: Toml, found: list[Problem]) -> Protocol | None:
    """The protocol; None when trial.toml is not sound, with the reasons in `found`."""
    before = len(found)
    keys = Keys(toml.settings, "", toml.text, found)
    parts = _top(keys) | _storage(keys, keys.values.get("window_h")) | _scale(keys)
    parts["authors"] = read_authors(keys)
    parts["quantities"] = _quantities(keys)
    parts["instruments"] = _instruments(keys, parts["quantities"])
    parts["detection_limits"] = _limits(keys, parts["quantities"])
    parts["criteria"] = _criteria(keys, parts["quantities"])
    _out_of_reach(keys, parts)
    parts["claims"] = _claims(keys, parts["criteria"], parts["window_h"])
    parts["extra"] = keys.close()
    if any(problem.level == "refuse" for problem in found[before:]):
        return None
    return Protocol(**parts)


def _out_of_reach(keys: Keys, parts: dict) -> None:
    """Record a window in whose end nothing is read, and a criterion that no vessel can meet."""
    schedule, window = parts["schedule_h"], parts["window_h"]
    if not schedule or window is None:
        return
    if window > schedule[-1]:
        fix = "Add its end to schedule_h, or correct window_h."
        fault = Fault("the window goes on after the last planned reading", fix, "warn")
        keys.fault("window_h", window, fault)
    tables = keys.tables("criteria")
    for name, rule in parts["criteria"].items():
        if rule.hold and rule.hold > len(schedule):
            fix = f"Correct hold, or schedule_h, which has {len(schedule)} rounds."
            message = "more readings in a row are asked for than there are rounds"
            tables[name].fault("hold", rule.hold, Fault(message, fix, "warn"))


def a_rater_rule(value: object) -> object:
    """A rule that says when raters agree, or one rater's code."""
    if value in RATER_RULES or not isinstance(a_code(value), Fault):
        return value
    return Fault(
        "this is not a rule for raters", f"Use {', '.join(RATER_RULES)}, or a rater's code."
    )


def _top(keys: Keys) -> dict[str, object]:
    """The plain keys at the top of the file."""
    window = keys.take("window_h", a_number(0, 2000, open_low=True))
    zone = keys.take("timezone", a_zone)
    parts = {
        "title": keys.take("title", a_text),
        "timezone": zone,
        "start": keys.take("start", _start(zone)),
        "window_h": window,
        "schedule_h": keys.take("schedule_h", rising_numbers(window or 2000)),
        "target_salinity": keys.take("target_salinity", a_number(0, 60)),
        "seed": keys.take("seed", a_whole_number(0, 2**63 - 1)),
        "licence": keys.take("licence", a_text),
        "conf_level": keys.take("conf_level", a_number(0.5, 0.999), 0.95),
        "family": keys.take("family", a_choice(*FAMILIES), "lognormal"),
        "comparisons": keys.take("comparisons", a_choice("all pairs", "control"), "all pairs"),
        "control": keys.take("control", a_code, None),
    }
    target = parts["target_salinity"]
    low, high = _USUAL_TARGET
    if target is not None and not low <= target <= high:
        fix = f"Usual for sea salt is {low} to {high} (common practice); see that it is meant."
        fault = Fault("the salinity is possible but unusual", fix, "warn")
        keys.fault("target_salinity", keys.values["target_salinity"], fault)
    for key in ("key_sha256", "key_nonce", "seal"):
        parts[key] = keys.take(key, a_text, "")
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
    days = table.take("days", rising_numbers(3650))
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
        "declared_scale": table.take("value", a_number(0, 10, open_low=True)),
        "scale_source": table.take("source", a_text),
    }
    table.close()
    return parts


def _quantities(keys: Keys) -> dict[str, ReadingKind]:
    """The built-in kinds and those that trial.toml adds."""
    kinds = dict(KINDS)
    for name, table in keys.tables("quantities").items():
        unit = table.take("unit", a_text)
        low = table.take("low", a_number(-1e9, 1e9))
        high = table.take("high", a_number(-1e9, 1e9))
        better = table.take("better", a_choice("low", "high", ""), "")
        label = table.take("label", a_text, name.replace("_", " ").capitalize())
        reference = table.take("reference", a_text, "declared in trial.toml")
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
        if isinstance(a_code(name), Fault):
            table.fault("", name, a_code(name))
        quantity = table.take("quantity", a_choice(*kinds))
        unit = table.take("unit", _unit_of(kinds, quantity)) if quantity else None
        resolution = table.take("resolution", a_number(0, 1e6, open_low=True), None)
        if "resolution" not in table.values:
            fix = "Add the smallest step that it shows, so that lost digits are noticed."
            fault = Fault("the instrument's resolution is not given", fix, "note")
            table.fault("resolution", "", fault)
        pair = table.take("reference_pair", a_choice(*PAIRS), "")
        table.seen.add("unit")
        table.close()
        if quantity and unit:
            instruments[name] = Instrument(name, quantity, unit, resolution, pair or "")
    return instruments


def _limits(keys: Keys, kinds: dict[str, ReadingKind]) -> dict[str, DetectionLimit]:
    """Detection limits by quantity."""
    limits = {}
    for quantity, table in keys.tables("detection_limits").items():
        value = table.take("value", a_number(0, 1e6, open_low=True))
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
        quantity = table.take("quantity", a_choice(*kinds))
        unit = table.take("unit", _unit_of(kinds, quantity)) if quantity else None
        label = table.take("label", a_text, name.replace("_", " "))
        tolerance = table.assumed("tolerance", a_number(0, 1e6), 0.0)
        hold = table.assumed("hold", a_whole_number(1, 20), 2)
        rule = table.assumed("rater_rule", a_rater_rule, "majority")
        better = table.take("better", a_choice("low", "high"), "")
        table.seen.add("unit")
        table.close()
        if name == "fully clear":
            fault = Fault("this name stands for all criteria together", "Use another.")
            table.fault("", name, fault)
        if not (quantity and unit):
            continue
        better = better or kinds[quantity].range_of(unit).better
        if not better:
            fault = Fault("it is not said which direction is clearer", 'Add better = "low".')
            table.fault("better", "", fault)
        criteria[name] = Criterion(name, label, quantity, unit, tolerance, hold, rule, better)
    return criteria


def _claims(keys: Keys, criteria: dict[str, Criterion], window: object) -> dict[str, Claim]:
    """The statements that the trial tests."""
    claims = {}
    for name, table in keys.tables("claims").items():
        claim = Claim(
            name=name,
            text=table.take("text", a_text),
            mix=table.take("mix", a_code),
            criterion=table.assumed("criterion", a_choice("fully clear", *criteria), "fully clear"),
            within_h=table.take("within_h", a_number(0, 2000, open_low=True), None),
            share=table.take("share", a_number(0, 1, open_low=True), 0.5),
            before=table.take("before", a_code, None),
        )
        table.close()
        if ("within_h" in table.values) == ("before" in table.values):
            fault = Fault("a claim needs within_h or before, not both", "Keep one of them.")
            table.fault("within_h", "", fault)
        _odd_claim(table, claim, window)
        claims[name] = claim
    return claims


def _odd_claim(table: Keys, claim: Claim, window: object) -> None:
    """Record a claim that no trial, or not this one, can tell."""
    if claim.before is not None and claim.before == claim.mix:
        fault = Fault("a mix cannot clear before itself", "Name the other mix.")
        table.fault("before", claim.before, fault)
    if claim.share is not None and claim.share < 0.5:
        message = "the claim is about fewer than half of the batches"
        fault = Fault(message, "Correct share, or nothing if it is right.", "warn")
        table.fault("share", claim.share, fault)
    if claim.within_h and isinstance(window, float) and claim.within_h > window:
        message = "the claim's time lies after the window, in which nothing is read"
        fault = Fault(message, "Correct within_h or window_h, or nothing if it is right.", "warn")
        table.fault("within_h", claim.within_h, fault)


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
