"""Accelerated failure time fits of many trials at once: arrays of shape (replicate, vessel).

A single fit is a batch of one, so both give the same answers by construction. Times are
hours; a vessel came clear in (left, right].
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from scipy.optimize import linprog
from scipy.special import xlog1py, xlogy

from ._families import family_named
from ._likelihood import Intervals, log_intervals
from ._newton import FLOOR, Problem, maximise

PLACED, NEVER, AT_FIRST, UNKNOWN = 0, 1, -1, 2  # what the data say of a group's location


@dataclass(frozen=True, eq=False)
class BatchFit:
    """Fits of r trials that share their vessels' groups.

    Attributes
    ----------
    data : Intervals
        The trials, shape (r, n).
    codes : numpy.ndarray, shape (n,)
        Group number of each vessel.
    left, right : numpy.ndarray, shape (r, n)
        Ends as given.
    place : numpy.ndarray, shape (r, groups)
        PLACED, NEVER (no event: location infinite), AT_FIRST (every vessel clear at its
        first look: location 0 hours), UNKNOWN (nothing is known).
    theta : numpy.ndarray, shape (r, p + 1)
        Location / scale of each group, covariates, and 1 / scale, about `data.centre`.
    value : numpy.ndarray, shape (r,)
        Log-likelihood; its supremum where the scale has no finite estimate.
    no_scale : numpy.ndarray, shape (r,)
        True where the likelihood grows all the way to scale 0.
    converged : numpy.ndarray, shape (r,)
        Whether the optimum was reached.
    known_scale : float or None
        The scale, when it was given.
    prior : numpy.ndarray or None, shape (r, 2)
        Degrees of freedom and variance that the scale has from elsewhere.
    """

    data: Intervals
    codes: np.ndarray
    left: np.ndarray
    right: np.ndarray
    place: np.ndarray
    theta: np.ndarray
    value: np.ndarray
    hessian: np.ndarray
    cap: np.ndarray
    no_scale: np.ndarray
    converged: np.ndarray
    known_scale: float | None
    prior: np.ndarray | None = None

    def take(self, rows) -> BatchFit:
        names = [
            "left",
            "right",
            "place",
            "theta",
            "value",
            "hessian",
            "cap",
            "no_scale",
            "converged",
        ]
        parts = {name: getattr(self, name)[rows] for name in names}
        prior = None if self.prior is None else self.prior[rows]
        return replace(self, data=self.data.take(rows), prior=prior, **parts)

    @property
    def n_group(self) -> int:
        return self.place.shape[1]

    @cached_property
    def placed_groups(self) -> np.ndarray:
        """Groups of each replicate that tell of the scale, shape (r,)."""
        return (self.place == PLACED).sum(1)

    @cached_property
    def n_event(self) -> np.ndarray:
        """Events in those groups, shape (r,); inf when the scale is known."""
        if self.known_scale is not None:
            return np.full(len(self.theta), np.inf)
        if self.prior is not None:
            return self.prior[:, 0] + self.n_told.sum(1)
        placed = (self.place == PLACED)[:, self.codes]
        return (placed & np.isfinite(self.right)).sum(1).astype(float)

    @cached_property
    def n_told(self) -> np.ndarray:
        """Vessels of each group about which something is known, shape (r, groups)."""
        told = (self.left > 0) | np.isfinite(self.right)
        return _by_group(told, self.codes, self.n_group, np.add, 0)

    @cached_property
    def lost_freedom(self) -> np.ndarray:
        """Parameters but the scale that were fitted, shape (r,)."""
        if self.prior is not None:
            return np.ones(len(self.theta))
        return self.placed_groups + self.theta.shape[1] - 1 - self.n_group

    @cached_property
    def wide(self) -> np.ndarray:
        """True where the scale has no upper end, shape (r,)."""
        return (self.theta[:, -1] < 10 * FLOOR) & (self.placed_groups > 0)

    @cached_property
    def settled(self) -> np.ndarray:
        """True where scale 0 puts each group at a time of its own data, shape (r,).

        With covariates scale 0 leaves a region of locations; any of it is as likely.
        """
        return self.no_scale & (self.theta.shape[1] - 1 == self.n_group)

    @cached_property
    def unbounded(self) -> np.ndarray:
        """True where the likelihood itself is infinite: exact times that all agree."""
        placed = (self.place == PLACED)[:, self.codes]
        return self.no_scale & (self.data.exact & placed).any(1)

    @cached_property
    def scale(self) -> np.ndarray:
        """Scale of log time, shape (r,): 0 without a lower, inf without an upper end."""
        scale = np.where(self.no_scale, 0.0, 1 / self.theta[:, -1])
        nothing = (self.placed_groups == 0) & (self.known_scale is None)
        return np.where(self.wide | nothing, np.inf, scale)

    def location(self) -> np.ndarray:
        """Location of log time of each group, shape (r, groups); -inf, inf where not placed."""
        with np.errstate(over="ignore", divide="ignore"):
            found = self.data.centre + self.theta[:, : self.n_group] / self.theta[:, -1:]
            # Every value between the last left and the first right end is as likely:
            # say the time by which all had cleared, as the shape-free curve does.
            found = np.where(self.settled[:, None], np.log(self.first_right), found)
        found = np.where(self.place == AT_FIRST, -np.inf, found)
        return np.where((self.place == NEVER) | (self.place == UNKNOWN), np.inf, found)

    def log_quantile(self, p: float) -> np.ndarray:
        """Log of the time by which a share p is clear, shape (r, groups)."""
        z = self.data.family.ppf(p)
        with np.errstate(invalid="ignore", over="ignore"):
            # A wide scale sends a quantile to 0 or to inf by the sign of gamma + z.
            wide = self.data.centre + (self.theta[:, : self.n_group] + z) / self.theta[:, -1:]
            found = self.location() + z * np.where(np.isinf(self.scale), 0, self.scale)[:, None]
        as_is = self.wide | (self.no_scale & ~self.settled)
        return np.where(as_is[:, None] & (self.place == PLACED), wide, found)

    def share_by(self, t: float) -> np.ndarray:
        """Share clear by t in each group, shape (r, groups)."""
        location, at = self.location(), np.log(t)
        z = (at - self.data.centre) * self.theta[:, -1:] - self.theta[:, : self.n_group]
        share = self.data.family.cdf(z)
        # At scale 0 a share is 0 or 1 except at a time that splits a group's vessels.
        split = (self.last_left == self.first_right) & (self.first_right == t)
        step = np.where(split, share, (at >= location - 1e-12).astype(float))
        share = np.where(self.settled[:, None], step, share)
        share = np.where(self.place == AT_FIRST, 1.0, share)
        return np.where((self.place == NEVER) | (self.place == UNKNOWN), 0.0, share)

    @cached_property
    def first_right(self) -> np.ndarray:
        return _by_group(self.right, self.codes, self.n_group, np.minimum, np.inf)

    @cached_property
    def last_left(self) -> np.ndarray:
        return _by_group(self.left, self.codes, self.n_group, np.maximum, 0.0)

    def problem(self, also: np.ndarray) -> Problem:
        """The likelihood of the placed groups, and of those in `also` (r, groups)."""
        on = (self.place == PLACED) | also
        problem = _problem(self.data, self.codes, on, self.cap, self.known_scale)
        return replace(problem, prior=self.prior)


def fit_aft_batch(
    left, right, codes, family: str = "lognormal", *, covariates=None, scale=None
) -> BatchFit:
    """Fits of r trials with the same vessels in the same groups.

    Parameters
    ----------
    left, right : numpy.ndarray, shape (r, n)
        Ends of (left, right] in hours; finite left of 0 or more, right up to inf.
    codes : numpy.ndarray, shape (n,)
        Group numbers 0, 1, ... of the vessels.
    family : str
        weibull, lognormal or loglogistic.
    covariates : numpy.ndarray, shape (n, k), optional
        Further columns of the location.
    scale : float, optional
        The scale where it is known.

    Returns
    -------
    BatchFit
        Row i is the fit of trial i; `.converged` says whether it is one.

    Examples
    --------
    >>> import numpy as np
    >>> left, right = np.array([[1.0, 2, 3, 5]]), np.array([[2.0, 3, 4, 6]])
    >>> fit_aft_batch(left, right, np.array([0, 0, 1, 1])).scale.round(3).tolist()
    [0.203]
    """
    codes = np.asarray(codes)
    n_group = int(codes.max()) + 1
    design = (codes[:, None] == np.arange(n_group)).astype(float)
    if covariates is not None:
        design = np.hstack([design, covariates])
    data = log_intervals(left, right, design, family_named(family))
    place = _place(left, right, codes, n_group)
    no_scale = _no_scale(left, right, codes, place, design) & (scale is None)
    problem = _problem(data, codes, place == PLACED, _cap(data), scale)
    start = _start(problem.data, codes, n_group, scale)
    if scale is None:
        start[:, -1] = np.minimum(start[:, -1], problem.cap)
    settled = no_scale & (design.shape[1] == n_group)
    held = replace(problem, moves=problem.moves & ~settled[:, None])
    optimum = maximise(held, start)
    theta, value = _at_scale_zero(problem, optimum, settled, (left, right, codes, place))
    return BatchFit(
        data=data,
        codes=codes,
        left=left,
        right=right,
        place=place,
        theta=theta,
        value=value,
        hessian=optimum.hessian,
        cap=problem.cap,
        no_scale=no_scale,
        converged=optimum.converged,
        known_scale=scale,
    )


def _at_scale_zero(problem: Problem, optimum, settled, trials):
    """Parameters and supremum where the likelihood rises to scale 0, in closed form.

    A time that lies in every interval of a group gives it probability 1. Where it is the
    end of some and the start of others they are the heads and tails of a coin.
    """
    left, right, codes, place = trials
    last = _by_group(left, codes, place.shape[1], np.maximum, 0.0)
    first = _by_group(right, codes, place.shape[1], np.minimum, np.inf)
    sides = (right <= first[:, codes]), (left >= last[:, codes])
    heads, tails = (_by_group(side, codes, place.shape[1], np.add, 0) for side in sides)
    split = (place == PLACED) & (last == first)
    n = np.where(split, heads + tails, 1)
    share = np.where(split, heads / n, 0.5)
    entropy = np.where(split, n * (xlogy(share, share) + xlog1py(1 - share, -share)), 0.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        middle = np.where(place == PLACED, np.log(last) + np.log(first), 0.0) / 2
    middle = np.where(np.isfinite(middle), middle - problem.data.centre, 0.0)
    theta, value = optimum.theta.copy(), optimum.value.copy()
    z = problem.data.family.ppf(np.clip(share, 1e-9, 1 - 1e-9))
    theta[settled, : place.shape[1]] = (middle * problem.cap[:, None] - z)[settled]
    theta[settled, -1] = problem.cap[settled]
    value[settled] = entropy.sum(1)[settled]
    return theta, value


def _problem(data: Intervals, codes, on, cap, scale) -> Problem:
    """Only the vessels of groups that are on weigh; only their locations move."""
    data = replace(data, weight=data.weight * on[:, codes])
    moves = np.ones((len(on), data.design.shape[1] + 1), dtype=bool)
    moves[:, : on.shape[1]] = on
    moves[:, -1] = (data.weight.sum(1) > 0) & (scale is None)
    return Problem(data, cap, moves)


def _by_group(values, codes, n_group, reduce, empty):
    out = np.full((len(values), n_group), empty)
    for group in range(n_group):
        out[:, group] = reduce.reduce(values[:, codes == group], axis=1, initial=empty)
    return out


def _place(left, right, codes, n_group):
    told = (left > 0) | np.isfinite(right)
    any_told = _by_group(told, codes, n_group, np.logical_or, False).astype(bool)
    event = _by_group(np.isfinite(right), codes, n_group, np.logical_or, False).astype(bool)
    waited = _by_group(left > 0, codes, n_group, np.logical_or, False).astype(bool)
    place = np.where(event, np.where(waited, PLACED, AT_FIRST), NEVER)
    return np.where(any_told, place, UNKNOWN)


def _no_scale(left, right, codes, place, design):
    """Where some location in each placed group suits every vessel of it, at scale 0."""
    n_group = place.shape[1]
    last = _by_group(left, codes, n_group, np.maximum, 0.0)
    first = _by_group(right, codes, n_group, np.minimum, np.inf)
    placed = place == PLACED
    agree = ((last <= first) | ~placed).all(1) & placed.any(1)
    if design.shape[1] > n_group:
        for row in np.flatnonzero(~agree & placed.any(1)):
            agree[row] = _feasible(left[row], right[row], placed[row][codes], design)
    return agree


def _feasible(left, right, used, design) -> bool:
    """Whether locations design @ beta lie in every vessel's closed log interval."""
    low, high = used & (left > 0), used & np.isfinite(right)
    rows = np.vstack([design[high], -design[low]])
    limits = np.concatenate([np.log(right[high]), -np.log(left[low])])
    found = linprog(np.zeros(design.shape[1]), rows, limits, bounds=(None, None))
    return found.status == 0


