"""Own scales: they become the pooled and the lone t-interval at the ends, and cover between."""

import numpy as np
import pytest
from scipy import stats

from tests.stats.data_published import INF
from trialkit.stats._batch import fit_aft_batch
from trialkit.stats._limits import limits_for, quantile_limits
from trialkit.stats._own_scale import own_quantile_limits
from trialkit.stats._trials import simulate_intervals
from trialkit.stats.own_scales import fit_own_scales

LOGS = np.array([[0.7, 0.9, 1.1, 0.8], [1.4, 2.2, 1.0, 1.9], [2.0, 2.1, 2.3, 1.9]])
TIMES = np.exp(LOGS).ravel()
GROUP = np.repeat(["a", "b", "c"], 4)


def test_scale_in_closed_form():
    # Complete times: s^2 = (weight pool + squares) / (weight + f), f = 3.
    squares = ((LOGS - LOGS.mean(1, keepdims=True)) ** 2).sum(1)
    expected = np.sqrt((0.25 * squares.sum() / 9 + squares) / 3.25)
    own = fit_own_scales(TIMES, TIMES, GROUP)
    assert own.scales.to_numpy() == pytest.approx(expected, rel=1e-6)
    assert own.quantile(0.5)["estimate"].to_numpy() == pytest.approx(np.exp(LOGS.mean(1)))


@pytest.mark.parametrize(("weight", "df"), [(1e-6, 3), (1e6, 9)])
def test_limits_at_both_ends_are_students(weight, df):
    # No weight on the pool: each group's own t-interval. All weight: the pooled one.
    squares = ((LOGS - LOGS.mean(1, keepdims=True)) ** 2).sum(1)
    variance = squares / 3 if df == 3 else np.full(3, squares.sum() / 9)
    half = stats.t.ppf(0.975, df) * np.sqrt(variance / 4)
    found = fit_own_scales(TIMES, TIMES, GROUP, weight=weight).quantile(0.5)
    # The quantiles behind K are those of 400 points of a chi-square.
    assert np.log(found["conf_low"].to_numpy()) == pytest.approx(
        LOGS.mean(1) - half, abs=0.01 * half.max()
    )
    assert np.log(found["conf_high"].to_numpy()) == pytest.approx(
        LOGS.mean(1) + half, abs=0.01 * half.max()
    )


def test_upper_bound_at_no_weight_is_the_tolerance_bound():
    # One-sided factor for 90% at 95%, n = 4: Odeh & Owen (1980), table 1.
    own = fit_own_scales(TIMES, TIMES, GROUP, weight=1e-6).upper_bound(0.9)
    expected = LOGS.mean(1) + 4.1619 * LOGS.std(1, ddof=1)
    assert np.log(own["conf_high"]).to_numpy() == pytest.approx(expected, rel=0.02)
    assert (own["conf_low"] == 0).all()


def test_odd_groups_get_answers():
    left = [1, 2, 3, 24, 24, 24, 4, 0, 0, 0, 5, 8]
    right = [2, 3, 5, INF, INF, INF, 6, 1, 1, 1, 8, 9]
    own = fit_own_scales(left, right, list("aaabbbcdddee"))
    for frame in (own.quantile(0.5), own.quantile(0.9), own.probability_by(5), own.tidy()):
        assert not frame.isna().any(axis=None)
        assert (frame["conf_low"] <= frame["estimate"]).all()
        assert (frame["estimate"] <= frame["conf_high"]).all()
    assert own.quantile(0.5).loc[1, "conf_high"] == INF
    assert own.quantile(0.5).loc[3, "conf_low"] == 0
    ratio = own.contrast("b", "a").loc[0]
    assert (ratio["estimate"], ratio["conf_high"]) == (INF, INF)
    assert 0 < ratio["conf_low"] < INF
    assert "own scales" in own.tidy().loc[0, "method"]
    lone = fit_own_scales([1, 4], [2, 6], list("ab"))
    assert lone.quantile(0.5).equals(lone.pooled.quantile(0.5))


def test_contrast_by_hand():
    own = fit_own_scales(TIMES, TIMES, GROUP)
    a, b = (np.log(own.quantile(0.5).set_index("group").loc[g, ["estimate", "conf_low",
            "conf_high"]].to_numpy(float)) for g in "ab")  # fmt: skip
    row = own.contrast("a", "b").loc[0]
    below = np.sqrt((a[0] - a[1]) ** 2 + (b[2] - b[0]) ** 2)
    assert np.log(row["conf_low"]) == pytest.approx(a[0] - b[0] - below)
    assert row["estimate"] == pytest.approx(np.exp(a[0] - b[0]))


def test_uneven_mixes_are_covered_where_the_pool_fails():
    # Spreads from 1 to 4 in eight mixes of four vessels; 400 trials: three standard errors
    # of a coverage of 0.93 are 0.038.
    location, scale = np.log(np.geomspace(2, 20, 8)), 0.125 * np.geomspace(1, 4, 8)
    left, right, codes = simulate_intervals(location, scale, 4, 400, 12)
    fit = fit_aft_batch(left, right, codes)
    pooled = quantile_limits(fit, 0.5, limits_for(fit, 0.95))
    own = own_quantile_limits(fit, 0.5, 0.95)
    inside = [((q[..., 0] <= location) & (location <= q[..., 1])).mean(0) for q in (pooled, own)]
    assert inside[0][-1] < 0.86
    assert inside[1][-1] > 0.93 - 0.038
    assert inside[1].mean() >= 0.94


def test_a_mix_of_which_nothing_is_known_has_the_scale_of_the_others():
    looks = [1, 2, 3, 2, 4, 7, 0, 0], [2, 3, 4, 3, 6, 9, INF, INF], list("aaabbbcc")
    own = fit_own_scales(*looks)
    assert own.scales["a"] < own.scales["c"] < own.scales["b"]
    row = own.quantile(0.5).loc[2]
    assert (row["conf_low"], row["conf_high"]) == (0, INF)


def test_a_weight_of_nothing_is_refused():
    with pytest.raises(ValueError, match="weight"):
        fit_own_scales([1, 2], [2, 3], ["a", "b"], weight=0)
