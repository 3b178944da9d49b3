"""Readings in one unit a quantity, converted where the conversion is sure."""

import math
from collections.abc import Callable

import numpy as np
import pandas as pd

from .problems import Fault, Problem, file_problem
from .reading_cells import Setting
from .rows import Rows

_PAIR_FIX = (
    'Give its instrument in trial.toml reference_pair = "25/25", or what is printed on it, '
    "and name the instrument in the row."
)

_CONVERTED = {
    ("temperature", "F"),
    ("residue", "g"),
    ("salinity", "SG"),
    ("salinity", "mS/cm"),
}


def convert_units(file: str, rows: Rows, setting: Setting, found: list[Problem]) -> Rows:
    """The readings with salinity as practical salinity, temperature in C and residue in mg.

    ppt stays as written: hand instruments say it for scales of several kinds, and reference
    salinity in g/kg would be nominal for a synthetic mix.

    Parameters
    ----------
    file : str
        Name for messages.
    rows : Rows
        Tidy readings.
    setting : Setting
        Its protocol holds the instruments with their reference pairs.
    found : list of Problem
        Refusals and notes are added to it.
    """
    if set(zip(rows["quantity"], rows["unit"], strict=True)) <= plain_units(setting):
        return rows
    return Rows.of(_converted_frame(file, rows.frame(), setting, found))


def _converted_frame(
    file: str, frame: pd.DataFrame, setting: Setting, found: list[Problem]
) -> pd.DataFrame:
    """The readings, of which some stand in another unit."""
    found += _criterion_units(file, frame, setting)
    frame = _scaled(file, frame, found, ("temperature", "F", "C"), lambda f: (f - 32) / 1.8)
    frame = _scaled(file, frame, found, ("residue", "g", "mg"), lambda grams: grams * 1000)
    salty = frame["quantity"] == "salinity"
    if not (salty & frame["unit"].isin(("SG", "mS/cm"))).any():
        return frame
    warm = frame[(frame["quantity"] == "temperature") & (frame["unit"] == "C")]
    keys = ["vessel", "phase", "session"]
    warmth = warm.groupby(keys)["value"].mean().rename("sample_c")
    sample = frame[keys].join(warmth, on=keys)["sample_c"]
    frame = _from_conductivity(file, frame, sample, found)
    return _from_gravity(file, frame, sample, setting, found)


def plain_units(setting: Setting) -> set[tuple[str, str]]:
    """Quantities with a unit that needs neither conversion nor a second look."""
    protocol = setting.protocol
    ruled = {rule.quantity for rule in protocol.criteria.values()}
    plain = {(rule.quantity, rule.unit) for rule in protocol.criteria.values()}
    for name, kind in protocol.quantities.items():
        plain |= {(name, unit) for unit in kind.units if name not in ruled}
    return plain - _CONVERTED


def _criterion_units(file: str, frame: pd.DataFrame, setting: Setting) -> list[Problem]:
    """Readings of a criterion's quantity in a unit that the criterion cannot use."""
    protocol = setting.protocol
    found = []
    for rule in protocol.criteria.values():
        units = {r.unit for r in protocol.criteria.values() if r.quantity == rule.quantity}
        tools = {t.unit for t in protocol.instruments.values() if t.quantity == rule.quantity}
        if rule.quantity in ("salinity", "temperature", "residue"):
            continue
        wrong = frame[(frame["quantity"] == rule.quantity) & ~frame["unit"].isin(units | tools)]
        message = f"criterion {rule.name} is declared in {rule.unit}"
        fix = "Correct the unit, or declare an instrument that reads in it."
        found += [
            Problem(file, int(row), "unit", unit, "refuse", message, fix, 0)
            for row, unit in zip(wrong["row"], wrong["unit"], strict=True)
        ]
    return list(dict.fromkeys(found))


def _scaled(
    file: str, frame: pd.DataFrame, found: list[Problem], change: tuple[str, str, str], convert
) -> pd.DataFrame:
    """One quantity's readings converted from one unit to another by arithmetic."""
    quantity, old, new = change
    chosen = (frame["quantity"] == quantity) & (frame["unit"] == old)
    if not chosen.any():
        return frame
    found.append(_converted(file, int(chosen.sum()), quantity, old, new))
    return frame.assign(
        value=frame["value"].where(~chosen, convert(frame["value"]).round(6)),
        unit=frame["unit"].where(~chosen, new),
    )


def _converted(file: str, count: int, quantity: str, old: str, new: str) -> Problem:
    """A note that readings were converted."""
    message = f"{count} readings of {quantity} were converted from {old} to {new}"
    return file_problem(file, message, "Nothing to do.", level="note")


