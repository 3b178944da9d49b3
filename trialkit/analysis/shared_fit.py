"""The one fit that all answers about a trial's clearing times share."""

import pandas as pd

from trialkit.records.trial import Protocol
from trialkit.stats.aft import AftFit, fit_aft

__all__ = ["fit_times"]


def fit_times(intervals: pd.DataFrame, protocol: Protocol) -> AftFit:
    """The fit of the clearing times of every mix, as trial.toml declares it.

    Parameters
    ----------
    intervals : pandas.DataFrame
        What `clearing_intervals` returned: `mix`, `left_h`, `right_h`, hours.
    protocol : Protocol
        Gives the family. Its declared scale is used only where every mix has one vessel, so that
        the trial itself says nothing of the spread between vessels.

    Returns
    -------
    AftFit
        A location for each mix and one scale.
    """
    one_vessel_each = intervals["mix"].value_counts().max() == 1
    return fit_aft(
        intervals["left_h"],
        intervals["right_h"],
        intervals["mix"],
        family=protocol.family,
        scale=protocol.declared_scale if one_vessel_each else None,
    )
