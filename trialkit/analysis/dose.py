"""How much salt of each mix it takes to reach the target salinity."""

from __future__ import annotations

import numpy as np
import pandas as pd

from trialkit.records.salinity import salt_g_per_kg_water_from_salinity
from trialkit.records.trial import Trial
from trialkit.stats.components import mean_of_units

__all__ = ["dose_at_target"]

#: The batch that a price is told for.
BATCH_L = 100.0

COLUMNS = [
    "mix", "term", "estimate", "conf_low", "conf_high", "conf_level", "n", "unit", "reached",
    "target", "label_dose_g_per_l", "cost", "method",
]  # fmt: skip


def dose_at_target(
    trial: Trial, samples: pd.DataFrame, *, conf_level: float = 0.95
) -> pd.DataFrame:
    """The dose at the target salinity per mix, with interval and the cost of 100 L.

    Mixes hold different shares of bound water, so that equal grams a litre are not equal
    salinity: doses are compared at equal salinity. A vessel's dose is scaled from the salinity it
    reached to the target by the salt that a kg of water holds at either, nominal for a mix.

    Parameters
    ----------
    trial : Trial
        What `read_trial` returned, unblinded.
    samples : DataFrame
        What `salinity_samples` returned.
    conf_level : float
        Confidence level.

    Returns
    -------
    DataFrame
        mix, term, estimate (g/L of vessel volume), limits, conf_level, n (vessels), unit,
        reached (mean practical salinity at the end of mixing), target, label_dose_g_per_l, cost
        (of 100 L at the target in the currency of price_per_kg; None without a price), method.

    Examples
    --------
    >>> import trialkit as tk
    >>> from trialkit.analysis.water_samples import salinity_samples
    >>> trial = tk.read_trial("data/demo/harbour")
    >>> found = dose_at_target(trial, salinity_samples(trial))
    >>> bool((found["conf_low"] < found["conf_high"]).all())
    True
    """
    vessels = _reached(trial, samples)
    target = float(trial.protocol.target_salinity)
    scale = _salt(target) / _salt(vessels["reached"]) if len(vessels) else 1.0
    vessels = vessels.assign(dose=vessels["dose_g"] / vessels["volume_l"] * scale)
    mixes = trial.mixes.set_index("mix")
    rows = []
    for mix, own in vessels.groupby("mix"):
        # The salinity reached is known to within one rounding.
        floor = float(own["dose"].mean() * own["step"].max() / own["reached"].mean() / np.sqrt(12))
        found = mean_of_units(own["dose"], conf_level=conf_level, floor=floor)
        label = _number(mixes, mix, "label_dose_g_per_l")
        price = _number(mixes, mix, "price_per_kg")
        cost = None if price is None else found.estimate * BATCH_L / 1000 * price
        limits = found.estimate, max(found.conf_low, 0.0), found.conf_high
        rows.append(
            (mix, "dose at target", *limits, conf_level, len(own), "g/L",
             float(own["reached"].mean()), target, label, cost, found.method)
        )  # fmt: skip
    table = pd.DataFrame(rows, columns=COLUMNS)
    # A price that was not given is no number; pandas would make it nan.
    blanks = ["label_dose_g_per_l", "cost"]
    table[blanks] = table[blanks].astype(object).where(table[blanks].notna(), None)
    return table


def _reached(trial: Trial, samples: pd.DataFrame) -> pd.DataFrame:
    """Dose, volume and salinity at the end of mixing of each vessel that has all three."""
    mixing = samples[(samples["phase"] == "mixing") & (samples["role"] == "trial")]
    columns = ["vessel", "mix", "dose_g", "volume_l", "reached", "step"]
    if mixing.empty:
        return pd.DataFrame(columns=columns)
    last = mixing[mixing["session"] == mixing["session"].max()]
    reached = last.groupby("vessel").agg(reached=("value", "mean"), step=("resolution", "max"))
    known = trial.vessels.merge(reached, left_on="vessel", right_index=True)[columns]
    known = known[(known["dose_g"] > 0) & (known["volume_l"] > 0) & (known["reached"] > 0)]
    return known.dropna()


def _salt(salinity):
    return np.asarray(salt_g_per_kg_water_from_salinity(np.asarray(salinity, float)))


def _number(mixes: pd.DataFrame, mix: str, column: str) -> float | None:
    if column not in mixes or mix not in mixes.index or pd.isna(mixes.loc[mix, column]):
        return None
    return float(mixes.loc[mix, column])
