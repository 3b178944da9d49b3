"""A trial that never took place: the folder of a planned one, filled with readings."""

from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from math import inf, log10
from pathlib import Path

import numpy as np
import pandas as pd

from ._draws import draw_vessel, drawn_dose, normal
from .folder import PlannedTrial, read_planned, write_csv, write_planned
from .layout import reading_order
from .water import LINES, Water, haze, lines, mass, salinity

_SECONDS_A_READING = 30  # from one vessel to the next
_READER_SD = 0.25  # lines, between two looks of one reader at the same water
_READER_BIAS = (0.0, -0.2, 0.2)  # lines, by reader


@dataclass(frozen=True)
class Event:
    """Something that befalls one vessel.

    Parameters
    ----------
    kind : {"recloud", "lost", "loose lid", "not read"}
        Haze returns; the vessel drops out; the lid lets water go; the last reader skips it.
    mix, block : str, int
        Which vessel.
    from_h, to_h : float
        When, in hours since the vessel's start.
    """

    kind: str
    mix: str
    block: int
    from_h: float = 0.0
    to_h: float = inf


@dataclass(frozen=True)
class TrialSpec:
    """A trial to be simulated.

    Parameters
    ----------
    planned : PlannedTrial
        The plan. Its instruments decide which quantities beside clarity are read.
    waters : dict of str to Water
        How each mix behaves.
    seed : int
        Seed of the readings, apart from that of the layout.
    events : tuple of Event
        What goes wrong.
    salinity_h : tuple of float
        Scheduled times at which salinity and temperature are read.
    time_as : {"time", "elapsed_min", "elapsed_h"}
        The time column of readings.csv.
    """

    planned: PlannedTrial
    waters: dict[str, Water]
    seed: int
    events: tuple[Event, ...] = ()
    salinity_h: tuple[float, ...] = ()
    time_as: str = "elapsed_min"


def simulate_trial(spec, folder):
    """The path of a whole trial folder: the plan's files and readings.csv.

    Parameters
    ----------
    spec : TrialSpec
        What to simulate.
    folder : path-like
        Where; made when missing.

    Returns
    -------
    pathlib.Path
        The folder.
    """
    folder = write_planned(spec.planned, folder)
    write_csv(simulate_readings(spec), folder / "readings.csv")
    return Path(folder)


def fill_planned(folder, waters, *, seed, events=()):
    """The path of a planned folder after its trial was simulated: doses and readings filled in.

    Parameters
    ----------
    folder : path-like
        From `plan_trial`, with key.csv put back.
    waters : dict of str to Water
        How each mix behaves, by code.
    seed : int
        Seed of doses and readings.
    events : tuple of Event
        What goes wrong.

    Returns
    -------
    pathlib.Path
        The folder; vessels.csv and readings.csv are rewritten, nothing else.

    Raises
    ------
    ValueError
        No key, or a mix whose behaviour is not given.
    """
    folder, planned = Path(folder), read_planned(folder)
    unknown = sorted(set(planned.mixes["mix"]) - set(waters))
    if unknown or planned.key.empty:
        raise ValueError(
            "key.csv is not there." if not unknown else f"waters must hold {', '.join(unknown)}."
        )
    planned = replace(planned, vessels=_dosed(planned, waters, np.random.default_rng([seed, 1])))
    spec = TrialSpec(planned, waters, seed, tuple(events), time_as="elapsed_h")
    write_csv(planned.vessels, folder / "vessels.csv")
    write_csv(simulate_readings(spec), folder / "readings.csv")
    return folder


def _dosed(planned, waters, rng):
    """Vessels with the salt that it took to the target."""
    mixes = planned.vessels.merge(planned.key, on="vessel", how="left")["mix"].fillna("")
    target = planned.settings["target_salinity"]
    doses = [
        drawn_dose(waters[mix], volume, target, rng) if mix else 0.0
        for mix, volume in zip(mixes, planned.vessels["volume_l"], strict=True)
    ]
    return planned.vessels.assign(dose_g=doses)


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
