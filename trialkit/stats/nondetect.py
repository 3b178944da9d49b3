"""Amounts of which some lie below a detection limit."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike
from statsmodels.imputation.ros import impute_ros

from .aft import AftFit, fit_aft
from .contrasts import pair_contrasts
from .shown import Shown

__all__ = ["NondetectFit", "RosSummary", "fit_nondetects", "half_limit_mean", "ros_summary"]

#: Most of the results that may lie below the limit for regression on order statistics
#: (Helsel 2012, Statistics for Censored Environmental Data, 2nd ed., ch. 6).
MOST_CENSORED = 0.8


@dataclass(frozen=True)
class NondetectFit(Shown):
    """Lognormal amounts, some known only to lie below a limit.

    Attributes
    ----------
    groups : tuple
        Labels of the groups.
    location : Series
        Mean of the log amount of each group; -inf when all of it lies below the limits.
    scale : float
        Pooled standard deviation of the log amount.
    loglik : float
        Maximised log-likelihood of the amounts.
    note : str
        What a reader must know; empty when nothing is odd.
    """

    groups: tuple
    location: pd.Series
    scale: float
    loglik: float
    note: str
    _reflected: AftFit = field(repr=False)
    _counts: pd.DataFrame = field(repr=False)

    def medians(self, conf_level: float = 0.95) -> pd.DataFrame:
        """One row a group: group, term, estimate, limits, conf_level, counts, method.

        n counts amounts, n_event those detected, n_censored those below the limit. A group all
        below has estimate 0, lower limit 0 and a finite upper limit.
        """
        back = self._reflected.quantile(0.5, conf_level)
        frame = pd.DataFrame({"group": back["group"], "term": "median"})
        frame["estimate"] = _invert(back["estimate"])
        frame["conf_low"], frame["conf_high"] = _invert(back["conf_high"]), _invert(back.conf_low)
        frame = frame.assign(conf_level=conf_level).merge(self._counts, on="group")
        return frame.assign(method=back["method"].str.replace("time", "amount"))

    def ratio(self, a, b, conf_level: float = 0.95) -> pd.DataFrame:
        """One row: amount of group a over that of b, limits, p_value, method."""
        return self.ratios([(a, b)], conf_level)

    def ratios(self, pairs, conf_level: float = 0.95) -> pd.DataFrame:
        """One row a pair (a, b) of groups, as `ratio`, found together."""
        found = pair_contrasts(self._reflected, [(b, a) for a, b in pairs], conf_level=conf_level)
        return found.assign(term=[f"{a} / {b}" for a, b in pairs])

    def __str__(self) -> str:
        rows = (f"{row.group}: {row.estimate:.3g}" for row in self.medians().itertuples())
        return f"lognormal, scale {self.scale:.3g}; medians {', '.join(rows)}"


def fit_nondetects(
    values: ArrayLike, below: ArrayLike, group: ArrayLike | None = None
) -> NondetectFit:
    """Medians and ratios of lognormal amounts, results below a limit as what they are.

    The interval-censored engine is asked about 1 / amount: "below the limit" then is "not seen
    by then", for which its limits were calibrated at few vessels. No limit is halved.

    Parameters
    ----------
    values : array_like, shape (n,)
        Amounts; the detection limit where `below`.
    below : array_like of bool, shape (n,)
        True where the amount lies below `values`.
    group : array_like, shape (n,), optional
        Label of each amount's group.

    Returns
    -------
    NondetectFit

    Raises
    ------
    ValueError
        When an amount is not above 0: a detected 0 is "below the detection limit".

    References
    ----------
    Cohen AC (1959). Technometrics 1, 217-237.
    Helsel DR (2012). Statistics for Censored Environmental Data Using Minitab and R, 2nd ed.

    Examples
    --------
    >>> fit = fit_nondetects([10, 12, 16, 30, 30, 41], [1, 0, 0, 0, 0, 0], list("aaabbb"))
    >>> fit.medians()["estimate"].round(1).tolist()
    [12.0, 33.3]
    """
    values, below = np.asarray(values, float), np.asarray(below, bool)
    if values.size == 0 or values.shape != below.shape:
        raise ValueError("values and below must be equally long, one or more.")
    if not np.all(values > 0):
        raise ValueError(
            f"amounts must be above 0; got {values[~(values > 0)][0]:g}. "
            "An amount of 0 is below the detection limit: give the limit and say so."
        )
    labels = np.full(values.shape, "all") if group is None else np.asarray(group)
    turned = 1 / values
    fit = fit_aft(turned, np.where(below, np.inf, turned), labels)
    detected = ~below
    # d(1/x) = dx / x^2: the density of the amount from that of its inverse.
    loglik = fit.loglik - 2 * np.log(values[detected]).sum()
    counts = pd.DataFrame({"group": labels, "n_event": detected, "n_censored": below})
    counts = counts.groupby("group", sort=False).sum().astype(int).reset_index()
    counts.insert(1, "n", counts["n_event"] + counts["n_censored"])
    location = -fit.coefficients
    return NondetectFit(
        fit.groups, location, fit.scale, float(loglik), fit.note, fit, counts
    )  # fmt: skip


def _invert(values) -> np.ndarray:
    values = np.asarray(values, float)
    with np.errstate(divide="ignore"):
        return 1 / values


@dataclass(frozen=True)
class RosSummary(Shown):
    """Mean, standard deviation and median by regression on order statistics.

    Attributes
    ----------
    mean, sd, median : float
        In the unit of the amounts; amounts below a limit are placed on the fitted line.
    n, n_event : int
        Amounts; those detected.
    """

    mean: float
    sd: float
    median: float
    n: int
    n_event: int


def ros_summary(values: ArrayLike, below: ArrayLike) -> RosSummary:
    """Summary statistics of amounts with results below several limits.

    Robust regression on order statistics: detected amounts stay, the others are placed on a
    lognormal line through them. Beside the likelihood, because it leans less on the family.

    Parameters
    ----------
    values, below : array_like, shape (n,)
        Amounts, and whether each lies below its value.

    Returns
    -------
    RosSummary

    Raises
    ------
    ValueError
        With fewer than 3 detected amounts or more than 80% below the limits: the library would
        halve the limits then.

    References
    ----------
    Helsel DR, Cohn TA (1988). Water Resources Research 24, 1997-2004.

    Examples
    --------
    >>> round(ros_summary([10, 12, 16, 30], [True, False, False, False]).mean, 2)
    15.69
    """
    values, below = np.asarray(values, float), np.asarray(below, bool)
    detected = int((~below).sum())
    if detected < 3 or below.mean() > MOST_CENSORED:
        raise ValueError(
            f"{detected} of {below.size} amounts were detected: too few for a line through them."
        )
    placed = np.asarray(impute_ros(values, below, max_fraction_censored=MOST_CENSORED), float)
    return RosSummary(
        float(placed.mean()), float(placed.std(ddof=1)), float(np.median(placed)),
        int(values.size), detected,
    )  # fmt: skip


def half_limit_mean(values: ArrayLike, below: ArrayLike) -> float:
    """The mean with half the limit put in place of results below it: biased, for comparison only.

    References
    ----------
    Helsel DR (2006). Chemosphere 65, 2434-2439 (fabricating data).

    Examples
    --------
    >>> half_limit_mean([10, 12, 16, 30], [True, False, False, False])
    15.75
    """
    values, below = np.asarray(values, float), np.asarray(below, bool)
    return float(np.where(below, values / 2, values).mean())
