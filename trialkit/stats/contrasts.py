"""Ratios of times of many pairs of groups of one fit, in one batch."""

from __future__ import annotations

import numpy as np
import pandas as pd

from . import _limits
from ._batch import BatchFit, fit_aft_batch
from .aft import AftFit

__all__ = ["pair_contrasts"]


def pair_contrasts(fit: AftFit, pairs, *, conf_level: float = 0.95) -> pd.DataFrame:
    """One row a pair: the ratio of times of its first group to its second.

    The same numbers as `fit.contrast` pair by pair, found together: each pair is the contrast of
    the first two groups of the same data with its groups in another order. A fit with covariates
    goes pair by pair.

    Parameters
    ----------
    fit : AftFit
        What `fit_aft` returned.
    pairs : sequence of (object, object)
        Labels of two groups each.
    conf_level : float
        Two-sided confidence level of each pair.

    Returns
    -------
    pandas.DataFrame
        term, estimate, conf_low, conf_high, conf_level, p_value, method; as many rows as pairs.

    Raises
    ------
    ValueError
        When a group is not one of the fit's, a pair names it twice, or the level is not between
        0 and 1.

    Examples
    --------
    >>> from trialkit.stats.aft import fit_aft
    >>> fit = fit_aft([1, 2, 3, 5, 6], [2, 3, 4, 6, 8], group=list("aaabb"))
    >>> pair_contrasts(fit, [("b", "a")])[["estimate", "conf_low"]].round(3).values.tolist()
    [[2.527, 0.973]]
    """
    one = fit._batch
    # The first pair goes by itself: it brings the checks of its arguments and the method's words.
    first = fit.contrast(*pairs[0], conf_level=conf_level)
    if len(pairs) == 1 or one.theta.shape[1] - 1 > one.n_group:
        rows = [fit.contrast(a, b, conf_level=conf_level) for a, b in pairs[1:]]
        return pd.concat([first, *rows], ignore_index=True)
    order = [_first_two(fit, a, b) for a, b in pairs]
    batch = _reordered(one, np.array(order), fit.family)
    with np.errstate(over="ignore"):
        limits = np.exp(_limits.contrast_limits(batch, 0, 1, conf_level))
        estimate = np.exp(_limits.contrast_estimate(batch, 0, 1))
    return pd.DataFrame(
        {
            "term": [f"{a} / {b}" for a, b in pairs],
            "estimate": estimate,
            "conf_low": limits[:, 0],
            "conf_high": limits[:, 1],
            "conf_level": conf_level,
            "p_value": _limits.contrast_p_value(batch, 0, 1),
            "method": first.loc[0, "method"],
        }
    )


def _first_two(fit: AftFit, a, b) -> list[int]:
    """Numbers of the groups with those of a and b in front."""
    unknown = [label for label in (a, b) if label not in fit.groups]
    if unknown or a == b:
        raise ValueError(f"a pair needs two of the groups {list(fit.groups)}; got {a!r}, {b!r}.")
    front = [fit.groups.index(a), fit.groups.index(b)]
    return front + [i for i in range(len(fit.groups)) if i not in front]


def _reordered(one: BatchFit, order: np.ndarray, family: str) -> BatchFit:
    """One replicate a row of `order`, each with its groups in that order."""
    members = [np.flatnonzero(one.codes == group) for group in range(one.n_group)]
    most = max(map(len, members))
    # Groups are filled up to one size with (0, inf], which says nothing.
    left = np.zeros((one.n_group, most))
    right = np.full((one.n_group, most), np.inf)
    for group, own in enumerate(members):
        left[group, : len(own)] = one.left[0, own]
        right[group, : len(own)] = one.right[0, own]
    codes = np.repeat(np.arange(one.n_group), most)
    flat = (len(order), -1)
    ends = (left[order].reshape(flat), right[order].reshape(flat))
    batch = fit_aft_batch(*ends, codes, family, scale=one.known_scale)
    if not batch.converged.all():
        raise RuntimeError("the fit of a pair did not reach its maximum.")
    return batch
