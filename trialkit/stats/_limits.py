"""Calibrated profile-likelihood limits of quantiles, shares and contrasts, for a batch.

Each limit is where the profile deviance crosses `_calibration.deviance_limit`. What the
data leave open is -inf or inf (on the log scale), never a guess.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.special import ndtr, ndtri

from ._batch import AT_FIRST, NEVER, PLACED, UNKNOWN, BatchFit
from ._calibration import calibrated_p_value, deviance_limit, one_sided_limit
from ._newton import maximise
from ._profile import Path, Search, bound, less_steep

_SURE = 30.0  # standardised time beyond which a share is 0 or 1
SCORES = np.linspace(-5, 5, 31)  # normal scores between which limits of shares are drawn
# A limit so many times off the middle of the data, or a ratio of so much, bounds nothing that
# anybody could act on: it is said to be open, which is the wider.
_FARTHEST = np.log(1e4)
_CHUNK = 8000  # searches that go in step; more would only fill the memory


@dataclass(frozen=True, eq=False)
class _Target:
    """A quantity of one path: its estimate with a rough error, open sides, values inside."""

    path: Path
    groups: tuple[int, ...]
    estimate: np.ndarray  # (r, 2), where each side's search starts from
    error: np.ndarray
    open_sides: np.ndarray  # (r, 2)
    inner: np.ndarray  # (r, 2), a value known to lie inside, against each direction


def quantile_limits(fit: BatchFit, p: float, limit) -> np.ndarray:
    """Lower and upper limit of the log p-quantile of each group, shape (r, groups, 2).

    Parameters
    ----------
    fit : BatchFit
        Converged fits.
    p : float
        Share clear.
    limit : numpy.ndarray, shape (r, groups, 2)
        Largest deviance inside, by side; see `limits_for`.
    """
    targets = [_quantile_target(fit, p, group) for group in range(fit.n_group)]
    return _within_reach(_limits(fit, targets, limit[..., None])) + fit.data.centre


def limits_for(fit: BatchFit, conf_level: float, p: float = 0.5) -> np.ndarray:
    """Deviance limits of a two-sided interval of the p-quantile, shape (r, groups, 2).

    Each side is the one-sided limit of its own at (1 + conf_level) / 2; at the median
    both are ``n log(1 + t^2 / df)``.
    """
    if p == 0.5:
        one = deviance_limit(conf_level, fit.n_event, fit.lost_freedom)
        return np.broadcast_to(one[:, None, None], (*fit.place.shape, 2))
    sides = [one_sided_limits_for(fit, (1 + conf_level) / 2, share) for share in (1 - p, p)]
    return np.stack(sides, axis=2)


def one_sided_limits_for(fit: BatchFit, conf_level: float, p: float) -> np.ndarray:
    """Deviance limit of an upper bound of the p-quantile, shape (r, groups).

    All vessels of a group count as its size, the not yet cleared too: in simulation that
    covers best (see the study of bounds in the reference tests).
    """
    return one_sided_limit(
        ndtri(p), fit.n_told, fit.n_event[:, None], fit.lost_freedom[:, None], conf_level
    )


def share_limits(fit: BatchFit, t, conf_level: float, table=None) -> np.ndarray:
    """Lower and upper limit of the share clear by t in each group, shape (r, groups, 2).

    For several t the shape is (r, times, groups, 2), and all searches go in step.

    The limits are the shares whose quantile has t for its upper or lower bound, so the
    deviance limit moves with the share.

    Parameters
    ----------
    fit : BatchFit
        Converged fits.
    t : float or array_like
        Time or times above 0.
    conf_level : float
        Two-sided confidence level.
    table : callable, optional
        Gives the deviance limit (r, groups) of an upper bound at a one-sided level of the
        quantile with a normal score; `one_sided_limits_for` when left out.
    """
    level = (1 + conf_level) / 2
    table = table or (lambda score: one_sided_limits_for(fit, level, ndtr(score)))
    limit = np.stack([table(score) for score in SCORES], axis=2)
    at = fit.data.family.ppf(ndtr(SCORES))
    # The lower limit is the share with t for its upper bound, and the other way round.
    times, trials = np.atleast_1d(t), np.arange(len(fit.theta))
    both = np.stack([limit, limit[:, :, ::-1]], axis=2).repeat(len(times), axis=0)
    # Each time is a trial of its own, so that a group's targets at all times are made at once.
    each = fit.take(trials.repeat(len(times)))
    own_time = np.tile(times, len(trials))
    targets = [_share_target(each, own_time, group) for group in range(fit.n_group)]
    found = fit.data.family.cdf(_limits(each, targets, both, at))
    found = found.reshape(-1, len(times), fit.n_group, 2)
    return found[:, 0] if np.ndim(t) == 0 else found


def pair_limits(fit: BatchFit, pairs, conf_level: float) -> np.ndarray:
    """Limits of the log ratios of times of pairs (a, b) of groups, shape (r, pairs, 2)."""
    targets = [_contrast_target(fit, a, b) for a, b in pairs]
    limit = limits_for(fit, conf_level)[:, [a for a, _ in pairs], :, None]
    return _within_reach(_limits(fit, targets, limit))


def _within_reach(found: np.ndarray) -> np.ndarray:
    """Limits of a log time about the middle of the data or of a log ratio, the farthest open."""
    return np.where(np.abs(found) > _FARTHEST, np.copysign(np.inf, found), found)


def contrast_p_value(fit: BatchFit, a: int, b: int) -> np.ndarray:
    """Two-sided calibrated p of equal locations of groups a and b, shape (r,)."""
    return pair_p_values(fit, [(a, b)])[:, 0]


def pair_p_values(fit: BatchFit, pairs) -> np.ndarray:
    """Two-sided calibrated p of equal locations of pairs (a, b) of groups, shape (r, pairs)."""
    targets = [_contrast_target(fit, a, b) for a, b in pairs]
    p = np.ones((len(fit.theta), len(pairs)))
    placed = ~np.stack([target.open_sides.all(1) for target in targets], axis=1)
    rows, which = np.nonzero(placed & has_freedom(fit)[:, None])
    if not rows.size:
        return p
    part = fit.take(rows)
    problem = part.problem(_involved(fit, targets, which))
    line = _paths(targets, rows, which).at(np.zeros(len(rows)))
    start = less_steep(_constrained_start(part), problem.moves)
    optimum = maximise(replace(problem, line=line), start, 1e-10)
    if not optimum.converged.all():
        raise RuntimeError("the fit with two equal groups did not reach its maximum.")
    deviance = np.maximum(2 * (part.value - optimum.value), 0.0)
    p[rows, which] = calibrated_p_value(deviance, part.n_event, part.lost_freedom)
    return p


def contrast_estimate(fit: BatchFit, a: int, b: int) -> np.ndarray:
    """Log ratio of times of group a to group b, shape (r,); 0 where neither is placed."""
    first, second = fit.location()[:, a], fit.location()[:, b]
    with np.errstate(invalid="ignore"):
        return np.nan_to_num(first - second, nan=0.0, posinf=np.inf, neginf=-np.inf)


def has_freedom(fit: BatchFit) -> np.ndarray:
    """True where the scale can be judged, so that limits of a shape exist, shape (r,)."""
    return ~fit.unbounded & (fit.n_event > fit.lost_freedom)


def _involved(fit: BatchFit, targets, which) -> np.ndarray:
    """Groups that the targets speak of, one row for each of `which`."""
    on = np.zeros((len(targets), fit.n_group), dtype=bool)
    for row, target in zip(on, targets, strict=True):
        row[list(target.groups)] = True
    return on[which]


def _paths(targets, rows, which) -> Path:
    """One path for each search: that of its target in its row."""
    paths = [target.path for target in targets]
    parts = (_gather(paths, name, rows, which) for name in ("pivot", "slope", "level"))
    return Path(*parts, paths[0].tau_rate, paths[0].level_rate)


def _limits(fit: BatchFit, targets, limit: np.ndarray, at=None) -> np.ndarray:
    """Both limits of each target, shape (r, targets, 2).

    `limit` is (r, targets, 2, k), k = 1 or the number of places `at` of `Search`. All
    searches of a batch go in step: each is a row of one stack.
    """
    found = np.empty((len(fit.theta), len(targets), 2))
    found[:] = [-np.inf, np.inf]
    closed = ~np.stack([target.open_sides for target in targets], axis=1)
    usable = has_freedom(fit)[:, None, None] & np.isfinite(limit).all(axis=3)
    stack = np.argwhere(closed & usable)
    for begin in range(0, len(stack), _CHUNK):
        rows, which, side = stack[begin : begin + _CHUNK].T
        chunk = fit.take(rows)
        search, start, inner = _search(chunk, targets, (rows, which, side), limit, at)
        found[rows, which, side] = bound(search, start, _constrained_start(chunk), inner)
    return found


def _search(fit: BatchFit, targets, places, limit, at):
    """The searches at some places (row, target, side), their starts, and values inside."""
    rows, which, side = places
    path = _paths(targets, rows, which)
    estimate, error, inner = (
        _gather(targets, name, rows, which) for name in ("estimate", "error", "inner")
    )
    direction, each = 2.0 * side - 1.0, np.arange(len(rows))
    limit, problem = limit[rows, which, side], fit.problem(_involved(fit, targets, which))
    search = Search(problem, path, fit.value, limit, fit.n_event, direction, at)
    start = estimate[each, side] + direction * np.sqrt(limit.min(axis=1)) * error
    return search, start, inner[each, side]


def _gather(things, name: str, rows, which) -> np.ndarray:
    return np.stack([getattr(thing, name) for thing in things])[which, rows]


def _full_path(fit: BatchFit, pivot: int, level: float, rates: tuple[float, float]) -> Path:
    r = len(fit.theta)
    return Path(np.full(r, pivot), np.zeros(fit.theta.shape), np.full(r, level), *rates)


def _constrained_start(fit: BatchFit) -> np.ndarray:
    """Parameters to start a constrained fit from: a scale above 0, groups inside their data."""
    theta = fit.theta.copy()
    if fit.known_scale is None:
        theta *= np.where(fit.no_scale, np.minimum(1.0, 5.0 / theta[:, -1]), 1.0)[:, None]
        theta[:, -1] = np.where(fit.wide, 0.1, theta[:, -1])
    with np.errstate(divide="ignore"):
        last, first = np.log(fit.last_left), np.log(fit.first_right)
    inside = np.where(np.isfinite(last), last, np.where(np.isfinite(first), first, 0.0))
    moved = fit.settled[:, None] | fit.wide[:, None] | (fit.place != PLACED)
    locations = (inside - fit.data.centre) * theta[:, -1:]
    theta[:, : fit.n_group] = np.where(moved, locations, theta[:, : fit.n_group])
    return theta


def _spread(fit: BatchFit, slope: np.ndarray) -> np.ndarray:
    """Rough standard error of a quantity with gradient `slope` at the optimum."""
    size = fit.theta.shape[1]
    idle = np.eye(size) * 1e-3
    held = np.zeros(fit.theta.shape, dtype=bool)
    held[:, : fit.n_group] = fit.place != PLACED
    # At scale 0 or inf curvature means nothing; the search starts from the data's ends.
    held[:, -1] = fit.known_scale is not None
    held[fit.no_scale | fit.wide] = True
    curve = np.where(held[:, :, None] | held[:, None, :], np.eye(size), -fit.hessian)
    slope = np.where(held, 0.0, slope)
    with np.errstate(all="ignore"):
        solved = np.linalg.solve(curve + idle, slope[:, :, None])[:, :, 0]
        error = np.sqrt(np.abs((slope * solved).sum(1)))
    return np.clip(np.nan_to_num(error, nan=0.3), 0.01, 2.0)


def _around(fit: BatchFit, group: int, estimate, error):
    """Where to start and what lies inside: the data's own ends where no estimate leads."""
    odd = fit.settled | fit.wide | (fit.place[:, group] != PLACED)
    with np.errstate(divide="ignore"):
        last = np.log(fit.last_left[:, group]) - fit.data.centre
        first = np.log(fit.first_right[:, group]) - fit.data.centre
    low = np.where(np.isfinite(last), last, np.where(np.isfinite(first), first, 0.0))
    high = np.where(np.isfinite(first), first, low)
    both = np.stack([np.where(odd, low, estimate), np.where(odd, high, estimate)], 1)
    settled = fit.settled & (fit.place[:, group] == PLACED)
    inner = np.stack([np.where(settled, low, estimate), np.where(settled, high, estimate)], 1)
    nowhere = np.isinf(inner) | (odd & ~settled)[:, None]
    return both, np.where(odd, 0.05, error), np.where(nowhere, [np.inf, -np.inf], inner)


