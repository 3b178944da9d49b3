"""Whether vessels that came clear stayed clear while they stood."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from trialkit.analysis.clearing import Gaps, reading_gaps
from trialkit.analysis.water_samples import reading_step
from trialkit.records.trial import Trial
from trialkit.stats.aft import fit_aft
from trialkit.stats.components import mean_of_units
from trialkit.stats.estimate import proportion_exact
from trialkit.stats.shown import Shown

__all__ = ["ClarityKept", "clarity_kept"]

SHARE_COLUMNS = [
    "criterion", "mix", "day", "estimate", "conf_low", "conf_high", "conf_level", "n_clear", "n",
    "method",
]  # fmt: skip
INTERVAL_COLUMNS = ["criterion", "mix", "block", "vessel", "left_day", "right_day", "n_readings"]
TIME_COLUMNS = [
    "criterion", "mix", "term", "estimate", "conf_low", "conf_high", "conf_level", "n", "n_event",
    "unit", "method",
]  # fmt: skip
CHANGE_COLUMNS = [
    "criterion", "mix", "term", "estimate", "conf_low", "conf_high", "conf_level", "n", "unit",
    "method",
]  # fmt: skip


@dataclass(frozen=True, repr=False)
class ClarityKept(Shown):
    """What became of clear vessels in storage.

    Attributes
    ----------
    shares : DataFrame
        criterion, mix, day, estimate (share still as clear as purified water of the same day),
        exact limits, n_clear, n (vessels that were clear at the end of mixing and read that day).
    intervals : DataFrame
        criterion, mix, block, vessel, left_day, right_day, n_readings: it clouded again in
        (left_day, right_day] of storage; right_day is inf when it did not.
    times : DataFrame
        Typical time until a mix clouds again, days of storage.
    change : DataFrame
        Shortfall against purified water at the end of storage minus at the end of mixing.
    sentence : str
        The finding in words.
    """

    shares: pd.DataFrame
    intervals: pd.DataFrame
    times: pd.DataFrame
    change: pd.DataFrame
    sentence: str

    def tidy(self) -> pd.DataFrame:
        """The shares still clear."""
        return self.shares

    def __str__(self) -> str:
        return self.sentence


def clarity_kept(trial: Trial, *, conf_level: float | None = None) -> ClarityKept:
    """The share of vessels still clear in storage, and when others clouded again.

    A vessel is judged as in mixing, against the purified water of the same day, by the declared
    tolerance and rater rule; one reading decides, because storage readings lie a week apart.
    Only vessels clear at the last reading of mixing can lose it; in a trial without readings in
    mixing, those clear at their first reading in storage.

    Parameters
    ----------
    trial : Trial
        What `read_trial` returned, unblinded.
    conf_level : float, optional
        The declared one by default.

    Returns
    -------
    ClarityKept
        Without such readings in storage: frames without rows and one sentence why.

    References
    ----------
    Clopper CJ, Pearson ES (1934). Biometrika 26, 404-413.

    Examples
    --------
    >>> import trialkit as tk
    >>> found = tk.clarity_kept(tk.read_trial("data/demo/harbour"))
    >>> found.shares["criterion"].unique().tolist()
    ['clarity', 'haze']
    """
    level = trial.protocol.conf_level if conf_level is None else conf_level
    names = [name for name in trial.protocol.criteria if _read_in(trial, name, "storage")]
    found = [_criterion(trial, name, level) for name in names]
    columns = SHARE_COLUMNS, INTERVAL_COLUMNS, TIME_COLUMNS, CHANGE_COLUMNS
    frames = [_stack(list(rows), c) for rows, c in zip(_turn(found), columns, strict=True)]
    return ClarityKept(*frames, _sentence(frames[0], frames[1]))


def _turn(found: list[tuple]) -> list:
    return list(zip(*found, strict=True)) if found else [[], [], [], []]


def _stack(rows: list[list], columns: list[str]) -> pd.DataFrame:
    return pd.DataFrame([row for part in rows for row in part], columns=columns)


def _read_in(trial: Trial, name: str, phase: str) -> bool:
    rule, readings = trial.protocol.criteria[name], trial.readings
    wanted = (readings["quantity"] == rule.quantity) & (readings["unit"] == rule.unit)
    return bool((wanted & (readings["phase"] == phase) & readings["value"].notna()).any())


def storage_gaps(trial: Trial, name: str) -> Gaps:
    """The shortfall of every storage reading against the reference vessel of the same day."""
    storage = trial.readings[trial.readings["phase"] == "storage"].assign(phase="mixing")
    hours = tuple(day * 24.0 for day in trial.protocol.storage_days)
    protocol = replace(trial.protocol, schedule_h=hours)
    return reading_gaps(replace(trial, readings=storage, protocol=protocol), name)


def _criterion(trial: Trial, name: str, conf_level: float) -> tuple[list, list, list, list]:
    gaps = storage_gaps(trial, name)
    met = gaps.met()
    start, start_gap = _at_end_of_mixing(trial, name, met)
    vessels = gaps.vessels.reset_index(drop=True)
    days = np.asarray(trial.protocol.storage_days, float)
    shares = _shares(name, vessels["mix"], (met, start), days, conf_level)
    elapsed = (gaps.last_h - trial.protocol.window_h) / 24
    intervals = [
        (name, *vessels.iloc[i][["mix", "block", "vessel"]], *_interval(met[i], elapsed[i]))
        for i in np.flatnonzero(start & ~np.isnan(met).all(axis=1))
    ]
    times = _times(intervals, trial.protocol.family, conf_level)
    step = reading_step(trial, gaps.criterion.quantity, gaps.criterion.unit)
    change = _change(gaps, start_gap, step, conf_level)
    return shares, intervals, times, change


def _at_end_of_mixing(trial: Trial, name: str, met) -> tuple[np.ndarray, np.ndarray]:
    """Who was clear at the last session of mixing, and each vessel's shortfall then."""
    if not _read_in(trial, name, "mixing"):
        return _clear_at_first(met), np.full(len(met), np.nan)
    gaps = reading_gaps(trial, name)
    verdict = gaps.met()
    seen = np.flatnonzero(~np.isnan(verdict).all(axis=0))
    if not seen.size:
        return _clear_at_first(met), np.full(len(met), np.nan)
    return verdict[:, seen[-1]] == 1, _vessel_gap(gaps.gap[:, seen[-1], :])


