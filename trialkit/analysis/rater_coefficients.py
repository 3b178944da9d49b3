"""Agreement coefficients of the raters of one criterion."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import numpy as np
import pandas as pd

from trialkit.analysis.clearing import reading_gaps
from trialkit.analysis.water_samples import reading_step
from trialkit.records.trial import Trial
from trialkit.stats.agreement import category_counts, krippendorff_alpha
from trialkit.stats.clustered_share import clustered_share
from trialkit.stats.components import mean_of_units, variance_components
from trialkit.stats.estimate import Estimate
from trialkit.stats.intraclass import intraclass_correlation
from trialkit.stats.jackknife import unit_jackknife

__all__ = ["coefficient_table", "joint_looks", "no_coefficients"]

COEFFICIENT_COLUMNS = [
    "criterion", "rater", "term", "estimate", "conf_low", "conf_high", "conf_level", "n",
    "n_readings", "unit", "method",
]  # fmt: skip

#: Share of single differences that limits of agreement hold.
WITHIN = 1.959964


def coefficient_table(trial: Trial, name: str, conf_level: float) -> pd.DataFrame:
    """How far the raters of one criterion agree, a row a coefficient and pair.

    Parameters
    ----------
    trial : Trial
        What `read_trial` returned.
    name : str
        A declared criterion.
    conf_level : float
        Confidence level.

    Returns
    -------
    DataFrame
        criterion, rater, term, estimate, limits, conf_level, n (vessels), n_readings, unit,
        method. No row where no look was taken by two raters.

    Examples
    --------
    >>> import trialkit as tk
    >>> table = coefficient_table(tk.read_trial("data/demo/harbour"), "clarity", 0.95)
    >>> table["term"].iloc[0]
    'same call'
    """
    calls, shortfall = joint_looks(trial, name)
    rule = trial.protocol.criteria[name]
    if not len(calls):
        return no_coefficients()
    vessel = calls.index.get_level_values("vessel").to_numpy()
    ordered = "ordinal" if rule.quantity == "clarity" else "interval"
    rows = _call_rows(calls, vessel, conf_level)
    alpha = _jackknife(_alpha(ordered), shortfall, vessel, conf_level, f"Krippendorff, {ordered}")
    rows.append(("shortfall, all raters (alpha)", alpha))
    rows.append(("vessel mean, one rater (ICC)", _vessel_correlation(shortfall, conf_level)))
    every = ", ".join(calls.columns)
    found = [(every, term, estimate, len(calls), "") for term, estimate in rows if estimate]
    for first, second in combinations(calls.columns, 2):
        step = reading_step(trial, rule.quantity, rule.unit)
        found += _pair_rows(shortfall, (first, second), conf_level, (rule.unit, step))
    return _tidy(found, name, len(set(vessel)))


def no_coefficients() -> pd.DataFrame:
    """The table of coefficients without a row."""
    return pd.DataFrame(columns=COEFFICIENT_COLUMNS)


def joint_looks(trial: Trial, name: str) -> tuple[pd.DataFrame, pd.DataFrame]:
    """The calls (1 clear, 0 not) and the shortfalls of looks that two raters or more took.

    Returns
    -------
    tuple of DataFrame
        Two frames with a column a rater, indexed by vessel and session; NaN is not looked.
    """
    gaps = reading_gaps(trial, name)
    calls = np.stack([gaps.met(rater_rule=code) for code in gaps.raters], axis=2)
    _, n_session, n_rater = calls.shape
    index = pd.MultiIndex.from_product(
        [gaps.vessels["vessel"], range(n_session)], names=["vessel", "session"]
    )
    both = (~np.isnan(calls)).sum(axis=2).ravel() > 1
    frames = [
        pd.DataFrame(values.reshape(-1, n_rater), index=index, columns=list(gaps.raters))[both]
        for values in (calls, gaps.gap)
    ]
    return frames[0], frames[1]


def _tidy(found, name: str, n: int) -> pd.DataFrame:
    rows = [
        (name, rater, term, e.estimate, e.conf_low, e.conf_high, e.conf_level, n, looks, unit,
         e.method)
        for rater, term, e, looks, unit in found
    ]  # fmt: skip
    return pd.DataFrame(rows, columns=COEFFICIENT_COLUMNS)


def _call_rows(calls: pd.DataFrame, vessel, conf_level: float) -> list[tuple]:
    """The share of calls alike and two coefficients that allow for chance.

    A coefficient is (agreement - chance) / (1 - chance): its limits are those of the agreement,
    chance taken as found, which is far steadier.
    """
    rows = calls.to_numpy()
    counts = category_counts(rows, [0, 1])
    raters = counts.sum(axis=1)
    alike = (counts.max(axis=1) == raters).astype(float)
    pairs = np.sum(counts * (counts - 1), axis=1) / (raters * (raters - 1))
    same = clustered_share(alike, vessel, conf_level=conf_level)
    agreement = clustered_share(pairs, vessel, conf_level=conf_level)
    full = ~np.isnan(rows).any(axis=1)
    found = [("same call", same)]
    share = np.mean(counts / raters[:, None], axis=0)
    found.append(("call, beyond chance (AC1)", _beyond(agreement, share @ (1 - share), "Gwet AC1")))
    if full.any():
        whole = clustered_share(pairs[full], vessel[full], conf_level=conf_level)
        name = "Cohen kappa" if rows.shape[1] == 2 else "Fleiss kappa"
        found.append(("call, beyond chance (kappa)", _beyond(whole, _chance(rows[full]), name)))
    return found


def _chance(rows: np.ndarray) -> float:
    """Agreement by chance: of two raters by each one's habits, of more by those of all."""
    clear = rows.mean(axis=0)
    if rows.shape[1] > 2:
        clear = np.repeat(clear.mean(), 2)
    return float(clear[0] * clear[1] + (1 - clear[0]) * (1 - clear[1]))


