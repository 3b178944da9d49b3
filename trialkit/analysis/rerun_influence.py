"""What the pooled times would be without each trial in turn."""

from __future__ import annotations

import numpy as np
import pandas as pd

from trialkit.stats.mixed_aft import MixedAftFit, fit_mixed_aft

__all__ = ["leave_one_out"]

REFIT_UP_TO = 12  # trials; with more, one step from the estimates is as good and far quicker
ONE_STEP = "one step from the estimates"
COLUMNS = ["trial", "mix", "estimate", "without", "ratio", "note"]


def leave_one_out(
    fit: MixedAftFit, vessels: pd.DataFrame, *, refit_up_to: int = REFIT_UP_TO
) -> pd.DataFrame:
    """One row a trial and mix: the typical time without that trial.

    Parameters
    ----------
    fit : MixedAftFit
        The fit with all trials.
    vessels : pandas.DataFrame
        trial, mix, left_h, right_h.
    refit_up_to : int
        With no more trials than this, everything is fitted afresh without each; with more, the
        spreads stay as they are and the times move by one step of Newton's method.

    Returns
    -------
    pandas.DataFrame
        trial, mix, estimate (with all), without (hours; inf when not placed), ratio (without over
        with), note. A trial without which nothing can be pooled says so in its note.

    Examples
    --------
    >>> vessels = pd.DataFrame({"trial": [1, 1, 2, 2, 3], "mix": "a", "left_h": [1, 2, 1, 1, 4],
    ...                         "right_h": [2, 3, 2, 1.5, 6]})
    >>> fit = fit_mixed_aft(*(vessels[c] for c in ["left_h", "right_h", "mix", "trial"]))
    >>> leave_one_out(fit, vessels)["trial"].tolist()
    [1, 2, 3]
    """
    trials = sorted(set(vessels["trial"]))
    if len(trials) > refit_up_to:
        return _one_step(fit, vessels)
    together = dict(zip(fit.groups, np.exp(fit.location), strict=True))
    rows = []
    for trial in trials:
        rest = vessels[vessels["trial"] != trial]
        mixes = sorted(set(vessels.loc[vessels["trial"] == trial, "mix"]))
        rows += _without(trial, mixes, rest, together)
    return pd.DataFrame(rows, columns=COLUMNS)


def _one_step(fit: MixedAftFit, vessels: pd.DataFrame) -> pd.DataFrame:
    together = dict(zip(fit.groups, np.exp(fit.location), strict=True))
    n_trials = dict(zip(fit.groups, fit.n_cluster, strict=True))
    moved = fit.without_each()
    rows = []
    pairs = vessels[["trial", "mix"]].drop_duplicates().sort_values(["trial", "mix"])
    for trial, mix in pairs.itertuples(index=False):
        here = together[mix]
        if mix not in moved or trial not in moved.index:
            rows.append((trial, mix, here, here, 1.0, "not placed, with or without"))
        elif n_trials[mix] == 1:
            rows.append((trial, mix, here, np.inf, np.inf, "the only trial of the mix"))
        else:
            without = float(moved.loc[trial, mix])
            rows.append((trial, mix, here, without, without / here, ONE_STEP))
    return pd.DataFrame(rows, columns=COLUMNS)


def _without(trial, mixes: list, rest: pd.DataFrame, together: dict) -> list[tuple]:
    try:
        fit = fit_mixed_aft(rest["left_h"], rest["right_h"], rest["mix"], rest["trial"])
    except (ValueError, RuntimeError):
        note = "without it nothing is left to pool"
        return [(trial, mix, together[mix], np.inf, np.inf, note) for mix in mixes]
    alone = dict(zip(fit.groups, np.exp(fit.location), strict=True))
    rows = []
    for mix in mixes:
        if mix not in alone:
            rows.append((trial, mix, together[mix], np.inf, np.inf, "the only trial of the mix"))
            continue
        placed = 0 < alone[mix] < np.inf and 0 < together[mix] < np.inf
        ratio = alone[mix] / together[mix] if placed else 1.0
        note = "" if placed else "not placed, with or without"
        rows.append((trial, mix, together[mix], alone[mix], ratio, note))
    return rows
