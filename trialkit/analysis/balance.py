"""Whether the mixes were tried under the same conditions."""

import numpy as np
import pandas as pd

from trialkit.records.trial import Trial
from trialkit.stats.permutation import permutation_test

__all__ = ["add_covariates", "check_balance", "vessel_covariates"]

#: Mix means further apart than this are worth an adjusted comparison: common practice, no source.
USUAL_SPREAD = {"temperature": 1.0, "mixed salinity": 1.0}

COLUMNS = [
    "term",
    "mix",
    "n",
    "estimate",
    "low",
    "high",
    "difference",
    "unit",
    "p_value",
    "p_smallest",
    "verdict",
    "method",
]

_IDENTITY = ["vessel", "mix", "block"]


def vessel_covariates(trial: Trial) -> pd.DataFrame:
    """One row a trial vessel and condition: what the vessel stood at while it was watched.

    Readings of one vessel are averaged first: they are sub-samples, the vessel is the unit.
    Salinity is that of the mixed water, because mixes are to be compared at equal salinity. Early
    readings of it show the salt dissolving: they are an effect of the mix, and holding an effect
    equal would take away the very difference that is asked for.

    Parameters
    ----------
    trial : Trial
        What `read_trial` returned.

    Returns
    -------
    pandas.DataFrame
        vessel, mix, block, term, value, unit. The terms: "temperature", the mean over the mixing
        readings, C; "mixed salinity", the last mixing session that read it, in the unit that most
        vessels were read in; every further number column of vessels.csv, without a unit. A vessel
        without a reading has no row for that term, and a lost one none for mixed salinity.

    Examples
    --------
    >>> import trialkit as tk
    >>> table = tk.vessel_covariates(tk.read_trial("data/demo/harbour"))
    >>> table["term"].unique().tolist()
    ['temperature', 'mixed salinity']
    """
    readings = trial.readings
    mixing = readings[
        (readings["phase"] == "mixing")
        & (readings["role"] == "trial")
        & readings["value"].notna()
        & (readings["limit"] == "")
    ]
    # A vessel lost on the way was last read while its salt dissolved.
    whole = trial.vessels.loc[np.isinf(trial.vessels["lost_h"]), "vessel"]
    mixed = _mixed_salinity(mixing[mixing["vessel"].isin(whole)])
    parts = [_temperature(mixing), mixed, *_declared(trial.vessels)]
    table = pd.concat([part for part in parts if len(part)] or [_empty()], ignore_index=True)
    vessels = trial.vessels.loc[trial.vessels["role"] == "trial", _IDENTITY]
    table = vessels.merge(table, on="vessel")
    order = table["term"].map({term: i for i, term in enumerate(table["term"].unique())})
    return (
        table.assign(_order=order)
        .sort_values(["_order", *_IDENTITY[::-1]], kind="stable")[
            [*_IDENTITY, "term", "value", "unit"]
        ]
        .reset_index(drop=True)
    )


def check_balance(trial: Trial, *, seed: int | None = None) -> pd.DataFrame:
    """One row a condition and mix: what it stood at, and whether the mixes differ in it.

    The verdict rests on how far the mix means lie apart, where a usual limit is known: with few
    vessels a p-value misses differences that matter, and with many it finds some that do not.
    The p-value stands beside it; it is that of a permutation of vessels within blocks.

    Parameters
    ----------
    trial : Trial
        What `read_trial` returned, unblinded.
    seed : int, optional
        For the permutations where not all can be counted; the trial's by default.

    Returns
    -------
    pandas.DataFrame
        term (the condition), mix, n (vessels), estimate (mean of the vessels), low, high (lowest,
        highest vessel), difference (from the mean of all vessels), unit, p_value and p_smallest
        (of the condition, equal in all its rows), verdict (likewise, in words), method. The term
        "block" counts in how many blocks the mix stood with a vessel that was not lost.

    Examples
    --------
    >>> import trialkit as tk
    >>> table = tk.check_balance(tk.read_trial("data/demo/harbour"))
    >>> table["term"].unique().tolist()
    ['temperature', 'mixed salinity', 'block']
    """
    seed = trial.protocol.seed if seed is None else seed
    covariates = vessel_covariates(trial)
    frames = [_term_rows(own, seed) for _, own in covariates.groupby("term", sort=False)]
    rows = pd.concat([*frames, _block_rows(trial)], ignore_index=True)
    return rows[COLUMNS]


def add_covariates(intervals: pd.DataFrame, trial: Trial) -> pd.DataFrame:
    """The intervals frame with one column a condition, ready for an adjusted comparison.

    Parameters
    ----------
    intervals : pandas.DataFrame
        What `clearing_intervals` returned.
    trial : Trial
        The trial that they are from.

    Returns
    -------
    pandas.DataFrame
        The same rows with further columns, such as "temperature" and "mixed salinity". A vessel
        without a reading gets the mean of its mix, or of all vessels: it then neither helps nor
        harms the adjustment.

    Examples
    --------
    >>> import trialkit as tk
    >>> trial = tk.read_trial("data/demo/harbour")
    >>> "temperature" in add_covariates(tk.clearing_intervals(trial), trial).columns
    True
    """
    wide = vessel_covariates(trial).pivot_table(
        index="vessel", columns="term", values="value", sort=False
    )
    joined = intervals.merge(wide, how="left", left_on="vessel", right_index=True)
    for term in wide.columns:
        own = joined.groupby("mix")[term].transform("mean")
        joined[term] = joined[term].fillna(own).fillna(joined[term].mean())
    return joined


