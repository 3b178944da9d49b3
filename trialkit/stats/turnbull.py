"""The distribution of times known only through intervals, without a distribution's shape.

Convention: a vessel came clear in ``(left, right]``: not yet at `left`, clear at `right`.
``left == right`` is an exact time, ``right = inf`` not seen, ``left = 0`` clear at the
first look.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from ._emicm import cover, maximise
from ._intervals import check_intervals, check_weights, group_codes, informative
from .estimate import check_conf_level, proportion_exact
from .shown import Shown

__all__ = ["TurnbullFit", "fit_turnbull"]

METHOD_LIMITS = "Turnbull; limits Clopper-Pearson on vessels surely or possibly clear"
_SLACK = 1e-9  # a share that misses p by rounding only has reached it


@dataclass(frozen=True, eq=False)
class _Curve:
    """One group's distribution: mass in (left, right], and the observations behind it."""

    left: np.ndarray
    right: np.ndarray
    probability: np.ndarray
    loglik: float
    seen_left: np.ndarray
    seen_right: np.ndarray
    weight: np.ndarray

    def probability_by(self, t: np.ndarray) -> np.ndarray:
        # All mass of (left, right] is counted at right: the latest curve that the
        # data allow. right is sorted, so a running sum answers every t.
        steps = np.concatenate([[0.0], np.cumsum(self.probability)])
        return np.minimum(steps[np.searchsorted(self.right, t, side="right")], 1.0)

    def quantile(self, p: float) -> float:
        return float(self.right[np.argmax(np.cumsum(self.probability) >= p - _SLACK)])

    def counts(self, t: float) -> tuple[float, float, float]:
        """Weight surely clear by t, possibly clear by t, and in all."""
        told = informative(self.seen_left, self.seen_right)
        sure = self.seen_right <= t
        possible = sure | (self.seen_left < t)
        return tuple(float(self.weight[told & which].sum()) for which in (sure, possible, True))

    def limits_by(self, t: float, conf_level: float) -> tuple[float, float]:
        sure, possible, n = self.counts(t)
        if n == 0:
            return 0.0, 1.0
        low = proportion_exact(sure, n, conf_level=conf_level).conf_low
        return low, proportion_exact(possible, n, conf_level=conf_level).conf_high

    def quantile_limits(self, p: float, conf_level: float) -> tuple[float, float]:
        """The times t whose interval for the share clear by t holds p."""
        stops = np.unique(self.seen_right[np.isfinite(self.seen_right)])
        high = _first(stops, lambda t: self.limits_by(t, conf_level)[0] >= p, np.inf)
        starts = np.unique(np.append(self.seen_left, 0.0))
        # The count possibly clear grows just after a left end.
        low = _first(
            starts, lambda t: self.limits_by(np.nextafter(t, np.inf), conf_level)[1] >= p, np.inf
        )
        return min(low, high), high


def _first(times: np.ndarray, reached, otherwise: float) -> float:
    """First of sorted times where a condition that never turns back holds (bisection)."""
    low, high = 0, len(times)
    while low < high:
        middle = (low + high) // 2
        if reached(times[middle]):
            high = middle
        else:
            low = middle + 1
    return float(times[low]) if low < len(times) else otherwise


