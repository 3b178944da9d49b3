"""Limit signs that stand where they do not belong, or are missing where they do."""

import numpy as np

from .problems import Problem, row_warning
from .rows import Rows
from .trial import Protocol

# A file writes limits when so many readings carry one.
_HABIT = 0.95
# A value is usual when so many times as many stand without a sign as with one.
_USUAL = 3
# So many different limits, in such a share of all readings, are no limits of a meter.
_LIMITS, _SIGNED = 4, 0.5
# So many readings of exactly the detection limit are no chance.
_FEW = 2


def limit_problems(file: str, group: Rows, protocol: Protocol) -> list[Problem]:
    """Warnings about limit signs of one quantity in one unit.

    Parameters
    ----------
    file : str
        Name for messages.
    group : Rows
        Readings with a value.
    protocol : Protocol
        Its detection limits say where < belongs.
    """
    quantity = group["quantity"][0]
    return (
        (_many_limits(file, quantity, group) or _odd_limits(file, quantity, group, protocol))
        + (_lost_signs(file, group, protocol) + _undeclared(file, quantity, group, protocol))
        + _below_nothing(file, group)
    )


def _below_nothing(file: str, group: Rows) -> list[Problem]:
    """Residues below zero: a blank may weigh so little, a vessel of salt water does not."""
    if group["quantity"][0] != "residue":
        return []
    below = np.flatnonzero(group["value"] < 0)
    message = "the residue is less than nothing"
    found = []
    for i in below:
        blank = group["role"][i] == "reference"
        level = "warn" if blank else "refuse"
        fix = "Nothing if the blank was weighed so." if blank else "Compare with the sheet."
        row, shown = int(group["row"][i]), f"{group['value'][i]:g}"
        found.append(Problem(file, row, "value", shown, level, message, fix))
    return found


def _undeclared(file: str, quantity: str, group: Rows, protocol: Protocol) -> list[Problem]:
    """A note on limit signs of a quantity for which trial.toml declares no limit."""
    signed = group["limit"] != ""
    if not signed.any() or quantity in protocol.detection_limits:
        return []
    message = "readings carry a limit sign, but trial.toml declares no limit of this quantity"
    fix = "Declare it under [detection_limits], or nothing if the signs are meant."
    shown = f"{quantity}, {int(signed.sum())} of {len(signed)}"
    return [Problem(file, None, "value", shown, "note", message, fix, 0)]


def _many_limits(file: str, quantity: str, group: Rows) -> list[Problem]:
    """Limit signs before numbers that differ from reading to reading: no limit changes so."""
    found = []
    for sign in "<>":
        signed = group["limit"] == sign
        limits = len(np.unique(group["value"][signed]))
        if limits >= _LIMITS and signed.mean() > _SIGNED:
            message = f"most readings of {quantity} are limits, and nearly each another one"
            fix = "See whether the sign was put before all numbers; a meter has one limit or two."
            shown = f"{sign} before {limits} numbers"
            found.append(Problem(file, None, "value", shown, "warn", message, fix, 0))
    return found


def _lost_signs(file: str, group: Rows, protocol: Protocol) -> list[Problem]:
    """Plain readings below the declared detection limit, or several at it where none has <."""
    declared = protocol.detection_limits.get(group["quantity"][0])
    if declared is None or declared.unit != group["unit"][0]:
        return []
    # Blanks are written as they were weighed: a limit can be worked out from them.
    values, plain = group["value"], (group["limit"] == "") & (group["role"] == "trial")
    below = plain & (values < declared.value)
    at = plain & (values == declared.value)
    if (group["limit"] == "<").any() or below.any() or at.sum() < _FEW:
        at[:] = False
    message = "the reading is no higher than the detection limit, but has no <"
    fix = f"Write <{declared.value:g} where nothing was found; see [detection_limits]."
    return [
        row_warning(file, row, "value", float(value), message, fix)
        for row, value in zip(group["row"][below | at], values[below | at], strict=True)
    ]


def _odd_limits(file: str, quantity: str, group: Rows, protocol: Protocol) -> list[Problem]:
    """Limits (<x, >x) that the same quantity's plain readings go beyond."""
    limit, values = group["limit"], group["value"]
    if (limit == "").all():
        return []
    plain = values[limit == ""]
    low, high = (plain.min(), plain.max()) if len(plain) else (np.inf, -np.inf)
    declared = protocol.detection_limits.get(quantity)
    as_declared = (limit == "<") & (values == (declared.value if declared else np.nan))
    nothing = (limit == "<") & (values <= 0)
    odd = ~as_declared & (((limit == "<") & (values > low)) | ((limit == ">") & (values < high)))
    # A limit that others just reach is one only where many readings carry it.
    if (limit != "").mean() <= 1 - _HABIT:
        odd |= ~as_declared & (limit != "") & (values >= low) & (values <= high)
    # Nobody writes 12 in most places and >12 in some for the end of a scale.
    at = np.array([(plain == value).sum() for value in values])
    own = np.array([((values == value) & (limit != "")).sum() for value in values])
    odd |= ~as_declared & (limit != "") & (at >= _USUAL * own)
    odd |= nothing
    message = f"a limit of {quantity} is one that other readings reach or go beyond"
    fix = "Compare with the sheet; declare the limit under [detection_limits] if it is one."
    return [
        row_warning(file, row, "value", f"{sign}{value:.6g}", message, fix)
        for row, sign, value in zip(group["row"][odd], limit[odd], values[odd], strict=True)
    ]
