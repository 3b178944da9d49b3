"""Two vessels that agree between raters or quantities only once they are exchanged."""

from itertools import combinations

import numpy as np

from .problems import Problem
from .rows import Rows
from .trial import Protocol

# An exchange must halve the disagreement of two vessels, which must stand out by far.
_HALVED = 0.5
_FAR = 3.0
_LEAST = 0.1
_FEWEST = 3
# A shift by a round must show in so many rounds, and by so much of all ranks.
_ROUNDS, _LATE = 2, 0.06


def crossed_problems(file: str, rows: Rows, protocol: Protocol) -> list[Problem]:
    """Warnings about two vessels that stand under each other's codes in one of two sheets.

    Two raters who look at one water, and two quantities that both say how clear it is, put
    vessels and rounds into nearly the same order. Where two vessels break it, and keep it once
    their codes are exchanged in one of the sheets, they were probably exchanged there.

    Parameters
    ----------
    file : str
        Name for messages.
    rows : Rows
        Readings with a value.
    protocol : Protocol
        Its criteria say which direction is clearer.
    """
    mixed = rows.take(rows["phase"] == "mixing")
    sheets = [
        (rule.quantity, _ranked(mixed.take(chosen), 1 if rule.better == "high" else -1))
        for rule in protocol.criteria.values()
        for chosen in [(mixed["quantity"] == rule.quantity) & (mixed["unit"] == rule.unit)]
        if chosen.any()
    ]
    axes = (np.unique(rows["vessel"]), np.unique(mixed["session"]))
    found = []
    for quantity, own in sheets:
        tables = {r["rater"][0]: _table(r, axes) for r in own.split("rater")}
        for one, two in combinations(sorted(tables), 2):
            for pair in _crossed(tables[one], tables[two], axes[0]):
                found.append(_warn(file, pair, f"{quantity} by {one} and by {two}"))
            found += _shifted(file, quantity, {one: tables[one], two: tables[two]})
    for (name, own), (other, more) in combinations(sheets, 2):
        if name != other:
            for pair in _crossed(_anew(_table(own, axes)), _anew(_table(more, axes)), axes[0]):
                found.append(_warn(file, pair, f"{name} and {other}"))
    return found


def _shifted(file: str, quantity: str, tables: dict[str, np.ndarray]) -> list[Problem]:
    """A rater whose readings, from some round on, are those of the other one round before."""
    message = f"one rater's {quantity} fits the other's a round before; were values put a row lower"
    found = []
    for late, early in (sorted(tables), sorted(tables, reverse=True)):
        one, two = tables[early], tables[late]
        for start in range(1, one.shape[1] - 1):
            apart = np.abs(two[:, start:] - one[:, start:])
            before = np.abs(two[:, start:] - one[:, start - 1 : -1])
            both = ~np.isnan(apart) & ~np.isnan(before)
            if both.sum() < _ROUNDS * _FEWEST:
                continue
            earlier = np.abs(two[:, :start] - one[:, :start])
            known = ~np.isnan(earlier) & (start > 1)
            usual = earlier[known].mean() if known.any() else 0.0
            far = apart[both].mean() > max(_LATE, 2 * usual)
            if far and before[both].mean() < _HALVED * apart[both].mean():
                shown = f"{late} beside {early}"
                fix = f"Compare the rounds of {late} with the sheet, from round {start + 1} on."
                found.append(Problem(file, None, "value", shown, "warn", message, fix, 0))
                break
    return found


def _ranked(own: Rows, sign: int) -> Rows:
    """The readings with their ranks from 0 to 1 (clearest), equal ones sharing the middle."""
    return own.with_column("rank", _ranks(sign * own["value"]))


def _ranks(values: np.ndarray) -> np.ndarray:
    """Ranks from 0 to 1; NaN where all values are equal."""
    distinct, inverse, sizes = np.unique(values.round(9), return_inverse=True, return_counts=True)
    middle = np.cumsum(sizes) - (sizes + 1) / 2
    ranks = middle / max(1, len(values) - 1)
    return (ranks if len(distinct) > 1 else np.full(len(distinct), np.nan))[inverse]


def _anew(table: np.ndarray) -> np.ndarray:
    """A table with the ranks of its own cells: two quantities have no scale in common."""
    read = ~np.isnan(table)
    out = table.copy()
    out[read] = _ranks(table[read])
    return out


def _table(own: Rows, axes: tuple[np.ndarray, np.ndarray]) -> np.ndarray:
    """Mean ranks by vessel and session; NaN where nothing was read."""
    total, count = np.zeros((len(axes[0]), len(axes[1]))), np.zeros((len(axes[0]), len(axes[1])))
    place = (np.searchsorted(axes[0], own["vessel"]), np.searchsorted(axes[1], own["session"]))
    np.add.at(total, place, own["rank"])
    np.add.at(count, place, 1)
    return np.where(count > 0, total / np.maximum(count, 1), np.nan)


def _crossed(one: np.ndarray, two: np.ndarray, vessels: np.ndarray) -> list[tuple[str, str]]:
    """Pairs of vessels that agree once they are exchanged."""
    both = ~np.isnan(one).all(axis=1) & ~np.isnan(two).all(axis=1)
    one, two, vessels = one[both], two[both], vessels[both]
    cost = _disagreement(one, two)
    own = np.diag(cost)
    if len(own) < _FEWEST or np.isnan(own).all():
        return []
    apart = (own[:, None] + own[None, :]) / 2
    crossing = (cost + cost.T) / 2
    usual = max(_LEAST, _FAR * float(np.nanmedian(own)))
    hits = np.argwhere(np.triu((apart > usual) & (crossing < _HALVED * apart), 1))
    return [(str(vessels[i]), str(vessels[j])) for i, j in hits]


def _disagreement(one: np.ndarray, two: np.ndarray) -> np.ndarray:
    """Mean distance of each vessel of one table from each of the other; NaN for few rounds."""
    cost = np.full((len(one), len(two)), np.nan)
    for i, series in enumerate(one):
        away = np.abs(two - series)
        known = (~np.isnan(away)).sum(axis=1)
        enough = known >= _FEWEST
        cost[i, enough] = np.nansum(away[enough], axis=1) / known[enough]
    return cost


def _warn(file: str, pair: tuple[str, str], between: str) -> Problem:
    message = f"two vessels agree in {between} only if their codes are exchanged in one of them"
    fix = "Compare the codes above their columns, or beside their rows, with the vessels."
    return Problem(file, None, "vessel", " and ".join(pair), "warn", message, fix, 0)
