"""What pooling needs of one trial, small enough to keep thousands of them."""

from __future__ import annotations

import hashlib
import unicodedata
from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from trialkit.analysis.clearing import Gaps, clearing_intervals, reading_gaps
from trialkit.analysis.rerun_patterns import reading_patterns
from trialkit.records.trial import Criterion, Trial

__all__ = ["TrialRecord", "record_trial"]


@dataclass(frozen=True, eq=False)
class TrialRecord:
    """One trial as pooling sees it.

    Attributes
    ----------
    source : str
        Name of the folder or bundle, without its path.
    digest : str
        SHA-256 over the trial's files: the same trial twice has the same.
    title, start : str
        From trial.toml.
    vessels : tuple of str
        Codes of the vessels, sorted.
    blinded : bool
        Whether the mixes are still unknown.
    window_h : float
        Hours watched.
    schedule_h : tuple of float
        Planned reading times.
    target_salinity, temperature_c, volume_l : float
        Conditions: declared salinity; median readings, nan when not read.
    mixes : pandas.DataFrame
        mix, name, lot; spelling of name and lot made alike, "" when not given.
    criteria : dict of str to Criterion
        What counted as clear.
    gaps : dict of str to Gaps
        Judged readings of each criterion that has readings.
    given : dict of str to pandas.DataFrame
        Intervals of each criterion that came with the trial instead of readings.
    patterns : tuple of str
        What in the readings looks unlike readings, in neutral words.
    """

    source: str
    digest: str
    title: str
    start: str
    vessels: tuple[str, ...]
    blinded: bool
    window_h: float
    schedule_h: tuple[float, ...]
    target_salinity: float
    temperature_c: float
    volume_l: float
    mixes: pd.DataFrame
    criteria: dict[str, Criterion]
    gaps: dict[str, Gaps] = field(default_factory=dict)
    given: dict[str, pd.DataFrame] = field(default_factory=dict)
    patterns: tuple[str, ...] = ()


def record_trial(trial: Trial, source: str = "") -> TrialRecord:
    """What pooling needs of a trial.

    Parameters
    ----------
    trial : Trial
        What `read_trial` returned.
    source : str
        Name under which reports speak of it.

    Returns
    -------
    TrialRecord
        Without judged readings while the trial is blind.

    Examples
    --------
    >>> import trialkit as tk
    >>> record = record_trial(tk.read_trial("data/demo/single"), "single")
    >>> record.source, sorted(record.gaps)
    ('single', ['clarity'])
    """
    judged = [] if trial.blinded else trial.judged
    taken = [] if trial.blinded else [c for c in trial.protocol.criteria if c not in trial.judged]
    return TrialRecord(
        source=source,
        digest=_digest(trial),
        title=trial.protocol.title,
        start=trial.protocol.start.isoformat(),
        vessels=tuple(sorted(trial.vessels["vessel"])),
        blinded=trial.blinded,
        window_h=float(trial.protocol.window_h),
        schedule_h=tuple(trial.protocol.schedule_h),
        target_salinity=float(trial.protocol.target_salinity),
        temperature_c=_temperature(trial.readings),
        volume_l=float(trial.vessels.loc[trial.vessels["role"] == "trial", "volume_l"].median()),
        mixes=_identities(trial.mixes),
        criteria=dict(trial.protocol.criteria),
        gaps={name: reading_gaps(trial, name) for name in judged},
        given={name: clearing_intervals(trial, name) for name in taken},
        patterns=reading_patterns(trial),
    )


def _digest(trial: Trial) -> str:
    lines = sorted(f"{s.file} {s.sha256}" for s in trial.sources.itertuples())
    return hashlib.sha256("\n".join(lines).encode()).hexdigest()


def _temperature(readings: pd.DataFrame) -> float:
    """Median temperature while mixing, degrees Celsius; nan when not read."""
    wanted = (readings["quantity"] == "temperature") & (readings["phase"] == "mixing")
    used = readings[wanted & readings["value"].notna()]
    if used.empty:
        return float("nan")
    celsius = np.where(used["unit"] == "F", (used["value"] - 32) / 1.8, used["value"])
    return float(np.median(celsius))


def _identities(mixes: pd.DataFrame) -> pd.DataFrame:
    name = [_alike(n) or str(code) for n, code in zip(mixes["name"], mixes["mix"], strict=True)]
    lot = [_alike(x) for x in mixes["lot"]] if "lot" in mixes else [""] * len(mixes)
    return pd.DataFrame({"mix": list(mixes["mix"]), "name": name, "lot": lot})


def _alike(text: object) -> str:
    """The text with one kind of spaces and letters; "" for an empty cell."""
    if not isinstance(text, str):
        return ""
    return " ".join(unicodedata.normalize("NFKC", text).split())
