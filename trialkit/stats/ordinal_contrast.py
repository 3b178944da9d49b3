"""Two groups of ordered scores compared, honest at a handful of scores a group."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import combinations
from math import comb

import numpy as np
from numpy.typing import ArrayLike

from ._cumulative import OrdinalData, maximise
from .estimate import check_conf_level
from .shown import Shown

__all__ = ["OrdinalContrast", "ordinal_contrast"]

#: More ways to deal the scores out than this are sampled instead of counted.
MOST_ARRANGEMENTS = 2000
SAMPLED = 999
#: Likelihood ratios closer than this are the same arrangement mirrored, up to the search.
TINY = 1e-4
#: A limit is looked for this far from the estimate, in log odds, on ever finer grids.
FARTHEST, POINTS, REFINEMENTS = 40.0, 17, 5  # to 2 in 100,000


@dataclass(frozen=True)
class OrdinalContrast(Shown):
    """Odds of a higher score in the second group over the first.

    Attributes
    ----------
    estimate, conf_low, conf_high : float
        Odds ratio under proportional odds; 0 or inf without overlap.
    conf_level, p_value, p_smallest : float
        Level; permutation p of the likelihood ratio; the smallest p that so many scores, tied
        as they are, can give.
    n : int
        Scores.
    method : str
        How it was done.
    """

    estimate: float
    conf_low: float
    conf_high: float
    conf_level: float
    p_value: float
    p_smallest: float
    n: int
    method: str


def ordinal_contrast(
    first: ArrayLike, second: ArrayLike, *, conf_level: float = 0.95, seed: int = 1
) -> OrdinalContrast:
    """Odds ratio of two groups' scores with permutation p and limits calibrated by it.

    The likelihood ratio of so few scores is nothing like chi-square: four against four without
    overlap give p = 0.0009 by chi-square, and 0.029 by counting the ways to deal them out. So
    its distribution is taken from those ways, for the p value and for where the profile
    likelihood ends the interval. Where no arrangement could reach the level (three against
    three at 95%) the interval is 0 to inf.

    Parameters
    ----------
    first, second : array_like
        Scores, one a unit of replication.
    conf_level : float
        Confidence level.
    seed : int
        Of the sampled arrangements, when there are too many to count.

    Returns
    -------
    OrdinalContrast
        With no two different scores the ratio is 1, the interval 0 to inf and p 1.

    References
    ----------
    McCullagh P (1980). Journal of the Royal Statistical Society B 42, 109-142.
    Fisher RA (1935). The Design of Experiments, ch. 2 and 3.

    Examples
    --------
    >>> found = ordinal_contrast([1, 1, 2, 1], [3, 4, 3, 3])
    >>> found.estimate, round(found.p_value, 4)
    (inf, 0.0286)
    """
    check_conf_level(conf_level)
    first, second = np.asarray(first, float), np.asarray(second, float)
    scores = np.concatenate([first, second])
    if first.size == 0 or second.size == 0 or np.isnan(scores).any():
        raise ValueError("both groups must hold scores, with a number everywhere.")
    n = scores.size
    if np.unique(scores).size < 2:
        return OrdinalContrast(1.0, 0.0, np.inf, conf_level, 1.0, 1.0, n, "every score is the same")
    table = _Table.of(first, second)
    got, method = _arrangements(table, seed)
    seen, own = table.ratios(got), max(2 * (table.best[1] - table.flat), 0.0)
    tail = {value: float(np.mean(seen >= value - TINY)) for value in np.unique(seen.round(5))}
    p_value = float(np.mean(seen >= own - TINY))
    reached = [value for value, p in tail.items() if p > 1 - conf_level]
    cut = max(reached)
    # No arrangement is rare enough: nothing is bounded.
    cut = np.inf if cut >= max(tail) - TINY else cut
    low, high = _limits(table, cut)
    return OrdinalContrast(
        float(np.exp(table.estimate)), low, high, conf_level, p_value,
        min(tail.values()), n, f"proportional odds, {method}",
    )  # fmt: skip


@dataclass(frozen=True)
class _Table:
    """How many scores of each category there are, and how many the second group got."""

    count: np.ndarray
    got: np.ndarray

    @classmethod
    def of(cls, first, second) -> _Table:
        kinds, code = np.unique(np.concatenate([first, second]), return_inverse=True)
        got = np.bincount(code[len(first) :], minlength=len(kinds))
        return cls(np.bincount(code), got)

    @cached_property
    def data(self) -> OrdinalData:
        """Rows of the first group's categories, then of the second's, each half the scores."""
        k = len(self.count)
        group, code = np.repeat([0.0, 1.0], k)[:, None], np.tile(np.arange(k), 2)
        return OrdinalData(group, code, np.tile(self.count / 2, 2), None, k)

    @property
    def flat(self) -> float:
        """The log-likelihood without a difference: each category has its share of all."""
        return float(self.count @ np.log(self.count / self.count.sum()))

    def fit(self, got, held: np.ndarray | None = None):
        """Theta and log-likelihood for each way (r, K) of dealing the scores out."""
        weights = np.hstack([self.count - got, got]).astype(float)
        start = np.repeat(self.data.start()[None], len(got), axis=0)
        if held is not None:
            # Half of a shift is the cuts' to take.
            start[:, 1:] += held[:, None] / 2
        return maximise(self.data, start, weights, None if held is None else (0, held))

    def ratios(self, got) -> np.ndarray:
        """Likelihood ratios (r,) against no difference."""
        kinds, which = np.unique(got, axis=0, return_inverse=True)
        return np.maximum(2 * (self.fit(kinds)[1] - self.flat), 0.0)[which.ravel()]

    @cached_property
    def best(self) -> tuple[float, float]:
        """The log odds ratio, however far the search went, and its log-likelihood."""
        theta, loglik = self.fit(self.got[None])
        return float(theta[0, 0]), float(loglik[0])

    @property
    def estimate(self) -> float:
        """The log odds ratio; infinite where the groups don't overlap."""
        first, second = np.flatnonzero(self.count - self.got), np.flatnonzero(self.got)
        if first[-1] <= second[0]:
            return np.inf
        return -np.inf if second[-1] <= first[0] else self.best[0]

    def deviance(self, held: np.ndarray) -> np.ndarray:
        """Twice the fall of the log-likelihood with the log odds ratio held at each value (r,)."""
        got = np.repeat(self.got[None], len(held), axis=0)
        return np.maximum(2 * (self.best[1] - self.fit(got, held)[1]), 0.0)


