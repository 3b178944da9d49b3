"""Whether groups differ in their times, by reshuffling the labels within blocks."""

from __future__ import annotations

from dataclasses import dataclass
from math import factorial, prod

import numpy as np
import pandas as pd

from trialkit.stats._distance import Measure
from trialkit.stats._shuffles import arrangements, count_sums, draw_sums, group_sums
from trialkit.stats.shown import Shown

__all__ = ["PermutationTest", "permutation_test", "smallest_p_value"]

# Up to so many different partial sums the distribution is counted in full; 10 v 10 values without
# ties are 184,756 splits, and shared reading times make far larger trials fit.
MAX_STATES = 200_000


# Which tails count: [share of sums as low, share as high].
_SIDES = {"two-sided": slice(None), "less": slice(0, 1), "greater": slice(1, 2)}


@dataclass(frozen=True)
class PermutationTest(Shown):
    """The answer of one permutation test.

    Attributes
    ----------
    statistic : float
        Two groups: sum of scores of the first group (in sorted order) less its expectation;
        positive when that group has the earlier times. More groups: the quadratic form that is
        chi-square distributed in large samples.
    z : float
        Two groups: the statistic over its permutational standard deviation. More: the statistic.
    p_asymptotic : float
        From the normal or chi-square curve, two-sided; too small at few values a group.
    p_value : float
        From the permutations. Two groups, two-sided: twice the smaller tail. At most 1.
    p_smallest : float
        The smallest p-value that this layout of groups and blocks could have given.
    n_arrangements : int
        Ways to hand out the labels within the blocks.
    exact : bool
        True when all of them were counted.
    method : str
        In words.
    """

    statistic: float
    z: float
    p_asymptotic: float
    p_value: float
    p_smallest: float
    n_arrangements: int
    exact: bool
    method: str

    def __str__(self) -> str:
        """The sentence a report would print."""
        return f"p = {self.p_value:.3g} ({self.method}; smallest attainable {self.p_smallest:.3g})"

    def tidy(self) -> pd.DataFrame:
        """One row with the attributes as columns, for binding below other results.

        Returns
        -------
        pandas.DataFrame
            statistic, z, p_asymptotic, p_value, p_smallest, n_arrangements, exact, method.
        """
        return pd.DataFrame([vars(self)])


def smallest_p_value(group, block=None) -> float:
    """The smallest two-sided p-value that a permutation test can give in this layout.

    A property of the layout alone: no data, however clear, can do better.

    Parameters
    ----------
    group : array_like, shape (n,)
        Labels.
    block : array_like, shape (n,), optional
        Labels are exchanged within blocks only.

    Returns
    -------
    float
        1 when no exchange is possible.

    Examples
    --------
    >>> round(smallest_p_value(["a", "a", "a", "b", "b", "b"]), 4)
    0.1
    """
    sizes = _sizes(*_codes(group, block))
    return _smallest(sizes)


