"""How any other quantity changed between the end of mixing and the end of storage."""

from __future__ import annotations

import numpy as np
import pandas as pd

from trialkit.analysis.water_samples import mass_lost, reading_step
from trialkit.records.trial import Trial
from trialkit.stats.components import mean_of_units

__all__ = ["quantity_changes"]

COLUMNS = [
    "quantity", "mix", "term", "before", "after", "estimate", "conf_low", "conf_high",
    "conf_level", "n", "unit", "method",
]  # fmt: skip
#: Told elsewhere, or of the room rather than of the water.
ELSEWHERE = {"clarity", "haze", "salinity", "residue", "temperature", "mass", "level"}
#: Units of amounts in a volume or mass of water, which rise when water leaves.
CONCENTRATIONS = {"ppm", "dKH", "dH"}


def quantity_changes(trial: Trial, *, conf_level: float | None = None) -> pd.DataFrame:
    """Change of each further quantity per mix, the vessel as unit.

    For what trial.toml declares beside the built-in kinds: pH, alkalinity, calcium. A fall of
    alkalinity together with calcium is what precipitation looks like; no chemistry is computed
    here. Concentrations are brought back to the first mass of the water where it was weighed, so
    that water lost does not pass for salt gained.

    Parameters
    ----------
    trial : Trial
        What `read_trial` returned, unblinded.
    conf_level : float, optional
        The declared one by default.

    Returns
    -------
    DataFrame
        quantity, mix, term, before, after (means of the vessels read both times), estimate
        (after minus before), limits, conf_level, n (vessels), unit, method.

    Examples
    --------
    >>> import trialkit as tk
    >>> len(quantity_changes(tk.read_trial("data/demo/harbour")))
    0
    """
    level = trial.protocol.conf_level if conf_level is None else conf_level
    readings = trial.readings
    wanted = readings[
        (readings["role"] == "trial")
        & (readings["limit"] == "")
        & (readings["unit"] != "score")
        & readings["value"].notna()
        & ~readings["quantity"].isin(ELSEWHERE)
    ]
    rows = [
        row
        for (quantity, unit), own in wanted.groupby(["quantity", "unit"])
        for row in _quantity_rows(trial, own, (quantity, unit), level)
    ]
    return pd.DataFrame(rows, columns=COLUMNS)


def _quantity_rows(trial: Trial, own: pd.DataFrame, named: tuple[str, str], conf_level: float):
    quantity, unit = named
    ends = _ends(own)
    corrected = "/" in unit or unit in CONCENTRATIONS
    if corrected:
        lost = mass_lost(trial).sort_values("elapsed_h").groupby("vessel")["share_lost"].last()
        ends["after"] *= 1 - ends["vessel"].map(lost).astype(float).fillna(0.0)
    floor = reading_step(trial, quantity, unit) / np.sqrt(6)
    words = ", brought back to the first mass" if corrected else ""
    for mix, part in ends.groupby("mix"):
        change = part["after"] - part["before"]
        found = mean_of_units(change, conf_level=conf_level, floor=floor)
        means = float(part["before"].mean()), float(part["after"].mean())
        limits = found.estimate, found.conf_low, found.conf_high, conf_level
        yield (quantity, mix, f"change in storage{words}", *means, *limits, len(part), unit,
               found.method)  # fmt: skip


def _ends(own: pd.DataFrame) -> pd.DataFrame:
    """Each vessel's mean in the last session of mixing and of storage, where it has both."""
    last = own[own["session"] == own.groupby("phase")["session"].transform("max")]
    means = last.pivot_table(index=["mix", "vessel"], columns="phase", values="value")
    means = means.reindex(columns=["mixing", "storage"]).dropna().reset_index()
    return means.rename(columns={"mixing": "before", "storage": "after"})