def _refuse(file: str, frame: pd.DataFrame, fault: Fault, found: list[Problem]) -> None:
    """Refuse rows whose salinity cannot be converted."""
    for row, unit in zip(frame["row"], frame["unit"], strict=True):
        found.append(Problem(file, int(row), "unit", unit, "refuse", fault.message, fault.fix))


def _from_conductivity(
    file: str, frame: pd.DataFrame, sample: pd.Series, found: list[Problem]
) -> pd.DataFrame:
    """Practical salinity from conductivity, given the vessel's temperature in that session."""
    chosen = (frame["quantity"] == "salinity") & (frame["unit"] == "mS/cm")
    cold = chosen & sample.isna() & frame["value"].notna()
    fault = Fault(
        "conductivity tells salinity only together with the temperature",
        "Add the vessel's temperature in this session.",
    )
    _refuse(file, frame[cold], fault, found)

    def convert(rows: pd.DataFrame) -> list[float | Fault]:
        return _conductivities(rows["value"].to_numpy(), sample[rows.index].to_numpy())

    return _as_practical(file, frame[~cold], "mS/cm", convert, found)


def _from_gravity(
    file: str,
    frame: pd.DataFrame,
    sample: pd.Series,
    setting: Setting,
    found: list[Problem],
) -> pd.DataFrame:
    """Practical salinity from specific gravity, given the pair of its hydrometer."""
    chosen = (frame["quantity"] == "salinity") & (frame["unit"] == "SG")
    tools = {t.name: t.reference_pair for t in setting.protocol.instruments.values()}
    pairs = frame["instrument"].map(tools).fillna("")
    blind = chosen & (pairs == "") & frame["value"].notna()
    fault = Fault("a specific gravity means nothing without its pair of temperatures", _PAIR_FIX)
    _refuse(file, frame[blind], fault, found)

    def convert(rows: pd.DataFrame) -> list[float | Fault]:
        parts = (rows["value"], pairs[rows.index], sample[rows.index])
        return [_gravity(*one) for one in zip(*parts, strict=True)]

    if (chosen & ~blind & sample.reindex(frame.index).isna()).any():
        message = "specific gravity was converted at its scale's own temperature"
        fix = "Add the vessel's temperature in these sessions if the sample was warmer or colder."
        found.append(file_problem(file, message, fix, level="warn"))
    return _as_practical(file, frame[~blind], "SG", convert, found)


def _as_practical(
    file: str,
    frame: pd.DataFrame,
    unit: str,
    convert: Callable[[pd.DataFrame], list[float | Fault]],
    found: list[Problem],
) -> pd.DataFrame:
    """The readings with salinity of one unit converted; what can't be is refused, left out.

    A number in its old unit among converted ones would only bring on warnings of its own.
    """
    chosen = (frame["quantity"] == "salinity") & (frame["unit"] == unit)
    read = frame[chosen & frame["value"].notna()]
    values, refused = frame["value"].copy(), []
    outcomes = convert(read)
    for place, outcome in enumerate(outcomes):
        if isinstance(outcome, Fault):
            row, shown = int(read["row"].iloc[place]), f"{read['value'].iloc[place]:g}"
            found.append(Problem(file, row, "value", shown, "refuse", outcome.message, outcome.fix))
            outcomes[place] = math.nan
            refused.append(read.index[place])
    values[read.index] = outcomes
    count = int(chosen.sum()) - len(refused)
    if count:
        found.append(_converted(file, count, "salinity", unit, "PSU"))
    frame = frame.assign(value=values, unit=frame["unit"].where(~chosen, "PSU"))
    return frame.drop(index=refused)


def _conductivities(values: np.ndarray, sample: np.ndarray) -> list[float | Fault]:
    """Conductivities as practical salinity, all at once where none is out of the question."""
    from .salinity import salinity_from_conductivity  # gsw is slow to import and rarely needed

    try:
        return np.round(salinity_from_conductivity(values, sample), 4).tolist()
    except ValueError:
        if len(values) > 1:
            pairs = zip(values, sample, strict=True)
            return [_conductivities(np.array([v]), np.array([t]))[0] for v, t in pairs]
    message = "no salt water conducts so much at the temperature that was read with it"
    return [Fault(message, "Correct the number or the temperature.")]


def _gravity(value: float, pair: str, sample: float) -> float | Fault:
    """One specific gravity as practical salinity."""
    from .salinity import salinity_from_specific_gravity  # as above

    try:
        sample_c = None if pd.isna(sample) else sample
        return round(salinity_from_specific_gravity(value, pair=pair, sample_c=sample_c), 4)
    except ValueError:
        return Fault("no salt water has this specific gravity", "Correct the number or the pair.")
