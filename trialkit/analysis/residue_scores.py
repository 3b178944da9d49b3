"""Residue that was scored by eye instead of weighed."""

from __future__ import annotations

import numpy as np
import pandas as pd

from trialkit.records.trial import Trial
from trialkit.stats.ordinal import fit_ordinal

__all__ = ["residue_scores"]

COLUMNS = [
    "quantity", "mix_a", "mix_b", "term", "estimate", "conf_low", "conf_high", "conf_level",
    "p_value", "n", "method",
]  # fmt: skip
TERM = "odds of a higher score"


def residue_scores(trial: Trial, *, conf_level: float | None = None) -> pd.DataFrame:
    """Odds of a higher score for each mix against the first, for every scored storage quantity.

    Any quantity of trial.toml with the unit "score", read in storage, clarity apart. The median
    of a vessel's scores on the last day is one observation. A mix whose scores don't overlap
    with the first mix's has an infinite (or zero) odds ratio with one finite limit.

    Parameters
    ----------
    trial : Trial
        What `read_trial` returned, unblinded.
    conf_level : float, optional
        The declared one by default.

    Returns
    -------
    DataFrame
        quantity, mix_a, mix_b (the first mix), term, estimate, limits, conf_level, p_value, n
        (vessels), method. No rows without such scores, or when all of them are the same.

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
        for row in _quantity_rows(quantity, own, level)
    ]
    return pd.DataFrame(rows, columns=COLUMNS)


def _quantity_rows(quantity: str, own: pd.DataFrame, conf_level: float):
    last = own[own["session"] == own["session"].max()]
    scores = last.groupby(["mix", "vessel"], as_index=False)["value"].median()
    mixes = sorted(scores["mix"].unique())
    if len(mixes) < 2 or scores["value"].nunique() < 2:
        return
    design = np.column_stack([scores["mix"] == mix for mix in mixes[1:]]).astype(float)
    fit = fit_ordinal(design, scores["value"], terms=mixes[1:])
    for row in fit.tidy(conf_level).itertuples():
        limits = np.exp([row.estimate, row.conf_low, row.conf_high]).tolist()
        yield (quantity, row.term, mixes[0], TERM, *limits, conf_level, row.p_value, row.n,
               f"proportional odds, {row.method}")  # fmt: skip
