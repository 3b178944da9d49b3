"""When each vessel came clear, as an interval between two looks.

A vessel cleared in `(left_h, right_h]`: it was not clear at `left_h`, it was clear at `right_h`.
"""

import warnings
from dataclasses import dataclass

import numpy as np
import pandas as pd

from trialkit.records.trial import Criterion, Trial

__all__ = [
    "FULLY_CLEAR",
    "Gaps",
    "clearing_intervals",
    "combine_criteria",
    "intervals_from_gaps",
    "reading_gaps",
]

LOOK_COLUMNS = ("value", "first_h", "last_h")
FULLY_CLEAR = "fully clear"


@dataclass(frozen=True)
class Gaps:
    """How far every look at a vessel fell short of the reference vessel.

    Attributes
    ----------
    criterion : Criterion
        The declared criterion that the gaps belong to.
    vessels : pandas.DataFrame
        One row a trial vessel: `mix`, `block`, `vessel`.
    raters : tuple of str
        Rater codes, in the order of the last axis of `gap`.
    gap : numpy.ndarray, shape (vessel, session, rater)
        Shortfall against the reference in the unit of the criterion; 0 or less is as good as the
        reference, nan where there was no reading to judge.
    first_h, last_h : numpy.ndarray, shape (vessel, session)
        Earliest, latest time at which a rater read the vessel in the session, hours since its
        start. A late "not clear" is claimed only from `first_h`, a "clear" only from `last_h`.
    """

    criterion: Criterion
    vessels: pd.DataFrame
    raters: tuple[str, ...]
    gap: np.ndarray
    first_h: np.ndarray
    last_h: np.ndarray

    def met(self, *, tolerance: float | None = None, rater_rule: str | None = None) -> np.ndarray:
        """Whether each vessel met the criterion in each session.

        Parameters
        ----------
        tolerance : float, optional
            Shortfall that still counts as met, in the unit of the criterion; the declared one by
            default.
        rater_rule : str, optional
            "majority" (strictly more than half of the raters who looked), "all", "any" or a rater
            code; the declared one by default.

        Returns
        -------
        numpy.ndarray, shape (vessel, session)
            1 met, 0 not met, nan not read.

        Raises
        ------
        ValueError
            If the rater rule is none of these.
        """
        tolerance = self.criterion.tolerance if tolerance is None else tolerance
        rule = self.criterion.rater_rule if rater_rule is None else rater_rule
        # Decimal readings such as 0.4 - 0.1 must not fail a tolerance of 0.3 by one float step.
        votes = np.where(np.isnan(self.gap), np.nan, self.gap <= tolerance + 1e-9)
        return _combine_raters(votes, self.raters, rule)


def clearing_intervals(
    trial: Trial,
    criterion: str = FULLY_CLEAR,
    *,
    tolerance: float | None = None,
    hold: int | None = None,
    rater_rule: str | None = None,
) -> pd.DataFrame:
    """One row a trial vessel: the interval in which it came clear.

    A vessel is clear when its reading meets the reference vessel's reading of the same session
    within the tolerance, by the rater rule, in `hold` successive readings; it came clear at the
    first of them. Clear readings that end the record before they are confirmed count neither as
    clear nor as not clear: `left_h` stays at the last reading that was not clear. Later
    re-clouding does not undo the time, it is reported in `reclouded_h`.

    Parameters
    ----------
    trial : Trial
        What `read_trial` returned. Where its folder holds `intervals.csv` with the criterion,
        those intervals are taken and the readings are not judged.
    criterion : str
        A criterion of trial.toml, or "fully clear": all of them met, so both ends of the interval
        are the latest over the criteria.
    tolerance, hold, rater_rule : optional
        Other values than the declared ones, for a look at what the definition of clear does.

    Returns
    -------
    pandas.DataFrame
        `mix`, `block`, `vessel`, `left_h`, `right_h`, `reclouded_h`, `n_readings`. `left_h` is 0
        when the first reading was clear, `right_h` is inf when the vessel was not seen clear,
        `reclouded_h` is the first reading after clearing that was not clear, inf when none.

    Raises
    ------
    ValueError
        If the criterion is not declared.

    Examples
    --------
    >>> import trialkit as tk
    >>> trial = tk.read_trial("data/demo/single")
    >>> list(tk.clearing_intervals(trial).columns[:5])
    ['mix', 'block', 'vessel', 'left_h', 'right_h']
    """
    declared = trial.protocol.criteria
    if criterion != FULLY_CLEAR and criterion not in declared:
        known = ", ".join([*declared, FULLY_CLEAR])
        raise ValueError(f"criterion must be one of {known}; got {criterion!r}.")
    names = list(declared) if criterion == FULLY_CLEAR else [criterion]
    options = {"tolerance": tolerance, "hold": hold, "rater_rule": rater_rule}
    return combine_criteria([_one_criterion(trial, name, options) for name in names])


