"""Why a trial cannot be compared with the others: what it judged, under which conditions."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

import numpy as np

from trialkit.analysis.clearing import FULLY_CLEAR
from trialkit.analysis.rerun_record import TrialRecord

__all__ = ["PoolingRules", "another_criterion", "other_conditions", "still_blind"]


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


def still_blind(record: TrialRecord) -> str:
    """A reason against a trial whose mixes nobody knows yet."""
    return "its mixes are still blind" if record.blinded else ""


def another_criterion(records: list[TrialRecord], criterion: str):
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


def other_conditions(records: list[TrialRecord], allowed: PoolingRules):
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
