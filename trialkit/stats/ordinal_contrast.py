"""Two groups of ordered scores compared, honest at a handful of scores a group."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial
from itertools import combinations
from math import comb

import numpy as np
from numpy.typing import ArrayLike

from ._cumulative import OrdinalData, maximise
from ._logistic_profile import profile_limit
from .estimate import check_conf_level
from .ordinal import OrdinalFit, fit_ordinal
from .shown import Shown

__all__ = ["OrdinalContrast", "ordinal_contrast"]

#: More ways to deal the scores out than this are sampled instead of counted.
MOST_ARRANGEMENTS = 2000
SAMPLED = 999
#: Likelihood ratios closer than this are the same arrangement mirrored, up to the search.
TINY = 1e-4


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
    second_group = np.repeat([[0.0], [1.0]], [first.size, second.size], axis=0)
    fit = fit_ordinal(second_group, scores, terms=["second"])
    seen, method = _arrangements(fit.data, second.size, seed)
    tail = {value: float(np.mean(seen >= value - TINY)) for value in np.unique(seen.round(5))}
    own = fit.profile_deviance(0, 0.0)
    p_value = float(np.mean(seen >= own - TINY))
    reached = [value for value, p in tail.items() if p > 1 - conf_level]
    cut = max(reached)
    # No arrangement is rare enough: nothing is bounded.
    cut = np.inf if cut >= max(tail) - TINY else cut
    low, high = _limits(fit, cut)
    return OrdinalContrast(
        float(np.exp(fit.coefficients[0])), low, high, conf_level, p_value,
        min(tail.values()), n, f"proportional odds, {method}",
    )  # fmt: skip


def _arrangements(data: OrdinalData, size: int, seed: int):
    """The likelihood ratio of each way to deal the scores out, and how they were found."""
    n, cache = len(data.code), {}
    # Without a difference each category has its share of all scores, however dealt.
    count = np.bincount(data.code)
    flat = float(count @ np.log(count / n))

    def ratio(chosen) -> float:
        key = tuple(np.sort(data.code[list(chosen)]))
        if key not in cache:
            design = np.zeros((n, 1))
            design[list(chosen), 0] = 1.0
            dealt = replace(data, design=design)
            cache[key] = max(2 * (maximise(dealt, dealt.start())[1] - flat), 0.0)
        return cache[key]

    if comb(n, size) <= MOST_ARRANGEMENTS:
        seen = np.array([ratio(chosen) for chosen in combinations(range(n), size)])
        return seen, "every arrangement"
    rng = np.random.default_rng(seed)
    drawn = [rng.choice(n, size, replace=False) for _ in range(SAMPLED)]
    seen = np.array([ratio(chosen) for chosen in [range(n - size, n), *drawn]])
    return seen, f"{SAMPLED} sampled arrangements"


def _limits(fit: OrdinalFit, cut: float) -> tuple[float, float]:
    if not np.isfinite(cut):
        return 0.0, np.inf
    side, ends = fit.separation.directions["second"], [-np.inf, np.inf]
    for index, (step, open_side) in enumerate(((-1.0, "-inf"), (1.0, "+inf"))):
        if side not in (open_side, "either side"):
            deviance = partial(fit.profile_deviance, 0)
            ends[index] = profile_limit(deviance, fit.theta[0], step, cut)
    low, high = np.exp(ends)
    return float(low), float(high)
