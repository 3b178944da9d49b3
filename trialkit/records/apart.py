"""Vessels whose readings lie apart from all others from first to last, or from what they hold."""

import numpy as np

from .problems import Problem, row_warning
from .reading_cells import Setting
from .rows import Rows, others_span
from .trial import Protocol

# A vessel lies apart by more than this share of the readings, and by more than the others' span.
_APART = 0.03
# Rounds count in which the others lie no further apart than this share.
_CLOSE = 0.1
_FEWEST, _ROUNDS = 5, 2
# Salt water weighs 1.02 to 1.03 kg a litre; vessels are filled to the mark, not to the drop.
_KG_A_LITRE = (0.8, 1.25)
_MOST = 0.3


def apart_problems(file: str, rows: Rows, setting: Setting) -> list[Problem]:
    """Warnings about vessels that a meter reads in another unit, or with another zero.

    Parameters
    ----------
    file : str
        Name for messages.
    rows : Rows
        Readings with a value.
    setting : Setting
    """
    plain = rows.take((rows["phase"] == "mixing") & (rows["role"] == "trial"))
    found = []
    for group in plain.split("quantity", "unit") if len(plain) else []:
        if not _has_direction(group, setting.protocol):
            found += _apart(file, group)
    return found + _masses(file, rows, setting)


def _has_direction(group: Rows, protocol: Protocol) -> bool:
    """Whether water has a way to go in a quantity, so that vessels may well lie apart."""
    return bool(protocol.quantities[group["quantity"][0]].range_of(group["unit"][0]).better)


def _apart(file: str, group: Rows) -> list[Problem]:
    """Vessels that lie apart from all others in every round in which the others agree."""
    rounds = group.ids("session", "position")
    low, high = others_span(rounds, group["value"])
    scale = np.maximum(np.abs(low), np.abs(high))
    close = (np.bincount(rounds)[rounds] >= _FEWEST) & (high - low <= _CLOSE * scale)
    far = np.maximum(_APART * scale, high - low)
    side = np.where(group["value"] > high + far, 1, 0) - np.where(group["value"] < low - far, 1, 0)
    message = f"{group['quantity'][0]} of a vessel lies apart from that of all others"
    fix = "See whether its readings were shifted, or are in another unit; else it is so."
    found = []
    for vessel in np.unique(group["vessel"][close & (side != 0)]):
        own = close & (group["vessel"] == vessel)
        if own.sum() >= _ROUNDS and np.abs(side[own].sum()) == own.sum():
            value, others = np.median(group["value"][own]), np.median(low[own])
            shown = f"{vessel}: {value:.4g}, others from {others:.4g}"
            found.append(Problem(file, None, "value", shown, "warn", message, fix))
    return found


def _masses(file: str, rows: Rows, setting: Setting) -> list[Problem]:
    """Vessels whose mass is not that of the water they hold; one cause where most are so."""
    chosen = (rows["quantity"] == "mass") & (rows["unit"] == "kg")
    if not chosen.any():
        return []
    own = rows.take(chosen)
    litres = setting.of_vessels("volume_l")
    share = own["value"] / np.array([litres[vessel] for vessel in own["vessel"]], float)
    low, high = _KG_A_LITRE
    odd = (share < low) | (share > high)
    fix = "See the unit, the tare of the scale, and volume_l in vessels.csv."
    if odd.mean() > _MOST:
        message = "the mass of most vessels does not fit their volume"
        shown = f"{np.median(share[odd]):.3g} kg a litre"
        return [Problem(file, None, "value", shown, "warn", message, fix, 0)]
    message = "the mass of the vessel does not fit its volume"
    columns = zip(own["row"][odd], own["value"][odd], strict=True)
    return [row_warning(file, row, "value", float(mass), message, fix) for row, mass in columns]
