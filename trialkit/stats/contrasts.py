"""Ratios of times of pairs of groups of one fit, all in one batch."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from . import _limits
from ._intervals import hours_of
from .estimate import check_conf_level

if TYPE_CHECKING:
    from .aft import AftFit

__all__ = ["pair_contrasts"]


def pair_contrasts(fit: AftFit, pairs, *, conf_level: float = 0.95) -> pd.DataFrame:
    """One row a pair: the ratio of times of its first group to its second.

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
    check_conf_level(conf_level)
    batch, places = fit._batch, [_places(fit.groups, a, b) for a, b in pairs]
    limits = hours_of(_limits.pair_limits(batch, places, conf_level)[0])
    estimates = [_limits.contrast_estimate(batch, *pair)[0] for pair in places]
    return pd.DataFrame(
        {
            "term": [f"{a} / {b}" for a, b in pairs],
            "estimate": hours_of(np.array(estimates)),
            "conf_low": limits[:, 0],
            "conf_high": limits[:, 1],
            "conf_level": conf_level,
            "p_value": _limits.pair_p_values(batch, places)[0],
            "method": fit._method("likelihood ratio"),
        }
    )


def _places(groups: tuple, a, b) -> tuple[int, int]:
    """Numbers of two groups."""
    unknown = [label for label in (a, b) if label not in groups]
    if unknown:
        raise ValueError(f"group must be one of {list(groups)}; got {unknown[0]!r}.")
    if a == b:
        raise ValueError(f"a contrast needs two groups; got {a!r} twice.")
    return groups.index(a), groups.index(b)
