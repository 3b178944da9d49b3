"""The shape-free curve: published tables, a case done by hand, two second roads."""

import numpy as np
import pandas as pd
import pytest
import surpyval
from scipy.optimize import isotonic_regression
from scipy.stats import binom

from tests.stats.data_published import CONTROL, INF, RADIATION, TREATED, WITH_CHEMOTHERAPY
from trialkit.stats.turnbull import fit_turnbull

# Fay & Shaw (2010), Journal of Statistical Software 36(2), the two printed fits.
RADIATION_MASS = [
    (4, 5, 0.0463), (6, 7, 0.0334), (7, 8, 0.0887), (11, 12, 0.0708),
    (24, 25, 0.0926), (33, 34, 0.0818), (38, 40, 0.1209), (46, 48, 0.4656),
]  # fmt: skip
CHEMOTHERAPY_MASS = [
    (4, 5, 0.0433), (5, 8, 0.0433), (11, 12, 0.0692), (16, 17, 0.1454), (18, 19, 0.1411),
    (19, 20, 0.1157), (24, 25, 0.0999), (30, 31, 0.0709), (35, 36, 0.1608), (44, 48, 0.0552),
    (48, 60, 0.0552),
]  # fmt: skip


@pytest.mark.parametrize(
    ("data", "mass"), [(RADIATION, RADIATION_MASS), (WITH_CHEMOTHERAPY, CHEMOTHERAPY_MASS)]
)
def test_breast_cosmesis_is_the_printed_curve(data, mass):
    found = fit_turnbull(*data).mass
    expected = np.array(mass)
    assert found[["left", "right"]].to_numpy() == pytest.approx(expected[:, :2])
    assert found["probability"].to_numpy() == pytest.approx(expected[:, 2], abs=5.1e-5)


def test_breast_cosmesis_log_likelihoods():
    # The maxima that go with the printed curves (own computation: the printed masses put
    # into the likelihood give the same to their four digits).
    both = np.concatenate([RADIATION, WITH_CHEMOTHERAPY], axis=1)
    group = np.repeat(["radiation", "both"], [46, 48])
    assert fit_turnbull(*RADIATION).loglik == pytest.approx(-58.0600, abs=1e-3)
    assert fit_turnbull(*WITH_CHEMOTHERAPY).loglik == pytest.approx(-65.6370, abs=1e-3)
    assert fit_turnbull(*both).loglik == pytest.approx(-136.9638, abs=1e-3)
    assert fit_turnbull(*both, group=group).loglik == pytest.approx(-58.06 - 65.637, abs=1e-3)


def test_surpyval_agrees_on_breast_cosmesis():
    # surpyval's own iteration, with the estimator that is the maximum likelihood one.
    left, right = RADIATION
    other = surpyval.Turnbull.fit(xl=left, xr=right, turnbull_estimator="Kaplan-Meier")
    times = np.array([5, 8, 12, 25, 34, 40.0])
    assert fit_turnbull(left, right).survival(times) == pytest.approx(
        np.interp(times, other.x, other.R), abs=2e-3
    )


def test_five_intervals_by_hand():
    # (0,1], (0,2], (1,2], (1,3], (2,inf]: mass a, 1 - 2a, a by symmetry; the score
    # 1/a - 1/(1 - 2a) x ... leads to 5a^2 - 5a + 1 = 0, so a = (5 - sqrt 5) / 10.
    a = (5 - np.sqrt(5)) / 10
    found = fit_turnbull([0, 0, 1, 1, 2], [1, 2, 2, 3, INF]).mass["probability"]
    assert found.to_numpy() == pytest.approx([a, 1 / np.sqrt(5), a], abs=1e-8)


