"""A trial under another definition of clear than the declared one."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pandas as pd

from trialkit.analysis.clearing import (
    FULLY_CLEAR,
    Gaps,
    clearing_intervals,
    combine_criteria,
    intervals_from_gaps,
    reading_gaps,
)
from trialkit.analysis.mixing_time import count_cleared
from trialkit.analysis.shared_fit import fit_times
from trialkit.records.trial import Trial
from trialkit.stats._families import family_named
from trialkit.stats.aft import AftFit

__all__ = ["Definition", "Judged", "declared_definition", "judge_by", "judged_gaps", "share_curves"]


@dataclass(frozen=True)
class Definition:
    """What counts as clear by one criterion.

    Attributes
    ----------
    tolerance : float
        How much worse than the reference still counts as met, in the criterion's unit.
    hold : int
        How many successive readings must meet it.
    rater_rule : str
        "majority", "all", "any" or a rater's code.
    """

    tolerance: float
    hold: int
    rater_rule: str


@dataclass(frozen=True)
class Judged:
    """A trial under one definition of clear.

    Attributes
    ----------
    intervals : pandas.DataFrame
        One row a vessel: `mix`, `block`, `vessel`, `left_h`, `right_h`, ….
    fit : AftFit
        The model of the times.
    ranking : pandas.DataFrame
        `mix`, `rank`, `estimate`, `conf_low`, `conf_high`, `n`, `n_event`; the fastest first.
    """

    intervals: pd.DataFrame
    fit: AftFit
    ranking: pd.DataFrame


def judge_by(
    trial: Trial, gaps: dict[str, Gaps], definitions: dict[str, Definition], criterion: str
) -> Judged:
    """The trial under the given definitions of clear.

    Parameters
    ----------
    trial : Trial
        What `read_trial` returned, unblinded.
    gaps : dict of str to Gaps
        What `reading_gaps` returned, by criterion; those of intervals.csv are left out.
    definitions : dict of str to Definition
        By criterion, for all in `gaps`.
    criterion : str
        A declared criterion, or "fully clear".

    Returns
    -------
    Judged
        Intervals, fit and ranking.

    Examples
    --------
    >>> import trialkit as tk
    >>> trial = tk.read_trial("data/demo/harbour")
    >>> gaps = judged_gaps(trial)
    >>> strict = {name: Definition(0, 3, "all") for name in gaps}
    >>> judge_by(trial, gaps, strict, "clarity").ranking["mix"].iloc[0]
    'M01'
    """
    names = list(trial.protocol.criteria) if criterion == FULLY_CLEAR else [criterion]
    intervals = combine_criteria(
        [
            intervals_from_gaps(gaps[name], **vars(definitions[name]))
            if name in gaps
            else clearing_intervals(trial, name)
            for name in names
        ]
    )
    fit = fit_times(intervals, trial.protocol)
    return Judged(intervals, fit, _ranking(intervals, fit, trial.protocol.conf_level))


def _ranking(intervals: pd.DataFrame, fit: AftFit, conf_level: float) -> pd.DataFrame:
    times = fit.quantile(0.5, conf_level).rename(columns={"group": "mix"})
    times = times.merge(count_cleared(intervals), on="mix")
    times["rank"] = times["estimate"].rank(method="min").astype(int)
    times = times.sort_values(["rank", "mix"], ignore_index=True)
    return times[["mix", "rank", "estimate", "conf_low", "conf_high", "n", "n_event"]]


def judged_gaps(trial: Trial) -> dict[str, Gaps]:
    """The gaps of every criterion that is judged from readings, by its name.

    Parameters
    ----------
    trial : Trial
        What `read_trial` returned.

    Returns
    -------
    dict of str to Gaps
        Criteria whose intervals come from intervals.csv are left out.
    """
    return {name: reading_gaps(trial, name) for name in trial.judged}


def declared_definition(gaps: Gaps) -> Definition:
    """The definition of trial.toml.

    Parameters
    ----------
    gaps : Gaps
        Of the criterion.

    Returns
    -------
    Definition
    """
    rule = gaps.criterion
    return Definition(rule.tolerance, rule.hold, rule.rater_rule)


def share_curves(fit: AftFit) -> dict[str, Callable[[np.ndarray], np.ndarray]]:
    """Functions from hours to the share of batches clear by then, by mix.

    Parameters
    ----------
    fit : AftFit
        A fit without covariates.

    Returns
    -------
    dict of str to callable
        Each takes and returns an array; a mix that never cleared stays at 0.
    """
    return {mix: _curve(fit, mix) for mix in fit.groups}


def _curve(fit: AftFit, mix: str) -> Callable[[np.ndarray], np.ndarray]:
    """Share of batches of a mix clear by each time."""
    location, cdf = float(fit.coefficients[mix]), family_named(fit.family).cdf

    def share(hours: np.ndarray) -> np.ndarray:
        distance = np.log(hours) - location
        if fit.scale == 0 or not np.isfinite(distance).all():
            return (distance >= 0).astype(float)
        return cdf(distance / fit.scale)

    return share