def combine_criteria(frames: list[pd.DataFrame]) -> pd.DataFrame:
    """The intervals of all criteria together: a vessel is clear when the last of them is met.

    Parameters
    ----------
    frames : list of pandas.DataFrame
        Interval frames with the same vessels in the same order, hours.

    Returns
    -------
    pandas.DataFrame
        One interval frame: latest `left_h`, latest `right_h`, first `reclouded_h`.
    """
    together = frames[0].copy()
    for frame in frames[1:]:
        for column in ("left_h", "right_h"):
            together[column] = np.maximum(together[column], frame[column])
        for column in ("reclouded_h", "n_readings"):
            together[column] = np.minimum(together[column], frame[column])
    return together


def reading_gaps(trial: Trial, criterion: str) -> Gaps:
    """The shortfall of every reading of one criterion against the reference vessel.

    Each rater is held against the reference as that rater saw it in the same session; where the
    rater did not look at the reference, against the median of those who did. Repeats and
    positions of one look count once, by their median: they are sub-samples of one vessel.

    Parameters
    ----------
    trial : Trial
        What `read_trial` returned.
    criterion : str
        The name of a declared criterion.

    Returns
    -------
    Gaps
        Arrays over trial vessels, scheduled sessions and raters.
    """
    rule = trial.protocol.criteria[criterion]
    looks = _looks(trial.readings, rule)
    vessels = trial.vessels.loc[trial.vessels["role"] == "trial", ["mix", "block", "vessel"]]
    vessels = vessels.sort_values(["mix", "block", "vessel"], ignore_index=True)
    raters = tuple(sorted(looks["rater"].unique()))
    references = trial.vessels.loc[trial.vessels["role"] == "reference", "vessel"]
    at = (
        pd.Index([*vessels["vessel"], *references]).get_indexer(looks["vessel"]),
        looks["session"].to_numpy(int),
        pd.Index(raters).get_indexer(looks["rater"]),
    )
    shape = (
        len(vessels) + len(references), len(trial.protocol.schedule_h), max(len(raters), 1)
    )  # fmt: skip
    value, first, last = (_placed(looks[name], at, shape) for name in LOOK_COLUMNS)
    own = slice(len(vessels))
    reference = _reference(value[len(vessels) :])
    sign = 1 if rule.better == "low" else -1
    # A look without a reference to hold it against judges nothing.
    first, last = (np.where(np.isnan(reference), np.nan, hours[own]) for hours in (first, last))
    return Gaps(
        rule,
        vessels,
        raters,
        sign * (value[own] - reference),
        _extreme(np.fmin, first),
        _extreme(np.fmax, last),
    )


def _placed(values: pd.Series, at: tuple, shape: tuple[int, ...]) -> np.ndarray:
    """Values by vessel, session and rater, nan where there was no look."""
    found = np.full(shape, np.nan)
    found[at] = values
    return found


def intervals_from_gaps(
    gaps: Gaps,
    *,
    tolerance: float | None = None,
    hold: int | None = None,
    rater_rule: str | None = None,
) -> pd.DataFrame:
    """The interval frame of one criterion under one definition of clear.

    Parameters
    ----------
    gaps : Gaps
        What `reading_gaps` returned.
    tolerance, hold, rater_rule : optional
        Other values than the declared ones.

    Returns
    -------
    pandas.DataFrame
        The interval frame, hours.
    """
    hold = gaps.criterion.hold if hold is None else hold
    if hold < 1:
        raise ValueError(f"hold must be 1 or more readings; got {hold}.")
    met = gaps.met(tolerance=tolerance, rater_rule=rater_rule)
    times = _clear_from(met, gaps.first_h, gaps.last_h, hold)
    return pd.concat([gaps.vessels, pd.DataFrame(times)], axis=1)


def _one_criterion(trial: Trial, name: str, options: dict) -> pd.DataFrame:
    given = trial.intervals
    if given is not None and (given["criterion"] == name).any():
        return _declared_intervals(trial, given[given["criterion"] == name])
    return intervals_from_gaps(reading_gaps(trial, name), **options)


def _declared_intervals(trial: Trial, given: pd.DataFrame) -> pd.DataFrame:
    vessels = trial.vessels.loc[trial.vessels["role"] == "trial", ["mix", "block", "vessel"]]
    frame = vessels.merge(given[["vessel", "left_h", "right_h"]], how="left", on="vessel")
    # A vessel without a row in intervals.csv was never judged: (0, inf] says nothing.
    frame = frame.fillna({"left_h": 0.0, "right_h": np.inf})
    frame["reclouded_h"] = np.inf
    frame["n_readings"] = 0
    return frame.sort_values(["mix", "block", "vessel"], ignore_index=True)


