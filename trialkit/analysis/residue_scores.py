"""Residue that was scored by eye instead of weighed."""

from __future__ import annotations

import pandas as pd

from trialkit.records.trial import Trial
from trialkit.stats.ordinal_contrast import ordinal_contrast

__all__ = ["residue_scores", "score_contrasts"]

COLUMNS = [
    "quantity", "mix_a", "mix_b", "term", "estimate", "conf_low", "conf_high", "conf_level",
    "p_value", "p_smallest", "n", "method",
]  # fmt: skip
TERM = "odds of a higher score"


def residue_scores(trial: Trial, *, conf_level: float | None = None) -> pd.DataFrame:
    """Odds of a higher score for each mix against the first, for every scored storage quantity.

    Any quantity of trial.toml with the unit "score", read in storage, clarity apart. The median
    of a vessel's scores on the last day is one observation. The p value is that of all ways to
    deal the scores out, and the limits are calibrated by them; a mix whose scores don't overlap
    with the first mix's has an infinite (or zero) odds ratio with one finite limit, or none
    where the vessels are too few for one.

    Parameters
    ----------
    trial : Trial
        What `read_trial` returned, unblinded.
    conf_level : float, optional
        The declared one by default.

    Returns
    -------
    DataFrame
        quantity, mix_a, mix_b (the first mix), term, estimate, limits, conf_level, p_value,
        p_smallest, n (vessels), method. No rows without such scores, or when all are the same.

    References
    ----------
    McCullagh P (1980). Journal of the Royal Statistical Society B 42, 109-142.

    Examples
    --------
    >>> import trialkit as tk
    >>> len(residue_scores(tk.read_trial("data/demo/harbour")))
    0
    """
    level = trial.protocol.conf_level if conf_level is None else conf_level
    readings = trial.readings
    scored = readings[
        (readings["unit"] == "score")
        & (readings["phase"] == "storage")
        & (readings["role"] == "trial")
        & (readings["quantity"] != "clarity")
        & readings["value"].notna()
    ]
    rows = [
        row
        for quantity, own in scored.groupby("quantity")
        for row in score_contrasts(quantity, _last_session(own), level, seed=trial.protocol.seed)
    ]
    return pd.DataFrame(rows, columns=COLUMNS)


def _last_session(own: pd.DataFrame) -> pd.DataFrame:
    return own[own["session"] == own["session"].max()]


def score_contrasts(
    quantity: str, readings: pd.DataFrame, conf_level: float, *, seed: int = 1
) -> list[tuple]:
    """Rows of the odds table for scores of one session, the median a vessel.

    Parameters
    ----------
    quantity : str
        Name for the first column.
    readings : DataFrame
        vessel, mix, value.
    conf_level : float
        Confidence level.
    seed : int
        Of sampled arrangements, where there are too many to count.

    Returns
    -------
    list of tuple
        Rows in the columns of `residue_scores`; none for one mix or one score.
    """
    scores = readings.groupby(["mix", "vessel"], as_index=False)["value"].median()
    mixes = sorted(scores["mix"].unique())
    if len(mixes) < 2 or scores["value"].nunique() < 2:
        return []
    values = {mix: own["value"].to_numpy() for mix, own in scores.groupby("mix")}
    rows = []
    for mix in mixes[1:]:
        found = ordinal_contrast(values[mixes[0]], values[mix], conf_level=conf_level, seed=seed)
        limits = found.estimate, found.conf_low, found.conf_high, conf_level
        rows.append(
            (quantity, mix, mixes[0], TERM, *limits, found.p_value, found.p_smallest, found.n,
             found.method)
        )  # fmt: skip
    return rows
