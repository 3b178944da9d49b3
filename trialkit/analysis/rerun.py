"""What many trials of the same mixes say together."""

from __future__ import annotations

import platform
from importlib import metadata

import numpy as np
import pandas as pd

from trialkit.analysis.mixing_time import ASSURED_SHARE, ASSURED_TIME, TYPICAL_TIME
from trialkit.analysis.rerun_flags import trial_flags
from trialkit.analysis.rerun_influence import leave_one_out
from trialkit.analysis.rerun_join import Joined, PoolingRules, join_trials
from trialkit.analysis.rerun_pairs import pooled_pairs
from trialkit.analysis.rerun_record import TrialRecord
from trialkit.analysis.rerun_summaries import pool_summaries, summarise_trials
from trialkit.analysis.results import Results
from trialkit.stats.mixed_aft import (
    FINE_NOTE,
    ONE_EACH_NOTE,
    SHARED_NOTE,
    MixedAftFit,
    fit_mixed_aft,
)

__all__ = ["NEW_BATCH", "pool_trials"]

NEW_BATCH = "new batch"
VERSIONED = ("trialkit", "numpy", "pandas", "scipy", "statsmodels")

#: What the three spreads of the fit are in a set of trials.
SPREAD_WORDS = {
    "within a cell": "within a trial",
    "between cells": "between batches of a mix",
    "between clusters": "between places",
    "total": "of a new batch in a new place",
}
#: What a note of the fit means in a set of trials.
NOTE_WORDS = {
    SHARED_NOTE: "how much batches of a mix differ from place to place cannot be told apart here; "
    "it is contained in the other spreads",
    ONE_EACH_NOTE: "each trial has one vessel: the spread between places is contained in that "
    "within a trial",
    FINE_NOTE: "the spread within a trial is finer than the readings can show",
}
SKIPPED = ["source", "item", "message"]


def pool_trials(
    records: list[TrialRecord],
    *,
    rules: PoolingRules | None = None,
    conf_level: float = 0.95,
    skipped: list[tuple[str, str]] = (),
) -> Results:
    """What many trials of the same mixes say together, as one `Results`.

    Two roads: all vessels in one fit with a shift of log time for each place, and for each mix in
    that place (single-vessel trials count); and the trials' own typical times pooled by random
    effects. The order of the records changes nothing, to the last bit.

    Parameters
    ----------
    records : list of TrialRecord
        What `record_trial` returned for each trial.
    rules : PoolingRules, optional
        What makes trials and mixes comparable.
    conf_level : float
        Level of all limits.
    skipped : list of (str, str)
        Trials that could not be read, with the reason.

    Returns
    -------
    Results
        Tables pooled_times (mix, term, estimate, conf_low, conf_high in hours), summary_pool,
        trial_times, spreads, pairs, influence, flags, trials, pooled_mixes, left_out and
        pooled_vessels.

    Raises
    ------
    ValueError
        If nothing can be pooled.

    Examples
    --------
    >>> import trialkit as tk
    >>> from trialkit.analysis.rerun_record import record_trial
    >>> names = ["harbour", "rerun", "single"]
    >>> records = [record_trial(tk.read_trial(f"data/demo/{n}"), n) for n in names]
    >>> pool_trials(records)["pooled_times"]["term"].unique().tolist()
    ['typical time', 'new batch', 'assured time']
    """
    joined = join_trials(records, rules)
    vessels = joined.vessels
    unread = pd.DataFrame([(s, "trial", w) for s, w in sorted(skipped)], columns=SKIPPED)
    left_out = pd.concat([unread, joined.left_out], ignore_index=True)
    if (vessels.groupby("mix")["trial"].nunique() < 2).all():
        raise ValueError(_nothing_shared(len(joined.trials), left_out))
    fit = fit_mixed_aft(*(vessels[c] for c in ("left_h", "right_h", "mix", "trial")))
    summaries = summarise_trials(vessels, conf_level)
    return Results(
        _meta(joined, fit, conf_level, len(unread)),
        {
            "pooled_times": _times(fit, conf_level),
            "summary_pool": pool_summaries(summaries, conf_level),
            "trial_times": _without_nan(summaries),
            "spreads": _spreads(fit, conf_level),
            "pairs": pooled_pairs(fit, vessels, conf_level),
            "influence": leave_one_out(fit, vessels),
            "flags": trial_flags(fit, vessels, joined.records),
            "trials": _without_nan(joined.trials),
            "pooled_mixes": joined.mixes,
            "left_out": left_out,
            "pooled_vessels": vessels,
        },
    )


def _nothing_shared(n_trials: int, left_out: pd.DataFrame) -> str:
    """Why nothing can be pooled, with the first of what was left out."""
    words = f"no mix stands in two of the {n_trials} trials that can be pooled"
    if n_trials == 1:
        words = "a single trial can be pooled, and it takes two"
    if left_out.empty:
        return f"{words}."
    source, _, reason = left_out.iloc[0]
    return f"{words}; left out: {len(left_out)}. First: {source}: {reason}"


def _meta(joined: Joined, fit: MixedAftFit, conf_level: float, n_unread: int) -> dict:
    vessels = joined.vessels
    windows = [record.window_h for record in joined.records.values()]
    return {
        "title": "Pooled trials",
        "criterion": joined.criterion,
        "definition": joined.definition,
        "conf_level": conf_level,
        "share": ASSURED_SHARE,
        "window_h": max(windows),
        "n_trials": len(joined.trials),
        "n_vessels": len(vessels),
        "n_mixes": len(fit.groups),
        "n_left_out": len(joined.left_out) + n_unread,
        "n_unread": n_unread,
        "scale_known": bool(vessels.duplicated(["trial", "mix"]).any()),
        "loglik": fit.loglik,
        "note": "; ".join(NOTE_WORDS[note] for note in fit.note.split("; ") if note),
        "inputs": [
            {"trial": code, "source": record.source, "sha256": record.digest}
            for code, record in joined.records.items()
        ],
        "versions": {name: metadata.version(name) for name in VERSIONED},
        "python": platform.python_version(),
    }


def _times(fit: MixedAftFit, conf_level: float) -> pd.DataFrame:
    """Typical time, next batch and assured time of each mix, hours."""
    parts = {
        TYPICAL_TIME: fit.typical_time(conf_level),
        NEW_BATCH: fit.new_batch(conf_level),
        ASSURED_TIME: fit.upper_bound(ASSURED_SHARE, conf_level),
    }
    assured = parts[ASSURED_TIME]
    # Never seen clear: all that is known of it is that it does not lie under the typical time.
    never = np.isinf(assured["estimate"])
    assured.loc[never, "conf_low"] = parts[TYPICAL_TIME].loc[never, "conf_low"]
    counts = {"n": fit.n, "n_event": fit.n_event, "n_censored": fit.n - fit.n_event}
    frames = [
        frame.assign(term=term, **counts, n_trials=fit.n_cluster) for term, frame in parts.items()
    ]
    times = pd.concat(frames, ignore_index=True).rename(columns={"group": "mix"})
    columns = ["mix", "term", "estimate", "conf_low", "conf_high", "conf_level"]
    return times.assign(unit="h")[[*columns, *counts, "n_trials", "unit", "method"]]


def _spreads(fit: MixedAftFit, conf_level: float) -> pd.DataFrame:
    spreads = fit.spreads(conf_level)
    return spreads.assign(term=spreads["term"].map(SPREAD_WORDS))


def _without_nan(frame: pd.DataFrame) -> pd.DataFrame:
    """The frame with None where nothing was read or worked out."""
    return frame.astype(object).where(frame.notna(), None)