def _quantile_target(fit: BatchFit, p: float, group: int) -> _Target:
    z = float(fit.data.family.ppf(p))
    path = _full_path(fit, group, -z, (1.0, 0.0))
    gamma, tau = fit.theta[:, group], fit.theta[:, -1]
    with np.errstate(over="ignore"):
        estimate = (gamma + z) / tau
    gradient = np.zeros_like(fit.theta)
    gradient[:, group], gradient[:, -1] = 1 / tau, -estimate / tau
    around = _around(fit, group, estimate, _spread(fit, gradient))
    return _Target(path, (group,), around[0], around[1], _open(fit, group), around[2])


def _open(fit: BatchFit, group: int) -> np.ndarray:
    """Sides on which the location of a group has no bound, shape (r, 2): lower, upper."""
    place = fit.place[:, group]
    low = (place == AT_FIRST) | (place == UNKNOWN)
    return np.stack([low, (place == NEVER) | (place == UNKNOWN)], axis=1)


def _share_target(fit: BatchFit, t: np.ndarray, group: int) -> _Target:
    """The standardised time z = tau log t - gamma, t (r,): a share is its distribution value."""
    at = np.log(t) - fit.data.centre
    path = _full_path(fit, group, 0.0, (0.0, -1.0))
    path.slope[:, -1] = at
    estimate = at * fit.theta[:, -1] - fit.theta[:, group]
    gradient = np.zeros_like(fit.theta)
    gradient[:, group], gradient[:, -1] = -1.0, at
    last, first = fit.last_left[:, group], fit.first_right[:, group]
    placed = fit.place[:, group] == PLACED
    settled = fit.settled & placed
    sides = _open(fit, group)[:, ::-1]
    # At scale 0 the share is 0 before the group's time and 1 after it.
    sides = np.where(settled[:, None], np.stack([t < first, t > last], axis=1), sides)
    # So far out a share is 0 or 1 to the last digit.
    sides = sides | np.stack([estimate < -_SURE, estimate > _SURE], axis=1)
    odd = (settled & ~((last == t) & (first == t))) | ~placed
    start = np.clip(np.where(odd, 0.0, estimate), -_SURE, _SURE)
    inner = np.where(odd[:, None], [np.inf, -np.inf], start[:, None])
    error = np.where(odd | fit.no_scale | fit.wide, 0.5, _spread(fit, gradient))
    return _Target(path, (group,), np.stack([start, start], 1), error, sides, inner)


def _contrast_target(fit: BatchFit, a: int, b: int) -> _Target:
    path = _full_path(fit, a, 0.0, (1.0, 0.0))
    path.slope[:, b] = 1.0
    tau = fit.theta[:, -1]
    estimate = (fit.theta[:, a] - fit.theta[:, b]) / tau
    gradient = np.zeros_like(fit.theta)
    gradient[:, a], gradient[:, b], gradient[:, -1] = 1 / tau, -1 / tau, -estimate / tau
    error = _spread(fit, gradient)
    one, other = (_around(fit, group, fit.theta[:, group] / tau, error) for group in (a, b))
    # a's lower end goes with b's upper one.
    around = one[0] - other[0][:, ::-1]
    with np.errstate(invalid="ignore"):
        inner = one[2] - other[2][:, ::-1]
    sides = _open(fit, a) | _open(fit, b)[:, ::-1]
    inner = np.where(np.isnan(inner), [np.inf, -np.inf], inner)
    return _Target(path, (a, b), around, np.maximum(one[1], other[1]), sides, inner)
