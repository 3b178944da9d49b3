"""The share clear as a curve of time, with a band of calibrated limits."""

from __future__ import annotations

import numpy as np
import pandas as pd

from . import _limits
from ._batch import fit_aft_batch
from .aft import AftFit
from .estimate import check_conf_level

__all__ = ["share_curve"]


def share_curve(fit: AftFit, times, *, conf_level: float = 0.95) -> pd.DataFrame:
    """Share clear by each of many times in each group, with pointwise limits.

    The same numbers as `fit.probability_by` time by time, found together: the share clear by t
    is the share clear by 1 when every time is divided by t, so that the whole curve is one batch
    of the same fit in different units.

    Parameters
    ----------
    fit : AftFit
        What `fit_aft` returned; covariates, if any, are at 0.
    times : array_like, shape (k,)
        Times above 0, in the unit of the data.
    conf_level : float
        Two-sided confidence level of each point.

    Returns
    -------
    pandas.DataFrame
        group, t, estimate, conf_low, conf_high, conf_level; k rows a group.

    Raises
    ------
    ValueError
        When a time is not above 0 or the level not between 0 and 1.

    Examples
    --------
    >>> from trialkit.stats.aft import fit_aft
    >>> fit = fit_aft([1, 2, 3, 5, 6], [2, 3, 4, 6, 8], group=list("aaabb"))
    >>> share_curve(fit, [2, 3])["estimate"].round(3).tolist()
    [0.253, 0.822, 0.0, 0.001]
    """
    check_conf_level(conf_level)
    times = np.atleast_1d(np.asarray(times, dtype=float))
    if not ((times > 0) & np.isfinite(times)).all():
        raise ValueError(f"times must be above 0; got {times.min()}.")
    one = fit._batch
    if not _limits.has_freedom(one)[0]:
        return _point_by_point(fit, times, conf_level)
    covariates = one.data.design[:, one.n_group :]
    batch = fit_aft_batch(
        one.left / times[:, None],
        one.right / times[:, None],
        one.codes,
        fit.family,
        covariates=covariates if covariates.size else None,
        scale=one.known_scale,
    )
    limits = _limits.share_limits(batch, 1.0, conf_level)
    return pd.DataFrame(
        {
            "group": np.repeat(np.asarray(fit.groups, dtype=object), len(times)),
            "t": np.tile(times, len(fit.groups)),
            "estimate": batch.share_by(1.0).T.ravel(),
            "conf_low": limits[:, :, 0].T.ravel(),
            "conf_high": limits[:, :, 1].T.ravel(),
            "conf_level": conf_level,
        }
    ).infer_objects()


def _point_by_point(fit: AftFit, times: np.ndarray, conf_level: float) -> pd.DataFrame:
    """Where the limits need no shape there is no batch to gain from."""
    points = pd.concat([fit.probability_by(t, conf_level) for t in times])
    order = {group: i for i, group in enumerate(fit.groups)}
    points = points.sort_values(
        ["group", "t"], key=lambda c: c.map(order) if c.name == "group" else c
    )
    return points.drop(columns="method").reset_index(drop=True)