def _clear_at_first(met: np.ndarray) -> np.ndarray:
    """Whether each vessel was clear at its first storage reading."""
    judged = ~np.isnan(met)
    first = met[np.arange(len(met)), judged.argmax(axis=1)]
    return judged.any(axis=1) & (first == 1)


def _vessel_gap(gap: np.ndarray) -> np.ndarray:
    """The mean shortfall over the raters who looked; NaN where none did."""
    looked = (~np.isnan(gap)).sum(axis=1)
    total = np.nansum(np.where(np.isfinite(gap), gap, np.nan), axis=1)
    return np.where(looked > 0, total / np.maximum(looked, 1), np.nan)


def _shares(name, mixes, verdicts, days, conf_level) -> list:
    met, start = verdicts
    rows = []
    for mix in sorted(mixes.unique()):
        own = (mixes == mix).to_numpy() & start
        for session, day in enumerate(days):
            calls = met[own, session]
            calls = calls[~np.isnan(calls)]
            if calls.size:
                found = proportion_exact(int(calls.sum()), calls.size, conf_level=conf_level)
                limits = found.estimate, found.conf_low, found.conf_high, conf_level
                rows.append((name, mix, day, *limits, int(calls.sum()), calls.size, found.method))
    return rows


def _interval(met: np.ndarray, elapsed: np.ndarray) -> tuple[float, float, int]:
    """In which days of storage a vessel that had been clear was first seen not clear."""
    judged = np.flatnonzero(~np.isnan(met))
    cloudy = judged[met[judged] == 0]
    if not cloudy.size:
        return float(elapsed[judged[-1]]), np.inf, judged.size
    before = judged[judged < cloudy[0]]
    left = float(elapsed[before[-1]]) if before.size else 0.0
    return left, float(elapsed[cloudy[0]]), judged.size


def _times(intervals: list, family: str, conf_level: float) -> list:
    if not intervals:
        return []
    frame = pd.DataFrame(intervals, columns=INTERVAL_COLUMNS)
    fit = fit_aft(frame["left_day"], frame["right_day"], frame["mix"], family=family)
    event = np.isfinite(frame["right_day"]).groupby(frame["mix"]).agg(["size", "sum"])
    return [
        (frame["criterion"][0], row.group, "clouds again", row.estimate, row.conf_low,
         row.conf_high, conf_level, int(event["size"][row.group]), int(event["sum"][row.group]),
         "d", row.method)
        for row in fit.quantile(0.5, conf_level).itertuples()
    ]  # fmt: skip


def _change(gaps: Gaps, start_gap: np.ndarray, step: float, conf_level: float) -> list:
    last = np.flatnonzero(~np.isnan(gaps.gap).all(axis=(0, 2)))
    if not last.size:
        return []
    change = _vessel_gap(gaps.gap[:, last[-1], :]) - start_gap
    rule, rows = gaps.criterion, []
    for mix, own in gaps.vessels.groupby("mix"):
        values = change[own.index]
        values = values[np.isfinite(values)]
        if values.size:
            # Rounding alone spreads a difference of two readings this much.
            found = mean_of_units(values, conf_level=conf_level, floor=step / np.sqrt(6))
            limits = found.estimate, found.conf_low, found.conf_high, conf_level
            term = f"{rule.quantity}, worse than purified water by"
            rows.append((rule.name, mix, term, *limits, values.size, rule.unit, found.method))
    return rows


def _sentence(shares: pd.DataFrame, intervals: pd.DataFrame) -> str:
    if shares.empty:
        return "Clarity was not read in storage, so whether the water stayed clear is not known."
    parts = []
    for name, own in intervals.groupby("criterion", sort=False):
        again = own[np.isfinite(own["right_day"])]
        words = f"By {name}, {len(own) - len(again)} of {len(own)} vessels stayed clear in storage"
        if len(again):
            named = ", ".join(f"{r.vessel} ({r.mix})" for r in again.itertuples())
            words += f"; clouded again: {named}"
        parts.append(words + ".")
    return " ".join([*parts, "Vessels not clear to begin with are not counted."])
