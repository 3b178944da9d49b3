"""Which mixes differ over all trials, and how many more trials would settle an open pair."""

from __future__ import annotations

import numpy as np
import pandas as pd
from scipy import stats

from trialkit.stats.mixed_aft import MixedAftFit
from trialkit.stats.multiplicity import adjust_p_values

__all__ = ["pooled_pairs"]

POWER = 0.8
MOST_TRIALS = 1000  # that is no plan any more
COLUMNS = [
    "mix_a", "mix_b", "ratio", "conf_low", "conf_high", "conf_level", "p_value", "p_adjusted",
    "n_trials", "more_trials", "decision",
]  # fmt: skip


def pooled_pairs(fit: MixedAftFit, vessels: pd.DataFrame, conf_level: float = 0.95) -> pd.DataFrame:
    """One row a pair of mixes: the ratio of their times, and what it would take to settle it.

    For an open pair: how many more trials, like those that hold both mixes, give a chance of about
    80% that the difference is shown at the level that Holm's first step asks for, if it is as large
    as it looks now. Each is taken to tell as much of the ratio as those do on average. A difference
    that looks small needs many trials; that does not make it zero. How often a pair is settled
    then is simulated in tests/reference/pooling_more_trials.py.

    Parameters
    ----------
    fit : MixedAftFit
        The pooled fit.
    vessels : pandas.DataFrame
        trial, mix.
    conf_level : float
        Level of the limits and of the decision.

    Returns
    -------
    pandas.DataFrame
        mix_a, mix_b, ratio (time of a over time of b; 0 or inf when one was not placed), conf_low,
        conf_high, conf_level, p_value, p_adjusted (Holm), n_trials (with both), more_trials (0
        when settled, inf above 1,000 or when the data give no idea), decision ("settled" or
        "open").

    Examples
    --------
    >>> from trialkit.stats.mixed_aft import fit_mixed_aft
    >>> vessels = pd.DataFrame({"trial": [1, 1, 2, 2, 3, 3], "mix": list("ababab")})
    >>> left, right = [1, 2, 1.5, 3, 1, 1.5], [1.5, 3, 2, 4, 1.5, 2]
    >>> fit = fit_mixed_aft(left, right, vessels["mix"], vessels["trial"])
    >>> pooled_pairs(fit, vessels)["n_trials"].tolist()
    [3]
    """
    pairs = fit.contrasts(conf_level)
    if pairs.empty:
        return pd.DataFrame(columns=COLUMNS)
    pairs = pairs.rename(columns={"group_a": "mix_a", "group_b": "mix_b", "estimate": "ratio"})
    pairs["p_adjusted"] = adjust_p_values(pairs["p_value"])
    held = vessels.groupby("mix")["trial"].agg(set)
    both = [len(held[a] & held[b]) for a, b in zip(pairs["mix_a"], pairs["mix_b"], strict=True)]
    pairs["n_trials"] = both
    error = 1 - conf_level
    pairs["more_trials"] = [_more(row, error, len(pairs)) for row in pairs.itertuples()]
    pairs["decision"] = np.where(pairs["p_adjusted"] <= error, "settled", "open")
    return pairs[COLUMNS]


def _more(row, error: float, n_pairs: int) -> float:
    if row.p_adjusted <= error:
        return 0.0
    difference = abs(np.log(row.ratio)) if 0 < row.ratio < np.inf else 0.0
    if not difference or not row.gain:
        return np.inf
    now = row.std_error**-2
    more = now / row.gain
    for _ in range(3):  # the quantiles fall a little with the degrees of freedom to come
        df = row.df * (1 + more * row.gain / now)
        reach = stats.t.ppf(1 - error / n_pairs / 2, df) + stats.t.ppf(POWER, df)
        more = max(1.0, ((reach / difference) ** 2 - now) / row.gain)
    # A ratio that looks like 1 asks for any number: that is no plan.
    return float(np.ceil(more)) if more <= MOST_TRIALS else np.inf
