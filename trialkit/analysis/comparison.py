"""Which mixes clear sooner than which."""

from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np
import pandas as pd

from trialkit.analysis.balance import add_covariates
from trialkit.analysis.clearing import FULLY_CLEAR, clearing_intervals
from trialkit.records.trial import Protocol, Trial
from trialkit.stats.aft import AftFit, fit_aft, pair_p_values
from trialkit.stats.multiplicity import adjust_p_values
from trialkit.stats.permutation import permutation_test
from trialkit.stats.scores import interval_scores

__all__ = ["ComparisonPlan", "compare_mixes", "overall_difference"]

NOT_SHOWN, NO_COMPARISON = "not shown different", "no comparison"

ONE_VESSEL = (
    "one vessel a mix: a difference between mixes cannot be told from one between vessels, so no "
    "inference between mixes is made; more vessels, or a scale declared from other trials, would"
)
NEITHER = "neither cleared in the window: nothing to compare"
BOTH_FIRST = (
    "every vessel of both was clear at its first reading: only earlier readings could tell"
)

COLUMNS = [
    "mix",
    "other",
    "term",
    "estimate",
    "conf_low",
    "conf_high",
    "conf_level",
    "p_value",
    "p_adjusted",
    "p_own_scale",
    "p_permutation",
    "p_smallest",
    "n",
    "n_event",
    "n_other",
    "n_event_other",
    "unit",
    "method",
    "verdict",
    "note",
]


