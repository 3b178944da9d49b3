"""Values of a round that would fit the rounds around it if they stood beside other vessels."""

from itertools import pairwise

import numpy as np

from .outliers import log_shift, smallest_step
from .problems import Problem
from .rows import Rows

_SERIES = ("rater", "position", "repeat", "phase")
_FEWEST = 3
# How many times the usual worsening of one vessel must be explained, and how much of all change.
_FAR = 4.0
_EXPLAINED = 0.6
_GAINED = 0.5
_MANY = 12
# Of all rounds so many are taken as sound, where there are many.
_HABIT, _ROUNDS = 0.98, 50
# Of the worsenings from round to round, the one that counts as usual.
_USUAL = 0.85


def moved_problems(file: str, group: Rows, better: str, margin: float) -> list[Problem]:
    """Warnings about rounds whose values look moved among their vessels.

    As long as water only comes clear, the change from one round to the next is the same in sum
    however values are dealt out to vessels. Where some vessels got worse and others better, and
    dealing out the same values in the order of the round before would leave much less change,
    values stand beside the wrong vessels, in this round or from it on.

    Parameters
    ----------
    file : str
        Name for messages.
    group : Rows
        Readings of one quantity in one unit with a value.
    better : {"low", "high"}
        The direction in which water comes clear.
    margin : float
        By how much readings differ by chance, in the unit.
    """
    shift = log_shift(group["value"], smallest_step(group["value"]))
    values = group["value"] if shift is None else np.log(group["value"] + shift)
    scaled = group.with_column("scaled", values * (1 if better == "high" else -1))
    least = margin if shift is None else np.log1p(margin / (4 * shift))
    rounds = [step for own in scaled.split(*_SERIES) for step in _steps(own)]
    if not rounds:
        return []
    worse = np.concatenate([np.maximum(before - after, 0) for _, before, after in rounds])
    far = _FAR * max(least, float(np.quantile(worse, _USUAL)))
    explained = [_explained(before, after) for _, before, after in rounds]
    # Where every round is as if dealt out anew, readings scatter more than vessels differ.
    far = max(far, _FAR * float(np.median(explained)))
    if len(explained) >= _ROUNDS:
        far = max(far, float(np.quantile(explained, _HABIT)))
    return [
        _moved(file, place)
        for (place, before, after), gain in zip(rounds, explained, strict=True)
        if gain > far * max(1.0, len(after) / _MANY) and _both_ways(before, after)
    ]


def _steps(own: Rows) -> list[tuple[dict, np.ndarray, np.ndarray]]:
    """Each round of a series beside the one before: where it is, values before and after."""
    rounds: dict[int, dict[str, int]] = {}
    for i, (session, vessel) in enumerate(zip(own["session"], own["vessel"], strict=True)):
        rounds.setdefault(int(session), {})[vessel] = i
    steps, sessions = [], sorted(rounds)
    for earlier, later in pairwise(sessions):
        shared = [vessel for vessel in rounds[later] if vessel in rounds[earlier]]
        if len(shared) < _FEWEST:
            continue
        now = [rounds[later][vessel] for vessel in shared]
        then = [rounds[earlier][vessel] for vessel in shared]
        place = {name: own[name][now[0]] for name in ("quantity", "rater", "elapsed_h")}
        steps.append((place, own["scaled"][then], own["scaled"][now]))
    return steps


def _explained(before: np.ndarray, after: np.ndarray) -> float:
    """How much less change is left when values are dealt out in the order of those before."""
    # The least sum of distances between two sets of numbers is that in order of size.
    least = np.abs(np.sort(after) - np.sort(before)).sum()
    change = np.abs(after - before).sum()
    return float(change - least) if least < _EXPLAINED * change else 0.0


def _both_ways(before: np.ndarray, after: np.ndarray) -> bool:
    """Whether one vessel gained about as much as another lost: clouding alone is no exchange."""
    change = after - before
    return bool(change.max() >= _GAINED * -change.min())


def _moved(file: str, place: dict) -> Problem:
    shown = f"{place['elapsed_h']:.3g} h by {place['rater']}"
    message = f"values of {place['quantity']} seem to stand beside the wrong vessels in a round"
    fix = "Compare the round with the sheet, and those after it, if codes were exchanged."
    return Problem(file, None, "value", shown, "warn", message, fix, 0)
