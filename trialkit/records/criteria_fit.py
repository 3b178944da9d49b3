"""Criteria whose tolerance the readings show to be a slip."""

import numpy as np

from .outliers import smallest_step
from .problems import Problem
from .rows import Rows
from .trial import Criterion, Protocol

# A criterion that so many vessels meet at once tells no mixes apart.
_ALL = 0.9
_FEWEST = 3
# A tolerance beyond this share of all that was read tells clear from murky no more.
_HALF = 0.5


def tolerance_problems(file: str, rows: Rows, protocol: Protocol) -> list[Problem]:
    """Warnings about tolerances that let everything pass, or nothing but equality.

    Parameters
    ----------
    file : str
        Name for messages.
    rows : Rows
        Readings with a value.
    protocol : Protocol
    """
    found = []
    for rule in protocol.criteria.values():
        chosen = (rows["quantity"] == rule.quantity) & (rows["unit"] == rule.unit)
        own = rows.take(chosen & (rows["phase"] == "mixing"))
        if not len(own):
            continue
        step = smallest_step(own["value"])
        if 0 < rule.tolerance < step * (1 - 1e-9):
            message = f"the tolerance of {rule.name} is smaller than the steps of its readings"
            fix = f"Readings go in steps of {step:g} {rule.unit}; it counts as 0."
            found.append(_warn(file, rule, message, fix))
        if rule.tolerance > _HALF * np.ptp(own["value"]) > 0:
            message = f"the tolerance of {rule.name} is most of the way between best and worst"
            fix = f"Readings span {np.ptp(own['value']):g} {rule.unit}; see trial.toml."
            found.append(_warn(file, rule, message, fix))
        met, first = _met_at_once(own, rule)
        if first >= _FEWEST and met >= _ALL * first:
            message = f"nearly all vessels meet {rule.name} at their first reading"
            fix = f"See whether tolerance = {rule.tolerance:g} {rule.unit} is right in trial.toml."
            found.append(_warn(file, rule, message, fix))
    return found + _unjudged(file, rows, protocol)


def _unjudged(file: str, rows: Rows, protocol: Protocol) -> list[Problem]:
    """A note on a quantity that was read in every round, but that no criterion judges."""
    judged = {(rule.quantity, rule.unit) for rule in protocol.criteria.values()}
    mixed = rows.take(rows["phase"] == "mixing")
    found = []
    for group in mixed.split("quantity", "unit") if len(mixed) else []:
        quantity, unit = str(group["quantity"][0]), str(group["unit"][0])
        entry = protocol.quantities[quantity].range_of(unit)
        rounds = len(np.unique(group["session"]))
        if (quantity, unit) not in judged and entry.better and rounds == len(protocol.schedule_h):
            message = "the quantity was read in every round, but no criterion judges it"
            fix = f"Add a table [criteria.{quantity}] to trial.toml, or nothing if it has none."
            found.append(Problem(file, None, "quantity", quantity, "note", message, fix, 0))
    return found


def _met_at_once(own: Rows, rule: Criterion) -> tuple[int, int]:
    """How many vessels meet a criterion at their first reading, and how many were read then."""
    sign = 1 if rule.better == "high" else -1
    met = first = 0
    for session in own.take(own["session"] == own["session"].min()).split("rater"):
        water = session["value"][session["role"] == "reference"]
        if not len(water):
            continue
        trial = session["value"][session["role"] == "trial"]
        short = sign * (np.median(water) - trial)
        met, first = met + int((short <= rule.tolerance + 1e-9).sum()), first + len(trial)
    return met, first


def _warn(file: str, rule: Criterion, message: str, fix: str) -> Problem:
    return Problem(file, None, "value", f"{rule.tolerance:g} {rule.unit}", "warn", message, fix, 0)