def _beyond(agreement: Estimate, chance: float, method: str) -> Estimate | None:
    if chance >= 1:  # every call is in one category
        return None
    value, low, high = (
        (share - chance) / (1 - chance)
        for share in (agreement.estimate, agreement.conf_low, agreement.conf_high)
    )
    return Estimate(value, low, high, agreement.conf_level, method=f"{method}, Korn-Graubard")


def _alpha(level: str):
    def statistic(rows) -> float:
        return krippendorff_alpha(rows, level)

    return statistic


def _jackknife(statistic, frame, vessel, conf_level, method) -> Estimate | None:
    """The estimate with limits; None where all calls are alike and nothing can be measured."""
    rows = frame.to_numpy()
    try:
        found = unit_jackknife(statistic, rows, vessel, conf_level=conf_level, method=method)
    except ValueError:
        return None
    if found.conf_low == found.conf_high == 1.0:
        # Few vessels without any disagreement show no spread, which is not certainty.
        return replace(found, conf_low=-1.0, method=found.method.replace("jackknife", "none apart"))
    low, high = max(found.conf_low, -1.0), min(found.conf_high, 1.0)
    return replace(found, conf_low=low, conf_high=high)


def _vessel_correlation(shortfall: pd.DataFrame, conf_level: float) -> Estimate | None:
    means = shortfall.dropna().groupby(level="vessel").mean()
    try:
        return intraclass_correlation(means.to_numpy(), conf_level=conf_level)
    except ValueError:
        return None


def _pair_rows(
    shortfall: pd.DataFrame, pair: tuple[str, str], conf_level: float, scale: tuple[str, float]
):
    """Mean difference and limits of agreement of two raters, readings nested in vessels."""
    both = shortfall[list(pair)].dropna()
    if not len(both):
        return []
    # A shortfall is how much worse than the reference: second minus first is how much more
    # clearly the first rater saw the vessel.
    difference = (both[pair[1]] - both[pair[0]]).to_numpy()
    vessel = both.index.get_level_values("vessel").to_numpy()
    codes = ", ".join(pair)
    unit, step = scale
    # Rounding alone spreads a difference of two readings this much, a vessel's mean less.
    floor = step / np.sqrt(6)
    means = variance_components(difference, vessel).unit_means
    per_vessel = len(difference) / len(means)
    bias = mean_of_units(means, conf_level=conf_level, floor=floor / np.sqrt(per_vessel))
    rows = [(codes, "mean difference", bias, len(both), unit)]
    for sign, words in ((-1, "lower"), (1, "upper")):
        limit = unit_jackknife(
            _limit(sign, floor), np.column_stack([difference, pd.factorize(vessel)[0]]), vessel,
            conf_level=conf_level, method="Bland-Altman, readings within vessels",
        )  # fmt: skip
        rows.append((codes, f"{words} limit of agreement", limit, len(both), unit))
    return rows


def _limit(sign: int, floor: float):
    def statistic(rows) -> float:
        found = variance_components(rows[:, 0], rows[:, 1])
        return found.mean + sign * WITHIN * max(found.reproducibility_sd, floor)

    return statistic
