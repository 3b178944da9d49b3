"""What each rater alone would have made of a trial."""

from __future__ import annotations

import numpy as np
import pandas as pd

from trialkit.analysis.claims import assess_claims, claimed_criteria, claims_from
from trialkit.analysis.clearing import (
    FULLY_CLEAR,
    Gaps,
    clearing_intervals,
    combine_criteria,
    intervals_from_gaps,
    reading_gaps,
)
from trialkit.analysis.shared_fit import fit_times
from trialkit.records.trial import Protocol, Trial

__all__ = ["claims_by_rater", "times_by_rater"]

TIME_COLUMNS = ["criterion", "rater", "mix", "n", "n_changed", "typical_h", "alone_h", "unit"]
CLAIM_COLUMNS = ["claim", "text", "rater", "verdict", "alone", "changed"]


def times_by_rater(trial: Trial, criteria: list[str] | None = None) -> pd.DataFrame:
    """The clearing time of each mix by all raters and by one rater alone.

    Parameters
    ----------
    trial : Trial
        What `read_trial` returned, unblinded.
    criteria : list of str, optional
        The declared criteria by default.

    Returns
    -------
    DataFrame
        criterion, rater, mix, n (vessels), n_changed (vessels whose interval is another),
        typical_h (median by the declared rule), alone_h (by this rater), unit. A rater who did
        not judge the criterion has no row. A time that the data cannot place is inf.

    Examples
    --------
    >>> import trialkit as tk
    >>> found = tk.times_by_rater(tk.read_trial("data/demo/harbour"), ["clarity"])
    >>> bool((found["n_changed"] <= found["n"]).all())
    True
    """
    names = list(trial.protocol.criteria) if criteria is None else criteria
    rows = [row for name in names for row in _time_rows(trial, name)]
    return pd.DataFrame(rows, columns=TIME_COLUMNS)


def claims_by_rater(
    trial: Trial, criteria: list[str] | None = None, *, together: pd.DataFrame | None = None
) -> pd.DataFrame:
    """The verdict on every claim by all raters and by one rater alone.

    A rater who judged only some criteria alone leaves the declared rule for the others.

    Parameters
    ----------
    trial : Trial
        What `read_trial` returned, unblinded.
    criteria : list of str, optional
        Criteria that a rater may judge alone; the declared ones by default.
    together : DataFrame, optional
        What `assess_claims` returned for the trial, where it is at hand already.

    Returns
    -------
    DataFrame
        claim, text, rater, verdict (declared rule), alone (this rater), changed.

    Examples
    --------
    >>> import trialkit as tk
    >>> found = tk.claims_by_rater(tk.read_trial("data/demo/harbour"), ["clarity"])
    >>> sorted(found["rater"].unique())
    ['R01', 'R02']
    """
    names = list(trial.protocol.criteria) if criteria is None else criteria
    if not trial.protocol.claims or not names:
        return pd.DataFrame(columns=CLAIM_COLUMNS)
    gaps = {name: reading_gaps(trial, name) for name in names if name in trial.judged}
    together = assess_claims(trial) if together is None else together
    together = together[["claim", "text", "verdict"]]
    frames = []
    for rater in sorted(set().union(*(gap.raters for gap in gaps.values()))):
        intervals = _alone(trial, gaps, rater)
        fits = {name: fit_times(frame, trial.protocol) for name, frame in intervals.items()}
        alone = claims_from(trial.protocol, intervals, fits)["verdict"].to_numpy()
        frames.append(together.assign(rater=rater, alone=alone))
    found = pd.concat(frames, ignore_index=True)
    return found.assign(changed=found["verdict"] != found["alone"])[CLAIM_COLUMNS]


def _alone(trial: Trial, gaps: dict[str, Gaps], rater: str) -> dict[str, pd.DataFrame]:
    """The intervals that claims are about, by this rater where it judged the criterion."""
    claimed = claimed_criteria(trial.protocol)
    needed = trial.protocol.criteria if FULLY_CLEAR in claimed else claimed
    found = {
        name: intervals_from_gaps(gaps[name], rater_rule=rater)
        if name in gaps and rater in gaps[name].raters
        else clearing_intervals(trial, name)
        for name in needed
    }
    if FULLY_CLEAR in claimed:
        found[FULLY_CLEAR] = combine_criteria(list(found.values()))
    return {name: found[name] for name in claimed}


def _time_rows(trial: Trial, name: str):
    gaps = reading_gaps(trial, name)
    together = intervals_from_gaps(gaps)
    typical = _medians(together, trial.protocol)
    for rater in gaps.raters:
        alone = intervals_from_gaps(gaps, rater_rule=rater)
        times = _medians(alone, trial.protocol)
        ends = ["left_h", "right_h"]
        changed = (together[ends].to_numpy() != alone[ends].to_numpy()).any(axis=1)
        for mix in typical.index:
            own = together["mix"] == mix
            yield (name, rater, mix, int(own.sum()), int(np.sum(changed & own)),
                   typical[mix], times[mix], "h")  # fmt: skip


def _medians(intervals: pd.DataFrame, protocol: Protocol) -> pd.Series:
    return fit_times(intervals, protocol).times_at(0.5)
