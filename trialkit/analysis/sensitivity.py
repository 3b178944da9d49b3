"""Whether the order of the mixes survives another definition of clear."""

from itertools import product

import numpy as np
import pandas as pd

from trialkit.analysis.clearing import Gaps, intervals_from_gaps, reading_gaps
from trialkit.records.trial import Protocol, Trial
from trialkit.stats._batch import fit_aft_batch

__all__ = ["sensitivity", "sensitivity_summary"]

FAMILIES = ("lognormal", "weibull", "loglogistic")
HOLDS = (1, 2, 3)
INTERVAL, MIDPOINT = "interval", "midpoint"

DEFINITION = ["criterion", "tolerance", "hold", "rater_rule", "family", "placement"]
COLUMNS = ["definition", *DEFINITION, "mix", "estimate", "n_event", "declared", "rank"]


def sensitivity(trial: Trial, *, criteria: tuple[str, ...] | None = None) -> pd.DataFrame:
    """The typical time and the rank of each mix under many definitions of clear.

    Varied: the tolerance around the declared one, how many successive readings must hold, the
    rule that combines raters, the family of the distribution, and, as the known-biased foil, the
    middle of each interval taken for an exact time.

    Parameters
    ----------
    trial : Trial
        What `read_trial` returned, unblinded. Criteria whose intervals come from intervals.csv
        have no readings to judge again and are left out.
    criteria : tuple of str, optional
        Criteria to vary; all declared ones by default.

    Returns
    -------
    pandas.DataFrame
        One row a definition and mix: `definition` (number), the six columns that define it,
        `declared` (whether it is the one of trial.toml), `mix`, `estimate` (typical time, hours;
        inf where the mix did not clear), `rank` (1 = first; ties share the best), `n_event`.

    References
    ----------
    Law, C. G. & Brookmeyer, R. (1992), Statistics in Medicine 11, 1569-1578, on the bias that
    midpoints bring.

    Examples
    --------
    >>> import trialkit as tk
    >>> grid = tk.sensitivity(tk.read_trial("data/demo/harbour"))
    >>> int(grid["definition"].nunique()) >= 100
    True
    """
    given = set(trial.protocol.criteria) - set(trial.judged)
    names = [n for n in criteria or trial.protocol.criteria if n not in given]
    frames = [_one_criterion(reading_gaps(trial, name), trial.protocol) for name in names]
    if not frames:
        return pd.DataFrame(columns=COLUMNS).astype({"declared": bool})
    grid = pd.concat(frames, ignore_index=True)
    grid.insert(0, "definition", grid.groupby(DEFINITION, sort=False).ngroup() + 1)
    by_definition = grid.groupby("definition")["estimate"]
    grid["rank"] = by_definition.rank(method="min").astype(int)
    return grid


def sensitivity_summary(grid: pd.DataFrame) -> pd.DataFrame:
    """How far the time and the rank of each mix move over the definitions.

    Parameters
    ----------
    grid : pandas.DataFrame
        What `sensitivity` returned.

    Returns
    -------
    pandas.DataFrame
        One row a criterion and mix: `criterion`, `mix`, `estimate` (typical time as declared,
        hours), `estimate_low`, `estimate_high` (smallest, largest over the definitions), `rank`
        (as declared), `rank_low`, `rank_high`, `share_same_rank`, `n_definition`.
    """
    # The foil is shown, but a method known to be wrong has no vote.
    real = grid[grid["placement"] == INTERVAL]
    declared = real[real["declared"]].set_index(["criterion", "mix"])[["estimate", "rank"]]
    joined = real.join(declared.add_suffix("_declared"), on=["criterion", "mix"])
    joined["same"] = joined["rank"] == joined["rank_declared"]
    moved = joined.groupby(["criterion", "mix"], sort=False).agg(
        estimate_low=("estimate", "min"),
        estimate_high=("estimate", "max"),
        rank_low=("rank", "min"),
        rank_high=("rank", "max"),
        share_same_rank=("same", "mean"),
        n_definition=("definition", "nunique"),
    )
    return declared.join(moved).reset_index()[
        [
            "criterion",
            "mix",
            "estimate",
            "estimate_low",
            "estimate_high",
            "rank",
            *moved.columns[2:],
        ]
    ]


