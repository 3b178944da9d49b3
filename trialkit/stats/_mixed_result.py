"""What a clustered fit answers: typical times, a new batch, contrasts, spreads."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy import stats

from ._intervals import hours_of
from ._mixed_contrast import open_contrast, placed_contrast
from ._mixed_fit import Search, variances
from ._mixed_influence import one_step_without
from ._mixed_quadrature import Spread
from .estimate import check_conf_level
from .shown import Shown

METHOD = "log-normal with random clusters, restricted likelihood, Satterthwaite"
METHOD_OPEN = "log-normal with random clusters, likelihood ratio"
LEVELS = ("within a cell", "between cells", "between clusters")


@dataclass(frozen=True, eq=False, repr=False)
class MixedAftFit(Shown):
    """A clustered fit, as `fit_mixed_aft` returns it.

    Attributes
    ----------
    groups : tuple
        Labels of the groups, sorted.
    location : numpy.ndarray, shape (g,)
        Location of log time; ``inf`` for a group that never cleared, ``-inf`` for one that was
        clear at each first look.
    spread : Spread
        Standard deviations of log time: `sigma` within a cell (one group in one cluster), `omega`
        between cells, `tau` between clusters. A spread that the data cannot tell from a finer one
        is 0 here and contained in that one; see `free`.
    free : tuple of int
        Which of the three were estimated: 0 sigma, 1 omega, 2 tau.
    covariance : numpy.ndarray, shape (g, g)
        Of the locations; nan for groups that the data cannot place.
    spread_covariance : numpy.ndarray, shape (s, s)
        Of the squared spreads in `free`.
    open_limits : dict
        For a group that the data cannot place: a function from a two-sided level to the one limit
        that there is, log time.
    n, n_event, n_cluster : numpy.ndarray of int, shape (g,)
        Intervals, those that ended, and clusters with any, of each group.
    loglik : float
        Log-likelihood of the log times at the estimates, without the restriction's penalty.
    note : str
        What a reader must know; "" when nothing is odd.
    clusters : tuple
        Labels of the clusters that the locations rest on, sorted.
    """

    groups: tuple
    location: np.ndarray
    spread: Spread
    free: tuple[int, ...]
    covariance: np.ndarray
    spread_covariance: np.ndarray
    open_limits: dict
    n: np.ndarray
    n_event: np.ndarray
    n_cluster: np.ndarray
    loglik: float
    note: str
    clusters: tuple
    _search: Search
    _theta: np.ndarray

    @property
    def total_variance(self) -> float:
        """Variance of the log time of a new batch in a new cluster about its group's location."""
        return float(variances(self.spread).sum())

    def typical_time(self, conf_level: float = 0.95) -> pd.DataFrame:
        """Median time of each group over all clusters, with limits.

        Parameters
        ----------
        conf_level : float
            Two-sided level.

        Returns
        -------
        pandas.DataFrame
            group, estimate, conf_low, conf_high, conf_level, method.

        Examples
        --------
        >>> from trialkit.stats.mixed_aft import fit_mixed_aft
        >>> fit = fit_mixed_aft([1, 2, 3, 1, 2], [2, 3, 4, 2, 3], list("aaaaa"), [1, 1, 2, 3, 4])
        >>> fit.typical_time()["estimate"].round(2).tolist()
        [2.19]
        """
        return self._frame(conf_level, new=False)

    def new_batch(self, conf_level: float = 0.95) -> pd.DataFrame:
        """Limits between which a new batch in a new cluster is expected to clear.

        Parameters
        ----------
        conf_level : float
            Two-sided level: so often does the next batch clear between the limits.

        Returns
        -------
        pandas.DataFrame
            group, estimate (the median), conf_low, conf_high, conf_level, method.

        Examples
        --------
        >>> from trialkit.stats.mixed_aft import fit_mixed_aft
        >>> fit = fit_mixed_aft([1, 2, 3, 1, 2], [2, 3, 4, 2, 3], list("aaaaa"), [1, 1, 2, 3, 4])
        >>> (fit.new_batch()["conf_high"] > fit.typical_time()["conf_high"]).all().item()
        True
        """
        return self._frame(conf_level, new=True)

    def upper_bound(self, share: float = 0.9, conf_level: float = 0.95) -> pd.DataFrame:
        """Time by which a share of new batches in new clusters is clear, with its upper bound.

        A one-sided tolerance bound by the noncentral t distribution, with the degrees of freedom
        of the total variance.

        Parameters
        ----------
        share : float
            Share of batches, between 0.5 and 1.
        conf_level : float
            One-sided level.

        Returns
        -------
        pandas.DataFrame
            group, estimate, conf_low (0: one-sided), conf_high, conf_level, method.

        Examples
        --------
        >>> from trialkit.stats.mixed_aft import fit_mixed_aft
        >>> fit = fit_mixed_aft([1, 2, 3, 1, 2], [2, 3, 4, 2, 3], list("aaaaa"), [1, 1, 2, 3, 4])
        >>> (fit.upper_bound()["conf_high"] > fit.upper_bound()["estimate"]).all().item()
        True
        """
        check_conf_level(conf_level)
        if not 0.5 <= share < 1:
            raise ValueError(f"share must lie from 0.5 to below 1; got {share}.")
        total, normal = self.total_variance, stats.norm.ppf(share)
        high = np.full(len(self.groups), np.inf)
        for place in np.flatnonzero(np.isfinite(self.location)):
            above = min(
                self._tolerance(place, total + noise, normal, conf_level)
                for noise in self._noises(new=True)
            )
            high[place] = hours_of(self.location[place] + above)
        estimate = hours_of(self.location + normal * np.sqrt(total))
        for place in np.flatnonzero(self.location == -np.inf):
            high[place] = hours_of(self._open(place, conf_level) + normal * np.sqrt(total))
        return self._columns(estimate, np.zeros(len(high)), high, conf_level)

    def contrasts(self, conf_level: float = 0.95) -> pd.DataFrame:
        """Ratio of the times of each pair of groups, over all clusters.

        Parameters
        ----------
        conf_level : float
            Two-sided level, for each pair by itself.

        Returns
        -------
        pandas.DataFrame
            group_a, group_b, estimate (time of a over time of b; inf also when neither was
            placed), conf_low, conf_high, p_value, std_error (of the log ratio; inf when a limit is
            open), df, gain (information on the log ratio that one more cluster with both groups
            brings; 0 when none has both), conf_level.

        Examples
        --------
        >>> from trialkit.stats.mixed_aft import fit_mixed_aft
        >>> fit = fit_mixed_aft([1, 2, 4, 8], [2, 3, 6, 9], list("aabb"), [1, 2, 1, 2])
        >>> fit.contrasts()[["group_a", "group_b"]].values.tolist()
        [['a', 'b']]
        """
        check_conf_level(conf_level)
        rows = []
        for a, b in itertools.combinations(range(len(self.groups)), 2):
            both = np.isfinite(self.location[[a, b]]).all()
            row = (placed_contrast if both else open_contrast)(self, a, b, conf_level)
            rows.append({"group_a": self.groups[a], "group_b": self.groups[b], **row})
        names = ["group_a", "group_b", "estimate", "conf_low", "conf_high"]
        frame = pd.DataFrame(rows, columns=[*names, "p_value", "std_error", "df", "gain"])
        return frame.assign(conf_level=conf_level)

    def spreads(self, conf_level: float = 0.95) -> pd.DataFrame:
        """The standard deviations of log time, with limits.

        Parameters
        ----------
        conf_level : float
            Two-sided level.

        Returns
        -------
        pandas.DataFrame
            term ("within a cell", "between cells", "between clusters", "total"), estimate,
            conf_low, conf_high, conf_level, df. A spread that could not be told from a finer one
            has no row.

        Examples
        --------
        >>> from trialkit.stats.mixed_aft import fit_mixed_aft
        >>> fit = fit_mixed_aft([1, 2, 4, 8], [2, 3, 6, 9], list("abab"), [1, 1, 2, 2])
        >>> fit.spreads()["term"].tolist()
        ['within a cell', 'between clusters', 'total']
        """
        check_conf_level(conf_level)
        sizes = variances(self.spread)
        rows = [self._spread_row(LEVELS[k], sizes[k], np.eye(3)[k], conf_level) for k in self.free]
        rows.append(self._spread_row("total", sizes.sum(), np.ones(3), conf_level))
        return pd.DataFrame(
            rows, columns=["term", "estimate", "conf_low", "conf_high", "conf_level", "df"]
        )

    def without_each(self) -> pd.DataFrame:
        """Median time of each group without each cluster in turn, by one step from the estimates.

        Returns
        -------
        pandas.DataFrame
            A row a cluster, a column a group that is placed. A group of which nothing is left
            keeps a number without meaning: see `n_cluster`.

        Examples
        --------
        >>> from trialkit.stats.mixed_aft import fit_mixed_aft
        >>> fit = fit_mixed_aft([1, 2, 1, 8], [2, 3, 2, 9], list("aaaa"), [1, 2, 3, 4])
        >>> bool(fit.without_each().loc[4, "a"] < fit.typical_time()["estimate"][0])
        True
        """
        placed = np.isfinite(self.location)
        moved = one_step_without(self._search, self.location[placed], self._theta)
        names = [g for g, here in zip(self.groups, placed, strict=True) if here]
        return pd.DataFrame(hours_of(moved), index=list(self.clusters), columns=names)

    def __str__(self) -> str:
        times = self.typical_time(0.95)
        told = (f"{row.group}: {row.estimate:.3g}" for row in times.itertuples())
        return f"log-normal with random clusters; typical times {', '.join(told)}"

    def tidy(self, conf_level: float = 0.95) -> pd.DataFrame:
        """Typical time and new batch of each group, one below the other.

        Parameters
        ----------
        conf_level : float
            Two-sided level.

        Returns
        -------
        pandas.DataFrame
            group, term, estimate, conf_low, conf_high, conf_level, method, n, n_event, n_cluster.

        Examples
        --------
        >>> from trialkit.stats.mixed_aft import fit_mixed_aft
        >>> fit = fit_mixed_aft([1, 2, 4, 8], [2, 3, 6, 9], list("abab"), [1, 1, 2, 2])
        >>> fit.tidy()["term"].tolist()
        ['typical time', 'typical time', 'new batch', 'new batch']
        """
        parts = {"typical time": self.typical_time, "new batch": self.new_batch}
        counts = {"n": self.n, "n_event": self.n_event, "n_cluster": self.n_cluster}
        frames = [f(conf_level).assign(term=term, **counts) for term, f in parts.items()]
        return pd.concat(frames, ignore_index=True)

    def limits_of(self, place: int, conf_level: float, *, new: bool = False) -> tuple[float, float]:
        """Limits of the median time of one group, or of a new batch of it.

        Parameters
        ----------
        place : int
            Position in `groups`.
        conf_level : float
            Two-sided level.
        new : bool
            A new batch in a new cluster instead of the median.

        Returns
        -------
        tuple of float
            Lower and upper limit; 0 and inf where there is none.
        """
        location = self.location[place]
        if not np.isfinite(location):
            edge = hours_of((self._open_new if new else self._open)(place, conf_level))
            return (edge, np.inf) if location > 0 else (0.0, edge)
        variance = self.covariance[place, place] + new * self.total_variance
        slope = self.slope_of_variance(np.eye(len(self.groups))[place]) + float(new)
        half = min(
            stats.t.ppf((1 + conf_level) / 2, self.freedom(size, slope)) * np.sqrt(size)
            for size in (variance + noise for noise in self._noises(new=new))
        )
        return float(hours_of(location - half)), float(hours_of(location + half))

    def _noises(self, *, new: bool) -> tuple[float, ...]:
        """What may be added to the variance of a new batch before its degrees of freedom are taken.

        Limits that hold the batch as it would be read hold the batch. They are the narrower ones
        where most of the uncertainty of a small spread is noise of reading: with a mix in five
        places, 4 degrees of freedom and a slightly larger variance instead of 2 to 3.
        """
        return (0.0, self._search.working.usual_noise(self.spread.sigma**2)) if new else (0.0,)

    def _frame(self, conf_level: float, *, new: bool) -> pd.DataFrame:
        check_conf_level(conf_level)
        limits = [self.limits_of(k, conf_level, new=new) for k in range(len(self.groups))]
        low, high = np.array(limits).T
        return self._columns(hours_of(self.location), low, high, conf_level)

    def _columns(self, estimate, low, high, conf_level: float) -> pd.DataFrame:
        method = np.where(np.isfinite(self.location), METHOD, METHOD_OPEN)
        return pd.DataFrame(
            {"group": self.groups, "estimate": estimate, "conf_low": low, "conf_high": high}
        ).assign(conf_level=conf_level, method=method)

    def _open(self, place: int, conf_level: float) -> float:
        return self.open_limits[self.groups[place]](conf_level)

    def _open_new(self, place: int, conf_level: float) -> float:
        """The one limit of a new batch: the limit of the location, then of a batch about it.

        Each takes half of the error, so that together they err no more often than they say.
        """
        half = (1 + conf_level) / 2
        beyond = stats.t.ppf(half, self.freedom(self.total_variance, np.ones(3)))
        step = beyond * np.sqrt(self.total_variance)
        return self._open(place, half) - np.sign(self.location[place]) * step

    def _tolerance(self, place: int, size: float, normal: float, conf_level: float) -> float:
        """How far above a location the one-sided tolerance bound lies, log time."""
        worth = np.sqrt(size / self.covariance[place, place])
        df = self.freedom(size, np.ones(3))
        return float(stats.nct.ppf(conf_level, df, normal * worth) / worth * np.sqrt(size))

    def freedom(self, variance: float, slope: np.ndarray) -> float:
        """Satterthwaite degrees of freedom of an estimated variance.

        Parameters
        ----------
        variance : float
            The variance.
        slope : numpy.ndarray, shape (3,)
            Its slope by sigma^2, omega^2 and tau^2.

        Returns
        -------
        float
            At least 1.
        """
        own = np.asarray(slope, float)[list(self.free)]
        noise = own @ self.spread_covariance @ own
        return float(np.clip(2 * variance**2 / noise, 1.0, 1e6)) if noise > 0 else 1.0

    def slope_of_variance(self, contrast: np.ndarray) -> np.ndarray:
        """Slope of the variance of a contrast of locations by sigma^2, omega^2, tau^2.

        Parameters
        ----------
        contrast : numpy.ndarray, shape (g,)
            Weights of the locations.

        Returns
        -------
        numpy.ndarray, shape (3,)
            0 for a spread that was not estimated.
        """
        placed = np.isfinite(self.location)
        sizes, own = variances(self.spread), contrast[placed]
        slope = np.zeros(3)
        for k in self.free:
            step = np.zeros(3)
            step[k] = 1e-4 * sizes.sum()
            up, down = (
                own @ np.linalg.pinv(self._search.working.information(s, placed.sum())) @ own
                for s in (sizes + step, np.maximum(sizes - step, 0.0))
            )
            slope[k] = (up - down) / (step[k] + min(step[k], sizes[k]))
        return slope

    def _spread_row(self, term: str, variance: float, slope, conf_level: float) -> tuple:
        own = np.asarray(slope, float)[list(self.free)]
        error = float(np.sqrt(own @ self.spread_covariance @ own))
        df = self.freedom(variance, slope)
        tail = (1 + conf_level) / 2
        if variance < error:
            # Not told from none: a chi-square would shrink about 0 to nothing.
            low, high = 0.0, np.sqrt(variance + stats.norm.ppf(tail) * error)
        else:
            low, high = np.sqrt(df * variance / stats.chi2.ppf([tail, 1 - tail], df))
        size = float(np.sqrt(variance))
        return term, size if size > 1e-4 else 0.0, float(low), float(high), conf_level, df
