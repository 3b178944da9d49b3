"""Values that look made by a spreadsheet or by a slip rather than read from water."""

import numpy as np
import pandas as pd

from .problems import Problem
from .trial import Protocol

_FEWEST = 8
_LONG_RUN = 5
# A run of equal cells is odd when chance would make it this rarely.
_ODD = 1e-6
# A file keeps a habit (whole numbers, naming the instrument) when so many readings do.
_HABIT = 0.95


def pattern_problems(file: str, frame: pd.DataFrame, protocol: Protocol) -> list[Problem]:
    """Warnings about filled series, copied cells, sorted columns, odd digits and rare values.

    Parameters
    ----------
    file : str
        Name for messages.
    frame : DataFrame
        Tidy readings.
    protocol : Protocol
        For the instruments' resolutions.

    Returns
    -------
    list of Problem
    """
    read = frame[frame["value"].notna()].sort_values("row")
    found: list[Problem] = []
    for (quantity, unit), group in read.groupby(["quantity", "unit"], sort=True):
        found += _all_equal(file, quantity, group)
        found += _filled_series(file, quantity, group)
        found += _copied_cells(file, quantity, group)
        found += _sorted_column(file, quantity, group)
        found += _odd_digits(file, quantity, group, protocol)
        found += _rare_values(file, quantity, unit, group, protocol)
        found += _odd_instrument(file, quantity, group)
    found += _mixed_units(file, read) + _copied_rounds(file, read)
    return found


def _cause(file: str, value: str, message: str, fix: str) -> Problem:
    """A warning about a whole column."""
    return Problem(file, None, "value", value, "warn", message, fix, 0)


def _at(file: str, row: int, column: str, value: object, message: str, fix: str) -> Problem:
    """A warning about one cell."""
    shown = f"{value:.6g}" if isinstance(value, float) else str(value)
    return Problem(file, int(row), column, shown, "warn", message, fix)


def _all_equal(file: str, quantity: str, group: pd.DataFrame) -> list[Problem]:
    """One value in every cell: filled down, or an instrument that was stuck."""
    several = len(group) >= _FEWEST and len(set(group["vessel"])) > 1
    if not several or group["value"].min() < group["value"].max():
        return []
    message = "all readings of a quantity are equal"
    return [_cause(file, quantity, message, "See whether one cell was filled down.")]


def _runs(flags: np.ndarray) -> list[tuple[int, int]]:
    """Start and end (excluded) of each run of True."""
    edges = np.flatnonzero(np.diff(np.concatenate(([0], flags.astype(int), [0]))))
    return list(zip(edges[::2], edges[1::2], strict=True))


def _filled_series(file: str, quantity: str, group: pd.DataFrame) -> list[Problem]:
    """Rows that go up or down by one fixed step, as a dragged corner makes them."""
    values = group["value"].to_numpy()
    steps = np.round(np.diff(values), 9)
    same = np.concatenate(([False], (steps[1:] == steps[:-1]) & (steps[1:] != 0)))
    found = []
    for start, end in _runs(same):
        if end - start + 2 > _LONG_RUN:
            row, value = group["row"].iloc[start - 1], float(values[start - 1])
            message = f"{quantity} goes on in equal steps over several rows; was a cell dragged"
            fix = f"Compare this and the {end - start + 1} rows that follow with the sheet."
            found.append(_at(file, row, "value", value, message, fix))
    return found


def _copied_cells(file: str, quantity: str, group: pd.DataFrame) -> list[Problem]:
    """Runs of one value that chance would hardly make, given how common the value is."""
    values = group["value"].to_numpy()
    if len(np.unique(values)) < 3:
        return []
    keys = ["role", "phase", "session"]
    common = group.groupby([*keys, "value"])["row"].transform("size")
    share = (common / group.groupby(keys)["row"].transform("size")).to_numpy()
    # Values that many vessels share at that time (a ceiling, clear water) may well repeat.
    overall = group.groupby("value")["row"].transform("size").to_numpy() / len(group)
    chance = np.maximum(np.maximum(share, overall), 0.02)
    same = np.concatenate(([False], values[1:] == values[:-1]))
    found = []
    for start, end in _runs(same):
        if end - start + 1 >= _LONG_RUN and np.prod(chance[start:end]) < _ODD:
            row, value = group["row"].iloc[start - 1], float(values[start - 1])
            message = f"{quantity} stays the same over several rows; was a cell filled down"
            fix = f"Compare this and the {end - start} rows that follow with the sheet."
            found.append(_at(file, row, "value", value, message, fix))
    return found