def permutation_test(
    scores, group, *, block=None, alternative="two-sided", n_random: int = 9_999, seed: int = 1
) -> PermutationTest:
    """Whether the groups differ in their scores, from the shuffles of labels within blocks.

    All shuffles are counted where that is feasible: partial sums are merged as they arise, up to
    200,000 different ones. Beyond that, random shuffles are drawn, and the observed one is
    counted among them, p = (r + 1)/(m + 1), so that p is never 0 and the test keeps its level.

    Parameters
    ----------
    scores : array_like, shape (n,)
        From `interval_scores`, or any numbers fixed without looking at the labels.
    group : array_like, shape (n,)
        Two labels or more.
    block : array_like, shape (n,), optional
        Labels are exchanged within blocks only.
    alternative : {"two-sided", "greater", "less"}
        "greater": the first group, in sorted order, has the greater scores, so is earlier. With
        more than two groups only "two-sided".
    n_random : int
        Random shuffles m where not all are counted.
    seed : int
        Seed of these.

    Returns
    -------
    PermutationTest
        With p_value, p_smallest and the asymptotic answer for comparison.

    Raises
    ------
    ValueError
        Fewer than two groups, or an alternative that does not fit.

    References
    ----------
    Fay, M. P. & Shaw, P. A. (2010). Journal of Statistical Software 36(2), 1-34. Phipson, B. &
    Smyth, G. K. (2010). Statistical Applications in Genetics and Molecular Biology 9, article 39.

    Examples
    --------
    >>> permutation_test([1, 2, 3, 7, 8, 9], list("aaabbb")).p_value
    0.1
    """
    scores = np.asarray(scores, dtype=float)
    group, block = _codes(group, block)
    sizes = _sizes(group, block)
    if sizes.shape[1] < 2:
        raise ValueError("needs two groups or more; got one.")
    if alternative not in (_SIDES if sizes.shape[1] == 2 else {"two-sided"}):
        raise ValueError(f"alternative does not fit {sizes.shape[1]} groups; got {alternative!r}.")
    centred, covariance = _null_moments(scores, block, sizes)
    measure = Measure.of(covariance)
    observed = group_sums(centred, group[None], sizes.shape[1])[0]
    counted = count_sums(centred, block, sizes, MAX_STATES)
    sums, weights = counted or _drawn(centred, group, block, observed, (n_random, seed))
    tails = measure.tails(sums, weights, observed)[_SIDES[alternative]]
    statistic, z, p_asymptotic = measure.large_sample(observed)
    n_all = arrangements(sizes)
    smallest = _smallest(sizes) if alternative == "two-sided" else 1 / n_all
    least = 0.0 if counted else len(tails) / (n_random + 1)
    return PermutationTest(
        statistic=statistic,
        z=z,
        p_asymptotic=p_asymptotic,
        p_value=float(min(1.0, len(tails) * min(tails))),
        p_smallest=max(smallest, least),
        n_arrangements=n_all,
        exact=counted is not None,
        method=_method(n_all, None if counted else n_random),
    )


def _drawn(centred, group, block, observed, random) -> tuple[np.ndarray, np.ndarray]:
    """Random shuffles with the observed one among them, so that no p-value is 0."""
    sums = np.vstack([draw_sums(centred, group, block, random), observed])
    return sums, np.ones(len(sums))


def _codes(group, block) -> tuple[np.ndarray, np.ndarray]:
    """Group and block as small integers."""
    group = np.unique(np.asarray(group), return_inverse=True)[1]
    if block is None:
        return group, np.zeros(len(group), dtype=int)
    return group, np.unique(np.asarray(block), return_inverse=True)[1]


def _sizes(group: np.ndarray, block: np.ndarray) -> np.ndarray:
    """Count of values, shape (block, group)."""
    sizes = np.zeros((block.max() + 1, group.max() + 1), dtype=int)
    np.add.at(sizes, (block, group), 1)
    return sizes


def _smallest(sizes: np.ndarray) -> float:
    """Groups of the same size in every block can swap names and leave the statistic as it is."""
    if sizes.shape[1] == 2:
        return min(1.0, 2 / arrangements(sizes))
    alike = np.unique(sizes, axis=1, return_counts=True)[1]
    return min(1.0, prod(factorial(int(m)) for m in alike) / arrangements(sizes))


def _null_moments(scores, block, sizes) -> tuple[np.ndarray, np.ndarray]:
    """Scores less their block mean; covariance of group sums over all shuffles."""
    centred = np.empty_like(scores)
    covariance = np.zeros((sizes.shape[1],) * 2)
    for b, row in enumerate(sizes):
        inside = block == b
        centred[inside] = scores[inside] - scores[inside].mean()
        n = row.sum()
        if n > 1:
            spread = (centred[inside] ** 2).sum() / (n - 1)
            covariance += spread * (np.diag(row) - np.outer(row, row) / n)
    return centred, covariance


def _method(n_all: int, n_random: int | None) -> str:
    if n_all == 1:
        return "no shuffle possible within the blocks"
    if n_random is None:
        return f"exact permutation, {n_all:,} arrangements"
    return f"permutation, {n_random:,} random arrangements"
