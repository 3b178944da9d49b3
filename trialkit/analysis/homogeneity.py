"""Whether the water of a vessel is one water from top to bottom."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from trialkit.analysis.mixing_time import recommend_mixing_time
from trialkit.analysis.water_samples import salinity_samples
from trialkit.records.trial import Trial
from trialkit.stats.equivalence import equivalence_paired
from trialkit.stats.shown import Shown

__all__ = ["Homogeneity", "salinity_homogeneity"]

#: Top and bottom within 0.5 pass for one water: common practice, no source.
USUAL_MARGIN = 0.5
STAGES = {"mixing": "end of mixing", "storage": "end of storage"}
ALL_MIXES = "all mixes"
TOO_COARSE = "this instrument can't show it"

EQUIVALENCE_COLUMNS = [
    "mix", "stage", "term", "estimate", "conf_low", "conf_high", "conf_level", "margin",
    "resolution", "p_value", "n", "decision", "unit", "method",
]  # fmt: skip
PAIR_COLUMNS = ["mix", "block", "vessel", "stage", "elapsed_h", "top", "bottom", "difference"]
INTERVAL_COLUMNS = ["mix", "block", "vessel", "left_h", "right_h", "reclouded_h", "n_readings"]
TIME_COLUMNS = [
    "mix", "term", "estimate", "conf_low", "conf_high", "conf_level", "n", "n_event",
    "n_censored", "unit", "method",
]  # fmt: skip


@dataclass(frozen=True, repr=False)
class Homogeneity(Shown):
    """What the salinities at several heights say.

    Attributes
    ----------
    equivalence : DataFrame
        A row a mix and stage, and one over all mixes: mean of top minus bottom, its limits, the
        margin, the instrument's resolution, the p value of two one-sided tests, the decision
        ("equivalent", "different", "not settled", "this instrument can't show it").
    vessels : DataFrame
        mix, block, vessel, stage, elapsed_h, top, bottom, difference.
    intervals : DataFrame
        mix, block, vessel, left_h, right_h, reclouded_h (always inf), n_readings: from when all
        heights of a vessel agreed for good while it was mixed, in (left_h, right_h].
    times : DataFrame
        Typical and assured time of that per mix, as `recommend_mixing_time` gives it.
    sentence : str
        The finding in words.
    """

    equivalence: pd.DataFrame
    vessels: pd.DataFrame
    intervals: pd.DataFrame
    times: pd.DataFrame
    sentence: str

    def tidy(self) -> pd.DataFrame:
        """The table of equivalence."""
        return self.equivalence

    def __str__(self) -> str:
        return self.sentence


def salinity_homogeneity(
    trial: Trial, *, margin: float = USUAL_MARGIN, conf_level: float | None = None
) -> Homogeneity:
    """Whether top and bottom of the vessels have the same salinity, and since when.

    "Not significantly different" says nothing with few vessels, so sameness has to be shown:
    two one-sided tests against a margin, one difference a vessel. A margin smaller than the
    step of the instrument can't be tested with it.

    Parameters
    ----------
    trial : Trial
        What `read_trial` returned, unblinded.
    margin : float
        Largest difference of practical salinity that does not matter.
    conf_level : float, optional
        The declared one by default.

    Returns
    -------
    Homogeneity
        Without readings at top and bottom: frames without rows and one sentence why.

    References
    ----------
    Schuirmann DJ (1987). Journal of Pharmacokinetics and Biopharmaceutics 15, 657-680.

    Examples
    --------
    >>> import trialkit as tk
    >>> found = tk.salinity_homogeneity(tk.read_trial("data/demo/harbour"))
    >>> found.equivalence["stage"].unique().tolist()
    ['end of mixing', 'end of storage']
    """
    level = trial.protocol.conf_level if conf_level is None else conf_level
    samples = salinity_samples(trial)
    samples = samples[samples["role"] == "trial"]
    pairs = _last_pairs(samples)
    rows = [
        row
        for stage, own in pairs.groupby("stage", sort=False)
        for row in _equivalence_rows(own, stage, margin, level)
    ]
    equivalence = pd.DataFrame(rows, columns=EQUIVALENCE_COLUMNS)
    intervals = _agreement_intervals(samples, margin)
    times = pd.DataFrame(columns=TIME_COLUMNS)
    if len(intervals):
        times = recommend_mixing_time(intervals, family=trial.protocol.family, conf_level=level)
    sentence = _sentence(equivalence, intervals, margin)
    return Homogeneity(equivalence, pairs[PAIR_COLUMNS], intervals, times, sentence)


def _wide(samples: pd.DataFrame) -> pd.DataFrame:
    """One row a vessel and session with its heights in columns."""
    placed = samples[samples["position"] != ""]
    keys = ["phase", "mix", "block", "vessel", "session"]
    wide = placed.pivot_table(index=keys, columns="position", values="value", aggfunc="mean")
    wide = wide.reindex(columns=["top", "middle", "bottom"])
    rest = placed.groupby(keys).agg(
        elapsed_h=("elapsed_h", "max"), resolution=("resolution", "max")
    )
    return wide.join(rest).reset_index()


def _last_pairs(samples: pd.DataFrame) -> pd.DataFrame:
    """Top and bottom of each vessel in the last session of each phase that has both."""
    wide = _wide(samples).dropna(subset=["top", "bottom"])
    if wide.empty:
        return pd.DataFrame(columns=[*PAIR_COLUMNS, "resolution"])
    # The last session of the trial, not of the vessel: one lost early has no end of mixing.
    wide = wide[wide["session"] == wide.groupby("phase")["session"].transform("max")]
    # Decimal readings leave float dust in a difference: 33.4 - 33.3 is not 0.1.
    difference = (wide["top"] - wide["bottom"]).round(9)
    wide = wide.assign(stage=wide["phase"].map(STAGES), difference=difference)
    return wide.sort_values(["phase", "mix", "block", "vessel"], ignore_index=True)[
        [*PAIR_COLUMNS, "resolution"]
    ]


def _equivalence_rows(own: pd.DataFrame, stage: str, margin: float, conf_level: float):
    groups = [*own.groupby("mix"), (ALL_MIXES, own)]
    for mix, part in groups if len(groups) > 2 else groups[:1]:
        resolution = float(part["resolution"].max())
        found = equivalence_paired(
            part["difference"], margin, conf_level=conf_level, resolution=resolution
        )
        # Differences of two readings come in steps of the resolution (with float rounding).
        coarse = resolution > margin + 1e-9
        yield (
            mix, stage, "top minus bottom", found.estimate, found.conf_low, found.conf_high,
            conf_level, margin, resolution, found.p_value, found.n,
            TOO_COARSE if coarse else found.decision, "PSU", found.method,
        )  # fmt: skip


def _agreement_intervals(samples: pd.DataFrame, margin: float) -> pd.DataFrame:
    wide = _wide(samples[samples["phase"] == "mixing"])
    heights = wide[["top", "middle", "bottom"]]
    wide = wide[heights.notna().sum(axis=1) > 1].sort_values("elapsed_h")
    rows = [
        (*key, *_interval(own, margin)) for key, own in wide.groupby(["mix", "block", "vessel"])
    ]
    return pd.DataFrame(rows, columns=INTERVAL_COLUMNS)


def _interval(own: pd.DataFrame, margin: float) -> tuple[float, float, float, int]:
    """Between the last reading that did not agree and the first of those that all did."""
    heights = own[["top", "middle", "bottom"]]
    agree = (heights.max(axis=1) - heights.min(axis=1) <= margin + 1e-9).to_numpy()
    apart = np.flatnonzero(~agree)
    hours = own["elapsed_h"].to_numpy(float)
    if not apart.size:
        return 0.0, hours[0], np.inf, hours.size
    last = apart[-1]
    right = hours[last + 1] if last + 1 < hours.size else np.inf
    return hours[last], right, np.inf, hours.size


def _sentence(equivalence: pd.DataFrame, intervals: pd.DataFrame, margin: float) -> str:
    if equivalence.empty:
        return (
            "No vessel has salinities read at top and bottom, so whether the water is one from "
            "top to bottom was not looked at."
        )
    parts = []
    for stage, own in equivalence[equivalence["mix"] != ALL_MIXES].groupby("stage", sort=False):
        counts = own["decision"].value_counts()
        words = ", ".join(f"{decision} in {count}" for decision, count in counts.items())
        parts.append(
            f"At the {stage}, top and bottom within {margin:g}: {words} of {len(own)} mixes."
        )
    late = int(np.isinf(intervals["right_h"].astype(float)).sum()) if len(intervals) else 0
    if late:
        vessels = "In 1 vessel" if late == 1 else f"In {late} vessels"
        parts.append(f"{vessels} the heights were not seen to agree by the end of mixing.")
    return " ".join(parts)