@pytest.mark.parametrize("seed", range(5))
def test_current_status_is_isotonic_regression(seed):
    # Ayer et al. (1955), Annals of Mathematical Statistics 26, 641-647: one look a vessel.
    rng = np.random.default_rng(seed)
    looks = rng.permutation(np.arange(1, 81)).astype(float)
    clear = rng.exponential(40, 80) <= looks
    fit = fit_turnbull(np.where(clear, 0, looks), np.where(clear, looks, INF))
    order = np.argsort(looks)
    pooled = isotonic_regression(clear[order].astype(float)).x
    assert 1 - fit.survival(looks[order]) == pytest.approx(pooled, abs=1e-9)


def test_exact_and_right_censored_times_are_kaplan_meier():
    # The product-limit estimate as printed for the 6-MP arm: Kalbfleisch & Prentice (2002),
    # The Statistical Analysis of Failure Time Data, p. 17; medians 23 and 8 weeks.
    fit = fit_turnbull(*TREATED)
    printed = [0.8571, 0.8067, 0.7529, 0.6902, 0.6275, 0.5378, 0.4482]
    assert fit.survival([6, 7, 10, 13, 16, 22, 23]) == pytest.approx(printed, abs=5e-5)
    both = np.concatenate([TREATED, CONTROL], axis=1)
    medians = fit_turnbull(*both, group=np.repeat(["6-MP", "control"], 21)).quantile(0.5)
    assert medians["estimate"].tolist() == [23, 8]


def test_product_limit_by_hand_with_a_loss_at_a_tied_time():
    # 1, 2, 2+, 3, 4+: a loss at a tied time comes after the event (Kaplan & Meier 1958,
    # p. 461), so S = 4/5, 4/5 x 3/4, 4/5 x 3/4 x 1/2.
    fit = fit_turnbull([1, 2, 2, 3, 4], [1, 2, INF, 3, INF])
    assert fit.survival([1, 2, 3, 9]) == pytest.approx([0.8, 0.6, 0.3, 0.3], abs=1e-9)
    assert fit.mass["right"].tolist() == [1, 2, 3, INF]


def test_common_readings_are_cumulative_shares():
    left, right = [0, 1, 1, 2, 4], [1, 2, 2, 4, INF]
    fit = fit_turnbull(left, right)
    assert fit.survival([0.5, 1, 2, 3, 4]) == pytest.approx([1, 0.8, 0.4, 0.4, 0.2], abs=1e-12)


def test_weights_are_repeats():
    left, right, weights = [0, 0, 1, 1, 2], [1, 2, 2, 3, INF], [3, 1, 2, 0, 4]
    weighted = fit_turnbull(left, right, weights)
    repeated = fit_turnbull(np.repeat(left, weights), np.repeat(right, weights))
    assert weighted.loglik == pytest.approx(repeated.loglik, abs=1e-9)
    assert weighted.survival([1, 2, 3]) == pytest.approx(repeated.survival([1, 2, 3]), abs=1e-8)


def test_ends_give_each_probability():
    both = np.concatenate([RADIATION, WITH_CHEMOTHERAPY], axis=1)
    fit = fit_turnbull(*both)
    ends = fit.at_ends()
    assert np.log(ends["survival_before"] - ends["survival_after"]).sum() == pytest.approx(
        fit.loglik
    )
    exact = fit_turnbull(*TREATED).at_ends()
    six = exact[(exact["left"] == 6) & (exact["right"] == 6)].iloc[0]
    assert six["survival_before"] == pytest.approx(1)
    assert six["survival_after"] == pytest.approx(6 / 7)
    assert (exact.loc[np.isinf(exact["right"]), "survival_after"] == 0).all()


@pytest.mark.parametrize("seed", range(3))
def test_the_optimum_is_proved(seed):
    # Gentleman & Geyer (1994): no support point may have a score above the total weight.
    rng = np.random.default_rng(seed)
    left = rng.integers(0, 20, 60).astype(float)
    right = np.where(rng.random(60) < 0.2, INF, left + rng.integers(0, 6, 60))
    fit = fit_turnbull(left, right)
    ends = fit.at_ends()
    inverse = 1 / (ends["survival_before"] - ends["survival_after"])
    for point in np.arange(0, 26, 0.5):
        covers = np.where(left == right, left == point, (left < point) & (point <= right))
        assert (inverse * covers).sum() <= 60 * (1 + 1e-6)


