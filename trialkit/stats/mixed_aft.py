"""Times known through intervals from many clusters, each with its own shift of log time.

Convention: a batch came clear in ``(left, right]``: not yet at `left`, clear at `right`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ._intervals import check_intervals, informative
from ._mixed_bound import one_sided_bound
from ._mixed_fit import Search, loglik_at, search, variances
from ._mixed_information import Working
from ._mixed_layout import Layout, lay_out
from ._mixed_quadrature import Spread
from ._mixed_result import MixedAftFit

__all__ = ["FINE_NOTE", "ONE_EACH_NOTE", "SHARED_NOTE", "MixedAftFit", "fit_mixed_aft"]

SHARED_NOTE = "the spread between cells is contained in that within cells or clusters"
ONE_EACH_NOTE = "each cluster has one interval: its shift is contained in the spread within"
FINE_NOTE = "the spread within cells is finer than the readings can show"


def fit_mixed_aft(left, right, group, cluster, *, restricted: bool = True) -> MixedAftFit:
    """Log-normal times of groups in clusters, each cluster with its own shift of log time.

    Log time = location of the group + a shift of the cluster + a shift of the group in that
    cluster + a batch's own. The shifts are normal; the likelihood is integrated over them by
    nested adaptive quadrature, so that open and wide intervals count for what they say, and a
    cluster with one interval counts too. Spreads are estimated by restricted likelihood, because
    plain likelihood makes them too small with a handful of clusters.

    Parameters
    ----------
    left, right : array_like, shape (n,)
        Ends of (left, right], 0 and inf when open; equal ends are an exact time.
    group, cluster : array_like, shape (n,)
        Labels, which can be sorted. The order of the intervals makes no difference.
    restricted : bool
        Whether spreads are estimated by restricted likelihood.

    Returns
    -------
    MixedAftFit
        Typical times, limits for a new batch in a new cluster, spreads, contrasts.

    Raises
    ------
    ValueError
        If nothing can be pooled: no group ended in two clusters, or no interval is left over to
        show any spread.
    RuntimeError
        If the search does not settle.

    References
    ----------
    Pinheiro, J. C. & Bates, D. M. (1995). Journal of Computational and Graphical Statistics 4,
    12-35. Cox, D. R. & Reid, N. (1987). Journal of the Royal Statistical Society B 49, 1-39.

    Examples
    --------
    >>> fit = fit_mixed_aft([1, 2, 4, 8, 5], [2, 3, 6, 9, 6], list("ababb"), [1, 1, 2, 2, 3])
    >>> fit.groups, fit.n_cluster.tolist()
    (('a', 'b'), [2, 3])
    """
    data = _Data.of(left, right, group, cluster)
    placed = [k for k in range(len(data.groups)) if np.isfinite(data.side(k))]
    layout = data.layout(placed)
    free = _estimable(layout, len(placed))
    found, theta = search(layout, len(placed), free, restricted=restricted)
    spread = found.spread(theta)
    size = variances(spread)
    location = np.array([data.side(k) for k in range(len(data.groups))])
    location[placed] = theta[: len(placed)]
    covariance = np.full((len(location), len(location)), np.nan)
    covariance[np.ix_(placed, placed)] = np.linalg.pinv(
        found.working.information(size, len(placed))
    )
    counts = [data.count(k) for k in range(len(data.groups))]
    fit = MixedAftFit(
        groups=data.groups,
        location=location,
        spread=spread,
        free=free,
        covariance=covariance,
        spread_covariance=found.working.spread_covariance(size, len(placed), list(free)),
        open_limits={},
        n=np.array([c[0] for c in counts]),
        n_event=np.array([c[1] for c in counts]),
        n_cluster=np.array([c[2] for c in counts]),
        loglik=found.loglik(theta)[0],
        note=_note(found, spread, free),
        clusters=data.clusters(placed),
        _search=found,
        _theta=theta,
    )
    return replace(fit, open_limits=_open_limits(data, fit, placed))


@dataclass(frozen=True, eq=False)
class _Data:
    """The intervals that say something, with codes in the order of the sorted labels."""

    left: np.ndarray
    right: np.ndarray
    group: np.ndarray
    cluster: np.ndarray
    groups: tuple
    labels: np.ndarray

    @classmethod
    def of(cls, left, right, group, cluster) -> _Data:
        left, right = check_intervals(left, right)
        labels, group = np.unique(np.asarray(group), return_inverse=True)
        names, cluster = np.unique(np.asarray(cluster), return_inverse=True)
        if not len(left) == len(group) == len(cluster):
            raise ValueError("a group and a cluster are needed for each interval.")
        keep = informative(left, right)
        if not keep.any():
            raise ValueError("no interval says anything: all are (0, inf].")
        return cls(
            left[keep], right[keep], group[keep], cluster[keep], tuple(labels.tolist()), names
        )

    def side(self, k: int) -> float:
        """Inf for a group that never ended, -inf for one that always had at the first look."""
        own = self.group == k
        if not np.isfinite(self.right[own]).any():
            return np.inf
        return 0.0 if (self.left[own] > 0).any() else -np.inf

    def layout(self, groups: list[int], *, clusters=None) -> Layout:
        """Layout of these groups, coded 0, 1, ... in their order here."""
        code = np.full(len(self.groups), -1)
        code[groups] = np.arange(len(groups))
        keep = code[self.group] >= 0
        if clusters is not None:
            keep &= np.isin(self.cluster, clusters)
        if not keep.any():
            raise ValueError("no group came clear in sight, so there is no spread to estimate.")
        return lay_out(
            self.left[keep], self.right[keep], code[self.group[keep]], self.cluster[keep]
        )

    def clusters(self, groups: list[int]) -> tuple:
        """Labels of the clusters in which any of these groups was seen."""
        return tuple(self.labels[np.unique(self.cluster[np.isin(self.group, groups)])].tolist())

    def count(self, k: int) -> tuple[int, int, int]:
        own = self.group == k
        ended = int(np.isfinite(self.right[own]).sum())
        return int(own.sum()), ended, len(np.unique(self.cluster[own]))


def _estimable(layout: Layout, n_group: int) -> tuple[int, ...]:
    """Which spreads the pattern of the data can tell apart."""
    clusters = np.bincount(layout.cell_group, minlength=n_group)
    if (clusters < 2).all():
        raise ValueError("no group was seen to end in two clusters, so there is nothing to pool.")
    exact = Working(layout, np.zeros(len(layout.low)))
    for free in ((0, 1, 2), (0, 2), (0,)):
        cov = exact.spread_covariance(np.ones(3), n_group, list(free))
        # A pseudo-inverse of a singular information has lost a rank.
        if np.linalg.matrix_rank(cov, tol=1e-6) == len(free):
            return free
    raise ValueError("each group has one interval, so there is no spread to estimate.")


def _open_limits(data: _Data, fit: MixedAftFit, placed: list[int]) -> dict:
    """The one limit of each group that was not placed."""
    limits = {}
    df = fit.freedom(fit.total_variance, np.ones(3))
    for k in np.flatnonzero(~np.isfinite(fit.location)):
        clusters = np.unique(data.cluster[data.group == k])
        own = data.layout([*placed, int(k)], clusters=clusters)
        known = np.append(fit.location[placed], fit.location[k])
        try:
            rest = data.layout(placed, clusters=clusters)
        except ValueError:  # the group was alone wherever it was
            supremum = 0.0
        else:
            supremum = loglik_at(rest, known[:-1], fit.spread, fit._search.points)
        limits[fit.groups[k]] = one_sided_bound(
            own, supremum, known, fit.spread, fit._search.points, df
        )
    return limits


def _note(found: Search, spread: Spread, free: tuple[int, ...]) -> str:
    notes = []
    if 1 not in free:
        notes.append(SHARED_NOTE)
    if 2 not in free:
        notes.append(ONE_EACH_NOTE)
    if spread.sigma < 1.5 * found.floor:
        notes.append(FINE_NOTE)
    return "; ".join(notes)
