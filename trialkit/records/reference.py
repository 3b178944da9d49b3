"""Readings that contradict what water does: purified water is clearest, the rest comes clear."""

from collections import Counter

import numpy as np

from .fallen import fallen_problems
from .moved import moved_problems
from .outliers import smallest_step
from .problems import Problem, row_warning
from .rounds import round_problems
from .rows import Rows, group_indices, group_median
from .trial import Criterion, Protocol

# The reference sees a ceiling (all lines of the target) when so many of its readings are equal.
_CEILING = 0.8
_HALF = 0.5
# Purified water reads next to nothing within so many steps of the meter.
_NOTHING = 2.0
# So many steps from nothing, in so many readings, a meter that was not set to zero stays.
_AWAY, _MANY = 5, 20
_FEW_ROUNDS = 0.3
_FEWEST = 5
# Share of the range of readings that no chance makes purified water read worse by.
_FAR = 0.2
# A vessel that only gets worse gains no more than this share of what it loses.
_GAIN = 0.2
_ROUND = ("rater", "phase", "session")
_EXCHANGED = "See whether its code and that of {} (in {} sessions) were exchanged."
# More readings than this beyond the ceiling are no slip.
_RARE = 0.05


def reference_problems(file: str, rows: Rows, protocol: Protocol) -> list[Problem]:
    """Warnings about purified water that reads worse than salt water, and water that clouds.

    Nothing is clearer than purified water, so a session in which it reads worse than most
    vessels holds values that belong to others: a column that slipped by a row, two codes
    exchanged.

    Parameters
    ----------
    file : str
        Name for messages.
    rows : Rows
        Readings with a value.
    protocol : Protocol
        Its criteria say which direction is clearer, and by how much readings may differ.
    """
    found = []
    for rule in protocol.criteria.values():
        own = rows.take((rows["quantity"] == rule.quantity) & (rows["unit"] == rule.unit))
        if len(own):
            mixing = own["phase"] == "mixing"
            trial = own.take(mixing & (own["role"] == "trial"))
            far = _far(trial, rule)
            found += _backwards(file, trial, rule, far) + _exchanged(file, own, rule, far)
            margin = _margin(own, rule.tolerance)
            found += round_problems(file, trial, rule, margin) + fallen_problems(file, trial, rule)
            mixed = own.take(mixing & (own["limit"] == ""))
            found += moved_problems(file, mixed, rule.better, margin) if len(mixed) else []
            found += _worse(file, own, rule, margin) + _surpassed(file, own, rule)
            found += _nothing(file, own, rule)
            found += _zeros(file, own, rule) + _other_water(file, own, rule)
    return found


def _far(mixed: Rows, rule: Criterion) -> float:
    """A distance between readings that no chance makes, against the range of all of them."""
    if not len(mixed):
        return np.inf
    low, high = np.quantile(mixed["value"], (0.05, 0.95))
    return max(2 * rule.tolerance, _FAR * (high - low)) + 1e-9


def _backwards(file: str, mixed: Rows, rule: Criterion, far: float) -> list[Problem]:
    """One cause when most vessels cloud while they are mixed: times or values in reverse."""
    sign = 1 if rule.better == "high" else -1
    series = {}
    columns = (mixed[name] for name in ("value", "elapsed_h", "vessel", "rater"))
    values, hours, vessels, raters = columns
    for index in group_indices(mixed.ids("vessel", "rater")):
        ordered = index[np.argsort(hours[index], kind="stable")]
        series[str(vessels[index[0]]), str(raters[index[0]])] = sign * values[ordered]
    change = [values[-1] - values[0] for values in series.values()]
    if len(change) < 3 or np.mean(np.array(change) < -rule.tolerance - 1e-9) <= 0.5:
        return _clouding(file, series, rule, far)
    message = f"{rule.quantity} gets worse in most vessels while they are mixed"
    fix = "See whether times or values stand in reverse order."
    return [Problem(file, None, "value", rule.quantity, "warn", message, fix, 0)]


def _clouding(
    file: str, series: dict[tuple[str, str], np.ndarray], rule: Criterion, far: float
) -> list[Problem]:
    """Vessels that only get worse from their first reading on: their values in reverse."""
    message = f"{rule.quantity} of a vessel only gets worse while it is mixed"
    fix = "See whether its values stand in reverse order."
    found = []
    for (vessel, rater), values in series.items():
        steps = np.diff(values)
        gain, loss = steps[steps > 0].sum(), -steps[steps < 0].sum()
        if len(steps) >= _FEWEST - 1 and loss > far and gain < _GAIN * loss:
            shown = f"{vessel} by {rater}"
            found.append(Problem(file, None, "value", shown, "warn", message, fix, 0))
    return found


def _exchanged(file: str, rows: Rows, rule: Criterion, far: float) -> list[Problem]:
    """References that a vessel of salt water beats by far: one cause, codes that were exchanged."""
    sign = 1 if rule.better == "high" else -1
    beaten: dict[str, Counter] = {}
    # Nearly always nobody is that far ahead of the water of any round.
    rounds, ahead_by = rows.ids(*_ROUND), sign * rows["value"]
    is_trial = rows["role"] == "trial"
    best = np.full(rounds.max() + 1, -np.inf)
    np.maximum.at(best, rounds[is_trial], ahead_by[is_trial])
    odd = rounds[~is_trial & (best[rounds] - ahead_by > far)]
    for session in rows.take(np.isin(rounds, odd)).split(*_ROUND) if len(odd) else []:
        trial = session.take(session["role"] == "trial")
        for water, value in zip(session["vessel"], session["value"], strict=True):
            ahead = sign * (trial["value"] - value) > far
            if water in trial["vessel"] or not ahead.any():
                continue
            beaten.setdefault(water, Counter()).update(set(trial["vessel"][ahead]))
    message = f"purified water reads far worse in {rule.quantity} than a vessel of salt water"
    return [
        Problem(file, None, "vessel", water, "warn", message, _EXCHANGED.format(*best), 0)
        for water, counts in sorted(beaten.items())
        for best in [max(counts.items(), key=lambda item: (item[1], item[0]))]
    ]


