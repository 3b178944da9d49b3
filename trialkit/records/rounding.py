"""Numbers that a cell's format, another export or a limit made coarser than they were read."""

import numpy as np

from .problems import Problem, row_warning
from .rows import Rows, runs_of
from .trial import Protocol

_FEWEST = 8
# Rows in a run that lost a digit, and how rarely chance may make one.
_ROUNDED = 8
_CHANCE = 1e-6
# How rarely all readings of an instrument end in zeros by chance.
_ZEROS = 1e-4
# More readings than this share between the lines are no slip of single cells.
_SLIPS = 0.05
# So many readings at the very end of all, so many times as many as at any value next to it.
_PILED, _TIMES = 6, 5
_NEXT = 0.2
_COUNTED = ("lines", "score")


def rounding_problems(file: str, group: Rows, protocol: Protocol) -> list[Problem]:
    """Warnings about readings of one quantity that were rounded or cut off.

    Parameters
    ----------
    file : str
        Name for messages.
    group : Rows
        Readings of one quantity in one unit with a value, in the order of the file.
    protocol : Protocol
        For the instruments' resolutions.
    """
    found = _coarse(file, group, protocol) + _between_lines(file, group) + _piled(file, group)
    by_vessel = group.take(np.lexsort((group["row"], group["elapsed_h"], group.codes("vessel"))))
    # A run down the file, or else one in the readings of a vessel.
    return found + (_rounded_run(file, group) or _rounded_run(file, by_vessel))


def _cause(file: str, value: str, message: str, fix: str) -> Problem:
    """A warning about a whole column."""
    return Problem(file, None, "value", value, "warn", message, fix, 0)


def _coarse(file: str, group: Rows, protocol: Protocol) -> list[Problem]:
    """Instruments all of whose readings were rounded to ten of their steps or more."""
    found = []
    for tool in protocol.instruments.values():
        own = group["value"][group["instrument"] == tool.name]
        values = np.unique(own[own != 0])
        if not tool.resolution or len(own) < _FEWEST or not len(values):
            continue
        places = next(
            (p for p in (4, 3, 2, 1) if not _off(values, 10.0**-p / tool.resolution).any()), 0
        )
        if places and 10.0 ** (-places * len(values)) <= _ZEROS:
            message = f"all {tool.quantity} readings are rounded more than their instrument rounds"
            fix = f"Write what {tool.name} shows, or correct its resolution in trial.toml."
            found.append(_cause(file, tool.name, message, fix))
    return found


def _between_lines(file: str, group: Rows) -> list[Problem]:
    """Counts of lines that are no counts: a share, a logarithm, another unit."""
    off = _off(group["value"], 2)
    if group["unit"][0] != "lines" or off.mean() <= _SLIPS:
        return []
    message = "lines are counted, but many readings are neither whole nor half numbers"
    fix = "See whether the column was converted; write the lines that were counted."
    return [_cause(file, f"{off.sum()} readings", message, fix)]


def _piled(file: str, group: Rows) -> list[Problem]:
    """Many readings at the very lowest or highest value of all, and few next to it."""
    if group["unit"][0] in _COUNTED:
        return []
    values, counts = np.unique(group["value"][group["limit"] == ""], return_counts=True)
    quantity, found = group["quantity"][0], []
    for side, order in (("lowest", 1), ("highest", -1)) if len(values) > 2 else ():
        end, many = values[::order][0], counts[::order]
        near = np.cumsum(many) - many[0] <= _NEXT * many.sum()
        beside = max(int(many[1]), int(many[1:][near[1:]].max(initial=0)))
        if end != 0 and many[0] >= max(_PILED, _TIMES * beside):
            message = f"many readings of {quantity} are exactly the {side} of all"
            fix = "See whether values were cut off there, or the meter shows no more."
            found.append(_cause(file, f"{end:g} ({many[0]} times)", message, fix))
    return found


def _rounded_run(file: str, group: Rows) -> list[Problem]:
    """A run of rows with a digit less than the others, as a cell's format makes it."""
    values, quantity = group["value"], group["quantity"][0]
    if len(values) < 2 * _ROUNDED:
        return []
    steps = (10.0**d for d in (3, 2, 1))
    fine = next((s for s in steps if _off(values, s / 10).sum() >= _ROUNDED), None)
    if fine is None:
        return []
    coarse = ~_off(values, fine / 10)
    start, end = max(runs_of(coarse), key=lambda run: run[1] - run[0], default=(0, 0))
    run = values[start:end]
    # A meter that changes its range shows large values with fewer digits: like goes with like.
    like = (values >= run.min(initial=np.inf)) & (values <= run.max(initial=-np.inf))
    like[start:end] = False
    if end - start < _ROUNDED or len(np.unique(run)) < 3 or like.sum() < _ROUNDED:
        return []
    if (coarse[like].mean() + 1 / like.sum()) ** (end - start) > _CHANCE:
        return []
    message = f"{quantity} is written with a digit less over several rows; was it rounded"
    fix = f"Compare this and the {end - start - 1} rows that follow with the sheet."
    row, value = group["row"][start], float(values[start])
    return [row_warning(file, row, "value", value, message, fix)]


def _off(values: np.ndarray, per_unit: float) -> np.ndarray:
    """Whether values need a finer step than one in so many of a unit."""
    scaled = values * per_unit
    return np.abs(scaled - np.round(scaled)) > 1e-6 * np.maximum(1, np.abs(scaled))