def _looks(readings: pd.DataFrame, rule: Criterion) -> pd.DataFrame:
    """One row a vessel, session and rater: the median reading, its first and last time."""
    wanted = (
        (readings["quantity"] == rule.quantity)
        & (readings["unit"] == rule.unit)
        & (readings["phase"] == "mixing")
        & readings["value"].notna()
    )
    used = readings[wanted]
    used = used.assign(value=_cautious(used, rule))
    keys = ["vessel", "session", "rater"]
    if not used.duplicated(keys).any():
        # So it is as a rule, and grouping looks that stand alone takes longest of all.
        return used[[*keys, "value"]].assign(first_h=used["elapsed_h"], last_h=used["elapsed_h"])
    grouped = used.groupby(keys, observed=True, as_index=False)
    return grouped.agg(
        value=("value", "median"), first_h=("elapsed_h", "min"), last_h=("elapsed_h", "max")
    )


def _cautious(used: pd.DataFrame, rule: Criterion) -> np.ndarray:
    """The readings with `<x` and `>x` at the end of their range that is worse for clarity."""
    beyond = {"low": (">", np.inf), "high": ("<", -np.inf)}[rule.better]
    # "<0.1" is read as 0.1 where low is good; ">40" could be anything above: never clear.
    return np.where(used["limit"] == beyond[0], beyond[1], used["value"])


def _reference(value: np.ndarray) -> np.ndarray:
    """What the reference vessels read, shape (session, rater), from (vessel, session, rater).

    By the rater's own looks, or by those of all raters where the rater did not look.
    """
    seen = np.where(np.isfinite(value), value, np.nan)
    with warnings.catch_warnings():
        # Where nobody looked there is no median, and nan says so.
        warnings.filterwarnings("ignore", "All-NaN slice", RuntimeWarning)
        by_rater = np.nanmedian(seen, axis=0)
        by_all = np.nanmedian(seen, axis=(0, 2))
    return np.where(np.isnan(by_rater), by_all[:, None], by_rater)


def _extreme(which: np.ufunc, times: np.ndarray) -> np.ndarray:
    return which.reduce(times, axis=2)


def _combine_raters(votes: np.ndarray, raters: tuple[str, ...], rule: str) -> np.ndarray:
    if rule in raters:
        return votes[:, :, raters.index(rule)]
    looked = (~np.isnan(votes)).sum(axis=2)
    clear = np.nansum(votes, axis=2)
    rules = {"majority": clear * 2 > looked, "all": clear == looked, "any": clear > 0}
    if rule not in rules:
        known = ", ".join([*rules, *raters])
        raise ValueError(f"rater_rule must be one of {known}; got {rule!r}.")
    return np.where(looked > 0, rules[rule], np.nan)


def _clear_from(met, first_h, last_h, hold: int) -> dict[str, np.ndarray]:
    """`left_h`, `right_h`, `reclouded_h` and the number of readings of each vessel (a row)."""
    # Sessions without a reading go to the end, so that successive readings stand side by side.
    order = np.argsort(np.isnan(met), axis=1, kind="stable")
    met, first_h, last_h = (np.take_along_axis(x, order, 1) for x in (met, first_h, last_h))
    clear, not_clear = met > 0, met == 0
    # Before the first reading time begins, and after the last nothing was seen any more.
    before, after = np.zeros((len(met), 1)), np.full((len(met), 1), np.inf)
    start, end, place = _first_run(clear, hold), met.shape[1], np.arange(met.shape[1])
    earlier, later = place < start[:, None], place > start[:, None]
    last_not_clear = np.where(not_clear & earlier, place, -1).max(1, initial=-1)
    again = np.where(not_clear & later, place, end).min(1, initial=end)
    rows = np.arange(len(met))
    return {
        "left_h": np.hstack([before, first_h])[rows, last_not_clear + 1],
        "right_h": np.hstack([last_h, after])[rows, start],
        "reclouded_h": np.hstack([first_h, after])[rows, again],
        "n_readings": (clear | not_clear).sum(1),
    }


def _first_run(clear: np.ndarray, hold: int) -> np.ndarray:
    """Where the first run of `hold` clear readings starts in each row; the row's end if nowhere."""
    end = clear.shape[1]
    if end < hold:
        return np.full(len(clear), end)
    runs = np.lib.stride_tricks.sliding_window_view(clear, hold, axis=1).all(axis=2)
    return np.where(runs.any(axis=1), runs.argmax(axis=1), end)
