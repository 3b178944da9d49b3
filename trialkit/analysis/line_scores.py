"""Whether mixes differ in how clear they looked at one moment."""

from __future__ import annotations

import numpy as np
import pandas as pd

from trialkit.analysis.residue_scores import COLUMNS, score_contrasts
from trialkit.records.trial import Trial

__all__ = ["line_scores", "scored_looks"]

LOOK_COLUMNS = [COLUMNS[0], "time_h", *COLUMNS[1:]]
ORDERED = ("lines", "score")


def line_scores(
    trial: Trial, quantity: str = "clarity", *, at_h: float | None = None,
    conf_level: float | None = None,
) -> pd.DataFrame:  # fmt: skip
    """Odds of a higher score for each mix against one, at one session of mixing.

    Lines legible, or scores, are ordered and not evenly spaced: proportional odds use their
    order alone. The median of a vessel's readings is one observation.

    Parameters
    ----------
    trial : Trial
        What `read_trial` returned, unblinded.
    quantity : str
        The quantity read in lines or scores.
    at_h : float, optional
        Hours of the planned session wanted (the nearest is taken); by default the session that
        shows the most different scores.
    conf_level : float, optional
        The declared one by default.

    Returns
    -------
    DataFrame
        quantity, time_h (of the planned session), mix_a, mix_b (the declared control, or the
        first mix), term, estimate, limits, conf_level, p_value, p_adjusted (Holm), p_smallest,
        n (vessels), method. A mix whose scores don't overlap with the other's has an infinite
        (or zero) odds ratio with one finite limit, or none where the vessels are too few.

    References
    ----------
    McCullagh P (1980). Journal of the Royal Statistical Society B 42, 109-142.

    Examples
    --------
    >>> import trialkit as tk
    >>> tk.line_scores(tk.read_trial("data/demo/harbour"), at_h=2)["mix_b"].unique().tolist()
    ['M01']
    """
    level = trial.protocol.conf_level if conf_level is None else conf_level
    hours = np.asarray(trial.protocol.schedule_h, float)
    readings = trial.readings
    rows = readings[
        (readings["quantity"] == quantity)
        & (readings["phase"] == "mixing")
        & (readings["role"] == "trial")
        & readings["value"].notna()
    ]
    if rows.empty:
        return pd.DataFrame(columns=LOOK_COLUMNS)
    if at_h is None:
        session = int(rows.groupby("session")["value"].nunique().idxmax())
    else:
        session = int(np.argmin(np.abs(hours - at_h)))
    own = rows[rows["session"] == session]
    found = score_contrasts(quantity, own, level, trial.protocol)
    table = pd.DataFrame(found, columns=COLUMNS)
    table.insert(1, "time_h", hours[session])
    return table


def scored_looks(trial: Trial) -> pd.DataFrame:
    """`line_scores` of every quantity in lines or scores that a criterion judges.

    Parameters
    ----------
    trial : Trial
        What `read_trial` returned, unblinded.

    Returns
    -------
    DataFrame
        The columns of `line_scores`; no rows without such readings.
    """
    rules = [trial.protocol.criteria[name] for name in trial.judged]
    quantities = dict.fromkeys(rule.quantity for rule in rules if rule.unit in ORDERED)
    found = [table for name in quantities if len(table := line_scores(trial, name))]
    return pd.concat(found, ignore_index=True) if found else pd.DataFrame(columns=LOOK_COLUMNS)
