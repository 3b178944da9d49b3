"""Scores of interval-censored times from their pooled curve."""

from __future__ import annotations

import numpy as np

from trialkit.stats.turnbull import fit_turnbull

__all__ = ["interval_scores"]


def interval_scores(left, right, *, kind: str = "sun") -> np.ndarray:
    """One score a vessel from the pooled curve: high for early, low for late, 0 on average.

    The value cleared in `(left, right]`; `right` is inf when it was not seen. Scores use all that
    an interval says, so no time within it has to be made up.

    Parameters
    ----------
    left, right : array_like, shape (n,)
        Hours.
    kind : {"sun", "finkelstein", "wilcoxon"}
        Log-rank scores after Sun, or after Finkelstein (proportional hazards); or Wilcoxon-type
        scores, which give late times no more weight than early ones.

    Returns
    -------
    numpy.ndarray, shape (n,)
        Scores.

    Raises
    ------
    ValueError
        The kind is unknown, or an interval is impossible.

    References
    ----------
    Sun, J. (1996). Statistics in Medicine 15, 1387-1395. Finkelstein, D. M. (1986). Biometrics 42,
    845-854. Fay, M. P. & Shaw, P. A. (2010). Journal of Statistical Software 36(2), 1-34, eq. 5-8.

    Examples
    --------
    >>> interval_scores([0, 1, 2], [1, 2, 3], kind="wilcoxon").round(3).tolist()
    [0.667, 0.0, -0.667]
    """
    if kind not in _SCORE_AT:
        raise ValueError(f"kind must be one of {', '.join(_SCORE_AT)}; got {kind!r}.")
    left, right = np.asarray(left, dtype=float), np.asarray(right, dtype=float)
    end, p = fit_turnbull(left, right).steps()
    # An exact value t stands for (t-, t]: the mass at t itself is still to come at its left.
    ahead_left = (end > left[:, None]) | ((left == right)[:, None] & (end == left[:, None]))
    ahead_right = (end > right[:, None]) & np.isfinite(right)[:, None]
    low, high = ahead_right.sum(1), ahead_left.sum(1)  # how many steps of the curve lie ahead
    survival = np.append(0.0, np.cumsum(p[::-1]))  # share still to come, by steps ahead
    at = _SCORE_AT[kind](survival)
    return (at[high] - at[low]) / np.maximum(survival[high] - survival[low], 1e-300)


def _sun(survival: np.ndarray) -> np.ndarray:
    # The curve of the logarithm is the product-limit one: a sum of hazards of single steps.
    before, after = survival[1:], survival[:-1]
    hazard = np.divide(before - after, before, out=np.zeros_like(before), where=before > 0)
    hazards = np.cumsum(hazard[::-1])[::-1]  # summed from the first step up to "steps ahead"
    return survival * -np.append(hazards, 0.0)


def _finkelstein(survival: np.ndarray) -> np.ndarray:
    logs = np.log(survival, out=np.zeros_like(survival), where=survival > 0)
    return survival * logs  # 0 log 0 = 0


def _wilcoxon(survival: np.ndarray) -> np.ndarray:
    # (S(L)^2 - S(R)^2) / (S(L) - S(R)) - 1 = S(L) + S(R) - 1.
    return survival**2 - survival


_SCORE_AT = {"sun": _sun, "finkelstein": _finkelstein, "wilcoxon": _wilcoxon}
