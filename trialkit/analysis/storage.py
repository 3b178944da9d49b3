"""What the salinity came to, what it took, and what weeks of standing did to it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from trialkit.analysis.dose import dose_at_target
from trialkit.analysis.water_samples import mass_lost, reading_step, salinity_samples
from trialkit.records.trial import Trial
from trialkit.stats.components import mean_of_units
from trialkit.stats.shown import Shown

__all__ = ["MUCH_LOST", "StorageChange", "storage_change"]

#: A loss of mass beyond this is flagged: common practice, no source.
MUCH_LOST = 0.02

SERIES_COLUMNS = [
    "mix", "block", "vessel", "phase", "session", "elapsed_h", "day", "estimate", "share_lost",
    "corrected", "unit",
]  # fmt: skip
DRIFT_COLUMNS = [
    "mix", "term", "estimate", "conf_low", "conf_high", "conf_level", "n", "unit", "method",
]  # fmt: skip
LOSS_COLUMNS = ["mix", "block", "vessel", "day", "share_lost", "flag"]
TOTAL, EVAPORATION, REST = "change in all", "by water lost", "the rest"


@dataclass(frozen=True, repr=False)
class StorageChange(Shown):
    """What the salinity of each vessel came to and how it moved.

    Attributes
    ----------
    dose : DataFrame
        A row a mix: what `dose_at_target` gives.
    series : DataFrame
        A row a vessel and session: estimate (mean practical salinity over the heights),
        share_lost (of the first mass, NaN-free: only where weighed), corrected (salinity brought
        back to the first mass), day since the vessel's start. Where a vessel was not weighed,
        share_lost is 0 and corrected equals the reading.
    drift : DataFrame
        A row a mix and part of the change from the end of mixing to the end of storage.
    losses : DataFrame
        Mass lost by each vessel, reference vessels included, by the last session; flag says
        where it is more than 2%.
    sentence : str
        The finding in words.
    """

    dose: pd.DataFrame
    series: pd.DataFrame
    drift: pd.DataFrame
    losses: pd.DataFrame
    sentence: str

    def tidy(self) -> pd.DataFrame:
        """The table of drifts."""
        return self.drift

    def __str__(self) -> str:
        return self.sentence


def storage_change(trial: Trial, *, conf_level: float | None = None) -> StorageChange:
    """How much salt each mix took to the target, and how far its salinity drifted and why.

    Water that leaves takes no salt along: salinity rises as first mass over mass (S1 m1 =
    S2 m2). What remains of the change after that is "the rest": salt that fell out, meters that
    drifted, water that came in. The vessel is the unit; heights and repeats are averaged first.

    Parameters
    ----------
    trial : Trial
        What `read_trial` returned, unblinded.
    conf_level : float, optional
        The declared one by default.

    Returns
    -------
    StorageChange
        Without readings in storage the drift has no rows and the sentence says why.

    References
    ----------
    Hurlbert SH (1984). Ecological Monographs 54, 187-211 (the vessel as unit).

    Examples
    --------
    >>> import trialkit as tk
    >>> found = tk.storage_change(tk.read_trial("data/demo/harbour"))
    >>> found.drift["term"].unique().tolist()
    ['change in all', 'by water lost', 'the rest']
    """
    level = trial.protocol.conf_level if conf_level is None else conf_level
    samples = salinity_samples(trial)
    samples = samples[samples["role"] == "trial"]
    lost = mass_lost(trial)
    series = _series(samples, lost)
    drift = _drift(series, _floors(trial, samples, lost), level)
    losses = _losses(lost)
    dose = dose_at_target(trial, samples, conf_level=level)
    return StorageChange(dose, series, drift, losses, _sentence(series, drift, losses))


def _series(samples: pd.DataFrame, lost: pd.DataFrame) -> pd.DataFrame:
    if samples.empty:
        return pd.DataFrame(columns=SERIES_COLUMNS)
    keys = ["mix", "block", "vessel", "phase", "session"]
    grouped = samples.groupby(keys, as_index=False)
    series = grouped.agg(estimate=("value", "mean"), elapsed_h=("elapsed_h", "max"))
    weighed = lost[["vessel", "phase", "session", "share_lost"]]
    series = series.merge(weighed, how="left", on=["vessel", "phase", "session"])
    series["share_lost"] = series["share_lost"].astype(float).fillna(0.0)
    series["corrected"] = series["estimate"] * (1 - series["share_lost"])
    series["day"] = series["elapsed_h"] / 24
    series["unit"] = "PSU"
    return series.sort_values(["mix", "block", "vessel", "elapsed_h"], ignore_index=True)[
        SERIES_COLUMNS
    ]


def _ends(series: pd.DataFrame) -> pd.DataFrame:
    """First and last state of each vessel read both at the end of mixing and of storage."""
    last = series["session"] == series.groupby("phase")["session"].transform("max")
    ends = series[last].set_index(["mix", "vessel"])
    values = ["estimate", "corrected"]
    before = ends.loc[ends["phase"] == "mixing", values]
    after = ends.loc[ends["phase"] == "storage", values]
    return before.add_suffix("_0").join(after.add_suffix("_1"), how="inner").reset_index()


def _floors(trial: Trial, samples: pd.DataFrame, lost: pd.DataFrame) -> dict[str, float]:
    """How much rounding alone spreads each part of a drift, a difference of two readings."""
    if samples.empty:
        return {}
    salinity = float(samples["resolution"].max()) / np.sqrt(6)
    water = 0.0
    if len(lost):
        step = reading_step(trial, "mass", "kg") / float(lost["initial"].median())
        water = float(samples["value"].mean()) * step / np.sqrt(6)
    return {TOTAL: salinity, EVAPORATION: water, REST: salinity}


def _drift(series: pd.DataFrame, floors: dict[str, float], conf_level: float) -> pd.DataFrame:
    if series.empty:
        return pd.DataFrame(columns=DRIFT_COLUMNS)
    ends = _ends(series)
    total = ends["estimate_1"] - ends["estimate_0"]
    rest = ends["corrected_1"] - ends["corrected_0"]
    parts = ends[["mix"]].assign(**{TOTAL: total, EVAPORATION: total - rest, REST: rest})
    rows = []
    for mix, own in parts.groupby("mix"):
        for term in (TOTAL, EVAPORATION, REST):
            found = mean_of_units(own[term], conf_level=conf_level, floor=floors[term])
            limits = found.estimate, found.conf_low, found.conf_high
            rows.append((mix, term, *limits, conf_level, len(own), "PSU", found.method))
    return pd.DataFrame(rows, columns=DRIFT_COLUMNS)


def _losses(lost: pd.DataFrame) -> pd.DataFrame:
    last = lost.sort_values("elapsed_h").groupby("vessel", as_index=False).last()
    last = last[last["phase"] == "storage"]
    frame = last.assign(day=last["elapsed_h"].astype(float) / 24)
    frame["flag"] = np.where(frame["share_lost"].astype(float) > MUCH_LOST, "more than 2% lost", "")
    return frame.sort_values(["mix", "block", "vessel"], ignore_index=True)[LOSS_COLUMNS]


def _sentence(series: pd.DataFrame, drift: pd.DataFrame, losses: pd.DataFrame) -> str:
    if not (series["phase"] == "storage").any():
        return "No salinity was read in storage, so this report has nothing to say about drift."
    if drift.empty:
        return (
            "No vessel has a salinity both at the end of mixing and in storage: no drift is known."
        )
    total = drift[drift["term"] == TOTAL]
    rest = drift[drift["term"] == REST]
    sure = rest[(rest["conf_low"] > 0) | (rest["conf_high"] < 0)]
    words = (
        f"From the end of mixing to the end of storage salinity changed by "
        f"{total['estimate'].min():+.2f} to {total['estimate'].max():+.2f} in the means of "
        f"{len(total)} mixes."
    )
    if losses.empty:
        return words + " No vessel was weighed: what water left can't be told from the rest."
    if rest["n"].max() < 2:
        return words + " With one vessel a mix nothing is known of the mix."
    words += (
        f" Beyond the water that left, a change is shown for {', '.join(sure['mix'])}."
        if len(sure)
        else " Beyond the water that left, no change is shown."
    )
    much = losses.loc[losses["flag"] != "", "vessel"]
    if len(much):
        words += f" More than 2% of the mass was lost from {', '.join(much)}."
    return words
