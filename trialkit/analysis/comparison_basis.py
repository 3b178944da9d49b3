"""What a comparison of mixes rests on: the fit, where its scale is from, or a refusal."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from trialkit.analysis.comparison_plan import ComparisonPlan
from trialkit.analysis.comparison_words import ONE_VESSEL
from trialkit.analysis.shared_fit import tells_no_spread
from trialkit.stats.aft import AftFit, fit_aft

__all__ = ["Basis", "comparison_basis"]


@dataclass(frozen=True)
class Basis:
    """What the comparisons rest on.

    Attributes
    ----------
    counts : pandas.DataFrame
        Per mix n, n_event, n_first (vessels clear at their first reading), n_read (vessels judged).
    fit : AftFit or None
        None when refused.
    refused : str
        Why there is no inference, in words.
    scale : float or None
        The declared scale, where the fit rests on it.
    shuffles : bool
        True where there is no scale at all, so that the permutation decides.
    """

    counts: pd.DataFrame
    fit: AftFit | None = None
    refused: str = ""
    scale: float | None = None
    shuffles: bool = False


def _counts(intervals: pd.DataFrame) -> pd.DataFrame:
    """Per mix: vessels, vessels clear, vessels clear at the first reading, vessels judged."""
    flags = pd.DataFrame(
        {
            "mix": intervals["mix"],
            "n": 1,
            "n_event": np.isfinite(intervals["right_h"]).astype(int),
            "n_first": ((intervals["left_h"] == 0) & np.isfinite(intervals["right_h"])).astype(int),
            "n_read": ((intervals["left_h"] > 0) | np.isfinite(intervals["right_h"])).astype(int),
        }
    )
    return flags.groupby("mix").sum()


def comparison_basis(intervals: pd.DataFrame, plan: ComparisonPlan, adjust=()) -> Basis:
    """The fit that comparisons rest on, or the words of the refusal.

    Parameters
    ----------
    intervals : pandas.DataFrame
        Hours, with the columns named in `adjust`.
    plan : ComparisonPlan
        Its family, and its scale where the vessels tell none.
    adjust : sequence of str
        Conditions held equal.

    Returns
    -------
    Basis
        With a fit, unless there is one vessel a mix and no declared scale, or too few vessels for
        the conditions.
    """
    counts = _counts(intervals)
    lacking = tells_no_spread(intervals)
    if lacking and plan.scale is None and counts["n"].max() == 1:
        return Basis(counts, refused=ONE_VESSEL)
    scale = plan.scale if lacking else None
    design = _design(intervals, adjust) if adjust else None
    try:
        fit = fit_aft(
            intervals["left_h"],
            intervals["right_h"],
            intervals["mix"],
            design=design,
            family=plan.family,
            scale=scale,
        )
    except (RuntimeError, ValueError) as error:
        if not adjust:
            raise
        # Only covariates can repeat the mixes, or leave a fit without a maximum.
        refused = f"too few vessels to hold {', '.join(adjust)} equal: {error}"
        return Basis(counts, refused=refused)
    return Basis(counts, fit, scale=scale, shuffles=lacking and scale is None and not adjust)


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
