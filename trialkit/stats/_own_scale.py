"""Limits with a scale of each group's own, drawn a little toward the pool, for a batch.

The scale of a group has the likelihood of its own vessels times that of `weight` further
degrees of freedom whose variance is the pooled one. With complete normal data its square is
``(weight pool + f own) / (weight + f)``, as in Smyth (2004), but with a weight that is fixed:
at 2-6 vessels a mix, one estimated from the data gained nothing in simulation.
"""

from __future__ import annotations

from dataclasses import replace
from functools import partial

import numpy as np
from scipy.special import ndtr, ndtri

from . import _limits
from ._batch import PLACED, BatchFit, log_intervals
from ._calibration import drawn_limit
from ._newton import Problem, maximise
from ._trials import read_on_schedule

WEIGHT = 0.25  # see the study of spread in tests/reference


def can_shrink(fit: BatchFit) -> np.ndarray:
    """True where a pooled scale exists to draw toward, measured and not known, shape (r,).

    It is the pool of two groups at least: the spread of one is no other than its own.
    """
    measured = fit.known_scale is None
    several = ((fit.place == PLACED) & (fit.n_told > 1)).sum(1) > 1
    return measured & several & _limits.has_freedom(fit) & ~fit.no_scale & ~fit.wide


def pooled_variance(fit: BatchFit) -> np.ndarray:
    """Square of the pooled scale over its degrees of freedom, shape (r,)."""
    usable = can_shrink(fit)
    n, df = fit.n_event, fit.n_event - fit.lost_freedom
    scale = np.where(usable, fit.scale, 0.3)
    return scale**2 * np.where(usable, n, 1.0) / np.where(usable, df, 1.0)


def own_fits(fit: BatchFit, weight: float = WEIGHT, *, drawn=True) -> BatchFit:
    """Each group with its own scale drawn toward the pooled one, as a trial of one group.

    Trial i's group g is row ``i * groups + g``. With `drawn` False the scale is the pooled one
    and its prior counts all the same, so that the two likelihoods compare.
    """
    left, right = _alone(fit)
    data = log_intervals(left, right, np.ones((left.shape[1], 1)), fit.data.family)
    place = fit.place.reshape(-1, 1)
    variance = pooled_variance(fit).repeat(fit.n_group)
    prior = np.stack([np.full(len(variance), weight), variance], axis=1)
    on = place[:, 0] == PLACED
    moves = np.stack([on, np.full(len(on), drawn)], axis=1)
    weighed = replace(data, weight=data.weight * on[:, None])
    cap = np.full(len(on), 1e12)
    start = _start(fit, data.centre, 1 / np.sqrt(variance))
    optimum = maximise(Problem(weighed, cap, moves, prior=prior), start)
    return BatchFit(
        data=data,
        codes=np.zeros(left.shape[1], dtype=int),
        left=left,
        right=right,
        place=place,
        theta=optimum.theta,
        value=optimum.value,
        hessian=optimum.hessian,
        cap=cap,
        no_scale=np.zeros(len(on), dtype=bool),
        converged=optimum.converged,
        known_scale=None,
        prior=prior,
    )


def _alone(fit: BatchFit) -> tuple[np.ndarray, np.ndarray]:
    """The ends of each group, filled up to one size with (0, inf], which says nothing."""
    members = [np.flatnonzero(fit.codes == group) for group in range(fit.n_group)]
    places = np.full((fit.n_group, max(map(len, members))), len(fit.codes))
    for row, own in zip(places, members, strict=True):
        row[: len(own)] = own
    filled = (
        np.pad(fit.left, ((0, 0), (0, 1))),
        np.pad(fit.right, ((0, 0), (0, 1)), constant_values=np.inf),
    )
    left, right = (ends[:, places].reshape(-1, places.shape[1]) for ends in filled)
    return left, right


def _start(fit: BatchFit, centre: float, tau) -> np.ndarray:
    placed = (fit.place == PLACED) & can_shrink(fit)[:, None]
    with np.errstate(invalid="ignore"):
        location = fit.data.centre + fit.theta[:, : fit.n_group] / fit.theta[:, -1:] - centre
    return np.stack([np.where(placed, location, 0.0).ravel() * tau, tau], axis=1)


def own_limits_for(own: BatchFit, df_pool, conf_level: float, p: float) -> np.ndarray:
    """Deviance limit of a one-sided upper bound of a p-quantile, shape (r, 1).

    `df_pool` (r,) are the degrees of freedom of the pooled variance.
    """
    weight = float(own.prior[0, 0])
    return drawn_limit(ndtri(p), own.n_told[:, 0], df_pool, weight, conf_level)[:, None]


