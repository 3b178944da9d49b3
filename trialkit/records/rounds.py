"""Rounds in which most vessels read worse than in the one before, though water comes clear."""

from itertools import pairwise

import numpy as np

from .problems import Problem
from .rows import Rows
from .trial import Criterion

# At least so many vessels, and such a share of all, must read worse by more than chance.
_FEWEST = 3
_SHARE = 0.3
# So many times as many as read better.
_MORE = 3


def round_problems(file: str, mixed: Rows, rule: Criterion, margin: float) -> list[Problem]:
    """Warnings about rounds that look exchanged with the one before.

    One vessel may cloud again; that a good part of all do so in the same round, and hardly any
    clears, is a dimmer lamp or a time that stands beside the wrong round.

    Parameters
    ----------
    file : str
        Name for messages.
    mixed : Rows
        Readings of the criterion's quantity with a value, of trial vessels while they are mixed.
    rule : Criterion
        Its direction says what is worse.
    margin : float
        By how much readings differ by chance.
    """
    sign = 1 if rule.better == "high" else -1
    found = []
    for own in mixed.split("rater") if len(mixed) else []:
        rounds: dict[int, dict[str, float]] = {}
        columns = (own[name] for name in ("session", "vessel", "value", "elapsed_h"))
        when: dict[int, float] = {}
        for session, vessel, value, hours in zip(*columns, strict=True):
            rounds.setdefault(int(session), {})[vessel] = sign * value
            when.setdefault(int(session), hours)
        for before, after in pairwise(sorted(rounds)):
            if _most_worse(rounds[before], rounds[after], margin):
                shown = f"{when[after]:.3g} h by {own['rater'][0]}"
                found.append(_exchanged(file, rule.quantity, shown))
    return found


def _most_worse(before: dict[str, float], after: dict[str, float], margin: float) -> bool:
    """Whether a good part of the vessels read worse, and hardly any better."""
    change = np.array([after[vessel] - before[vessel] for vessel in after if vessel in before])
    worse, better = (change < -margin - 1e-9).sum(), (change > margin + 1e-9).sum()
    return bool(worse >= max(_FEWEST, _SHARE * len(change)) and worse >= _MORE * better)


def _exchanged(file: str, quantity: str, shown: str) -> Problem:
    message = f"most vessels that changed read worse in {quantity} than in the round before"
    fix = "See whether the times of two rounds were exchanged, or the lamp or meter changed."
    return Problem(file, None, "elapsed", shown, "warn", message, fix, 0)
