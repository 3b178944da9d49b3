"""Typical and assured times from intervals."""

import math

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from trialkit.analysis.mixing_time import count_cleared, recommend_mixing_time


def exact(times: dict[str, list[float]]) -> pd.DataFrame:
    """Intervals of no width: every moment was seen."""
    rows = [(mix, t, t) for mix, own in times.items() for t in own]
    return pd.DataFrame(rows, columns=["mix", "left_h", "right_h"])


def test_typical_time_of_exact_times_is_the_geometric_mean_with_a_t_interval():
    """For one mix seen exactly the calibrated interval is Student's, on the log scale.

    Deviance of a normal mean: n log(1 + t^2 / (n - 1)); see any text on the likelihood ratio of a
    mean with unknown variance, such as Kendall & Stuart, vol. 2, ch. 24 (from memory).
    """
    times = np.array([1.0, 1.6, 2.1, 3.3])
    row = recommend_mixing_time(exact({"M01": list(times)})).iloc[0]
    logs = np.log(times)
    half = stats.t.ppf(0.975, 3) * logs.std(ddof=1) / 2
    assert row["estimate"] == pytest.approx(np.exp(logs.mean()), rel=1e-6)
    assert row["conf_low"] == pytest.approx(np.exp(logs.mean() - half), rel=1e-5)
    assert row["conf_high"] == pytest.approx(np.exp(logs.mean() + half), rel=1e-5)


def test_assured_time_of_exact_times_is_the_tolerance_bound():
    """90% of batches with 95% confidence at n = 5: factor 3.4066 (ISO 16269-6, table)."""
    times = np.array([1.0, 1.6, 2.1, 3.3, 2.6])
    row = recommend_mixing_time(exact({"M01": list(times)})).iloc[1]
    logs = np.log(times)
    bound = np.exp(logs.mean() + 3.4066 * logs.std(ddof=1))
    assert row["term"] == "assured time"
    assert row["conf_high"] == pytest.approx(bound, rel=2e-3)


def test_a_mix_that_never_cleared_has_no_time_but_a_lower_limit():
    looks = exact({"M01": [1, 2, 3]})
    never = pd.DataFrame({"mix": ["M02"] * 3, "left_h": [24.0] * 3, "right_h": [math.inf] * 3})
    times = recommend_mixing_time(pd.concat([looks, never])).set_index(["mix", "term"])
    row = times.loc[("M02", "typical time")]
    assert np.isinf(row["estimate"])
    assert np.isinf(row["conf_high"])
    assert 0 < row["conf_low"] < math.inf
    assert (row["n"], row["n_event"], row["n_censored"]) == (3, 0, 3)
    assert np.isinf(times.loc[("all mixes", "assured time"), "conf_high"])


def test_the_time_for_all_mixes_is_the_longest():
    times = recommend_mixing_time(exact({"M01": [1, 2, 3], "M02": [4, 5, 6]}))
    by_term = times.set_index(["term", "mix"])["conf_high"]
    for term in ("typical time", "assured time"):
        assert by_term[term, "all mixes"] == max(by_term[term, "M01"], by_term[term, "M02"])


def test_counts():
    looks = pd.DataFrame({"mix": ["A", "A", "B"], "right_h": [1.0, math.inf, math.inf]})
    assert count_cleared(looks).to_numpy().tolist() == [["A", 2, 1, 1], ["B", 1, 0, 1]]