def _sorted_column(file: str, quantity: str, group: pd.DataFrame) -> list[Problem]:
    """A column that was sorted without its neighbours."""
    steps = np.diff(group["value"].to_numpy())
    if len(steps) < 20 or group["value"].nunique() < 5 or group["vessel"].nunique() < 3:
        return []
    if (steps < 0).any() and (steps > 0).any():
        return []
    message = "the values of a quantity are in order of size down the whole file"
    fix = "See whether the column value was sorted alone."
    return [_cause(file, quantity, message, fix)]


def _odd_digits(file: str, quantity: str, group: pd.DataFrame, protocol: Protocol) -> list[Problem]:
    """Values finer than their instrument shows, or than all others are written."""
    steps = group["instrument"].map(
        {tool.name: tool.resolution for tool in protocol.instruments.values()}
    )
    steps = pd.to_numeric(steps).to_numpy(float)
    values = group["value"].to_numpy()
    whole = np.abs(values - np.round(values)) < 1e-9
    habit = len(values) >= 20 and not whole.all() and whole.mean() >= _HABIT
    steps = np.where(np.isnan(steps) & habit, 1.0, steps)
    ratio = values / steps
    off = ~np.isnan(steps) & (np.abs(ratio - np.round(ratio)) > 1e-6 * np.maximum(1, np.abs(ratio)))
    message = f"this {quantity} has more digits than its instrument shows or than the others have"
    fix = "Compare with the sheet; correct resolution in trial.toml if that is wrong."
    return [
        _at(file, row, "value", float(value), message, fix)
        for row, value in zip(group["row"][off], values[off], strict=True)
    ]


def _rare_values(
    file: str, quantity: str, unit: str, group: pd.DataFrame, protocol: Protocol
) -> list[Problem]:
    """Values outside the usual range of salt water, where most of the file lies inside."""
    entry = protocol.quantities[quantity].range_of(unit)
    water = group[group["role"] == "trial"]
    low = -np.inf if entry.usual_low is None else entry.usual_low
    high = np.inf if entry.usual_high is None else entry.usual_high
    outside = ~water["value"].between(low, high)
    early = (water["phase"] == "mixing") & (water["value"] < low)
    rare = water[outside & ~early]
    message = f"this {quantity} is possible but unusual"
    fix = f"Usual is {low:g} to {high:g} {unit} (common practice)."
    return [
        _at(file, row, "value", float(value), message, fix)
        for row, value in zip(rare["row"], rare["value"], strict=True)
    ]


def _odd_instrument(file: str, quantity: str, group: pd.DataFrame) -> list[Problem]:
    """A few readings by another instrument, or by none, than all others of their round."""
    keys = ["rater", "phase", "session"]
    size = group.groupby(keys)["row"].transform("size")
    own = group.groupby([*keys, "instrument"])["row"].transform("size")
    odd = (own < 0.2 * size) & (size >= 3)
    named = (group["instrument"] != "").mean()
    odd |= (group["instrument"] == "") & (named >= 0.5)
    message = f"the instrument differs from that of the other {quantity} readings"
    fix = "Correct the instrument, or nothing if it is right."
    chosen = group[odd]
    return [
        _at(file, row, "instrument", tool, message, fix)
        for row, tool in zip(chosen["row"], chosen["instrument"], strict=True)
    ]


def _mixed_units(file: str, read: pd.DataFrame) -> list[Problem]:
    """Readings in another unit than most of their quantity, without an instrument to say why."""
    found = []
    for quantity, group in read.groupby("quantity", sort=True):
        if group["unit"].nunique() < 2:
            continue
        usual = group["unit"].mode().iloc[0]
        odd = group[group["unit"] != usual]
        message = f"{quantity} is written in more than one unit"
        fix = f"Most are in {usual}; correct the unit, or nothing if it is right."
        found += [
            _at(file, row, "unit", unit, message, fix)
            for row, unit in zip(odd["row"], odd["unit"], strict=True)
        ]
    return found


def _copied_rounds(file: str, read: pd.DataFrame) -> list[Problem]:
    """Two rounds with the very same values in every vessel, where values hardly ever repeat."""
    found = []
    keys = ["quantity", "unit", "rater", "position", "repeat", "phase"]
    for (quantity, *_), group in read.groupby(keys, sort=True):
        rounds = group.pivot_table(
            index="vessel", columns="session", values="value", aggfunc="first"
        )
        for earlier, later in zip(rounds.columns[:-1], rounds.columns[1:], strict=True):
            pair = rounds[[earlier, later]].dropna()
            varied = pair[later].nunique() >= max(4, 0.6 * len(pair))
            if varied and (pair[earlier] == pair[later]).all():
                rows = group.loc[group["session"] == later, "row"]
                message = f"a round of {quantity} repeats the round before in every vessel"
                fix = "See whether the round was copied; this is its first row."
                found.append(_at(file, rows.min(), "value", "", message, fix))
    return found