@dataclass(frozen=True, eq=False, repr=False)
class TurnbullFit(Shown):
    """Maximum likelihood distribution of each group, as `fit_turnbull` returns it.

    Attributes
    ----------
    groups : tuple
        Labels of the groups, in order of appearance; ``("all",)`` when none were given.
    loglik : float
        Log-likelihood summed over the groups.
    converged : bool
        Always True: a fit that does not prove its optimum raises.
    """

    groups: tuple
    loglik: float
    converged: bool
    _curves: tuple
    _codes: np.ndarray

    def __str__(self) -> str:
        return "; ".join(
            f"{group}: median {_time(curve.quantile(0.5))}"
            for group, curve in zip(self.groups, self._curves, strict=True)
        )

    def steps(self, group=None) -> tuple[np.ndarray, np.ndarray]:
        """Right ends of the intervals that hold probability, and how much: the rows of `mass`."""
        curve = self._curve(group)
        held = curve.probability > _SLACK
        return curve.right[held], curve.probability[held]

    @property
    def mass(self) -> pd.DataFrame:
        """Where the probability lies: group, left, right, probability (rows above 0 only).

        How a probability is spread inside its (left, right] the data do not tell.
        """
        parts = [
            pd.DataFrame(
                {
                    "group": group,
                    "left": curve.left,
                    "right": curve.right,
                    "probability": curve.probability,
                }
            )
            for group, curve in zip(self.groups, self._curves, strict=True)
        ]
        frame = pd.concat(parts, ignore_index=True)
        return frame[frame["probability"] > _SLACK].reset_index(drop=True)

    def survival(self, t, *, group=None) -> np.ndarray:
        """Share not yet clear after t, mass counted at the right end of its interval.

        Parameters
        ----------
        t : array_like, shape (k,)
            Times.
        group : object, optional
            Label of a group; may be left out when there is one group.

        Returns
        -------
        numpy.ndarray, shape (k,)
            Shares between 0 and 1.

        Raises
        ------
        ValueError
            When the group is not one of the fit's, or not named though there are several.

        Examples
        --------
        >>> fit_turnbull([0, 1], [1, 2]).survival([0.5, 1, 2]).tolist()
        [1.0, 0.5, 0.0]
        """
        return 1 - self._curve(group).probability_by(np.asarray(t, dtype=float))

    def _curve(self, group) -> _Curve:
        if group is None and len(self.groups) == 1:
            return self._curves[0]
        if group not in self.groups:
            raise ValueError(f"group must be one of {list(self.groups)}; got {group!r}.")
        return self._curves[self.groups.index(group)]

    def at_ends(self) -> pd.DataFrame:
        """Survival before and after each observation's interval, in the order given.

        Rank tests for intervals score an observation by these two numbers (Sun 1996;
        Finkelstein 1986); their difference is its fitted probability.

        Returns
        -------
        pandas.DataFrame
            group, left, right, survival_before, survival_after: P(T > left) and
            P(T > right); for an exact time, P(T >= t) and P(T > t).

        Examples
        --------
        >>> fit_turnbull([0, 1, 1], [1, 2, 1]).at_ends()["survival_before"].round(3).tolist()
        [1.0, 0.333, 1.0]
        """
        columns = ("left", "right", "survival_before", "survival_after")
        frame = pd.DataFrame(0.0, index=range(len(self._codes)), columns=list(columns))
        for code, curve in enumerate(self._curves):
            after = 1 - curve.probability_by(curve.seen_right)
            exact = curve.seen_left == curve.seen_right
            before_left = np.where(exact, np.nextafter(curve.seen_left, -1), curve.seen_left)
            before = 1 - curve.probability_by(before_left)
            values = np.stack([curve.seen_left, curve.seen_right, before, after], axis=1)
            frame.loc[self._codes == code, list(columns)] = values
        labels = pd.Series(self.groups, dtype=object)[self._codes].to_numpy()
        frame.insert(0, "group", pd.Series(labels).infer_objects())
        return frame

    def probability_by(self, t: float, conf_level: float = 0.95) -> pd.DataFrame:
        """Share clear by t in each group, with limits that hold at a few vessels.

        The lower limit is the exact binomial one for the vessels that were surely clear
        by t, the upper one for those that were surely or possibly clear. Vessels about
        which nothing is known, (0, inf], are left out.

        Parameters
        ----------
        t : float
            Time, in the unit of the data.
        conf_level : float
            Two-sided confidence level.

        Returns
        -------
        pandas.DataFrame
            group, t, estimate, conf_low, conf_high, conf_level, method.

        Raises
        ------
        ValueError
            When t is not a number or the level not between 0 and 1.

        Examples
        --------
        >>> row = fit_turnbull([0, 1, 1, 2], [1, 2, 2, 3]).probability_by(2).loc[0]
        >>> print(row["estimate"], row["conf_low"].round(3), row["conf_high"].round(3))
        0.75 0.194 0.994
        """
        check_conf_level(conf_level)
        if not t >= 0:
            raise ValueError(f"t must be a time of 0 or more; got {t}.")
        rows = [
            (float(curve.probability_by(np.asarray(t))), *curve.limits_by(t, conf_level))
            for curve in self._curves
        ]
        return self._answer(rows, conf_level, t=t)

    def quantile(self, p: float, conf_level: float = 0.95) -> pd.DataFrame:
        """Time by which a share p is clear in each group.

        The estimate is the end of the interval in which the curve reaches p, ``inf``
        when it never does; the limits are all times whose interval for the share clear
        holds p, so they are ``inf`` (or 0) sooner than those of a fit with a shape.

        Parameters
        ----------
        p : float
            Share, between 0 and 1.
        conf_level : float
            Two-sided confidence level.

        Returns
        -------
        pandas.DataFrame
            group, p, estimate, conf_low, conf_high, conf_level, method.

        Raises
        ------
        ValueError
            When p or the level does not lie between 0 and 1.

        Examples
        --------
        >>> fit_turnbull([0, 1, 1, 2], [1, 2, 2, 3]).quantile(0.5).loc[0, "estimate"].item()
        2.0
        """
        check_conf_level(conf_level)
        if not 0 < p < 1:
            raise ValueError(f"p must lie between 0 and 1; got {p}.")
        rows = [(c.quantile(p), *c.quantile_limits(p, conf_level)) for c in self._curves]
        return self._answer(rows, conf_level, p=p)

    def _answer(self, rows, conf_level: float, **asked) -> pd.DataFrame:
        frame = pd.DataFrame(rows, columns=["estimate", "conf_low", "conf_high"])
        frame.insert(0, "group", list(self.groups))
        for name, value in asked.items():
            frame.insert(1, name, value)
        return frame.assign(conf_level=conf_level, method=METHOD_LIMITS)

    def tidy(self, conf_level: float = 0.95) -> pd.DataFrame:
        """Median of each group with its limits and counts.

        Parameters
        ----------
        conf_level : float
            Two-sided confidence level.

        Returns
        -------
        pandas.DataFrame
            group, term, estimate, conf_low, conf_high, conf_level, n, n_event,
            n_censored, method.
        """
        frame = self.quantile(0.5, conf_level).drop(columns="p")
        frame.insert(1, "term", "median")
        events = [np.isfinite(curve.seen_right) for curve in self._curves]
        counts = {
            "n": [len(event) for event in events],
            "n_event": [int(event.sum()) for event in events],
            "n_censored": [int((~event).sum()) for event in events],
        }
        return frame.assign(**counts)[[*frame.columns[:-1], "n", "n_event", "n_censored", "method"]]