@dataclass(frozen=True)
class ComparisonPlan:
    """What was declared about comparisons before the first reading.

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


def compare_mixes(
    data: Trial | pd.DataFrame,
    *,
    criterion: str = FULLY_CLEAR,
    plan: ComparisonPlan | None = None,
    adjust=(),
) -> pd.DataFrame:
    """One row a pair of mixes: the ratio of their times and whether they were shown different.

    The ratio, its interval and its p-value are those of a likelihood ratio, calibrated for few
    vessels, with one scale for all mixes. Holm's adjustment over the declared family decides the
    verdict. Beside it stand the adjusted p-value with a scale of the two mixes' own, which tells
    what rests on equal spread, and a permutation p-value, which rests on nothing but the layout,
    with the smallest one that the layout could have given.

    Parameters
    ----------
    data : Trial or pandas.DataFrame
        A trial, or the intervals that `clearing_intervals` returned, hours.
    criterion : str
        Which intervals of a trial.
    plan : ComparisonPlan, optional
        By default the one of the trial, or the plain one for a frame.
    adjust : sequence of str
        Conditions held equal: "temperature", "start salinity", "block", or further columns of the
        frame. Own-scale and permutation columns are left out then: they would not be adjusted.

    Returns
    -------
    pandas.DataFrame
        mix, other; estimate, conf_low, conf_high, conf_level: ratio of the time of `mix` to that
        of `other` with the interval of this pair alone (0 or inf where a mix never cleared or
        always had at the first reading); p_value; p_adjusted (Holm); p_own_scale; p_permutation;
        p_smallest; n, n_event of `mix`; n_other, n_event_other; unit (none); method; verdict; note.

    Raises
    ------
    ValueError
        Fewer than two mixes, the control is not among them, or a condition is not known.

    Examples
    --------
    >>> looks = {"mix": ["M01"] * 3 + ["M02"] * 3, "block": ["1", "2", "3"] * 2}
    >>> looks |= {"left_h": [1, 1, 2, 4, 6, 6], "right_h": [2, 2, 3, 6, 8, 8]}
    >>> compare_mixes(pd.DataFrame(looks))["verdict"].tolist()
    ['M01 clears sooner']
    """
    intervals, plan = _prepared(data, criterion, plan, adjust)
    pairs = _pairs(intervals, plan)
    counts = _counts(intervals)
    fit, refused = _fitted(intervals, plan, counts, adjust)
    rows = [_estimate_row(pair, fit, plan, counts) for pair in pairs]
    table = pd.DataFrame(rows)
    table["p_adjusted"] = adjust_p_values(table["p_value"])
    if not adjust:
        table = table.assign(**_robust_columns(intervals, pairs, plan, fit))
    table["verdict"] = [_verdict(row, plan, refused) for row in table.itertuples()]
    table["note"] = [refused or _note(row, plan, counts) for row in table.itertuples()]
    return table[[name for name in COLUMNS if name in table]]


def overall_difference(
    data: Trial | pd.DataFrame,
    *,
    criterion: str = FULLY_CLEAR,
    plan: ComparisonPlan | None = None,
) -> pd.DataFrame:
    """One row: whether any difference between mixes was shown, before asking which.

    Parameters
    ----------
    data : Trial or pandas.DataFrame
        A trial, or the intervals that `clearing_intervals` returned.
    criterion : str
        Which intervals of a trial.
    plan : ComparisonPlan, optional
        By default the one of the trial, or the plain one for a frame.

    Returns
    -------
    pandas.DataFrame
        term, p_value (permutation of vessels within blocks, Sun's scores), p_smallest, n, n_event,
        n_censored, method, verdict.

    Examples
    --------
    >>> looks = {"mix": ["M01"] * 3 + ["M02"] * 3, "block": ["1"] * 6}
    >>> looks |= {"left_h": [1, 1, 2, 4, 6, 6], "right_h": [2, 2, 3, 6, 8, 8]}
    >>> overall_difference(pd.DataFrame(looks))["p_value"].tolist()
    [0.1]
    """
    intervals, plan = _prepared(data, criterion, plan, ())
    _pairs(intervals, replace(plan, control=None))
    answer = _permuted(intervals, plan)
    events = int(np.isfinite(intervals["right_h"]).sum())
    shown = answer.p_value <= 1 - plan.conf_level + 1e-12
    row = {
        "term": "any difference between mixes",
        "p_value": answer.p_value,
        "p_smallest": answer.p_smallest,
        "n": len(intervals),
        "n_event": events,
        "n_censored": len(intervals) - events,
        "method": answer.method,
        "verdict": "shown" if shown else "not shown",
    }
    return pd.DataFrame([row])


def _prepared(data, criterion: str, plan, adjust) -> tuple[pd.DataFrame, ComparisonPlan]:
    if isinstance(data, pd.DataFrame):
        intervals, trial = data, None
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


def _pairs(intervals: pd.DataFrame, plan: ComparisonPlan) -> list[tuple[str, str]]:
    mixes = sorted(intervals["mix"].unique())
    if len(mixes) < 2:
        raise ValueError(f"a comparison needs two mixes or more; got {mixes}.")
    if plan.control is None:
        return list(combinations(mixes, 2))
    if plan.control not in mixes:
        raise ValueError(f"no vessel holds the control mix {plan.control}; got {mixes}.")
    return [(mix, plan.control) for mix in mixes if mix != plan.control]


def _counts(intervals: pd.DataFrame) -> pd.DataFrame:
    """Per mix: vessels, vessels clear, vessels clear at the first reading."""
    flags = pd.DataFrame(
        {
            "mix": intervals["mix"],
            "n": 1,
            "n_event": np.isfinite(intervals["right_h"]).astype(int),
            "n_first": ((intervals["left_h"] == 0) & np.isfinite(intervals["right_h"])).astype(int),
        }
    )
    return flags.groupby("mix").sum()


def _fitted(intervals, plan: ComparisonPlan, counts, adjust) -> tuple[AftFit | None, str]:
    """The fit that the ratios are from, or None with the words of the refusal."""
    single = counts["n"].max() == 1
    if single and plan.scale is None:
        return None, ONE_VESSEL
    try:
        fit = fit_aft(
            intervals["left_h"],
            intervals["right_h"],
            intervals["mix"],
            design=_design(intervals, adjust) if adjust else None,
            family=plan.family,
            scale=plan.scale if single else None,
        )
    except RuntimeError as error:
        # Only covariates can leave a fit without a maximum.
        return None, f"too few vessels to hold {', '.join(adjust)} equal: {error}"
    return fit, ""


def _design(intervals: pd.DataFrame, adjust) -> pd.DataFrame:
    """Numbers less their mean; one column a further label of everything else."""
    parts = []
    for name in adjust:
        column = intervals[name]
        if name != "block" and pd.api.types.is_numeric_dtype(column):
            parts.append(column - column.mean())
        else:
            parts.append(pd.get_dummies(column, prefix=name, drop_first=True, dtype=float))
    return pd.concat(parts, axis=1)


def _estimate_row(pair, fit: AftFit | None, plan: ComparisonPlan, counts) -> dict:
    mix, other = pair
    row = {
        "mix": mix,
        "other": other,
        "term": "ratio of times",
        # What the data say when nothing can be said: any ratio will do.
        "estimate": 1.0,
        "conf_low": 0.0,
        "conf_high": np.inf,
        "conf_level": plan.conf_level,
        "p_value": 1.0,
        "n": int(counts.loc[mix, "n"]),
        "n_event": int(counts.loc[mix, "n_event"]),
        "n_other": int(counts.loc[other, "n"]),
        "n_event_other": int(counts.loc[other, "n_event"]),
        "unit": "",
        "method": "none",
    }
    if fit is None:
        return row
    found = fit.contrast(mix, other, conf_level=plan.conf_level).iloc[0]
    keep = ["estimate", "conf_low", "conf_high", "p_value", "method"]
    row |= found[keep].to_dict()
    if counts["n"].max() == 1:
        row["method"] += f", scale {plan.scale:g} declared from other trials"
        row["method"] += f" ({plan.scale_source})" if plan.scale_source else ""
    return row


def _robust_columns(intervals, pairs, plan: ComparisonPlan, fit: AftFit | None) -> dict:
    """The same question without the pooled scale, and without any distribution."""
    by_mix = dict(list(intervals.groupby("mix")))
    both = [pd.concat([by_mix[mix], by_mix[other]]) for mix, other in pairs]
    answers = [_permuted(own, plan) for own in both]
    own_scale = np.ones(len(pairs))
    if fit is not None:
        scale = plan.scale if max(map(len, by_mix.values())) == 1 else None
        own_scale = pair_p_values(
            [(own["left_h"], own["right_h"], own["mix"]) for own in both],
            family=plan.family,
            scale=scale,
        )
    return {
        "p_own_scale": adjust_p_values(own_scale),
        "p_permutation": [answer.p_value for answer in answers],
        "p_smallest": [answer.p_smallest for answer in answers],
    }


def _permuted(intervals: pd.DataFrame, plan: ComparisonPlan):
    scores = interval_scores(intervals["left_h"], intervals["right_h"], kind="sun")
    return permutation_test(
        scores, intervals["mix"], block=intervals["block"].astype(str), seed=plan.seed
    )


def _verdict(row, plan: ComparisonPlan, refused: str) -> str:
    if refused or (row.conf_low == 0 and np.isinf(row.conf_high)):
        return NO_COMPARISON
    # The slack: 1 - 0.95 is a hair under 0.05.
    if row.p_adjusted > 1 - plan.conf_level + 1e-12:
        return NOT_SHOWN
    return f"{row.mix} clears {'sooner' if row.estimate < 1 else 'later'}"


def _note(row, plan: ComparisonPlan, counts) -> str:
    parts = [*_place_notes(row, counts), *_vessel_notes(row, counts)]
    own_scale = getattr(row, "p_own_scale", None)
    claimed = row.verdict not in (NOT_SHOWN, NO_COMPARISON)
    if claimed and own_scale is not None and own_scale > 1 - plan.conf_level:
        parts.append(
            "holds only if all mixes spread alike: with a scale of their own these two are not "
            f"shown different (adjusted p {own_scale:.2g})"
        )
    return "; ".join(parts)


def _place_notes(row, counts) -> list[str]:
    """What it means that a mix has no time of its own."""
    never = [mix for mix in (row.mix, row.other) if counts.loc[mix, "n_event"] == 0]
    first = [m for m in (row.mix, row.other) if counts.loc[m, "n_first"] == counts.loc[m, "n"]]
    if len(never) == 2:
        return [NEITHER]
    if len(first) == 2:
        return [BOTH_FIRST]
    notes = [f"{mix} never cleared in the window: the ratio has a limit on one side" for mix in never]
    notes += [
        f"every vessel of {mix} was clear at its first reading: the ratio has a limit on one side"
        for mix in first
    ]
    return notes


def _vessel_notes(row, counts) -> list[str]:
    if counts["n"].max() == 1:
        return ["one vessel a mix: rests wholly on the declared scale"]
    return [
        f"{mix} has one vessel: its spread is taken from the other mixes"
        for mix in (row.mix, row.other)
        if counts.loc[mix, "n"] == 1
    ]
