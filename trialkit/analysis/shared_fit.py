"""The one fit that all answers about a trial's clearing times share."""

import numpy as np
import pandas as pd

from trialkit.records.trial import Protocol
from trialkit.stats.aft import AftFit, fit_aft

__all__ = ["fit_times", "tells_no_spread"]


def fit_times(intervals: pd.DataFrame, protocol: Protocol) -> AftFit:
    """The fit of the clearing times of every mix, as trial.toml declares it.

    Parameters
    ----------
    intervals : pandas.DataFrame
        What `clearing_intervals` returned: `mix`, `left_h`, `right_h`, hours.
    protocol : Protocol
        Gives the family. Its declared scale is used only where the trial itself says nothing of
        the spread between vessels, as with one vessel a mix.

    Returns
    -------
    AftFit
        A location for each mix and one scale.
    """
    return fit_aft(
        intervals["left_h"],
        intervals["right_h"],
        intervals["mix"],
        family=protocol.family,
        scale=protocol.declared_scale if tells_no_spread(intervals) else None,
    )


def tells_no_spread(intervals: pd.DataFrame) -> bool:
    """Whether no two vessels of one mix tell how much vessels differ.

    Parameters
    ----------
    intervals : pandas.DataFrame
        `mix`, `left_h`, `right_h`, hours.

    Returns
    -------
    bool

    Examples
    --------
    >>> looks = pd.DataFrame({"mix": list("aab"), "left_h": [1, 2, 4], "right_h": [2, 3, 5]})
    >>> tells_no_spread(looks), tells_no_spread(looks[1:])
    (False, True)
    """
    cleared = np.isfinite(intervals["right_h"])
    timed = ~(cleared & (intervals["left_h"] == 0))
    mixes = pd.DataFrame({"cleared": cleared, "timed": timed}).groupby(intervals["mix"])
    # A mix that was clear at the first reading in every vessel places no time.
    placed = mixes["cleared"].sum()[mixes["cleared"].any() & mixes["timed"].any()]
    return int(placed.sum()) <= len(placed)
