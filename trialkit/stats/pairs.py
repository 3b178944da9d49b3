"""Groups compared two by two, each pair with a scale of its own."""

from __future__ import annotations

from collections import defaultdict

import numpy as np

from trialkit.stats._batch import fit_aft_batch
from trialkit.stats._intervals import check_intervals, group_codes
from trialkit.stats._limits import contrast_p_value

__all__ = ["pair_p_values"]


def pair_p_values(pairs, *, family: str = "lognormal", scale: float | None = None) -> np.ndarray:
    """Calibrated likelihood-ratio p-values of pairs of groups, no scale shared between pairs.

    One scale pooled over many groups is more powerful, but where groups spread unequally it is too
    small for the noisy ones. What holds here too does not rest on equal spread of all.

    Parameters
    ----------
    pairs : sequence of (left, right, group)
        Each three arrays of one length: ends of `(left, right]` in hours, and two labels.
    family : {"lognormal", "weibull", "loglogistic"}
        Shape of the times.
    scale : float, optional
        The scale, when it is known.

    Returns
    -------
    numpy.ndarray, shape (pairs,)
        Two-sided p-values; 1 where a pair tells nothing of its scale.

    Raises
    ------
    ValueError
        A pair has not two groups, or an interval is impossible.
    RuntimeError
        A fit did not reach its maximum.

    Examples
    --------
    >>> pair = ([1, 2, 3, 5, 6], [2, 3, 4, 6, 8], list("aaabb"))
    >>> pair_p_values([pair]).round(3).tolist()
    [0.053]
    """
    p = np.ones(len(pairs))
    for codes, members in _by_layout(pairs).items():
        rows, left, right = (np.array(part) for part in zip(*members, strict=True))
        fit = fit_aft_batch(left, right, np.array(codes), family, scale=scale)
        if not fit.converged.all():
            raise RuntimeError("the fit of a pair did not reach its maximum.")
        p[rows] = contrast_p_value(fit, 0, 1)
    return p


def _by_layout(pairs) -> dict[tuple, list]:
    """Pairs with the same group sizes are fitted in one go."""
    layouts = defaultdict(list)
    for row, (left, right, group) in enumerate(pairs):
        left, right = check_intervals(left, right)
        codes, labels = group_codes(group, len(left))
        if len(labels) != 2:
            raise ValueError(f"a pair needs two groups; got {list(labels)}.")
        order = np.argsort(codes, kind="stable")
        layouts[tuple(codes[order].tolist())].append((row, left[order], right[order]))
    return layouts