def _time(t: float) -> str:
    return "not reached" if np.isinf(t) else f"{t:.3g}"


def _fit_curve(left: np.ndarray, right: np.ndarray, weight: np.ndarray) -> _Curve:
    # An interval of weight 0 must not narrow where the mass of the others may lie.
    used = weight > 0
    if not used.any():
        raise ValueError("each group needs an interval of weight above 0.")
    covered = cover(left[used], right[used])
    probability, loglik, converged = maximise(covered, weight[used])
    if not converged:
        raise RuntimeError(f"the curve of {len(left)} intervals did not reach its maximum.")
    return _Curve(covered.left, covered.right, probability, loglik, left, right, weight)


def fit_turnbull(left, right, weights=None, *, group=None) -> TurnbullFit:
    """Distribution of the times by maximum likelihood, with no shape assumed.

    Intervals are half-open, because on shared reading times the right end of one
    vessel is the left end of another and closed intervals would overlap there. The
    optimum is proved by the condition of Gentleman and Geyer, not by small steps.

    Parameters
    ----------
    left, right : array_like, shape (n,)
        Ends of (left, right], ``0 <= left <= right``; equal for an exact time,
        ``right = inf`` where the event was not seen.
    weights : array_like, shape (n,), optional
        Frequency of each interval; 1 when left out.
    group : array_like, shape (n,), optional
        Label of each interval's group; a curve is fitted to each.

    Returns
    -------
    TurnbullFit
        A frozen result with `.mass`, `.survival`, `.quantile`, `.probability_by`.

    Raises
    ------
    ValueError
        When an interval, a weight or a group is not possible.
    RuntimeError
        When the optimum was not reached.

    References
    ----------
    Turnbull, B. W. (1976). Journal of the Royal Statistical Society B 38, 290-295.
    Gentleman, R. & Geyer, C. J. (1994). Biometrika 81, 618-623.
    Wellner, J. A. & Zhan, Y. (1997). Journal of the American Statistical Association 92,
    945-959.

    Examples
    --------
    >>> fit = fit_turnbull([0, 0, 1, 1, 2], [1, 2, 2, 3, float("inf")])
    >>> fit.mass["probability"].round(4).tolist()
    [0.2764, 0.4472, 0.2764]
    >>> print(fit)
    all: median 2
    """
    left, right = check_intervals(left, right)
    weight = check_weights(weights, len(left))
    codes, groups = group_codes(group, len(left))
    members = [codes == code for code in range(len(groups))]
    curves = tuple(_fit_curve(left[own], right[own], weight[own]) for own in members)
    return TurnbullFit(groups, sum(curve.loglik for curve in curves), True, curves, codes)