def _worse(file: str, rows: Rows, rule: Criterion, margin: float) -> list[Problem]:
    """References that read worse than most trial vessels of their session."""
    message = f"purified water reads worse in {rule.quantity} than most vessels of its session"
    fix = "See whether values stand beside the wrong vessels there."
    sign = 1 if rule.better == "high" else -1
    trial, rounds = rows["role"] == "trial", rows.ids(*_ROUND)
    counts = np.bincount(rounds, trial)
    usual = group_median(rounds[trial], rows["value"][trial], len(counts))
    behind = sign * (usual[rounds] - rows["value"]) > margin + 1e-9
    return [
        row_warning(file, rows["row"][i], "value", float(rows["value"][i]), message, fix)
        for i in np.flatnonzero(~trial & behind & (counts[rounds] >= 2))
    ]


def _margin(rows: Rows, tolerance: float) -> float:
    """How much worse than others purified water may read by chance.

    The tolerance, the smallest step, and the scatter of purified water itself, from a low
    quantile that many wrong readings cannot raise (0.32 of a normal standard deviation).
    """
    water = rows["value"][rows["role"] == "reference"]
    if not len(water):
        return tolerance
    step = np.diff(np.unique(rows["value"].round(9))).min(initial=np.inf)
    scatter = np.quantile(np.abs(water - np.median(water)), 0.25) / 0.32
    return float(max(tolerance, step if np.isfinite(step) else 0.0, 2 * scatter))


def _surpassed(file: str, rows: Rows, rule: Criterion) -> list[Problem]:
    """A few readings better than the ceiling at which purified water stands."""
    water = rows["value"][rows["role"] == "reference"]
    if rule.better != "high" or len(water) < _FEWEST:
        return []
    values, counts = np.unique(water, return_counts=True)
    ceiling = values[counts.argmax()]
    # Where purified water varies, it and others may well be a line better, but not two.
    steady = counts.max() >= _CEILING * len(water)
    beyond = rows["value"] > ceiling + (0 if steady else rule.tolerance + 1)
    fix = f"Purified water reads {ceiling:g} {rule.unit}; compare with the sheet."
    if counts.max() < _HALF * len(water) or not beyond.any():
        return []
    if beyond.mean() > (_RARE if steady else 2 * _RARE):
        vessels = sorted(set(rows["vessel"][beyond]))
        shown = ", ".join(vessels[:3]) + (" and others" if len(vessels) > 3 else "")
        message = (
            f"{rule.quantity} is often better than that of purified water, which hardly varies"
        )
        return [Problem(file, None, "value", shown, "warn", message, fix, 0)] if steady else []
    message = f"this {rule.quantity} is better than that of purified water, which hardly varies"
    return [
        row_warning(file, row, "value", float(value), message, fix)
        for row, value in zip(rows["row"][beyond], rows["value"][beyond], strict=True)
    ]


def _zeros(file: str, rows: Rows, rule: Criterion) -> list[Problem]:
    """A note on purified water that hardly reads anything."""
    water = rows["value"][(rows["role"] == "reference") & (rows["limit"] == "")]
    if rule.better != "low" or len(water) < _FEWEST or not (water == 0).any():
        return []
    if np.median(water) > _NOTHING * smallest_step(rows["value"]):
        return []
    message = f"purified water reads next to nothing in {rule.quantity}"
    fix = "Nothing if the meter was set to zero in it; else see whether its reading was taken off."
    shown = f"{int((water == 0).sum())} of {len(water)} readings"
    return [Problem(file, None, "value", shown, "note", message, fix, 0)]


def _nothing(file: str, rows: Rows, rule: Criterion) -> list[Problem]:
    """Readings of exactly nothing, where all others of the meter keep well away from it."""
    values = rows["value"]
    zero, positive = values == 0, values[values > 0]
    if rule.better != "low" or not zero.any() or len(positive) < _MANY:
        return []
    if positive.min() < _AWAY * smallest_step(positive):
        return []
    message = f"this {rule.quantity} is exactly 0, to which no other reading comes near"
    fix = "Leave the cell empty if nothing was read."
    return [
        row_warning(file, row, "value", float(value), message, fix)
        for row, value in zip(rows["row"][zero], values[zero], strict=True)
    ]


def _other_water(file: str, rows: Rows, rule: Criterion) -> list[Problem]:
    """Rounds in which purified water reads quite another value than in nearly all others."""
    water = rows.take((rows["role"] == "reference") & (rows["limit"] == ""))
    if len(water) < _FEWEST:
        return []
    usual = float(np.median(water["value"]))
    step = smallest_step(rows["value"])
    far = 2 * max(rule.tolerance, step if step > 0.5 * rule.tolerance else 0.0) + 1e-9
    rounds = group_indices(water.ids(*_ROUND))
    off = [index for index in rounds if np.all(np.abs(water["value"][index] - usual) > far)]
    if len(off) > _FEW_ROUNDS * len(rounds):
        return []
    message = f"purified water reads quite another {rule.quantity} than in other rounds"
    fix = f"It reads about {usual:.3g} {rule.unit} else; see the unit and the sheet of this round."
    return [
        row_warning(
            file,
            water["row"][index].min(),
            "value",
            float(np.median(water["value"][index])),
            message,
            fix,
        )
        for index in off
    ]
