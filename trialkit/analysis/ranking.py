"""In which order the mixes clear, and how much of that order is settled."""

from dataclasses import replace

import numpy as np
import pandas as pd

from trialkit.analysis.clearing import FULLY_CLEAR
from trialkit.analysis.comparison import compare_mixes
from trialkit.analysis.comparison_basis import comparison_basis
from trialkit.analysis.comparison_plan import ComparisonPlan, prepared
from trialkit.analysis.mixing_time import count_cleared
from trialkit.records.trial import Trial
from trialkit.stats.aft import fit_aft
from trialkit.stats.multiplicity import compact_letters
from trialkit.stats.ranks import rank_sets, share_first

__all__ = ["rank_mixes"]

NO_TIME = "never cleared in the window: shares the last place"

COLUMNS = [
    "mix",
    "rank",
    "rank_low",
    "rank_high",
    "probability_first",
    "letters",
    "estimate",
    "conf_low",
    "conf_high",
    "conf_level",
    "n",
    "n_event",
    "n_censored",
    "unit",
    "method",
    "note",
]


def rank_mixes(
    data: Trial | pd.DataFrame,
    *,
    criterion: str = FULLY_CLEAR,
    plan: ComparisonPlan | None = None,
    pairs: pd.DataFrame | None = None,
) -> pd.DataFrame:
    """One row a mix, the soonest first: its place, the places still open, its letters.

    The places in `rank_low` to `rank_high` follow from all pairs after Holm's adjustment, so at
    the declared level they hold the true places of all mixes at once. `probability_first` repeats
    the trial on paper: it tells how often a trial like this one would put the mix first, which is
    not the probability that the mix is the best. Print `LETTERS_NOTE` below a table with letters.

    Parameters
    ----------
    data : Trial or pandas.DataFrame
        A trial, or the intervals that `clearing_intervals` returned, hours.
    criterion : str
        Which intervals of a trial.
    plan : ComparisonPlan, optional
        By default the one of the trial, or the plain one for a frame. A control in it is no
        matter here: ranks need all pairs.
    pairs : pandas.DataFrame, optional
        What `compare_mixes` returned for the same data, all pairs, where it is at hand already.

    Returns
    -------
    pandas.DataFrame
        mix, rank (by typical time; equal ones share it), rank_low, rank_high, probability_first,
        letters (mixes that share one were not shown different), estimate, conf_low, conf_high,
        conf_level (typical time), n, n_event, n_censored, unit, method, note.

    Raises
    ------
    ValueError
        Fewer than two mixes, or not all pairs of them.

    Examples
    --------
    >>> looks = {"mix": ["M01"] * 3 + ["M02"] * 3, "block": ["1", "2", "3"] * 2}
    >>> looks |= {"left_h": [1, 1, 2, 4, 6, 6], "right_h": [2, 2, 3, 6, 8, 8]}
    >>> rank_mixes(pd.DataFrame(looks))[["mix", "rank_low", "rank_high", "letters"]].values.tolist()
    [['M01', 1, 1, 'a'], ['M02', 2, 2, 'b']]
    """
    intervals, plan = prepared(data, criterion, plan)
    plan = replace(plan, control=None)
    pairs = compare_mixes(intervals, plan=plan) if pairs is None else pairs
    _check_pairs(pairs, intervals["mix"].nunique())
    basis = comparison_basis(intervals, plan)
    fit = basis.fit
    if fit is None:  # without inference between mixes each still has a time of its own
        fit = fit_aft(
            intervals["left_h"], intervals["right_h"], intervals["mix"], family=plan.family
        )
    times = fit.quantile(0.5, conf_level=plan.conf_level).rename(columns={"group": "mix"})
    table = times.merge(count_cleared(intervals), on="mix").assign(unit="h")
    table["rank"] = table["estimate"].rank(method="min").astype(int)
    table = table.sort_values(["rank", "mix"], ignore_index=True)
    earlier = _earlier(pairs, table["mix"].tolist())
    table[["rank_low", "rank_high"]] = rank_sets(earlier)
    table["letters"] = compact_letters(earlier | earlier.T)
    refused = basis.refused
    shares = None if refused else share_first(fit, seed=plan.seed)
    table["probability_first"] = 1 / len(table) if refused else table["mix"].map(shares)
    table["note"] = np.where(table["n_event"] == 0, NO_TIME, "")
    table["note"] = refused or table["note"]
    return table[COLUMNS]


def _check_pairs(pairs: pd.DataFrame, n_mix: int) -> None:
    if len(pairs) != n_mix * (n_mix - 1) // 2:
        raise ValueError(f"ranks need all pairs of {n_mix} mixes; got {len(pairs)} comparisons.")


def _earlier(pairs: pd.DataFrame, mixes: list[str]) -> np.ndarray:
    """earlier[i, j] is True where mix i was shown to clear sooner than mix j."""
    place = {mix: i for i, mix in enumerate(mixes)}
    earlier = np.zeros((len(mixes),) * 2, dtype=bool)
    for row in pairs.itertuples():
        if row.verdict.startswith(row.mix_a):
            i, j = place[row.mix_a], place[row.mix_b]
            earlier[(i, j) if row.estimate < 1 else (j, i)] = True
    return earlier