def _cap(data: Intervals):
    """1 / scale at which each tail beyond the closest pair of different ends is empty."""
    ends = np.concatenate(
        [np.where(data.has_low, data.low, np.nan), np.where(data.has_high, data.high, np.nan)], 1
    )
    gaps = np.diff(np.sort(ends, axis=1), axis=1)
    gaps = np.where(gaps > 1e-6, gaps, np.inf).min(1)
    return 80 / np.minimum(gaps, 1.0)


def _start(data: Intervals, codes, n_group, scale):
    """Means and spread of interval middles; the likelihood is concave, any start will do."""
    middle = np.where(data.has_low & data.has_high, (data.low + data.high) / 2, 0.0)
    middle = np.where(data.has_low & ~data.has_high, data.low + 0.2, middle)
    middle = np.where(data.has_high & ~data.has_low, data.high - 0.2, middle)
    weight = data.weight
    indicator = (codes[:, None] == np.arange(n_group)).astype(float)
    size = np.maximum(weight @ indicator, 1e-9)
    mean = (weight * middle) @ indicator / size
    spread = (weight * (middle - mean[:, codes]) ** 2).sum(1) / np.maximum(weight.sum(1), 1)
    theta = np.zeros((len(middle), data.design.shape[1] + 1))
    theta[:, -1] = 1 / np.sqrt(np.maximum(spread, 1e-3)) if scale is None else 1 / scale
    theta[:, :n_group] = mean * theta[:, -1:] - data.family.ppf(0.5)
    return theta
