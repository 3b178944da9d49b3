"""How far raters agree beyond chance."""

from __future__ import annotations

import krippendorff
import numpy as np
from numpy.typing import ArrayLike
from scipy.stats import norm
from statsmodels.stats.inter_rater import cohens_kappa, fleiss_kappa

from .estimate import Estimate, check_conf_level

__all__ = [
    "category_counts",
    "fleiss_agreement",
    "fleiss_by_category",
    "gwet_agreement",
    "krippendorff_alpha",
    "weighted_kappa",
]

NO_CONTRAST = "every rating is in one category: agreement beyond chance cannot be measured."


def weighted_kappa(
    table: ArrayLike, weights: str | ArrayLike | None = "quadratic", *, conf_level: float = 0.95
) -> Estimate:
    """Agreement of two raters beyond chance, near misses counting less than far ones.

    Parameters
    ----------
    table : array_like, shape (k, k)
        Counts; first rater's category in rows, second's in columns.
    weights : {"quadratic", "linear"} or array_like, shape (k, k), or None
        Disagreement weights; None counts every disagreement alike (Cohen's kappa).
    conf_level : float
        Level of the limits, which take the counted subjects for independent.

    Returns
    -------
    Estimate
        Kappa, between -1 and 1, with large-sample limits.

    Raises
    ------
    ValueError
        When the table is not square or all ratings are in one category.

    References
    ----------
    Cohen J (1968). Psychological Bulletin 70, 213-220.
    Fleiss JL, Cohen J, Everitt BS (1969). Psychological Bulletin 72, 323-327.

    Examples
    --------
    >>> print(weighted_kappa([[10, 2], [1, 12]], None))
    0.759 (95% CI 0.504 to 1; kappa)
    """
    check_conf_level(conf_level)
    table = np.asarray(table, float)
    if table.ndim != 2 or table.shape[0] != table.shape[1]:
        raise ValueError(f"table must be square; got shape {table.shape}.")
    _need_contrast(table.sum(axis=0) + table.sum(axis=1))
    with np.errstate(invalid="ignore", divide="ignore"):  # of a test statistic not used here
        found, method = _kappa_results(table, weights)
    kappa = float(found.kappa)
    reach = norm.ppf((1 + conf_level) / 2) * np.sqrt(max(float(found.var_kappa), 0.0))
    low, high = max(kappa - reach, -1.0), min(kappa + reach, 1.0)
    return Estimate(kappa, float(low), float(high), conf_level, method=method)


def _kappa_results(table, weights):
    if weights is None:
        return cohens_kappa(table), "kappa"
    if isinstance(weights, str):
        return cohens_kappa(table, wt=weights), f"kappa, {weights} weights"
    weights = np.asarray(weights, float)
    # The library's variance takes the largest weight for 1.
    return cohens_kappa(table, weights / weights.max()), "kappa, declared weights"


def category_counts(ratings: ArrayLike, categories: ArrayLike | None = None) -> np.ndarray:
    """How many raters put each subject into each category, shape (n, k).

    Parameters
    ----------
    ratings : array_like, shape (n, r)
        One row a subject, one column a rater; NaN is not rated.
    categories : array_like, optional
        All categories in order; those seen by default.

    Examples
    --------
    >>> category_counts([[1, 1], [1, 2]])
    array([[2, 0],
           [1, 1]])
    """
    ratings = np.asarray(ratings, float)
    if categories is None:
        categories = np.unique(ratings[~np.isnan(ratings)])
    return (ratings[:, :, None] == np.asarray(categories, float)).sum(axis=1)


def fleiss_agreement(counts: ArrayLike) -> tuple[float, float]:
    """Fleiss' kappa for nominal calls by equally many raters, with its z against chance.

    Parameters
    ----------
    counts : array_like, shape (n, k)
        Raters per subject and category; every row has the same sum.

    Returns
    -------
    tuple of float
        Kappa, and kappa over its standard error when agreement is by chance.

    References
    ----------
    Fleiss JL (1971). Psychological Bulletin 76, 378-382.
    Fleiss JL, Nee JCM, Landis JR (1979). Psychological Bulletin 86, 974-977.

    Examples
    --------
    >>> kappa, z = fleiss_agreement([[3, 0], [0, 3], [2, 1]])
    >>> round(kappa, 4)
    0.55
    """
    counts = np.asarray(counts, float)
    n, raters = counts.shape[0], counts.sum(axis=1)
    if np.ptp(raters) > 0 or raters[0] < 2:
        raise ValueError("Fleiss' kappa wants the same number of raters, two or more, everywhere.")
    _need_contrast(counts.sum(axis=0))
    share = counts.sum(axis=0) / counts.sum()
    spread = share @ (1 - share)
    skew = np.sum(share * (1 - share) * (1 - 2 * share))
    error = np.sqrt(2 * (spread**2 - skew) / (n * raters[0] * (raters[0] - 1))) / spread
    kappa = float(fleiss_kappa(counts))
    return kappa, float(kappa / error)


