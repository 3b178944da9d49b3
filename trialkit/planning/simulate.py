"""A trial that never took place: the folder of a planned one, filled with readings."""

from dataclasses import dataclass, replace
from math import inf
from pathlib import Path

import numpy as np

from ._draws import drawn_dose
from .folder import PlannedTrial, read_planned, write_csv, write_planned
from .simulated_readings import simulate_readings
from .water import Water


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
