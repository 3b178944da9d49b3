"""What changes when the mixes are not equally uneven."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

from trialkit.analysis.mixing_time import ALL_MIXES, recommend_mixing_time, with_longest
from trialkit.stats.aft import AftFit, fit_aft
from trialkit.stats.own_scales import own_scales_of
from trialkit.stats.shown import Shown
from trialkit.stats.spread import equal_spread_test

__all__ = ["UnevenSpread", "uneven_spread"]

LIMITS = ["conf_low", "conf_high"]
SHOWN, NOT_SHOWN, NOT_ASKED = "shown unequal", "not shown unequal", "no spread to compare"

# From this p on the pooled limits serve, below it those by own scales as well: in simulation
# that covers the most uneven mix as often as own scales always would, at half their cost. To act
# only on what is shown unequal (p at most 0.05) would leave it at 0.74-0.92 with 3-4 vessels a mix
# (tests/reference/coverage_wider.csv).
MATTERS = 0.5


@dataclass(frozen=True, repr=False)
class UnevenSpread(Shown):
    """Whether the mixes spread alike, with the times that hold if they don't.

    Attributes
    ----------
    test : pandas.DataFrame
        One row: term, statistic, p_value, n_simulated, matters (True when both kinds of times
        are to be read), method, verdict.
    times : pandas.DataFrame
        As `recommend_mixing_time`, by a spread of each mix's own, with `scale`, that spread, of
        log time; no row where there is no spread to compare.
    """

    test: pd.DataFrame
    times: pd.DataFrame

    def tidy(self) -> pd.DataFrame:
        """The times by own spreads."""
        return self.times

    def careful(self, times: pd.DataFrame) -> pd.DataFrame:
        """The times to act on: limits by one spread, or by own spreads where those are wider.

        Parameters
        ----------
        times : pandas.DataFrame
            What `recommend_mixing_time` returned for the same intervals.

        Returns
        -------
        pandas.DataFrame
            The same rows; where it matters, each limit is the wider of the two, and `method`
            names both where one moved.
        """
        if not self.test["matters"].iloc[0]:
            return times
        key = ["mix", "term"]
        times = times[times["mix"] != ALL_MIXES]
        own = times[key].merge(self.times[[*key, *LIMITS, "method"]], on=key, how="left")
        low, high = (own[name].set_axis(times.index) for name in LIMITS)
        wider = (low < times["conf_low"]) | (high > times["conf_high"])
        both = times["method"] + "; where wider: " + own["method"].set_axis(times.index)
        return with_longest(
            times.assign(
                conf_low=times["conf_low"].where(~(low < times["conf_low"]), low),
                conf_high=times["conf_high"].where(~(high > times["conf_high"]), high),
                method=times["method"].where(~wider, both),
            )
        )

    def __str__(self) -> str:
        row = self.test.iloc[0]
        return f"Spread of the mixes: {row['verdict']}, p = {row['p_value']:.3g}"


def uneven_spread(
    intervals: pd.DataFrame,
    *,
    family: str = "lognormal",
    conf_level: float = 0.95,
    seed: int = 20,
    fit: AftFit | None = None,
) -> UnevenSpread:
    """Whether the vessels of all mixes spread alike, and the times of each mix if they don't.

    The times of `recommend_mixing_time` share one spread between vessels. Where spreads differ,
    its limits are too short for the mixes that vary most. Here each mix has its own spread,
    drawn a little toward the common one. A large p at few vessels doesn't show that spreads are
    equal; so both kinds of times are to be read as soon as p is at most one half, and the wider
    limits to be acted on (`UnevenSpread.careful`). In simulation (8 mixes, spreads that differ
    1 : 4) limits of the median then hold the truth, for the mix held least, in 0.85-0.94 of
    trials at 3 vessels a mix and in 0.90-0.95 at 4, where those of the one spread hold it in
    0.61-0.85; upper bounds of the assured time do in 0.79-0.93 and 0.88-0.94 instead of
    0.38-0.76 and 0.32-0.71. With equal spreads the limits of the median are 19% and 16% wider, on
    the log scale (tests/reference/coverage_wider.csv).

    Parameters
    ----------
    intervals : pandas.DataFrame
        What `clearing_intervals` returned: `mix`, `left_h`, `right_h`, hours.
    family : str
        Distribution of the times: "lognormal", "weibull" or "loglogistic".
    conf_level : float
        Level of the two-sided interval and of the one-sided bound.
    seed : int
        Seed of the trials that are simulated for the p-value.
    fit : AftFit, optional
        A fit of these intervals by one spread, where one is at hand already.

    Returns
    -------
    UnevenSpread

    Examples
    --------
    >>> looks = {"mix": ["M01"] * 3 + ["M02"] * 3}
    >>> looks |= {"left_h": [4, 4, 4, 4, 8, 16], "right_h": [5, 5, 5, 5, 9, 17]}
    >>> found = uneven_spread(pd.DataFrame(looks))
    >>> found.times[["mix", "scale"]].drop_duplicates().round(2).values.tolist()
    [['M01', 0.17], ['M02', 0.63]]
    """
    if fit is None:
        fit = fit_aft(intervals["left_h"], intervals["right_h"], intervals["mix"], family=family)
    own = own_scales_of(fit)
    test = _test(fit, own.drawn, seed)
    times = recommend_mixing_time(intervals, conf_level=conf_level, fit=own)
    scales = own.scales.rename_axis("mix").reset_index()
    times = times.merge(scales, on="mix").iloc[: None if own.drawn else 0]
    return UnevenSpread(test, times)


def _test(pooled: AftFit, drawn: bool, seed: int) -> pd.DataFrame:
    found = equal_spread_test(pooled, seed=seed)
    verdict = SHOWN if found.p_value <= 0.05 else NOT_SHOWN
    row = {
        "term": "equal spread of the mixes",
        "statistic": found.statistic,
        "p_value": found.p_value,
        "n_simulated": found.n_simulated,
        "matters": bool(drawn and found.p_value <= MATTERS),
        "method": "likelihood ratio, p by simulated trials",
        "verdict": verdict if drawn else NOT_ASKED,
    }
    return pd.DataFrame([row])
