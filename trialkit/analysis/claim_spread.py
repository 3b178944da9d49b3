"""Whether a claim's verdict rests on all mixes spreading alike."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import pandas as pd

from trialkit.analysis.claims import claim_verdict
from trialkit.records.trial import Claim
from trialkit.stats.aft import AftFit
from trialkit.stats.own_scales import OwnScaleFit, own_scales_of

__all__ = ["claims_by_own_spread"]

COLUMNS = [
    "claim", "mix", "criterion", "verdict", "estimate", "conf_low", "conf_high", "conf_level",
    "unit", "method",
]  # fmt: skip


def claims_by_own_spread(
    claims: Iterable[Claim], fits: Mapping[str, AftFit], *, conf_level: float = 0.95
) -> pd.DataFrame:
    """The verdict on each claim when every mix has a spread of its own between vessels.

    `assess_claims` gives all mixes one spread, which makes the limits of a mix that varies more
    than the others too narrow. A claim that only holds with the one spread should say so.

    Parameters
    ----------
    claims : iterable of Claim
        Claims of trial.toml.
    fits : mapping of str to AftFit
        The fit of each criterion's intervals, with the mixes as groups.
    conf_level : float
        Level of each interval.

    Returns
    -------
    pandas.DataFrame
        `claim`, `mix`, `criterion`, `verdict`, the deciding number with its limits (hours, or a
        ratio), `conf_level`, `unit`, `method`. No row for a claim on a trial whose vessels tell
        no spread.

    Examples
    --------
    >>> import trialkit as tk
    >>> trial = tk.read_trial("data/demo/harbour")
    >>> looks = tk.clearing_intervals(trial, "haze")
    >>> fit = tk.fit_aft(looks["left_h"], looks["right_h"], looks["mix"])
    >>> claim = trial.protocol.claims["rowan_workday"]
    >>> found = claims_by_own_spread([claim], {"haze": fit}).iloc[0]
    >>> print(found["verdict"], found["conf_low"].round(1), found["conf_high"].round(1))
    not settled 4.8 15.4
    """
    asked = list(claims)
    own = {name: own_scales_of(fits[name]) for name in {claim.criterion for claim in asked}}
    rows = [
        _row(claim, own[claim.criterion], conf_level)
        for claim in asked
        if own[claim.criterion].drawn
    ]
    return pd.DataFrame(rows, columns=COLUMNS)


def _row(claim: Claim, own: OwnScaleFit, conf_level: float) -> dict:
    if claim.before:
        found = own.contrast(claim.mix, claim.before, conf_level).iloc[0]
    else:
        found = own.quantile(claim.share, conf_level, [claim.mix]).iloc[0]
    threshold = 1.0 if claim.before else float(claim.within_h)
    return {
        "claim": claim.name,
        "mix": claim.mix,
        "criterion": claim.criterion,
        "verdict": claim_verdict(found["conf_low"], found["conf_high"], threshold),
        "unit": "" if claim.before else "h",
        **found[["estimate", "conf_low", "conf_high", "conf_level", "method"]].to_dict(),
    }