def _arrangements(table: _Table, seed: int) -> tuple[np.ndarray, str]:
    """What the second group got (r, K) in each way to deal the scores out, and how found."""
    n, size = int(table.count.sum()), int(table.got.sum())
    if comb(n, size) <= MOST_ARRANGEMENTS:
        dealt, method = list(combinations(range(n), size)), "every arrangement"
    else:
        rng = np.random.default_rng(seed)
        drawn = [rng.choice(n, size, replace=False) for _ in range(SAMPLED)]
        dealt, method = drawn, f"{SAMPLED} sampled arrangements"
    code = np.repeat(np.arange(len(table.count)), table.count)
    got = (code[np.array(dealt)][:, :, None] == np.arange(len(table.count))).sum(1)
    return (got if method == "every arrangement" else np.vstack([table.got, got])), method


def _limits(table: _Table, cut: float) -> tuple[float, float]:
    if not np.isfinite(cut):
        return 0.0, np.inf
    ends = [-np.inf, np.inf]
    for index, side in enumerate((-1.0, 1.0)):
        if table.estimate != side * np.inf:
            ends[index] = _crossing(table, side, cut)
    low, high = np.exp(ends)
    return float(low), float(high)


def _crossing(table: _Table, side: float, cut: float) -> float:
    """Where the deviance reaches `cut` on one side of the estimate, a grid at a time."""
    # Without overlap the search for the estimate stopped anywhere on its way to infinity.
    origin = float(np.clip(table.best[0], -FARTHEST / 2, FARTHEST / 2))
    near, far = 0.0, FARTHEST
    for _ in range(REFINEMENTS):
        grid = np.linspace(near, far, POINTS)
        outside = np.flatnonzero(table.deviance(origin + side * grid) > cut)
        if not outside.size:
            return side * np.inf
        far, near = grid[outside[0]], grid[max(outside[0] - 1, 0)]
    return origin + side * (near + far) / 2
