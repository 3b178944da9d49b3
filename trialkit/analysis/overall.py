"""Whether the mixes differ at all."""

from dataclasses import replace

import numpy as np
import pandas as pd

from trialkit.analysis.clearing import FULLY_CLEAR
from trialkit.analysis.comparison_plan import ComparisonPlan, declared_pairs, permuted, prepared
from trialkit.records.trial import Trial

__all__ = ["overall_difference"]


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
    intervals, plan = prepared(data, criterion, plan)
    declared_pairs(intervals, replace(plan, control=None))  # refuses a single mix
    answer = permuted(intervals, plan)
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
