"""Residue that was scored by eye instead of weighed."""

from __future__ import annotations

import pandas as pd

from trialkit.analysis.comparison_plan import ComparisonPlan
from trialkit.records.trial import Protocol, Trial
from trialkit.stats.multiplicity import adjust_p_values
from trialkit.stats.ordinal_contrast import ordinal_contrast

__all__ = ["residue_scores", "score_contrasts"]

COLUMNS = [
    "quantity", "mix_a", "mix_b", "term", "estimate", "conf_low", "conf_high", "conf_level",
    "p_value", "p_adjusted", "p_smallest", "n", "method",
]  # fmt: skip
TERM = "odds of a higher score"


def residue_scores(trial: Trial, *, conf_level: float | None = None) -> pd.DataFrame:
    """Odds of a higher score for each mix against one, for every scored storage quantity.

    Any quantity of trial.toml with the unit "score", read in storage, clarity apart. The median
    of a vessel's scores on the last day is one observation. The p value is that of all ways to
    deal the scores out, and the limits are calibrated by them; a mix whose scores don't overlap
    with the other's has an infinite (or zero) odds ratio with one finite limit, or none
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
        quantity, mix_a, mix_b (the declared control, or the first mix), term, estimate, limits,
        conf_level, p_value, p_adjusted (Holm), p_smallest, n (vessels), method. No rows without
        such scores, or when all are the same.

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
        for row in score_contrasts(quantity, _last_session(own), level, trial.protocol)
    ]
    return pd.DataFrame(rows, columns=COLUMNS)


def _last_session(own: pd.DataFrame) -> pd.DataFrame:
    return own[own["session"] == own["session"].max()]


def score_contrasts(
    quantity: str, readings: pd.DataFrame, conf_level: float, protocol: Protocol
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
    protocol : Protocol
        Its control, where one was declared and read, is what the others are held against; its
        seed is for sampled arrangements, where there are too many to count.

    Returns
    -------
    list of tuple
        Rows in the columns of `residue_scores`; none for one mix or one score.
    """
    scores = readings.groupby(["mix", "vessel"], as_index=False)["value"].median()
    values = {mix: own["value"].to_numpy() for mix, own in scores.groupby("mix")}
    if len(values) < 2 or scores["value"].nunique() < 2:
        return []
    control = ComparisonPlan.of(protocol).control
    base = control if control in values else min(values)
    options = {"conf_level": conf_level, "seed": protocol.seed}
    found = {
        mix: ordinal_contrast(values[base], own, **options)
        for mix, own in values.items()
        if mix != base
    }
    adjusted = adjust_p_values([one.p_value for one in found.values()])
    return [
        (quantity, mix, base, TERM, one.estimate, one.conf_low, one.conf_high, conf_level,
         one.p_value, float(p), one.p_smallest, one.n, one.method)
        for (mix, one), p in zip(found.items(), adjusted, strict=True)
    ]  # fmt: skip
