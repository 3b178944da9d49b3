"""Whether a published claim about a mix holds."""

from collections.abc import Mapping

import pandas as pd

from trialkit.analysis.clearing import clearing_intervals
from trialkit.analysis.mixing_time import count_cleared
from trialkit.analysis.shared_fit import fit_times
from trialkit.records.trial import Claim, Protocol, Trial
from trialkit.stats.aft import AftFit
from trialkit.stats.estimate import proportion_exact

__all__ = ["assess_claim", "assess_claims", "claim_verdict"]

SUPPORTED, CONTRADICTED, NOT_SETTLED = "supported", "contradicted", "not settled"

CLAIM_COLUMNS = [
    "claim",
    "text",
    "mix",
    "criterion",
    "verdict",
    "term",
    "estimate",
    "conf_low",
    "conf_high",
    "conf_level",
    "threshold",
    "unit",
    "n",
    "n_event",
    "method",
    "note",
]


def assess_claims(trial: Trial) -> pd.DataFrame:
    """One row a claim of trial.toml: its verdict with the number that decides.

    Each claim stands for itself: the level is the one of each claim, not of all together.

    Parameters
    ----------
    trial : Trial
        What `read_trial` returned, unblinded.

    Returns
    -------
    pandas.DataFrame
        Columns as `assess_claim`; no row when nothing was claimed.

    Examples
    --------
    >>> import trialkit as tk
    >>> found = tk.assess_claims(tk.read_trial("data/demo/harbour"))
    >>> set(found["verdict"]) <= {"supported", "contradicted", "not settled"}
    True
    """
    names = claimed_criteria(trial.protocol)
    intervals = {name: clearing_intervals(trial, name) for name in names}
    fits = {name: fit_times(frame, trial.protocol) for name, frame in intervals.items()}
    return claims_from(trial.protocol, intervals, fits)


def claimed_criteria(protocol: Protocol) -> list[str]:
    """The criteria that any claim is about."""
    return list(dict.fromkeys(claim.criterion for claim in protocol.claims.values()))


def claims_from(
    protocol: Protocol, intervals: Mapping[str, pd.DataFrame], fits: Mapping[str, AftFit]
) -> pd.DataFrame:
    """As `assess_claims`, from intervals that are at hand with their fits.

    Parameters
    ----------
    protocol : Protocol
        Its claims are assessed at its level.
    intervals : mapping of str to pandas.DataFrame
        What `clearing_intervals` returned for each of `claimed_criteria`.
    fits : mapping of str to AftFit
        The fit of each.

    Returns
    -------
    pandas.DataFrame
        Columns as `assess_claim`.
    """
    rows = [
        assess_claim(
            claim,
            intervals[claim.criterion],
            fits[claim.criterion],
            conf_level=protocol.conf_level,
        )
        for claim in protocol.claims.values()
    ]
    return pd.DataFrame(rows, columns=CLAIM_COLUMNS)


def assess_claim(
    claim: Claim, intervals: pd.DataFrame, fit: AftFit, *, conf_level: float = 0.95
) -> dict:
    """The verdict on one claim: supported, contradicted or not settled.

    "Clear within h hours" for a share of batches is supported when the interval of the time by
    which that share is clear lies at or below h, contradicted when it lies above. "Clears before
    another mix" is supported when the interval of the ratio of their times lies below 1,
    contradicted when it lies above 1. Everything else is not settled by these vessels.

    Parameters
    ----------
    claim : Claim
        A claim of trial.toml.
    intervals : pandas.DataFrame
        What `clearing_intervals` returned for the claim's criterion, hours.
    fit : AftFit
        The fit of these intervals, with the mixes as groups.
    conf_level : float
        Level of the interval.

    Returns
    -------
    dict
        `claim`, `text`, `mix`, `criterion`, `verdict`; the deciding number `estimate` with
        `conf_low`, `conf_high`, `conf_level`, what it was held against (`threshold`, in `unit`),
        `n`, `n_event`, `method`, and a `note` in words: how many vessels were clear by then, with
        the exact binomial limits (Clopper & Pearson 1934) of the share of batches.

    Raises
    ------
    ValueError
        If the trial has no vessel of a mix that the claim names.
    """
    named = [claim.mix] if claim.before is None else [claim.mix, claim.before]
    missing = sorted(set(named) - set(fit.groups))
    if missing:
        raise ValueError(f"claim {claim.name}: no vessel holds mix {', '.join(missing)}.")
    if claim.before:
        found = _before(claim, fit, conf_level)
    else:
        own = intervals[intervals["mix"] == claim.mix]
        found = _within(claim, fit, conf_level)
        found["note"] = _counted(own, claim.within_h, conf_level)
    counts = count_cleared(intervals).set_index("mix").loc[claim.mix]
    return {
        "claim": claim.name,
        "text": claim.text,
        "mix": claim.mix,
        "criterion": claim.criterion,
        "n": int(counts["n"]),
        "n_event": int(counts["n_event"]),
        "conf_level": conf_level,
        **found,
    }


def _within(claim: Claim, fit: AftFit, conf_level: float) -> dict:
    row = fit.quantile(claim.share, conf_level=conf_level).set_index("group").loc[claim.mix]
    high = row["conf_high"]
    if claim.share != 0.5:
        # Away from the median the profile interval is too short above: the one-sided bound at
        # half the error keeps the level of the two-sided interval.
        one_sided = fit.upper_bound(claim.share, conf_level=(1 + conf_level) / 2)
        high = one_sided.set_index("group").loc[claim.mix, "conf_high"]
    return {
        "verdict": claim_verdict(row["conf_low"], high, claim.within_h),
        "term": f"time by which {claim.share:.0%} of batches are clear",
        "estimate": row["estimate"],
        "conf_low": row["conf_low"],
        "conf_high": high,
        "threshold": float(claim.within_h),
        "unit": "h",
        "method": row["method"],
        "note": "",
    }


def _counted(own: pd.DataFrame, within_h: float, conf_level: float) -> str:
    """How many vessels were clear by then, with the share that this allows without a model."""
    sure = int((own["right_h"] <= within_h).sum())
    # Not clear at the last look before, and not seen clear until after: it may have been.
    perhaps = int(((own["left_h"] < within_h) & (own["right_h"] > within_h)).sum())
    low = proportion_exact(sure, len(own), conf_level=conf_level).conf_low
    high = proportion_exact(sure + perhaps, len(own), conf_level=conf_level).conf_high
    count = f"{sure} to {sure + perhaps}" if perhaps else f"{sure}"
    return (
        f"{count} of {len(own)} vessels were clear by then: without any model, {low:.0%} to "
        f"{high:.0%} of all batches may be"
    )


def _before(claim: Claim, fit: AftFit, conf_level: float) -> dict:
    row = fit.contrast(claim.mix, claim.before, conf_level=conf_level).iloc[0]
    return {
        "verdict": claim_verdict(row["conf_low"], row["conf_high"], 1),
        "term": f"ratio of times, {claim.mix} to {claim.before}",
        "estimate": row["estimate"],
        "conf_low": row["conf_low"],
        "conf_high": row["conf_high"],
        "threshold": 1.0,
        "unit": "",
        "method": row["method"],
        "note": "",
    }


def claim_verdict(conf_low: float, conf_high: float, threshold: float) -> str:
    """What limits say of a claim that the number is at most the threshold.

    Parameters
    ----------
    conf_low, conf_high, threshold : float
        In one unit.

    Returns
    -------
    str
        "supported", "contradicted" or "not settled".
    """
    if conf_high <= threshold:
        return SUPPORTED
    return CONTRADICTED if conf_low > threshold else NOT_SETTLED