def _empty() -> pd.DataFrame:
    return pd.DataFrame({"vessel": [], "term": [], "value": [], "unit": []})


def _temperature(mixing: pd.DataFrame) -> pd.DataFrame:
    """Mean over the sessions of each vessel, C."""
    used = mixing[mixing["quantity"] == "temperature"]
    celsius = np.where(used["unit"] == "F", (used["value"] - 32) / 1.8, used["value"])
    by_session = used.assign(value=celsius).groupby(["vessel", "session"])["value"].mean()
    mean = by_session.groupby("vessel").mean()
    return mean.reset_index().assign(term="temperature", unit="C")


def _mixed_salinity(mixing: pd.DataFrame) -> pd.DataFrame:
    """Mean of the last mixing session that read each vessel's salinity."""
    used = mixing[mixing["quantity"] == "salinity"]
    if used.empty:
        return _empty()
    unit = used.groupby("unit")["vessel"].nunique().idxmax()
    used = used[used["unit"] == unit]
    last = used["session"] == used.groupby("vessel")["session"].transform("max")
    mean = used[last].groupby("vessel")["value"].mean()
    return mean.reset_index().assign(term="mixed salinity", unit=unit)


def _declared(vessels: pd.DataFrame) -> list[pd.DataFrame]:
    """Number columns of vessels.csv that the kit itself does not use."""
    known = {*_IDENTITY, "role", "place", "volume_l", "dose_g", "start_h", "lost_h"}
    extra = [c for c in vessels.select_dtypes("number").columns if c not in known]
    return [
        vessels[["vessel"]].assign(term=name, value=vessels[name], unit="").dropna(subset="value")
        for name in extra
    ]


def _term_rows(own: pd.DataFrame, seed: int) -> pd.DataFrame:
    term, unit = own["term"].iloc[0], own["unit"].iloc[0]
    rows = own.groupby("mix")["value"].agg(n="size", estimate="mean", low="min", high="max")
    rows = rows.reset_index().assign(term=term, unit=unit)
    rows["difference"] = rows["estimate"] - own["value"].mean()
    apart = rows["estimate"].max() - rows["estimate"].min()
    answer = None
    if len(rows) > 1:
        answer = permutation_test(own["value"], own["mix"], block=own["block"], seed=seed)
    return rows.assign(
        p_value=answer.p_value if answer else 1.0,
        p_smallest=answer.p_smallest if answer else 1.0,
        method=answer.method if answer else "one mix",
        verdict=_verdict(term, apart, unit, answer),
    )


def _verdict(term: str, apart: float, unit: str, answer) -> str:
    if answer is None:
        return "one mix: nothing to balance"
    limit = USUAL_SPREAD.get(term)
    means = f"mix means within {apart:.2g}{' ' if unit else ''}{unit}"
    if limit is not None and apart > limit:
        return f"out of balance: {means}, more than {limit:g}; compare with it held equal"
    if answer.p_value <= 0.05:
        return f"mixes differ, by little: {means}" if limit else f"mixes differ: {means}"
    return f"no imbalance shown: {means}"


def _block_rows(trial: Trial) -> pd.DataFrame:
    """In how many blocks each mix stood."""
    vessels = trial.vessels[trial.vessels["role"] == "trial"]
    kept = vessels[np.isinf(vessels["lost_h"])]
    stood = pd.crosstab(vessels["mix"], vessels["block"]).gt(0)
    still = pd.crosstab(kept["mix"], kept["block"])
    still = still.reindex(index=stood.index, columns=stood.columns, fill_value=0).gt(0)
    counts = still.sum(axis=1)
    rows = pd.DataFrame({"mix": counts.index, "estimate": counts.astype(float).to_numpy()})
    rows["n"] = vessels.groupby("mix").size().reindex(counts.index).to_numpy()
    return rows.assign(
        term="block",
        low=rows["estimate"],
        high=rows["estimate"],
        difference=rows["estimate"] - rows["estimate"].mean(),
        unit="blocks",
        p_value=1.0,
        p_smallest=1.0,
        method="count",
        verdict=_block_verdict(still),
    )


def _block_verdict(still: pd.DataFrame) -> str:
    missing = [
        f"{mix} from block {', '.join(str(b) for b in row.index[~row])}"
        for mix, row in still.iterrows()
        if not row.all()
    ]
    if not missing:
        return f"every mix in each of {still.shape[1]} blocks"
    return "missing (lost or never set up): " + "; ".join(missing)
