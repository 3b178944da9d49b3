"""The columns of readings.csv: how each cell is read, and which headings look swapped."""

import math
import re
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from itertools import combinations
from zoneinfo import ZoneInfo

from .cells import Parse, known_code, number_between, one_of, parse_column, parse_text
from .csvtext import Table
from .kinds import POSITIONS
from .numbers import Number, parse_number, tidy
from .problems import Fault, Kept, Problem, cell_problem
from .rows import Rows
from .times import localise, parse_clock, parse_day, parse_time
from .trial import Protocol, Trial


@dataclass(frozen=True)
class Setting:
    """What readings are checked against.

    Attributes
    ----------
    protocol : Protocol
    vessels, raters : Rows
    """

    protocol: Protocol
    vessels: Rows
    raters: Rows

    @classmethod
    def of(cls, trial: Trial) -> "Setting":
        """That of a trial which was read before."""
        return cls(trial.protocol, Rows.of(trial.vessels), Rows.of(trial.raters))

    def of_vessels(self, name: str) -> dict[str, object]:
        """One column of the vessels by their codes."""
        return dict(zip(self.vessels["vessel"], self.vessels[name], strict=True))

    @property
    def only_rater(self) -> str | None:
        """The rater whom a sheet need not name; None when there are several."""
        return self.raters["rater"][0] if len(self.raters) == 1 else None


def cell_parsers(setting: Setting, decimal: str) -> dict[str, Parse]:
    """How the cells of each column are read; each remembers what it made of a cell."""
    protocol = setting.protocol
    zone = ZoneInfo(protocol.timezone)
    first = protocol.start.date()
    tools = known_code("instrument", frozenset(protocol.instruments), "trial.toml")
    parsers = {
        "vessel": known_code("vessel", frozenset(setting.vessels["vessel"]), "vessels.csv"),
        "rater": known_code("rater", frozenset(setting.raters["rater"]), "raters.csv"),
        "elapsed_h": _elapsed(1.0, "h", decimal),
        "elapsed_min": _elapsed(60.0, "min", decimal),
        "time": lambda cell: parse_time(cell, zone),
        "day": lambda cell: parse_day(cell, first),
        "clock": parse_clock,
        "quantity": one_of("quantity", tuple(protocol.quantities)),
        "value": _reading(decimal),
        "unit": tidy,
        "position": one_of("position", ("", *POSITIONS)),
        "repeat": _parse_repeat,
        "instrument": lambda cell: tools(cell) if tidy(cell) else "",
        "note": parse_text,
        "mix": lambda cell: tidy(cell).upper(),
    }
    # Headings are held against all columns before the columns are read.
    return {name: cache(parse) for name, parse in parsers.items()}


def _reading(decimal: str) -> Parse:
    """A parser for readings that only asks whether there is a number; bounds come by unit."""

    def parse(cell: str) -> object:
        number = parse_number(cell, decimal) if tidy(cell) else Number(math.nan)
        if isinstance(number, Number) and number.exponent:
            message = "the number is written with an exponent"
            return Kept(number, message, "Write it out in full, to be sure that it was meant.")
        return number

    return parse


def _parse_repeat(cell: str) -> object:
    """A repeat number; an empty cell is the first."""
    text = tidy(cell)
    if not text:
        return 1
    if text.isascii() and text.isdigit() and len(text) < 3 and text[0] != "0":
        return int(text)
    return Fault("this is not a repeat number", "Write 1, 2, 3 and so on.")


def _elapsed(per_hour: float, unit: str, decimal: str) -> Parse:
    """A parser for elapsed times in hours or minutes, as hours."""
    parse = number_between(0, 1e5 * per_hour, decimal=decimal, unit=unit)

    def parse_elapsed(cell: str) -> object:
        if not tidy(cell):
            return Fault("the time is missing", f"Write the time since the start in {unit}.")
        outcome = parse(cell)
        if not isinstance(outcome, Fault):
            return outcome / per_hour
        if tidy(cell).startswith(("-", "\u2212")):
            return Fault("the time is negative", "Times count from the vessel's start.")
        if re.search("[0-9]:[0-9]", cell):
            fix = f"Write the time since the start in {unit}, or use day and clock, or time."
            return Fault("a clock time stands where a number belongs", fix)
        return outcome

    return parse_elapsed


