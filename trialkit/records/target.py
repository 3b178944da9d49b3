"""Salinity that is far from the target, or of another scale."""

import numpy as np

from .problems import Problem, row_warning
from .rows import Rows
from .trial import Protocol

# Practice is to come within 1 of the target; this far off, one of the two numbers is wrong.
_FAR = 2.0
# No hydrometer for salt water shows more.
_HEAVIEST = 1.06
_SAME = 1e-6


def target_problems(file: str, rows: Rows, protocol: Protocol) -> list[Problem]:
    """A warning when vessels read far from `target_salinity` at the end of the mixing.

    Parameters
    ----------
    file : str
        Name for messages.
    rows : Rows
        Readings with a value.
    protocol : Protocol
    """
    chosen = (rows["quantity"] == "salinity") & (rows["role"] == "trial")
    salty = rows.take(chosen & np.isin(rows["unit"], ("PSU", "ppt")))
    if not len(salty):
        return []
    late = salty["elapsed_h"] >= 0.75 * protocol.window_h
    usual = float(np.median(salty["value"][late])) if late.any() else protocol.target_salinity
    if abs(usual - protocol.target_salinity) <= _FAR:
        return []
    message = "the salinity that was read lies far from target_salinity in trial.toml"
    fix = f"The target is {protocol.target_salinity:g}; correct it, or see the meter and its unit."
    return [Problem(file, None, "value", f"{usual:.4g} in the middle", "warn", message, fix, 0)]


def gravity_problems(file: str, rows: Rows) -> list[Problem]:
    """Warnings about a few salinities that look like specific gravities.

    Water that still takes up its salt may read 1.0 or 1.1; written to the third decimal among
    numbers that are not, it is 1.026 off a hydrometer.
    """
    chosen = (rows["quantity"] == "salinity") & np.isin(rows["unit"], ("PSU", "ppt"))
    if not chosen.any():
        return []
    values = rows["value"][chosen]
    fine = np.abs(values * 100 - np.round(values * 100)) > _SAME
    like = (values > 1) & (values < _HEAVIEST) & fine
    if fine.sum() > 2 * like.sum():
        return []
    message = "this salinity looks like a specific gravity"
    fix = "Correct the number, or write SG for its unit and name its instrument."
    return [
        row_warning(file, row, "value", float(value), message, fix)
        for row, value in zip(rows["row"][chosen][like], values[like], strict=True)
    ]


def scale_note(file: str, rows: Rows) -> list[Problem]:
    """A note that salinities in ppt are taken as practical salinity, whatever scale they are off.

    A scale for sodium chloride reads about 1.5 too high at 35: such seawater refracts light as
    36.5 g of that salt in a kg of brine do (CRC Handbook, second-hand).
    """
    chosen = (rows["quantity"] == "salinity") & (rows["unit"] == "ppt")
    if not chosen.any():
        return []
    message = "salinity in ppt is taken as practical salinity, as it was read off"
    fix = "Nothing off a scale for seawater; one for sodium chloride shows about 1.5 more at 35."
    shown = f"{int(chosen.sum())} readings"
    return [Problem(file, None, "unit", shown, "note", message, fix, 0)]
