"""What was declared about comparisons between mixes before the first reading."""

from dataclasses import dataclass
from itertools import combinations

import pandas as pd

from trialkit.analysis.balance import add_covariates
from trialkit.analysis.clearing import clearing_intervals
from trialkit.records.trial import Protocol, Trial
from trialkit.stats.permutation import PermutationTest, permutation_test
from trialkit.stats.scores import interval_scores

__all__ = ["ComparisonPlan", "declared_pairs", "permuted", "prepared"]


@dataclass(frozen=True)
class ComparisonPlan:
    """What a trial declares about its comparisons.

    Attributes
    ----------
    family : str
        Distribution of the times: lognormal, weibull or loglogistic.
    conf_level : float
        Level of each interval; 1 less it is the chance of any false claim in the whole family.
    control : str or None
        The mix that all others are compared with; None for all pairs.
    scale : float or None
        Standard deviation of log time between vessels of one mix, known from other trials. It is
        used only where this trial has one vessel a mix and so none of its own.
    scale_source : str
        Where that is from; goes into the method column.
    seed : int
        Of the permutations that cannot all be counted.
    """

    family: str = "lognormal"
    conf_level: float = 0.95
    control: str | None = None
    scale: float | None = None
    scale_source: str = ""
    seed: int = 1

    @classmethod
    def of(cls, protocol: Protocol) -> "ComparisonPlan":
        """The plan that trial.toml declares.

        Parameters
        ----------
        protocol : Protocol
            The protocol of a trial.

        Returns
        -------
        ComparisonPlan
            Its family, level, control, scale and seed.
        """
        return cls(
            family=protocol.family,
            conf_level=protocol.conf_level,
            control=protocol.control if protocol.comparisons == "control" else None,
            scale=protocol.declared_scale,
            scale_source=protocol.scale_source,
            seed=protocol.seed,
        )


def prepared(
    data: Trial | pd.DataFrame, criterion: str, plan: ComparisonPlan | None, adjust=()
) -> tuple[pd.DataFrame, ComparisonPlan]:
    """The intervals with the conditions to adjust for, and the plan that holds.

    Parameters
    ----------
    data : Trial or pandas.DataFrame
        A trial, or intervals.
    criterion : str
        Which intervals of a trial.
    plan : ComparisonPlan, optional
        By default the one of the trial, or the plain one for a frame.
    adjust : sequence of str
        Columns that must be there.

    Returns
    -------
    tuple of pandas.DataFrame and ComparisonPlan
        As said.

    Raises
    ------
    ValueError
        A column is missing, or the trial is still blind.
    """
    if isinstance(data, pd.DataFrame):
        intervals, trial = data, None
    elif data.blinded:
        raise ValueError(
            "the mixes are still blind: put key.csv (vessel, mix) into the trial folder."
        )
    else:
        intervals, trial = clearing_intervals(data, criterion), data
        plan = ComparisonPlan.of(trial.protocol) if plan is None else plan
    if trial is not None and set(adjust) - set(intervals.columns):
        intervals = add_covariates(intervals, trial)
    unknown = [name for name in adjust if name not in intervals.columns]
    if unknown:
        held = ", ".join(c for c in intervals.columns if c not in ("mix", "vessel"))
        raise ValueError(f"adjust must name columns of the intervals ({held}); got {unknown}.")
    return intervals.reset_index(drop=True), ComparisonPlan() if plan is None else plan


def declared_pairs(intervals: pd.DataFrame, plan: ComparisonPlan) -> list[tuple[str, str]]:
    """The pairs of mixes that are compared: all, or each with the control.

    Parameters
    ----------
    intervals : pandas.DataFrame
        With a column `mix`.
    plan : ComparisonPlan
        Says whether there is a control.

    Returns
    -------
    list of tuple of str
        In the order of the codes.

    Raises
    ------
    ValueError
        Fewer than two mixes, or no vessel of the control.
    """
    mixes = sorted(intervals["mix"].unique())
    if len(mixes) < 2:
        raise ValueError(f"a comparison needs two mixes or more; got {mixes}.")
    if plan.control is None:
        return list(combinations(mixes, 2))
    if plan.control not in mixes:
        raise ValueError(f"no vessel holds the control mix {plan.control}; got {mixes}.")
    return [(mix, plan.control) for mix in mixes if mix != plan.control]


def permuted(intervals: pd.DataFrame, plan: ComparisonPlan) -> PermutationTest:
    """The permutation test of the mixes in a frame of intervals, within blocks.

    Parameters
    ----------
    intervals : pandas.DataFrame
        Of two mixes or more.
    plan : ComparisonPlan
        For its seed.

    Returns
    -------
    PermutationTest
        With Sun's scores of the intervals.
    """
    scores = interval_scores(intervals["left_h"], intervals["right_h"], kind="sun")
    return permutation_test(
        scores, intervals["mix"], block=intervals["block"].astype(str), seed=plan.seed
    )
