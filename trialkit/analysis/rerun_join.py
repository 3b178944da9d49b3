"""Which vessels of which trials can be pooled, with a reason for each that cannot."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

import pandas as pd

from trialkit.analysis.clearing import FULLY_CLEAR, combine_criteria, intervals_from_gaps
from trialkit.analysis.rerun_comparable import (
    PoolingRules,
    another_criterion,
    other_conditions,
    still_blind,
)
from trialkit.analysis.rerun_identity import identities, mixes_table, spelt_alike
from trialkit.analysis.rerun_record import TrialRecord

__all__ = ["Joined", "PoolingRules", "join_trials"]

OWN, COMMON = "each trial's own", "one for all trials"


@dataclass(frozen=True, eq=False)
class Joined:
    """What can be pooled.

    Attributes
    ----------
    vessels : pandas.DataFrame
        trial, mix (identity), vessel, left_h, right_h.
    trials : pandas.DataFrame
        trial, title, source, start, temperature_c, target_salinity, volume_l, n.
    mixes : pandas.DataFrame
        mix (identity), name, lot ("" where lots are not told apart or not known), n_trials, n.
    left_out : pandas.DataFrame
        source, item, message.
    definition : str
        What counted as clear.
    criterion : str
        Which criterion.
    records : dict of str to TrialRecord
        By trial code.
    """

    vessels: pd.DataFrame
    trials: pd.DataFrame
    mixes: pd.DataFrame
    left_out: pd.DataFrame
    definition: str
    criterion: str
    records: dict[str, TrialRecord]


def join_trials(records: list[TrialRecord], rules: PoolingRules | None = None) -> Joined:
    """The vessels that can be pooled, coded in an order that the input's order doesn't touch.

    Parameters
    ----------
    records : list of TrialRecord
        What `record_trial` returned.
    rules : PoolingRules, optional
        What still counts as comparable.

    Returns
    -------
    Joined
        Vessels, trials, what is left out and why.

    Raises
    ------
    ValueError
        If nothing is left.

    Examples
    --------
    >>> import trialkit as tk
    >>> from trialkit.analysis.rerun_record import record_trial
    >>> names = ["harbour", "rerun", "single"]
    >>> records = [record_trial(tk.read_trial(f"data/demo/{n}"), n) for n in names]
    >>> join_trials(records).criterion
    'clarity'
    """
    kept, left_out = _once(records)
    rules = PoolingRules() if rules is None else rules
    criterion = rules.criterion or _usual_criterion(kept)
    for reason in (still_blind, another_criterion(kept, criterion), other_conditions(kept, rules)):
        kept, more = _sift(kept, reason)
        left_out += more
    if not kept:
        source, _, words = min(left_out)
        raise ValueError(
            f"no trial is left that can be pooled by {criterion!r}. First: {source}: {words}."
        )
    kept = spelt_alike(kept)
    clear, definition = _definition(kept, criterion, rules.common)
    codes = {f"T{place:04}": record for place, record in enumerate(kept, 1)}
    frames = [_vessels(c, r, clear, criterion, rules.by_lot) for c, r in codes.items()]
    vessels = pd.concat(frames, ignore_index=True)
    trials = pd.DataFrame([_trial_row(c, r) for c, r in codes.items()])
    trials["n"] = vessels.groupby("trial").size().reindex(trials["trial"]).to_numpy()
    out = pd.DataFrame(sorted(left_out), columns=["source", "item", "message"])
    mixes = mixes_table(kept, vessels, rules.by_lot)
    return Joined(vessels, trials, mixes, out, definition, criterion, codes)


def _once(records: list[TrialRecord]):
    """Each trial once, in the order of start, title and content."""
    ordered = sorted(records, key=lambda r: (r.start, r.title, r.source, r.digest))
    kept, left_out, same, plans = [], [], {}, {}
    for record in ordered:
        plan = (record.start, record.title, record.vessels)
        if record.digest in same:
            words = f"the same files as {same[record.digest]}"
        elif plan in plans:
            words = (
                f"the trial of {plans[plan]} with other readings: title, start and vessels are the "
                f"same. Only {plans[plan]} counts; give the one that is right"
            )
        else:
            same[record.digest] = plans[plan] = record.source
            kept.append(record)
            continue
        left_out.append((record.source, "trial", words))
    return kept, left_out


def _usual_criterion(records: list[TrialRecord]) -> str:
    counts = Counter(name for record in records for name in record.criteria)
    if not counts:
        raise ValueError("no trial declares a criterion.")
    return min(counts, key=lambda name: (-counts[name], name))


def _sift(records, reason):
    kept, left_out = [], []
    for record in records:
        words = reason(record)
        if words:
            left_out.append((record.source, "trial", words))
        else:
            kept.append(record)
    return kept, left_out


def _definition(records: list[TrialRecord], criterion: str, common: bool):
    """Options of `intervals_from_gaps` by criterion, with the words for what counted as clear."""
    names = sorted(records[0].criteria) if criterion == FULLY_CLEAR else [criterion]
    rules = {}
    for name in names:
        counts = Counter(_options(r.criteria[name]) for r in records)
        if len(counts) == 1 and not any(name in r.given for r in records):
            rules[name] = next(iter(counts))
        elif common and not any(name in r.given for r in records):
            # Of two that equally many trials share, the stricter.
            rules[name] = min(counts, key=lambda o: (-counts[o], o[0], -o[1], o[2]))
    if len(rules) < len(names):
        return {}, OWN
    words = [
        f"{name}: within {tolerance:g} of the reference, {hold} readings in a row, raters: {rule}"
        for name, (tolerance, hold, rule) in rules.items()
    ]
    return rules, f"{COMMON}: {'; '.join(words)}"


def _options(rule) -> tuple[float, int, str]:
    shared = rule.rater_rule if rule.rater_rule in ("majority", "all", "any") else "majority"
    return rule.tolerance, rule.hold, shared


def _vessels(code: str, record: TrialRecord, rules: dict, criterion: str, by_lot: bool):
    names = sorted(record.criteria) if criterion == FULLY_CLEAR else [criterion]
    frame = combine_criteria([_intervals(record, name, rules.get(name)) for name in names])
    identity = dict(zip(record.mixes["mix"], identities(record.mixes, by_lot), strict=True))
    return frame.assign(trial=code, mix=frame["mix"].map(identity))[
        ["trial", "mix", "vessel", "left_h", "right_h"]
    ]


def _intervals(record: TrialRecord, name: str, rule) -> pd.DataFrame:
    if name in record.given:
        return record.given[name]
    own = record.criteria[name]
    tolerance, hold, rater_rule = rule or (own.tolerance, own.hold, own.rater_rule)
    options = {"tolerance": tolerance, "hold": hold, "rater_rule": rater_rule}
    return intervals_from_gaps(record.gaps[name], **options)


def _trial_row(code: str, record: TrialRecord) -> dict:
    return {
        "trial": code,
        "title": record.title,
        "source": record.source,
        "start": record.start,
        "target_salinity": record.target_salinity,
        "temperature_c": record.temperature_c,
        "volume_l": record.volume_l,
    }