def own_quantile_limits(
    fit: BatchFit, p: float, conf_level: float, weight=WEIGHT, *, own=None, asked=None
):
    """Lower and upper limit of the log p-quantile of each group, shape (r, groups, 2).

    `own` are the own fits of the trials with a pooled scale, where they are at hand. Groups that
    `asked` (groups,) leaves out have nan for limits.
    """
    side = (1 + conf_level) / 2

    def pooled(part):
        return _limits.quantile_limits(part, p, _limits.limits_for(part, conf_level, p))

    def alone(one, df_pool):
        shares = (1 - p, p)
        limit = np.stack([own_limits_for(one, df_pool, side, share) for share in shares], axis=2)
        return _limits.quantile_limits(one, p, limit)

    own = _usable_own(fit, weight) if own is None else own
    return _by_own_scale(fit, own, asked, pooled, alone)


def own_share_limits(fit: BatchFit, t: float, conf_level: float, weight=WEIGHT, *, own=None):
    """Lower and upper limit of the share clear by t in each group, as `own_quantile_limits`."""
    level = (1 + conf_level) / 2

    def alone(one, df_pool):
        def table(score):
            return own_limits_for(one, df_pool, level, ndtr(score))

        return _limits.share_limits(one, t, conf_level, table)

    own = _usable_own(fit, weight) if own is None else own
    pooled = partial(_limits.share_limits, t=t, conf_level=conf_level)
    return _by_own_scale(fit, own, None, pooled, alone)


def _usable_own(fit: BatchFit, weight: float) -> BatchFit:
    return own_fits(fit.take(np.flatnonzero(can_shrink(fit))), weight)


def _by_own_scale(fit: BatchFit, own: BatchFit, asked, pooled, alone) -> np.ndarray:
    """Limits by own scales where there is a pool to draw toward, by the pooled scale elsewhere."""
    found = np.full((*fit.place.shape, 2), np.nan)
    usable = can_shrink(fit)
    if not usable.all():
        found[~usable] = pooled(fit.take(np.flatnonzero(~usable)))
    if usable.any():
        wanted = usable[:, None] & (np.ones(fit.n_group, bool) if asked is None else asked)
        df_pool = (fit.n_event - fit.lost_freedom)[np.nonzero(wanted)[0]]
        found[wanted] = alone(own.take(np.flatnonzero(wanted[usable])), df_pool)[:, 0]
    return found


def spread_deviance(fit: BatchFit, weight: float = WEIGHT) -> np.ndarray:
    """Twice the gain of own scales over the pooled one, shape (r,); 0 without a pooled one."""
    own, common = (own_fits(fit, weight, drawn=drawn).value for drawn in (True, False))
    gain = np.maximum(own - common, 0.0).reshape(fit.place.shape)
    gain = np.where(fit.place == PLACED, gain, 0.0).sum(1)
    return np.where(can_shrink(fit), 2 * gain, 0.0)


def simulated_like(fit: BatchFit, n_simulated: int, seed: int) -> tuple[np.ndarray, np.ndarray]:
    """Intervals of trials with the fit's locations and pooled scale, read as its vessels were.

    Parameters
    ----------
    fit : BatchFit
        One trial, r = 1, with a pooled scale.
    n_simulated, seed : int
        Trials to make, and the seed.
    """
    left, right, codes = fit.left[0], fit.right[0], fit.codes
    rng = np.random.default_rng(seed)
    uniform = rng.uniform(size=(n_simulated, len(codes)))
    noise = fit.data.family.ppf(np.clip(uniform, 1e-15, 1 - 1e-15))
    location = np.minimum(fit.location()[0], 50.0)
    times = np.exp(location[codes] + np.sqrt(pooled_variance(fit)[0]) * noise)
    exact = left == right
    ends = np.concatenate([left[~exact], right[~exact]])
    schedule = np.unique(ends[np.isfinite(ends) & (ends > 0)])
    schedule = schedule if schedule.size else np.array([times.max()])
    lower, upper = read_on_schedule(times, schedule)
    lower, upper = np.where(exact, times, lower), np.where(exact, times, upper)
    # A vessel that was lost is lost at the same time again.
    lost = np.isinf(right) & (times > left)
    return np.where(lost, left, lower), np.where(lost, np.inf, upper)
