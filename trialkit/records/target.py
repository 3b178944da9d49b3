"""Salinity that was measured far from the salinity that was aimed at."""

import numpy as np

from .problems import Problem
from .rows import Rows
from .trial import Protocol

# Practice is to come within 1 of the target; this far off, one of the two numbers is wrong.
_FAR = 2.0


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
