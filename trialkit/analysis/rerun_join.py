"""Which vessels of which trials can be pooled, with a reason for each that cannot."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

import numpy as np
import pandas as pd

from trialkit.analysis.clearing import FULLY_CLEAR, combine_criteria, intervals_from_gaps
from trialkit.analysis.rerun_record import TrialRecord

__all__ = ["Joined", "PoolingRules", "join_trials"]

OWN, COMMON = "each trial's own", "one for all trials"


@dataclass(frozen=True)
class PoolingRules:
    """What makes trials and mixes comparable.

    Attributes
    ----------
    criterion : str or None
        Which criterion, or "fully clear"; None for the one that most trials declare.
    by_lot : bool
        Whether a mix is its name with its maker's lot, where known; else the name alone.
    common : bool
        Whether the definition of clear that most trials share is applied to all, if all have
        readings; else each trial keeps its own.
    salinity : float
        How far the practical salinity aimed at may lie from that of the middle trial.
    temperature_c : float
        The same for the median temperature while mixing, degrees Celsius. Trials that did not read
        it are kept.
    volume_ratio : float
        The same for the volume of the vessels, as a factor either way.
    """

    criterion: str | None = None
    by_lot: bool = True
    common: bool = True
    salinity: float = 3.0
    temperature_c: float = 5.0
    volume_ratio: float = 20.0


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
    for reason in (_blind, _no_criterion(kept, criterion), _unlike(kept, rules)):
        kept, more = _sift(kept, reason)
        left_out += more
    if not kept:
        raise ValueError(f"no trial is left that can be pooled by {criterion!r}.")
    clear, definition = _definition(kept, criterion, rules.common)
    codes = {f"T{place:04}": record for place, record in enumerate(kept, 1)}
    frames = [_vessels(c, r, clear, criterion, rules.by_lot) for c, r in codes.items()]
    vessels = pd.concat(frames, ignore_index=True)
    trials = pd.DataFrame([_trial_row(c, r) for c, r in codes.items()])
    trials["n"] = vessels.groupby("trial").size().reindex(trials["trial"]).to_numpy()
    out = pd.DataFrame(sorted(left_out), columns=["source", "item", "message"])
    mixes = _mixes(kept, vessels, rules.by_lot)
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


def _blind(record: TrialRecord) -> str:
    return "its mixes are still blind" if record.blinded else ""


def _no_criterion(records: list[TrialRecord], criterion: str):
    """A reason against trials that did not judge what most others judged."""
    if criterion == FULLY_CLEAR:
        kinds = {r.digest: tuple(sorted(_measure(r, c) for c in r.criteria)) for r in records}
    else:
        kinds = {r.digest: _measure(r, criterion) for r in records if criterion in r.criteria}
    counts = Counter(kinds.values())
    usual = min(counts, key=lambda kind: (-counts[kind], kind)) if counts else None

    def reason(record: TrialRecord) -> str:
        kind = kinds.get(record.digest)
        if kind is None:
            return f"it has no criterion {criterion!r}"
        if kind != usual:
            return f"it judged {criterion!r} by {_words(kind)}, most others by {_words(usual)}"
        return ""

    return reason


def _measure(record: TrialRecord, criterion: str) -> tuple[str, str]:
    rule = record.criteria[criterion]
    return rule.quantity, rule.unit


def _words(kind) -> str:
    pairs = [kind] if isinstance(kind[0], str) else list(kind)
    return " and ".join(f"{quantity} in {unit}" for quantity, unit in pairs)


def _unlike(records: list[TrialRecord], allowed: PoolingRules):
    """A reason against trials under conditions far from the median of all."""
    checks = (
        ("target_salinity", "aimed at salinity", allowed.salinity, ""),
        ("temperature_c", "water had", allowed.temperature_c, " degrees C"),
    )
    middle = {name: _median([getattr(r, name) for r in records]) for name, *_ in checks}
    volume = _median([r.volume_l for r in records])

    def reason(record: TrialRecord) -> str:
        for name, words, most, unit in checks:
            value = getattr(record, name)
            if abs(value - middle[name]) > most:
                return f"{words} {value:.3g}{unit}, the middle trial {middle[name]:.3g}{unit}"
        if max(record.volume_l / volume, volume / record.volume_l) > allowed.volume_ratio:
            return f"vessels of {record.volume_l:.3g} L, in the middle trial {volume:.3g} L"
        return ""

    return reason


def _median(values: list[float]) -> float:
    known = [value for value in values if not np.isnan(value)]
    return float(np.median(known)) if known else float("nan")


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
    identity = dict(zip(record.mixes["mix"], _identity(record.mixes, by_lot), strict=True))
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


def _identity(mixes: pd.DataFrame, by_lot: bool) -> list[str]:
    rows = zip(mixes["name"], mixes["lot"], strict=True)
    return [f"{name}, lot {lot}" if by_lot and lot else name for name, lot in rows]


def _mixes(records: list[TrialRecord], vessels: pd.DataFrame, by_lot: bool) -> pd.DataFrame:
    """What each identity stands for, with how often it was tried."""
    known = {}
    for record in records:
        names, lots = record.mixes["name"], record.mixes["lot"]
        for mix, name, lot in zip(_identity(record.mixes, by_lot), names, lots, strict=True):
            known[mix] = (name, lot if by_lot else "")
    counts = vessels.groupby("mix")["trial"].agg(n_trials="nunique", n="size").reset_index()
    told = pd.DataFrame([known[mix] for mix in counts["mix"]], columns=["name", "lot"])
    return pd.concat([counts["mix"], told, counts[["n_trials", "n"]]], axis=1)


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
