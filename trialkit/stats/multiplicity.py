"""Several comparisons at once: adjusted p-values, family-wise intervals, letters for a table."""

from __future__ import annotations

import string
from itertools import combinations

import numpy as np
import pandas as pd
from scipy import stats
from statsmodels.stats.multitest import multipletests

LETTERS_NOTE = (
    "Groups that share a letter were not shown different; that is no evidence that they are alike."
)

# Our names (the authors') against the names in statsmodels.
_METHODS = {
    "bonferroni": "bonferroni",
    "holm": "holm",
    "hochberg": "simes-hochberg",
    "hommel": "hommel",
    "benjamini-hochberg": "fdr_bh",
}


def adjust_p_values(p_value, *, method: str = "holm") -> np.ndarray:
    """P-values adjusted for the number of comparisons made, in the order given.

    Holm is the default: it keeps the chance of any false claim in the family below the level
    whatever the dependence between the comparisons, and comparisons of mixes are dependent.

    Parameters
    ----------
    p_value : array_like, shape (n,)
        One p-value a comparison. The whole declared family, also those that show nothing.
    method : {"holm", "bonferroni", "hochberg", "hommel", "benjamini-hochberg"}
        The last one bounds the share of false claims, not the chance of any.

    Returns
    -------
    numpy.ndarray, shape (n,)
        Adjusted p-values, at most 1.

    Raises
    ------
    ValueError
        A p-value is missing or outside 0 to 1, or the method is unknown.

    References
    ----------
    Holm, S. (1979). Scandinavian Journal of Statistics 6, 65-70.

    Examples
    --------
    >>> adjust_p_values([0.01, 0.04, 0.03, 0.005]).round(3).tolist()
    [0.03, 0.06, 0.06, 0.02]
    """
    p = np.atleast_1d(np.asarray(p_value, dtype=float))
    if method not in _METHODS:
        raise ValueError(f"method must be one of {', '.join(_METHODS)}; got {method!r}.")
    if not np.all((p >= 0) & (p <= 1)):  # also catches NaN
        raise ValueError(f"p-values must lie between 0 and 1; got {p.tolist()}.")
    if p.size == 0:
        return p
    return _holm(p) if method == "holm" else multipletests(p, method=_METHODS[method])[1]


def _holm(p: np.ndarray) -> np.ndarray:
    """Holm's step-down p-values.

    The library's runs a full garbage collection in each call: 80 ms in a notebook that holds a
    trial, ten times a report, for what takes microseconds. The tests hold this one to it.
    """
    order = np.argsort(p, kind="stable")
    stepped = np.maximum.accumulate(p[order] * np.arange(p.size, 0, -1))
    adjusted = np.empty_like(p)
    adjusted[order] = np.minimum(stepped, 1.0)
    return adjusted


def tukey_pairs(values, group, *, conf_level: float = 0.95) -> pd.DataFrame:
    """Differences of means for all pairs of groups, with intervals that hold for all at once.

    Parameters
    ----------
    values : array_like, shape (n,)
        One measurement a vessel.
    group : array_like, shape (n,)
        Labels; at least two groups, each with at least one value, and more values than groups.
    conf_level : float
        Level of the whole set of intervals.

    Returns
    -------
    pandas.DataFrame
        One row a pair in the sorted order of labels: group, other, estimate (mean of `group` minus
        mean of `other`, in the unit of `values`), conf_low, conf_high, conf_level, p_adjusted,
        method.

    Raises
    ------
    ValueError
        Fewer than two groups, or no group with two values to learn the spread from.

    References
    ----------
    Tukey (1953), The problem of multiple comparisons; Kramer, C. Y. (1956). Biometrics 12, 307-310.

    Examples
    --------
    >>> tukey_pairs([1, 2, 3, 7, 8, 9], list("aaabbb"))["estimate"].tolist()
    [-6.0]
    """
    values, group = np.asarray(values, dtype=float), np.asarray(group)
    labels = sorted(set(group.tolist()))
    if len(labels) < 2 or len(values) <= len(labels):
        raise ValueError(
            f"needs two groups or more and more values than groups; got {len(values)} values in "
            f"{len(labels)} groups."
        )
    samples = {label: values[group == label] for label in labels}
    df = len(values) - len(labels)
    pooled = sum(((x - x.mean()) ** 2).sum() for x in samples.values()) / df
    rows = [
        _tukey_row(pair, samples, (pooled, len(labels), df), conf_level)
        for pair in combinations(labels, 2)
    ]
    return pd.DataFrame(rows)


