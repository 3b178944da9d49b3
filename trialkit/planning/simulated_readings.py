"""The readings of a simulated trial, vessel by vessel and session by session."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from math import inf, log10

import numpy as np
import pandas as pd

from ._draws import draw_vessel, normal
from .layout import reading_order
from .water import LINES, haze, lines, mass, salinity

_SECONDS_A_READING = 30  # from one vessel to the next
_READER_SD = 0.25  # lines, between two looks of one reader at the same water
_READER_BIAS = (0.0, -0.2, 0.2)  # lines, by reader


def simulate_readings(spec):
    """Readings of every scheduled session, as readings.csv holds them.

    Each vessel gets its own log-normal clearing times for clarity and haze; each reader has an
    error of a quarter of a line, the meter one of 4%; all readings are rounded as read.

    Parameters
    ----------
    spec : TrialSpec
        What to simulate.

    Returns
    -------
    pandas.DataFrame
        Text columns of readings.csv: vessel, rater, the time column, quantity, value, unit,
        position, repeat, instrument, note.
    """
    rng = np.random.default_rng(spec.seed)
    vessels = spec.planned.vessels.merge(spec.planned.key, on="vessel", how="left")
    vessels["mix"] = vessels["mix"].fillna("")
    tanks = {row.vessel: _Tank.of(row, spec, rng) for row in vessels.itertuples(index=False)}
    sessions = _programme(spec)
    raters = list(spec.planned.raters["rater"])
    order = reading_order(vessels, len(sessions), raters, seed=spec.planned.settings["seed"])
    order["of"] = order.groupby(["session", "rater", "block"])["turn"].transform("max")
    rows = [
        row
        for turn in order.itertuples(index=False)
        for row in _visit(tanks[turn.vessel], turn, sessions[turn.session], spec, rng)
    ]
    return pd.DataFrame(rows)


@dataclass(frozen=True)
class _Tank:
    """One vessel: its row of the plan, what its water does, what happens to it."""

    row: tuple
    water: object
    events: tuple

    @classmethod
    def of(cls, row, spec, rng):
        events = tuple(e for e in spec.events if (e.mix, e.block) == (row.mix, row.block))
        return cls(row, draw_vessel(row, spec, events, rng), events)

    def befallen(self, kind, hours):
        return any(e.kind == kind and e.from_h <= hours < e.to_h for e in self.events)


def _programme(spec):
    """What is read in each session: scheduled hours and the quantities beside clarity."""
    settings = spec.planned.settings
    known = {i["quantity"] for i in settings.get("instruments", {}).values()}
    days = settings.get("storage", {}).get("days", [])
    sessions = []
    for hours in settings["schedule_h"]:
        extra = {"salinity", "temperature"} if hours in spec.salinity_h else set()
        weighed = {"mass"} if days and hours == settings["schedule_h"][-1] else set()
        sessions.append((hours, ({"haze"} | extra | weighed) & known))
    for day in days:
        left = {"residue"} if day == days[-1] else set()
        sessions.append((24.0 * day, ({"haze", "salinity", "mass"} | left) & known))
    return sessions


def _visit(tank, turn, session, spec, rng):
    """Rows that one rater writes at one vessel in one session."""
    scheduled, quantities = session
    # A round ends at the scheduled time: the last reading of the window lies in the window.
    hours = scheduled - (turn.of - turn.turn) * _SECONDS_A_READING / 3600
    if tank.befallen("lost", hours):
        return []
    raters = list(spec.planned.raters["rater"])
    who = raters.index(turn.rater)
    found = [("clarity", "", 1, _clarity_text(tank, hours, who, rng))]
    if who == len(raters) - 1:
        found += _meter_readings(tank, hours, quantities, spec, rng)
        if tank.befallen("not read", hours):
            found[0] = ("clarity", "", 1, "")
    return [_row(tank, turn, hours, reading, spec) for reading in found]


def _row(tank, turn, hours, reading, spec):
    quantity, position, repeat, value = reading
    settings = spec.planned.settings
    code = _instrument(settings, quantity)
    unit = settings["instruments"][code]["unit"] if code else "lines"
    return {
        "vessel": turn.vessel,
        "rater": turn.rater,
        spec.time_as: _time_text(tank.row.start, hours, spec.time_as),
        "quantity": quantity,
        "value": value,
        "unit": unit,
        "position": position,
        "repeat": repeat,
        "instrument": code,
        "note": "" if value else "skipped",
    }


def _time_text(start, hours, time_as):
    if time_as == "elapsed_h":
        return f"{hours:.3f}"
    if time_as == "elapsed_min":
        return f"{60 * hours:.1f}"
    moment = datetime.fromisoformat(str(start)) + timedelta(seconds=round(3600 * hours))
    return moment.isoformat(timespec="seconds")


def _instrument(settings, quantity):
    codes = [c for c, i in settings.get("instruments", {}).items() if i["quantity"] == quantity]
    return codes[0] if codes else ""


def _clarity_text(tank, hours, who, rng):
    seen = lines(tank.water, hours) + _READER_BIAS[who % 3] + _READER_SD * normal(rng)
    return str(int(np.clip(np.round(seen), 0, LINES)))


def _meter_readings(tank, hours, quantities, spec, rng):
    settings = spec.planned.settings
    storage = hours > settings["window_h"] + 1
    found = []
    for quantity in ("haze", "salinity", "temperature", "mass", "residue"):
        if quantity not in quantities or (quantity == "salinity" and not tank.row.mix):
            continue
        resolution = settings["instruments"][_instrument(settings, quantity)]["resolution"]
        decimals = max(0, round(-log10(resolution)))
        for position, repeat in _samples(quantity, storage, tank.row.mix):
            value = _measure(quantity, tank, hours, position, rng)
            found.append((quantity, position, repeat, _text(value, decimals, quantity, spec)))
            # A blank wipe is reported as weighed: the limit is worked out from the blanks.
            if quantity == "residue" and not tank.row.mix:
                found[-1] = (quantity, position, repeat, f"{value:.{decimals}f}")
    return found


def _samples(quantity, storage, mix):
    if quantity == "salinity":
        heights = ("top", "bottom") if storage else ("top", "middle", "bottom")
        return [(height, 1) for height in heights]
    return [("", 1), ("", 2)] if quantity == "residue" and not mix else [("", 1)]


def _measure(quantity, tank, hours, position, rng):
    error = normal(rng)
    if quantity == "haze":
        return haze(tank.water, hours) * np.exp(0.04 * error) + 0.01
    if quantity == "salinity":
        return salinity(tank.water, hours, position) + 0.05 * error
    if quantity == "temperature":
        return 21.4 + 0.3 * np.cos(2 * np.pi * (hours - 7) / 24) + 0.1 * error
    if quantity == "mass":
        return mass(tank.water, hours) + 0.01 * error
    return tank.water.residue_mg + 1.5 * error


def _text(value, decimals, quantity, spec):
    limits = spec.planned.settings.get("detection_limits", {})
    limit = limits.get(quantity, {}).get("value", -inf)
    return f"<{limit:g}" if value < limit else f"{max(value, 0):.{decimals}f}"
