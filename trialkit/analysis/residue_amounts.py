"""The residue of each vessel, brought to one unit, with what lies below a limit marked."""

from __future__ import annotations

import numpy as np
import pandas as pd

from trialkit.analysis.water_samples import mass_lost, usable
from trialkit.records.trial import Trial

__all__ = ["MILLIGRAMS", "declared_limit", "residue_amounts"]

VESSEL_COLUMNS = [
    "mix", "block", "vessel", "role", "day", "value", "below", "share_lost", "unit", "note",
]  # fmt: skip
MILLIGRAMS = {"mg": 1.0, "g": 1000.0}


def residue_amounts(trial: Trial) -> pd.DataFrame:
    """The residue of each vessel on the last day it was read.

    A number below the declared detection limit counts as below it; blanks stay as weighed,
    because the limit is judged by them. Amounts a litre are brought back to the first mass of
    the water. Repeats and raters of one vessel are averaged; where some lie below a limit the
    vessel counts as below the mean.

    Parameters
    ----------
    trial : Trial
        What `read_trial` returned.

    Returns
    -------
    DataFrame
        mix, block, vessel, role, day, value, below, share_lost, unit ("mg" a vessel or "mg/L"),
        note.

    Examples
    --------
    >>> import trialkit as tk
    >>> frame = residue_amounts(tk.read_trial("data/demo/harbour"))
    >>> int(frame["below"].sum())
    2
    """
    rows = usable(trial, "residue")
    rows = rows[(rows["limit"] != ">") & rows["unit"].isin([*MILLIGRAMS, "mg/L"])]
    if rows.empty:
        return pd.DataFrame(columns=VESSEL_COLUMNS)
    # One unit a table: the one that most readings are in.
    in_litres = rows["unit"] == "mg/L"
    rows = rows[in_litres] if in_litres.mean() > 0.5 else rows[~in_litres]
    rows = rows.assign(value=rows["value"] * rows["unit"].map(MILLIGRAMS).fillna(1.0))
    rows = rows[rows["session"] == rows.groupby("vessel")["session"].transform("max")]
    unit = "mg/L" if in_litres.mean() > 0.5 else "mg"
    # A weighed 0 is less than one step of the balance, where no limit is declared.
    rows = _censored(rows, declared_limit(trial, unit) or _step(rows))
    keys = ["mix", "block", "vessel", "role"]
    grouped = rows.groupby(keys, as_index=False)
    frame = grouped.agg(
        day=("elapsed_h", "max"), value=("value", "mean"), below=("below", "any"),
        note=("note", "first"),
    )  # fmt: skip
    frame = _to_first_mass(frame.assign(day=frame["day"] / 24, unit=unit), trial)
    order = ["role", "mix", "block", "vessel"]
    ordered = frame.sort_values(order, ascending=[False, True, True, True], ignore_index=True)
    return ordered[VESSEL_COLUMNS]


def declared_limit(trial: Trial, unit: str) -> float:
    """The detection limit of trial.toml in the unit; 0 when none is declared for it."""
    declared = trial.protocol.detection_limits.get("residue")
    if declared is None:
        return 0.0
    if declared.unit == unit:
        return declared.value
    return declared.value * MILLIGRAMS.get(declared.unit, np.nan) if unit == "mg" else 0.0


def _step(rows: pd.DataFrame) -> float:
    above = rows.loc[rows["value"] > 0, "value"]
    return float(above.min()) if (rows["value"] == 0).any() and len(above) else 0.0


def _censored(rows: pd.DataFrame, limit: float) -> pd.DataFrame:
    said = rows["limit"] == "<"
    # Weighed below what the method can tell from nothing: as good as "<limit".
    weighed = ~said & (rows["value"] < limit) & (rows["role"] == "trial")
    note = np.where(weighed, "weighed below the detection limit", "")
    return rows.assign(below=said | weighed, value=rows["value"].where(~weighed, limit), note=note)


def _to_first_mass(frame: pd.DataFrame, trial: Trial) -> pd.DataFrame:
    lost = mass_lost(trial).sort_values("elapsed_h").groupby("vessel")["share_lost"].last()
    frame = frame.assign(share_lost=frame["vessel"].map(lost).astype(float).fillna(0.0))
    if (frame["unit"] == "mg/L").all():
        frame["value"] = frame["value"] * (1 - frame["share_lost"])
    return frame