def _tukey_row(pair, samples, spread, conf_level: float) -> dict:
    (pooled, k, df), (a, b) = spread, pair
    difference = samples[a].mean() - samples[b].mean()
    se = np.sqrt(pooled / 2 * (1 / len(samples[a]) + 1 / len(samples[b])))
    margin = stats.studentized_range.ppf(conf_level, k, df) * se
    # No spread at all: any difference is beyond doubt, none is none.
    q = abs(difference) / se if se > 0 else (np.inf if difference else 0.0)
    return {
        "group": a,
        "other": b,
        "estimate": difference,
        "conf_low": difference - margin,
        "conf_high": difference + margin,
        "conf_level": conf_level,
        "p_adjusted": float(stats.studentized_range.sf(q, k, df)),
        "method": "Tukey-Kramer",
    }


def compact_letters(different) -> list[str]:
    """Letters for the rows of a table: two groups share one when they were not shown different.

    Print `LETTERS_NOTE` below such a table: a shared letter is a lack of evidence, not likeness.

    Parameters
    ----------
    different : array_like of bool, shape (k, k)
        True where the two groups were shown different; symmetric. Put the groups in the order of
        the table: letters are given from the top.

    Returns
    -------
    list of str, length k
        "a", "ab", "b" and so on; after z come A to Z, then numbers in brackets.

    Raises
    ------
    ValueError
        The matrix is not square and symmetric, or a group differs from itself.

    References
    ----------
    Piepho, H.-P. (2004). Journal of Computational and Graphical Statistics 13, 456-466
    (insert and absorb).

    Examples
    --------
    >>> compact_letters([[False, False, True], [False, False, False], [True, False, False]])
    ['a', 'ab', 'b']
    """
    different = np.asarray(different, dtype=bool)
    k = len(different)
    if different.shape != (k, k) or (different != different.T).any() or different.diagonal().any():
        raise ValueError("`different` must be square and symmetric, with nothing on its diagonal.")
    columns = [frozenset(range(k))] if k else []
    for i, j in combinations(range(k), 2):
        if different[i, j]:
            columns = _absorb(_insert(columns, i, j))
    columns = sorted(_sweep(columns, k), key=sorted)
    return ["".join(_letter(c) for c, who in enumerate(columns) if i in who) for i in range(k)]


def _insert(columns, i: int, j: int) -> list[frozenset]:
    """Split each column that holds both groups into one without either."""
    new = []
    for column in columns:
        if i in column and j in column:
            new += [column - {i}, column - {j}]
        else:
            new.append(column)
    return new


def _absorb(columns) -> list[frozenset]:
    """Drop each column that lies inside another."""
    unique = set(columns)
    return [c for c in unique if not any(c < other for other in unique)]


def _sweep(columns, k: int) -> list[frozenset]:
    """Drop columns whose every shared letter is shown by another column too."""
    kept = sorted(columns, key=lambda c: (-len(c), sorted(c)))
    for column in reversed(list(kept)):
        rest = [c for c in kept if c != column]
        pairs = combinations(sorted(column), 2)
        shown = all(any(i in c and j in c for c in rest) for i, j in pairs)
        if shown and all(any(i in c for c in rest) for i in column):
            kept = rest
    return kept


def _letter(index: int) -> str:
    letters = string.ascii_lowercase + string.ascii_uppercase
    return letters[index] if index < len(letters) else f"({index + 1})"
