"""The salinity and the mass of the water in each vessel at each session."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pandas as pd

from trialkit.records.salinity import (
    conductivity_from_salinity,
    salinity_from_conductivity,
    salinity_from_specific_gravity,
    specific_gravity_from_salinity,
)
from trialkit.records.trial import Protocol, Trial

__all__ = ["mass_lost", "reading_step", "salinity_samples", "usable"]

KEYS = ["vessel", "mix", "block", "role", "phase", "session"]
SAMPLE_COLUMNS = [*KEYS, "position", "elapsed_h", "value", "resolution"]
MASS_COLUMNS = [*KEYS, "elapsed_h", "mass", "initial", "share_lost"]
#: Units in grams; a level stands for a mass in a vessel with straight walls.
GRAMS = {"kg": 1000.0, "g": 1.0}


def usable(trial: Trial, quantity: str) -> pd.DataFrame:
    """The readings of one quantity that hold a number, trial vessels and references."""
    readings = trial.readings
    return readings[(readings["quantity"] == quantity) & readings["value"].notna()]


def reading_step(trial: Trial, quantity: str, unit: str) -> float:
    """The smallest step in which a quantity was read, in the unit; 0 for one value only.

    What an instrument declares; else the smallest difference between two readings: whole lines
    by eye differ by 1.

    Examples
    --------
    >>> import trialkit as tk
    >>> trial = tk.read_trial("data/demo/harbour")
    >>> reading_step(trial, "haze", "NTU"), reading_step(trial, "clarity", "lines")
    (0.01, 1.0)
    """
    for instrument in trial.protocol.instruments.values():
        if (instrument.quantity, instrument.unit) == (quantity, unit) and instrument.resolution:
            return float(instrument.resolution)
    rows = usable(trial, quantity)
    values = np.unique(rows.loc[rows["unit"] == unit, "value"].to_numpy(float).round(9))
    return float(np.diff(values).min().round(9)) if values.size > 1 else 0.0


def salinity_samples(trial: Trial) -> pd.DataFrame:
    """Practical salinity by vessel, session and position; repeats and raters averaged.

    Specific gravity is converted by its instrument's pair of temperatures, conductivity by the
    temperature read in the same vessel and session. A conductivity without a temperature can't
    be converted and is left out.

    Parameters
    ----------
    trial : Trial
        What `read_trial` returned.

    Returns
    -------
    DataFrame
        vessel, mix, block, role, phase, session, position, elapsed_h, value (practical
        salinity), resolution (of the instrument in practical salinity, 0 when not declared).

    Examples
    --------
    >>> import trialkit as tk
    >>> sorted(salinity_samples(tk.read_trial("data/demo/harbour")).position.unique())
    ['bottom', 'middle', 'top']
    """
    rows = usable(trial, "salinity")
    rows = rows[rows["limit"] == ""].merge(_temperatures(trial), how="left", on=KEYS)
    if rows.empty:
        return pd.DataFrame(columns=SAMPLE_COLUMNS)
    found = [_convert(row, trial.protocol) for row in rows.itertuples(index=False)]
    rows = rows.assign(value=[f[0] for f in found], resolution=[f[1] for f in found])
    rows = rows[rows["value"].notna()]
    grouped = rows.groupby([*KEYS, "position"], as_index=False)
    return grouped.agg(
        elapsed_h=("elapsed_h", "max"), value=("value", "mean"), resolution=("resolution", "max")
    )[SAMPLE_COLUMNS]


def _temperatures(trial: Trial) -> pd.DataFrame:
    rows = usable(trial, "temperature")
    celsius = np.where(rows["unit"] == "F", (rows["value"] - 32) / 1.8, rows["value"])
    rows = rows.assign(celsius=celsius)
    return rows.groupby(KEYS, as_index=False)["celsius"].mean()


def _convert(row, protocol: Protocol) -> tuple[float, float]:
    """Practical salinity of a reading, and the instrument's step at that salinity."""
    tool = protocol.instruments.get(row.instrument)
    # What `read_trial` gives is converted already; the step is declared in what the tool shows.
    shows = row.unit if tool is None else tool.unit
    salinity_of, shown_of = _scale(shows, row.celsius, tool.reference_pair if tool else "")
    if row.unit in ("SG", "mS/cm"):
        shown, value = row.value, salinity_of(row.value)
    else:
        shown, value = shown_of(row.value), row.value
    step = (tool.resolution or 0.0) if tool else 0.0
    return value, abs(salinity_of(shown + step) - value) if step else 0.0


def _scale(unit: str, celsius: float, pair: str) -> tuple[Callable, Callable]:
    """How practical salinity follows from what an instrument shows, and the other way."""
    if unit == "mS/cm":
        return (
            lambda shown: salinity_from_conductivity(shown, celsius),
            lambda salinity: conductivity_from_salinity(salinity, celsius),
        )
    if unit == "SG":
        scale = {"pair": pair, "sample_c": None if np.isnan(celsius) else celsius}
        return (
            lambda shown: salinity_from_specific_gravity(shown, **scale),
            lambda salinity: specific_gravity_from_salinity(salinity, **scale),
        )
    return float, float


def mass_lost(trial: Trial) -> pd.DataFrame:
    """The share of its first mass that each vessel had lost by each session.

    From the quantity "mass" (kg or g), or, where a vessel was not weighed, "level" (height of
    the water in a vessel with straight walls). The first reading of a vessel is its initial one.

    Parameters
    ----------
    trial : Trial
        What `read_trial` returned.

    Returns
    -------
    DataFrame
        vessel, mix, block, role, phase, session, elapsed_h, mass and initial (kg, or the
        level's unit), share_lost (0 to 1, negative when water was added). No row without such
        readings.

    Examples
    --------
    >>> import trialkit as tk
    >>> lost = mass_lost(tk.read_trial("data/demo/harbour"))
    >>> bool((lost["share_lost"] < 0.2).all())
    True
    """
    mass = usable(trial, "mass")
    mass = mass.assign(value=mass["value"] * mass["unit"].map(GRAMS).fillna(np.nan) / 1000)
    level = usable(trial, "level")
    level = level[~level["vessel"].isin(mass["vessel"])]
    rows = pd.concat([mass, level])
    rows = rows[rows["value"].notna() & (rows["limit"] == "")]
    if rows.empty:
        return pd.DataFrame(columns=MASS_COLUMNS)
    grouped = rows.groupby(KEYS, as_index=False)
    frame = grouped.agg(elapsed_h=("elapsed_h", "max"), mass=("value", "mean"))
    frame = frame.sort_values(["vessel", "elapsed_h"], ignore_index=True)
    frame["initial"] = frame.groupby("vessel")["mass"].transform("first")
    frame["share_lost"] = 1 - frame["mass"] / frame["initial"]
    return frame[MASS_COLUMNS]