def _one_criterion(gaps: Gaps, protocol: Protocol) -> pd.DataFrame:
    """All definitions of one criterion, fitted together in one batch a family."""
    looks = list(product(_tolerances(gaps), _holds(gaps), _rules(gaps)))
    frames = [
        intervals_from_gaps(gaps, tolerance=t, hold=h, rater_rule=r)[["left_h", "right_h"]]
        for t, h, r in looks
    ]
    left = np.stack([f["left_h"] for f in frames]).astype(float)
    right = np.stack([f["right_h"] for f in frames]).astype(float)
    middle = np.where(np.isfinite(right), (left + right) / 2, left)
    placements = {
        INTERVAL: (left, right),
        MIDPOINT: (middle, np.where(np.isfinite(right), middle, right)),
    }
    blocks = [
        _fitted(gaps, looks, ends, name, placement, protocol.declared_scale)
        for name in FAMILIES
        for placement, ends in placements.items()
        # One foil is enough to show the bias of midpoints.
        if placement == INTERVAL or name == protocol.family
    ]
    grid = pd.concat(blocks, ignore_index=True)
    return grid.assign(declared=_is_declared(grid, gaps, protocol.family))


def _fitted(gaps: Gaps, looks: list, ends, family: str, placement: str, scale) -> pd.DataFrame:
    codes, mixes = pd.factorize(gaps.vessels["mix"], sort=True)
    left, right = ends
    median = _medians(left, right, codes, family, scale)
    own = (codes[:, None] == np.arange(len(mixes))).astype(int)
    cleared = np.isfinite(right).astype(int) @ own
    defined = pd.DataFrame(looks, columns=DEFINITION[1:4])
    defined = defined.assign(family=family, placement=placement, criterion=gaps.criterion.name)
    long = defined.loc[defined.index.repeat(len(mixes)), DEFINITION].reset_index(drop=True)
    return long.assign(
        mix=np.tile(mixes, len(looks)), estimate=median.ravel(), n_event=cleared.ravel()
    )


def _medians(left, right, codes, family: str, scale: float | None) -> np.ndarray:
    """Typical times (definition, mix); where vessels tell no spread, by the declared scale."""
    fit = fit_aft_batch(left, right, codes, family)
    found = fit.log_quantile(0.5)
    mute = np.flatnonzero(fit.n_event <= fit.lost_freedom)
    if scale is not None and mute.size:
        known = fit_aft_batch(left[mute], right[mute], codes, family, scale=scale)
        found[mute] = known.log_quantile(0.5)
    with np.errstate(over="ignore"):
        return np.exp(found)


def _is_declared(grid: pd.DataFrame, gaps: Gaps, family: str) -> pd.Series:
    rule = gaps.criterion
    return (
        (grid["tolerance"] == rule.tolerance)
        & (grid["hold"] == rule.hold)
        & (grid["rater_rule"] == rule.rater_rule)
        & (grid["family"] == family)
        & (grid["placement"] == INTERVAL)
    )


def _tolerances(gaps: Gaps) -> list[float]:
    """The declared tolerance, and steps around it that can change a verdict."""
    declared = float(gaps.criterion.tolerance)
    seen = np.unique(np.round(gaps.gap[np.isfinite(gaps.gap)], 9))
    step = float(np.diff(seen).min()) if seen.size > 1 else 1.0
    if step >= declared / 2:
        # A scale of whole lines: half a line more would be the same definition twice.
        around = declared + step * np.array([-1, 0, 1, 2])
    else:
        around = declared * np.array([0.5, 0.75, 1, 1.5, 2])
    return [float(t) for t in around if t >= 0]


def _holds(gaps: Gaps) -> list[int]:
    return sorted({*HOLDS, gaps.criterion.hold})


def _rules(gaps: Gaps) -> list[str]:
    if len(gaps.raters) < 2:
        return [gaps.criterion.rater_rule]
    rules = {"majority": None, "all": None, "any": None, **dict.fromkeys(gaps.raters)}
    return list({**rules, gaps.criterion.rater_rule: None})