def test_a_group_that_never_cleared_is_not_reached():
    fit = fit_turnbull([24, 24, 24, 0], [INF, INF, INF, 1], group=["slow"] * 3 + ["fast"])
    row = fit.quantile(0.5).iloc[0]
    assert (row["estimate"], row["conf_low"], row["conf_high"]) == (INF, 0, INF)
    # 0 of 3 by 24 h: the upper limit solves (1 - p)^3 = 0.025, so 0.708 of batches may
    # have been clear; 90% were not.
    assert fit.quantile(0.9).loc[0, "conf_low"] == 24
    assert fit.probability_by(24).loc[0, "conf_high"] == pytest.approx(1 - 0.025 ** (1 / 3))
    assert not fit.tidy().isna().any(axis=None)
    assert fit.tidy()[["n", "n_event", "n_censored"]].to_numpy().tolist() == [[3, 0, 3], [1, 1, 0]]


def test_limits_count_the_surely_and_the_possibly_clear():
    fit = fit_turnbull([0, 0, 2, 3, 0], [1, 4, 4, INF, INF])
    row = fit.probability_by(2.5).loc[0]
    # (0, inf] tells nothing. By 2.5: one of four surely clear, (0,1]; three possibly.
    assert row["conf_low"] == pytest.approx(1 - 0.975 ** (1 / 4), abs=1e-9)
    assert binom.cdf(3, 4, row["conf_high"]) == pytest.approx(0.025, abs=1e-9)
    assert 1 / 4 <= row["estimate"] <= 3 / 4


def test_median_limits_cover_at_few_vessels():
    # Six vessels read hourly; the exact limits are never anti-conservative. 400 trials:
    # three standard errors of a coverage of 0.95 are 0.033.
    rng = np.random.default_rng(31)
    covered = []
    for times in rng.lognormal(1, 0.5, (400, 6)):
        row = fit_turnbull(np.floor(times), np.ceil(times)).quantile(0.5).loc[0]
        covered.append(row["conf_low"] <= np.exp(1) <= row["conf_high"])
    assert np.mean(covered) >= 0.95


def test_nothing_known_and_all_at_once():
    assert fit_turnbull([0, 0], [INF, INF]).probability_by(5).loc[0, "conf_high"] == 1
    first_look = fit_turnbull([0] * 4, [1] * 4)
    assert first_look.quantile(0.5).loc[0, "estimate"] == 1
    assert first_look.quantile(0.5).loc[0, "conf_low"] == 0
    assert str(first_look) == "all: median 1"


@pytest.mark.parametrize(
    ("left", "right", "match"),
    [
        ([1, 3], [2, 2], "left 3.0, right 2.0 at position 1"),
        ([-1], [2], "left -1.0"),
        ([np.nan], [2], "got left nan"),
        ([1, 2], [3], "same length"),
        ([], [], "same length"),
    ],
)
def test_impossible_intervals_are_refused(left, right, match):
    with pytest.raises(ValueError, match=match):
        fit_turnbull(left, right)


def test_impossible_arguments_are_refused():
    fit = fit_turnbull([0, 1], [1, 2], group=["a", "b"])
    with pytest.raises(ValueError, match="p must lie"):
        fit.quantile(1.0)
    with pytest.raises(ValueError, match="one of"):
        fit.survival([1])
    with pytest.raises(ValueError, match="weights"):
        fit_turnbull([0, 1], [1, 2], [1, -1])
    with pytest.raises(ValueError, match="missing"):
        fit_turnbull([0, 1], [1, 2], group=pd.array(["a", None]))
