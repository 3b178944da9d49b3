"""Two vessels of different mixes that behave as if each held the other's."""

from itertools import combinations

import numpy as np

from .grids import grids_of
from .problems import Problem
from .rows import Rows
from .trial import Protocol

# Both vessels lie so many times further from their own mix than a nearest mate does, in ranks
# from 0 to 1, and exchanged they lie at no more than this share of that.
_FAR, _LEAST, _LEFT = 2.0, 0.12, 0.35
_FEWEST = 3
# A vessel further than this from every mate has nothing in common with them.
_UNLIKE = 0.5


def keyed_problems(file: str, rows: Rows, protocol: Protocol) -> list[Problem]:
    """Warnings about two vessels that each fit the other's mix and not their own.

    Vessels of one mix come clear much alike. Where one of each of two mixes does not, and both
    fit once they are exchanged, their codes were probably exchanged in the key or in the sheets.

    Parameters
    ----------
    file : str
        Name for messages.
    rows : Rows
        Readings with a value.
    protocol : Protocol
        Its criteria say what clears.
    """
    known = (rows["phase"] == "mixing") & (rows["role"] == "trial") & (rows["mix"] != "")
    vessels, first = np.unique(rows["vessel"][known], return_index=True)
    mixes = rows["mix"][known][first]
    names, sizes = np.unique(mixes, return_counts=True)
    if (sizes > 1).sum() < 2:
        return []
    rules = {(rule.quantity, rule.unit) for rule in protocol.criteria.values()}
    tables = []
    for group in rows.take(known).split("quantity", "unit"):
        if (group["quantity"][0], group["unit"][0]) in rules:
            tables += _ranked(group)
    return _exchanged(file, _apart(tables, vessels), vessels, np.searchsorted(names, mixes))


def _ranked(group: Rows) -> list[tuple[np.ndarray, np.ndarray]]:
    """Vessels, and their values in each round as ranks among all, for each rater."""
    tables = []
    for grid in grids_of(group):
        values, ranks = grid.values.T, np.full(grid.values.T.shape, np.nan)
        read = ~np.isnan(values)
        distinct, inverse, counts = np.unique(values[read], return_inverse=True, return_counts=True)
        if len(distinct) > 1:
            middle = (np.cumsum(counts) - (counts + 1) / 2) / (read.sum() - 1)
            ranks[read] = middle[inverse]
            tables.append((grid.vessels, ranks))
    return tables


def _apart(tables: list, vessels: np.ndarray) -> np.ndarray:
    """Mean distance between the ranks of each two vessels; NaN where they share no round."""
    total, count = np.zeros((len(vessels),) * 2), np.zeros((len(vessels),) * 2)
    for own, ranks in tables:
        away = np.abs(ranks[:, None] - ranks[None])
        known = ~np.isnan(away)
        at = np.ix_(*[np.searchsorted(vessels, own)] * 2)
        total[at] += np.where(known, away, 0).sum(axis=2)
        count[at] += known.sum(axis=2)
    return np.where(count >= _FEWEST, total / np.maximum(count, 1), np.nan)


def _exchanged(
    file: str, apart: np.ndarray, vessels: np.ndarray, place: np.ndarray
) -> list[Problem]:
    """Pairs of vessels of two mixes, each of which lies with the other's and not with its own."""
    known = ~np.isnan(apart).any(axis=1)
    apart, vessels, place = apart[np.ix_(known, known)], vessels[known], place[known]
    member = (place[:, None] == np.arange(place.max(initial=0) + 1)[None]).astype(float)
    sizes = member.sum(axis=0) - 1
    sizes[sizes <= 0] = np.nan
    total = apart @ member
    own = total[np.arange(len(vessels)), place] / sizes[place]
    if np.isnan(own).all():
        return []
    # The nearest mate says what is usual: a vessel that was exchanged makes all its mates odd.
    mates = np.where(
        (place[:, None] == place[None]) & ~np.eye(len(place), dtype=bool), apart, np.inf
    )
    nearest = mates.min(axis=1)
    usual = float(np.median(nearest[np.isfinite(nearest)]))
    found = _unlike(file, nearest, usual, vessels, place)
    odd = np.flatnonzero(own > max(_LEAST, _FAR * usual))
    message = "two vessels each behave like the other's mix; were their codes exchanged"
    fix = "Compare key.csv, vessels.csv and the sheets for both."
    for v, w in combinations(odd, 2):
        if place[v] == place[w]:
            continue
        # Each among the mates of the other, who has left them.
        there = (total[v, place[w]] - apart[v, w]) / sizes[place[w]]
        back = (total[w, place[v]] - apart[v, w]) / sizes[place[v]]
        if there + back < _LEFT * (own[v] + own[w]):
            shown = f"{vessels[v]} and {vessels[w]}"
            found.append(Problem(file, None, "vessel", shown, "warn", message, fix, 0))
    return found


def _unlike(
    file: str, nearest: np.ndarray, usual: float, vessels: np.ndarray, place: np.ndarray
) -> list[Problem]:
    """Mixes of which a vessel has nothing in common with any other."""
    alone = np.isfinite(nearest) & (nearest > max(_UNLIKE, _FAR * usual))
    message = "the vessel comes clear quite unlike every other of its mix"
    fix = "See whether its readings or its mix are those of another, or were counted backwards."
    return [
        Problem(
            file, None, "vessel", ", ".join(vessels[alone & (place == mix)]), "warn", message, fix
        )
        for mix in np.unique(place[alone])
    ]
