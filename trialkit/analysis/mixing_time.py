"""How long a batch of each mix should be mixed before use."""

import pandas as pd

from trialkit.stats.aft import fit_aft

__all__ = [
    "ALL_MIXES",
    "ASSURED_SHARE",
    "ASSURED_TIME",
    "TYPICAL_TIME",
    "recommend_mixing_time",
    "with_longest",
]

TYPICAL_TIME = "typical time"
ASSURED_TIME = "assured time"
ALL_MIXES = "all mixes"

#: The share of batches that an assured time speaks of.
ASSURED_SHARE = 0.9

COLUMNS = [
    "mix",
    "term",
    "estimate",
    "conf_low",
    "conf_high",
    "conf_level",
    "n",
    "n_event",
    "n_censored",
    "unit",
    "method",
]


def recommend_mixing_time(
    intervals: pd.DataFrame, *, family: str = "lognormal", conf_level: float = 0.95, fit=None
) -> pd.DataFrame:
    """Two rows a mix: the typical time and the assured time until it is clear.

    The typical time is the median, with a two-sided interval. The assured time is the time by
    which 90% of batches are clear; its upper bound, one-sided at `conf_level`, is the mixing time
    to recommend. With fewer than 29 vessels a mix such a bound can only be parametric (Wilks
    1941, Annals of Mathematical Statistics 12, 91-96), so it rests on the family of the fit. Two
    last rows speak for all mixes: the longest of each, for a store that takes whatever mix comes.

    Parameters
    ----------
    intervals : pandas.DataFrame
        What `clearing_intervals` returned: `mix`, `left_h`, `right_h`, hours.
    family : str
        Distribution of the times: "lognormal", "weibull" or "loglogistic".
    conf_level : float
        Level of the two-sided interval and of the one-sided bound.
    fit : AftFit, optional
        A fit of these intervals, where one is at hand already.

    Returns
    -------
    pandas.DataFrame
        `mix`, `term`, `estimate`, `conf_low`, `conf_high`, `conf_level`, `n`, `n_event`,
        `n_censored`, `unit`, `method`. A time that the data cannot place is inf.

    Examples
    --------
    >>> import pandas as pd
    >>> looks = {"mix": ["M01"] * 4, "left_h": [1, 1, 2, 2], "right_h": [2, 3, 3, 4]}
    >>> recommend_mixing_time(pd.DataFrame(looks))["term"].tolist()
    ['typical time', 'assured time', 'typical time', 'assured time']
    """
    if fit is None:
        fit = fit_aft(intervals["left_h"], intervals["right_h"], intervals["mix"], family=family)
    typical = fit.quantile(0.5, conf_level=conf_level).assign(term=TYPICAL_TIME)
    assured = fit.upper_bound(ASSURED_SHARE, conf_level=conf_level).assign(term=ASSURED_TIME)
    times = pd.concat([typical, assured]).rename(columns={"group": "mix"})
    times = times.merge(count_cleared(intervals), on="mix").assign(unit="h")
    times = times.sort_values("mix", kind="stable", ignore_index=True)[COLUMNS]
    return with_longest(times)


def count_cleared(intervals: pd.DataFrame) -> pd.DataFrame:
    """One row a mix: vessels, vessels seen clear, vessels not seen clear.

    Parameters
    ----------
    intervals : pandas.DataFrame
        What `clearing_intervals` returned.

    Returns
    -------
    pandas.DataFrame
        `mix`, `n`, `n_event`, `n_censored`.
    """
    cleared = intervals["right_h"].map(lambda right: right < float("inf"))
    counts = cleared.groupby(intervals["mix"]).agg(n="size", n_event="sum").reset_index()
    counts["n_event"] = counts["n_event"].astype(int)
    return counts.assign(n_censored=counts["n"] - counts["n_event"])


def with_longest(times: pd.DataFrame) -> pd.DataFrame:
    """The times of every mix, then those of the mix that takes longest as "all mixes".

    Parameters
    ----------
    times : pandas.DataFrame
        Rows of `recommend_mixing_time` that each speak of one mix.

    Returns
    -------
    pandas.DataFrame
        The rows with one more a term: the largest estimate, the largest of each limit.
    """
    limits = ["estimate", "conf_low", "conf_high"]
    longest = times.groupby("term", sort=False)[limits].max().reset_index()
    once = times[times["term"] == TYPICAL_TIME]
    totals = once[["n", "n_event", "n_censored"]].sum()
    level = times["conf_level"].iloc[0]
    for_all = longest.assign(
        mix=ALL_MIXES, conf_level=level, unit="h", method="longest of the mixes", **totals
    )
    return pd.concat([times, for_all[COLUMNS]], ignore_index=True)
