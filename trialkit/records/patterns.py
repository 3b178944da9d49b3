"""Values that look made by a spreadsheet or by a slip rather than read from water."""

from collections import Counter

import numpy as np

from .copies import copy_problems
from .limits import limit_problems
from .problems import Problem, row_warning
from .rounding import rounding_problems
from .rows import Rows, group_sizes, runs_of
from .trial import Protocol

_FEWEST = 8
_LONG_RUN = 5
# So few readings of a round, against the others, are the odd ones.
_FEW = 0.25
# A file keeps a habit (whole numbers, naming the instrument) when so many readings do.
_HABIT = 0.95


def pattern_problems(file: str, rows: Rows, protocol: Protocol) -> list[Problem]:
    """Warnings about filled series, copied cells, sorted columns, odd digits and rare values.

    Parameters
    ----------
    file : str
        Name for messages.
    rows : Rows
        Readings with a value, in the order of the file.
    protocol : Protocol
        For the instruments' resolutions.
    """
    found: list[Problem] = []
    for group in rows.split("quantity", "unit"):
        quantity = group["quantity"][0]
        found += _all_equal(file, quantity, group) or (
            _filled_series(file, quantity, group)
            + copy_problems(file, group)
            + _sorted_column(file, quantity, group)
        )
        found += _odd_digits(file, quantity, group, protocol)
        found += rounding_problems(file, group, protocol)
        found += _rare_values(file, quantity, group, protocol)
        found += _odd_instrument(file, quantity, group)
        found += limit_problems(file, group, protocol)
    found += _mixed_positions(file, rows)
    return found + _mixed_units(file, rows)


def _cause(file: str, value: str, message: str, fix: str) -> Problem:
    """A warning about a whole column."""
    return Problem(file, None, "value", value, "warn", message, fix, 0)


def _all_equal(file: str, quantity: str, group: Rows) -> list[Problem]:
    """One value in every cell: filled down, or an instrument that was stuck."""
    values = group["value"]
    if len(values) < _FEWEST or values.min() < values.max() or len(set(group["vessel"])) < 2:
        return []
    message = "all readings of a quantity are equal"
    return [_cause(file, quantity, message, "See whether one cell was filled down.")]


def _filled_series(file: str, quantity: str, group: Rows) -> list[Problem]:
    """Rows that go up or down by one fixed step, as a dragged corner makes them."""
    values = group["value"]
    steps = np.round(np.diff(values), 9)
    same = np.concatenate(([False], (steps[1:] == steps[:-1]) & (steps[1:] != 0)))
    found = []
    for start, end in runs_of(same):
        if end - start + 2 > _LONG_RUN:
            row, value = group["row"][start - 1], float(values[start - 1])
            message = f"{quantity} goes on in equal steps over several rows; was a cell dragged"
            fix = f"Compare this and the {end - start + 1} rows that follow with the sheet."
            found.append(row_warning(file, row, "value", value, message, fix))
    return found


def _sorted_column(file: str, quantity: str, group: Rows) -> list[Problem]:
    """A column that was sorted without its neighbours."""
    steps = np.diff(group["value"])
    one_way = not ((steps < 0).any() and (steps > 0).any())
    if len(steps) < 20 or not one_way or len(np.unique(group["value"])) < 5:
        return []
    message = "the values of a quantity are in order of size down the whole file"
    fix = "See whether the column value was sorted alone."
    return [_cause(file, quantity, message, fix)]


def _odd_digits(file: str, quantity: str, group: Rows, protocol: Protocol) -> list[Problem]:
    """Values finer than their instrument shows, or than all others are written."""
    values = group["value"]
    # Where a hydrometer's reading was converted, its step is that of another unit.
    tools = [t for t in protocol.instruments.values() if t.unit == group["unit"][0]]
    known = {tool.name: tool.resolution for tool in tools}
    steps = np.array([known.get(tool) or np.nan for tool in group["instrument"]], float)
    whole = np.abs(values - np.round(values)) < 1e-9
    if len(values) >= 20 and whole.mean() >= _HABIT:
        steps = np.where(np.isnan(steps), 1.0, steps)
    ratio = values / steps
    off = np.abs(ratio - np.round(ratio)) > 1e-6 * np.maximum(1, np.abs(ratio))
    message = f"this {quantity} has more digits than its instrument shows or than the others have"
    fix = "Compare with the sheet; correct resolution in trial.toml if that is wrong."
    return [
        row_warning(file, row, "value", float(value), message, fix)
        for row, value in zip(group["row"][off], values[off], strict=True)
    ]


def _rare_values(file: str, quantity: str, group: Rows, protocol: Protocol) -> list[Problem]:
    """Values outside the usual range of salt water, once the salt should be in solution."""
    unit = group["unit"][0]
    entry = protocol.quantities[quantity].range_of(unit)
    low = -np.inf if entry.usual_low is None else entry.usual_low
    high = np.inf if entry.usual_high is None else entry.usual_high
    values, mixing = group["value"], group["phase"] == "mixing"
    rare = (group["role"] == "trial") & ((values > high) | ((values < low) & ~mixing))
    message = f"this {quantity} is possible but unusual"
    fix = f"Usual is {low:g} to {high:g} {unit} (common practice)."
    return [
        row_warning(file, row, "value", float(value), message, fix)
        for row, value in zip(group["row"][rare], values[rare], strict=True)
    ]


def _odd_instrument(file: str, quantity: str, group: Rows) -> list[Problem]:
    """A few readings by another instrument, or by none, than all others of their round."""
    keys = ("rater", "phase", "session")
    size = group_sizes(group.ids(*keys))
    own = group_sizes(group.ids(*keys, "instrument"))
    unnamed = group["instrument"] == ""
    odd = ((own < 0.2 * size) & (size >= 3)) | (unnamed & (unnamed.mean() <= 0.5))
    message = f"the instrument differs from that of the other {quantity} readings"
    fix = "Correct the instrument, or nothing if it is right."
    return [
        row_warning(file, row, "instrument", tool, message, fix)
        for row, tool in zip(group["row"][odd], group["instrument"][odd], strict=True)
    ]


def _mixed_positions(file: str, rows: Rows) -> list[Problem]:
    """Readings without a position among others of their round that have one, or the few with."""
    found = []
    for group in rows.split("quantity", "phase", "session"):
        bare = group["position"] == ""
        if bare.all() or not bare.any():
            continue
        quantity = group["quantity"][0]
        odd = bare
        message = f"this {quantity} has no position while others of its round have one"
        fix = "Fill in top, middle or bottom."
        if (~bare).sum() <= _FEW * bare.sum():
            odd = ~bare
            message = f"this {quantity} has a position while others of its round have none"
            fix = "Empty the cell, or nothing if the sample was taken there."
        found += [
            row_warning(file, row, "position", position, message, fix)
            for row, position in zip(group["row"][odd], group["position"][odd], strict=True)
        ]
    return found


def _mixed_units(file: str, rows: Rows) -> list[Problem]:
    """Readings in another unit than most of their quantity."""
    found = []
    for group in rows.split("quantity"):
        counts = Counter(group["unit"])
        if len(counts) < 2:
            continue
        usual = counts.most_common(1)[0][0]
        odd = group["unit"] != usual
        message = f"{group['quantity'][0]} is written in more than one unit"
        fix = f"Most are in {usual}; correct the unit, or nothing if it is right."
        found += [
            row_warning(file, row, "unit", unit, message, fix)
            for row, unit in zip(group["row"][odd], group["unit"][odd], strict=True)
        ]
    return found