def fleiss_by_category(counts: ArrayLike) -> np.ndarray:
    """Fleiss' kappa of each category against all others; shape (k,).

    A category that nobody used has no kappa and is given as 0.

    References
    ----------
    Fleiss JL (1971). Psychological Bulletin 76, 378-382, equation 22.

    Examples
    --------
    >>> fleiss_by_category([[3, 0], [0, 3], [2, 1]]).round(2).tolist()
    [0.55, 0.55]
    """
    counts = np.asarray(counts, float)
    raters = counts.sum(axis=1)
    share = counts.sum(axis=0) / counts.sum()
    pairs = np.sum(counts * (counts - 1), axis=0)
    seen = np.sum(counts * (raters - 1)[:, None], axis=0)
    agree = np.divide(pairs, seen, out=np.zeros_like(pairs), where=seen > 0)
    room = share < 1
    return np.divide(agree - share, 1 - share, out=np.zeros_like(share), where=room & (seen > 0))


def gwet_agreement(counts: ArrayLike) -> float:
    """Gwet's AC1: agreement beyond chance that stays sensible when one category is rare.

    Parameters
    ----------
    counts : array_like, shape (n, k)
        Raters per subject and category; rows may have different sums.

    Returns
    -------
    float
        1 for full agreement, 0 for chance.

    Raises
    ------
    ValueError
        With one category, or when no subject was seen by two raters.

    References
    ----------
    Gwet KL (2008). British Journal of Mathematical and Statistical Psychology 61, 29-48.

    Examples
    --------
    >>> round(gwet_agreement([[3, 0], [0, 3], [2, 1]]), 4)
    0.561
    """
    counts = np.asarray(counts, float)
    raters = counts.sum(axis=1)
    shared = raters > 1
    if counts.shape[1] < 2 or not shared.any():
        raise ValueError("AC1 wants two categories and subjects seen by two raters or more.")
    pairs = np.sum(counts * (counts - 1), axis=1)[shared]
    agree = np.mean(pairs / (raters * (raters - 1))[shared])
    share = np.mean(counts[raters > 0] / raters[raters > 0, None], axis=0)
    chance = share @ (1 - share) / (counts.shape[1] - 1)
    return float((agree - chance) / (1 - chance))


def krippendorff_alpha(ratings: ArrayLike, level: str = "ordinal") -> float:
    """Krippendorff's alpha: reliability of any number of raters, gaps allowed.

    Parameters
    ----------
    ratings : array_like, shape (n, r)
        One row a subject, one column a rater; NaN is not rated.
    level : {"nominal", "ordinal", "interval", "ratio"}
        What differences between ratings mean.

    Returns
    -------
    float
        1 for full agreement, 0 for chance.

    Raises
    ------
    ValueError
        When no subject has two ratings or all ratings are the same.

    References
    ----------
    Krippendorff K (2011). Computing Krippendorff's alpha-reliability. University of
    Pennsylvania.

    Examples
    --------
    >>> round(krippendorff_alpha([[1, 1], [2, 2], [3, 2]]), 4)
    0.7778
    """
    ratings = np.asarray(ratings, float)
    paired = ratings[(~np.isnan(ratings)).sum(axis=1) > 1]
    if not paired.size:
        raise ValueError("no subject was rated twice.")
    _need_contrast(np.unique(paired[~np.isnan(paired)], return_counts=True)[1])
    return float(krippendorff.alpha(reliability_data=paired.T, level_of_measurement=level))


def _need_contrast(totals) -> None:
    if np.count_nonzero(totals) < 2:
        raise ValueError(NO_CONTRAST)
