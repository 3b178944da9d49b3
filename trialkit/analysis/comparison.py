"""Which mixes clear sooner than which."""

import numpy as np
import pandas as pd

from trialkit.analysis.clearing import FULLY_CLEAR
from trialkit.analysis.comparison_basis import Basis, comparison_basis
from trialkit.analysis.comparison_plan import ComparisonPlan, declared_pairs, permuted, prepared
from trialkit.analysis.comparison_words import (
    DECLARED,
    NO_SCALE,
    comparison_notes,
    comparison_verdict,
)
from trialkit.records.trial import Trial
from trialkit.stats.contrasts import pair_contrasts
from trialkit.stats.multiplicity import adjust_p_values
from trialkit.stats.pairs import pair_p_values

__all__ = ["compare_mixes"]

COLUMNS = [
    "mix_a",
    "mix_b",
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
    "n_a",
    "n_event_a",
    "n_b",
    "n_event_b",
    "unit",
    "method",
    "verdict",
    "note",
]


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
        Conditions held equal: "temperature", "mixed salinity", "block", or further columns of the
        frame. Own-scale and permutation columns are left out then: they would not be adjusted.
        Where blocks differ much, holding them equal finds far more: in simulation 84% of the
        comparisons with a mix twice as slow instead of 18% (6 mixes, 4 blocks), at a family error
        of 4%.

    Returns
    -------
    pandas.DataFrame
        mix_a, mix_b; estimate, conf_low, conf_high, conf_level: ratio of the time of mix_a to that
        of mix_b with the interval of this pair alone (0 or inf where a mix never cleared or always
        had at the first reading; 1, from 0 to inf, where nothing can be said); p_value; p_adjusted
        (Holm); p_own_scale (Holm too); p_permutation and p_smallest (of the pair alone); n_a,
        n_event_a, n_b, n_event_b; unit (none); method; verdict; note.

    Raises
    ------
    ValueError
        Fewer than two mixes, the control is not among them, a condition is not known, or the trial
        is still blind.

    Examples
    --------
    >>> looks = {"mix": ["M01"] * 3 + ["M02"] * 3, "block": ["1", "2", "3"] * 2}
    >>> looks |= {"left_h": [1, 1, 2, 4, 6, 6], "right_h": [2, 2, 3, 6, 8, 8]}
    >>> compare_mixes(pd.DataFrame(looks))["verdict"].tolist()
    ['M01 clears sooner']
    """
    intervals, plan = prepared(data, criterion, plan, adjust)
    pairs = declared_pairs(intervals, plan)
    basis = comparison_basis(intervals, plan, adjust)
    table = _estimates(pairs, basis, plan)
    if not adjust:
        table = table.assign(**_robust_columns(intervals, pairs, plan, basis))
    if basis.shuffles:
        table = table.assign(p_value=table["p_permutation"], method="permutation within blocks")
    table["p_adjusted"] = adjust_p_values(table["p_value"])
    return _worded(table, plan.conf_level, basis)


def _estimates(pairs, basis: Basis, plan: ComparisonPlan) -> pd.DataFrame:
    """Ratio, interval and counts of every pair."""
    first, second = ([pair[side] for pair in pairs] for side in (0, 1))
    table = pd.DataFrame({"mix_a": first, "mix_b": second, "term": "ratio of times"})
    for side, mixes in (("a", first), ("b", second)):
        counts = basis.counts.loc[mixes]
        table[f"n_{side}"] = counts["n"].to_numpy()
        table[f"n_event_{side}"] = counts["n_event"].to_numpy()
    return table.assign(unit="", conf_level=plan.conf_level, **_ratios(pairs, basis, plan))


def _ratios(pairs, basis: Basis, plan: ComparisonPlan) -> dict:
    if basis.fit is None:
        # What the data say when nothing can be said: any ratio will do.
        open_ended = {"estimate": 1.0, "conf_low": 0.0, "conf_high": np.inf}
        return {**open_ended, "p_value": 1.0, "method": "none"}
    found = pair_contrasts(basis.fit, pairs, conf_level=plan.conf_level)
    columns = {name: found[name] for name in ("estimate", "conf_low", "conf_high", "p_value")}
    method = found.loc[0, "method"]
    if basis.scale is not None:
        method += f", scale {plan.scale:g} declared from other trials"
        method += f" ({plan.scale_source})" if plan.scale_source else ""
    return {**columns, "method": method}


def _robust_columns(intervals, pairs, plan: ComparisonPlan, basis: Basis) -> dict:
    """The same question without the pooled scale, and without any distribution."""
    by_mix = dict(list(intervals.groupby("mix")))
    both = [pd.concat([by_mix[mix], by_mix[other]]) for mix, other in pairs]
    answers = [permuted(own, plan) for own in both]
    own_scale = np.ones(len(pairs))
    if basis.fit is not None:
        ends = [(own["left_h"], own["right_h"], own["mix"]) for own in both]
        own_scale = pair_p_values(ends, family=plan.family, scale=basis.scale)
    return {
        "p_own_scale": adjust_p_values(own_scale),
        "p_permutation": [answer.p_value for answer in answers],
        "p_smallest": [answer.p_smallest for answer in answers],
    }


def _worded(table: pd.DataFrame, conf_level: float, basis: Basis) -> pd.DataFrame:
    """The table with its verdicts and notes, columns in order."""
    rows = list(table.itertuples())
    table["verdict"] = [comparison_verdict(row, conf_level, basis.refused) for row in rows]
    notes = []
    for row in table.itertuples():
        parts = (
            [basis.refused] if basis.refused else comparison_notes(row, conf_level, basis.counts)
        )
        if basis.scale is not None:
            parts.append(DECLARED)
        if basis.shuffles:
            parts.append(NO_SCALE)
        notes.append("; ".join(parts))
    table["note"] = notes
    return table[[name for name in COLUMNS if name in table]]