def moments(
    table: Table, setting: Setting, parsers: Mapping[str, Parse], found: list[Problem]
) -> list[float | datetime | None]:
    """Hours since the vessel's start, or moments that are still to be compared with it."""
    for name in ("elapsed_h", "elapsed_min", "time"):
        if name in table.columns:
            return parse_column(table, name, parsers[name], found)
    zone = ZoneInfo(setting.protocol.timezone)
    days = parse_column(table, "day", parsers["day"], found)
    clocks = parse_column(table, "clock", parsers["clock"], found)
    out: list[datetime | None] = []
    for index, (day, clock) in enumerate(zip(days, clocks, strict=True)):
        moment = None
        if day is not None and clock is not None:
            moment = localise(datetime(day.year, day.month, day.day) + clock, zone)
        if isinstance(moment, Fault):
            # Neither a day nor a clock has room for an offset.
            fix = f"Use the column time instead of day and clock. {moment.fix}"
            moment = Fault(moment.message, fix)
            cell = table.columns["clock"][index]
            found.append(cell_problem(table.file, table.rows[index], "clock", cell, moment))
            moment = None
        out.append(moment)
    return out


def value_of(
    quantity: str, number: Number, unit: str, instrument: str, protocol: Protocol
) -> tuple[Number | None, str | None, list[tuple[str, Fault]]]:
    """A reading checked against its quantity's units and bounds, and its instrument.

    Returns
    -------
    number, unit : Number or None, str or None
        The unit as the kit spells it; None where faulty.
    faults : list of (column, Fault)
    """
    kind = protocol.quantities[quantity]
    entry = kind.range_of(unit)
    if entry is None:
        what = f"this is not a unit of {quantity}" if unit else f"the unit of {quantity} is missing"
        return None, None, [("unit", Fault(what, f"Use one of: {', '.join(kind.units)}."))]
    tool = protocol.instruments.get(instrument)
    if tool is not None and (tool.quantity, tool.unit) != (quantity, entry.unit):
        message = f"instrument {instrument} is declared for {tool.quantity} in {tool.unit}"
        place = "unit" if tool.quantity == quantity else "instrument"
        return None, None, [(place, Fault(message, "Correct the unit or the instrument."))]
    faults = []
    if number.unit and kind.range_of(number.unit) is not entry:
        fault = Fault("the cell holds another unit or a remark", "Write the number alone.")
        faults.append(("value", fault))
    if not math.isnan(number.value) and not entry.low <= number.value <= entry.high:
        message = f"{quantity} can only lie from {entry.low:g} to {entry.high:g} {entry.unit}"
        faults.append(("value", Fault(message, "Correct the number or its unit.")))
    return (None if faults else number), entry.unit, faults


def swapped_headings(table: Table, setting: Setting, parsers: Mapping[str, Parse]) -> list[Problem]:
    """Pairs of headings whose columns suit each other better than themselves.

    One such cause explains a fault in every row, so it is named before them.
    """
    names = [name for name in parsers if name in table.columns and name != "mix"]
    units = {unit for kind in setting.protocol.quantities.values() for unit in kind.units}
    parsers = dict(parsers) | {"unit": lambda c: c if c in units else Fault("", "")}
    counts = {name: Counter(table.columns[name]) for name in names}
    unfit = {name for name in names if _share(counts[name], parsers[name]) < 0.5}
    empty = {name for name in names if not any(map(tidy, counts[name]))} - {"note"}

    def suits(cells: str, heading: str) -> bool:
        return cells in empty or _share(counts[cells], parsers[heading]) > 0.9

    found = []
    for one, two in combinations(names, 2):
        if unfit & {one, two} and suits(one, two) and suits(two, one):
            message = f"the headings {one} and {two} look swapped"
            fix = "Exchange the two headings."
            place = f"{one}, {two}"
            found.append(
                Problem(table.file, table.header_row, place, "", "refuse", message, fix, 0)
            )
    return found


def _share(counts: Mapping[str, int], parse: Parse) -> float:
    """Share of the filled cells that a rule reads; half, which settles nothing, when none is."""
    filled = [(cell, count) for cell, count in counts.items() if tidy(cell)]
    if not filled:
        return 0.5
    read = sum(count for cell, count in filled if not isinstance(parse(cell), Fault))
    return read / sum(count for _, count in filled)
