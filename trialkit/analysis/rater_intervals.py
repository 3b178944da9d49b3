"""When each rater alone would have called each vessel clear."""

from __future__ import annotations

import pandas as pd

from trialkit.analysis.clearing import intervals_from_gaps, reading_gaps
from trialkit.records.trial import Trial

__all__ = ["intervals_by_rater"]

COLUMNS = ["criterion", "rater", "mix", "block", "vessel", "left_h", "right_h"]


def intervals_by_rater(trial: Trial, criteria: list[str] | None = None) -> pd.DataFrame:
    """The interval in which each vessel came clear, by the calls of one rater alone.

    Parameters
    ----------
    trial : Trial
        What `read_trial` returned, unblinded.
    criteria : list of str, optional
        The declared criteria by default.

    Returns
    -------
    DataFrame
        criterion, rater, mix, block, vessel, left_h, right_h: not clear at left_h, clear at
        right_h; inf for a vessel that this rater never saw clear.

    Examples
    --------
    >>> import trialkit as tk
    >>> found = tk.intervals_by_rater(tk.read_trial("data/demo/harbour"), ["clarity"])
    >>> found.groupby("rater").size().to_dict()
    {'R01': 24, 'R02': 24}
    """
    frames = []
    for name in trial.protocol.criteria if criteria is None else criteria:
        gaps = reading_gaps(trial, name)
        for rater in gaps.raters:
            alone = intervals_from_gaps(gaps, rater_rule=rater)
            frames.append(alone.assign(criterion=name, rater=rater)[COLUMNS])
    return pd.concat(frames, ignore_index=True) if frames else pd.DataFrame(columns=COLUMNS)
