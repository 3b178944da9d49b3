"""What befell a vessel besides coming clear, in words for the end of its row."""

import math
from typing import Any

import pandas as pd

from .printing import print_hours
from .selection import of_criterion

UNCONFIRMED = "clear at the last look, not confirmed"


def remarks(results: Any, criterion: str | None = None) -> dict[str, str]:
    """
    Words for the vessels of which an interval does not tell all.

    Parameters
    ----------
    results : Results
        With the tables `intervals`, `vessels` and, where single readings were given, `verdicts`.
    criterion : str, optional
        The trial's primary criterion unless named.

    Returns
    -------
    dict of str to str
        By vessel: cloudy again, lost, seen clear too late to be confirmed, or not followed.
    """
    lost, ends = _lost(results["vessels"]), _ends(results, criterion)
    window_h = float(results.meta["window_h"])
    found = {}
    for vessel in of_criterion(results, "intervals", criterion).itertuples(index=False):
        if vessel.right_h < math.inf:
            if vessel.reclouded_h < math.inf:
                found[vessel.vessel] = f"cloudy again at {print_hours(vessel.reclouded_h)} h"
        elif not watched_to_the_end(vessel, window_h):
            found[vessel.vessel] = lost.get(vessel.vessel, _last_words(vessel, ends))
    return found


def watched_to_the_end(vessel: Any, window_h: float) -> bool:
    """
    Whether a vessel that was never seen clear was seen not clear at the end.

    Parameters
    ----------
    vessel : tuple
        A row of the intervals.
    window_h : float

    Returns
    -------
    bool
    """
    # The last look is seldom taken on the minute.
    return vessel.left_h >= 0.95 * window_h


def _lost(vessels: pd.DataFrame) -> dict[str, str]:
    found = vessels[vessels["lost_h"].astype(float) < math.inf]
    hours = found["lost_h"].astype(float)
    return {v: f"lost at {print_hours(h)} h" for v, h in zip(found["vessel"], hours, strict=True)}


def _ends(results: Any, criterion: str | None) -> pd.DataFrame:
    """The last looks at each vessel: when, and whether each found it clear."""
    if "verdicts" not in results:
        return pd.DataFrame(columns=["elapsed_h", "clear"])
    verdicts = results["verdicts"]
    verdicts = verdicts[verdicts["verdict"] != "not read"]
    if criterion in set(verdicts["criterion"]):
        verdicts = verdicts[verdicts["criterion"] == criterion]
    last = verdicts.groupby("vessel")["session"].transform("max")
    own = verdicts[verdicts["session"] == last]
    own = own.assign(clear=own["verdict"] == "clear").groupby("vessel")
    return own.agg({"elapsed_h": "max", "clear": "all"})


def _last_words(vessel: Any, ends: pd.DataFrame) -> str:
    if vessel.vessel in ends.index:
        end = ends.loc[vessel.vessel]
        if end["clear"] and end["elapsed_h"] > vessel.left_h:
            return UNCONFIRMED
    return "then not followed"
