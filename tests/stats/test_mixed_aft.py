"""Clustered interval fits, held to mixed models and integrals made by other software."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from scipy import stats
from statsmodels.regression.mixed_linear_model import MixedLM

from trialkit.stats._mixed_fit import loglik_at, search
from trialkit.stats._mixed_layout import lay_out
from trialkit.stats._mixed_quadrature import Spread
from trialkit.stats.mixed_aft import fit_mixed_aft

# Davies & Goldsmith 1972, Statistical Methods in Research and Production, p. 130: yield of dyestuff
# from six batches, five samples each.
DYESTUFF = np.array(
    [
        [1545, 1440, 1440, 1520, 1580],
        [1540, 1555, 1490, 1560, 1495],
        [1595, 1550, 1605, 1510, 1560],
        [1445, 1440, 1595, 1465, 1545],
        [1595, 1630, 1515, 1635, 1625],
        [1520, 1455, 1450, 1480, 1445],
    ]
).ravel()


@pytest.fixture(scope="module")
def invented():
    """63 invented vessels of 3 mixes in 12 trials, as tests/reference/pooling_mixed.R read them."""
    path = Path(__file__).parents[1] / "reference" / "pooling_mixed.csv"
    return pd.read_csv(path)


def coded(frame):
    return frame["group"].to_numpy() - 1, frame["trial"].to_numpy() - 1


def test_dyestuff_restricted_likelihood():
    # Balanced: restricted likelihood is the analysis of variance. Box & Tiao 1973, Bayesian
    # Inference in Statistical Analysis, p. 246: 1764 and 2451. Scaled down to be log times.
    times = np.exp(DYESTUFF / 100)
    fit = fit_mixed_aft(times, times, ["all"] * 30, np.repeat(range(6), 5))
    assert fit.free == (0, 2)
    assert 1e4 * fit.spread.tau**2 == pytest.approx(1764.05, rel=2e-4)
    assert 1e4 * fit.spread.sigma**2 == pytest.approx(2451.25, rel=2e-4)
    # The mean of a balanced one-way layout: standard error sqrt(MSB / 30), 5 degrees of freedom.
    assert 100 * np.sqrt(fit.covariance[0, 0]) == pytest.approx(np.sqrt(11271.5 / 30), rel=2e-4)
    low, high = 100 * np.log(fit.typical_time()[["conf_low", "conf_high"]].to_numpy()[0])
    half = stats.t.ppf(0.975, 5) * np.sqrt(11271.5 / 30)
    assert (low, high) == pytest.approx((1527.5 - half, 1527.5 + half), rel=1e-4)


def test_dyestuff_plain_likelihood():
    times = np.exp(DYESTUFF / 100)
    fit = fit_mixed_aft(times, times, ["all"] * 30, np.repeat(range(6), 5), restricted=False)
    # lme4 1.1-31 with REML = FALSE (tests/reference/pooling_mixed.R).
    assert 1e4 * fit.spread.tau**2 == pytest.approx(1388.3333, rel=2e-4)
    assert 1e4 * fit.spread.sigma**2 == pytest.approx(2451.25, rel=2e-4)


def test_exact_times_agree_with_lme4(invented):
    times = np.exp(invented["y"])
    fit = fit_mixed_aft(times, times, invented["group"], invented["trial"])
    # lme4 1.1-31, restricted: between cells, between trials, within (pooling_mixed.R).
    assert fit.spread.omega**2 == pytest.approx(0.0064588766, abs=2e-5)
    assert fit.spread.tau**2 == pytest.approx(0.1226138840, abs=2e-5)
    assert fit.spread.sigma**2 == pytest.approx(0.0905190969, abs=2e-5)
    assert fit.location == pytest.approx([0.21516664, 0.68595131, 1.34280039], abs=1e-4)
    assert np.sqrt(np.diag(fit.covariance)) == pytest.approx([0.1242418] * 3, abs=1e-4)


def test_exact_times_agree_with_statsmodels():
    rng = np.random.default_rng(11)
    trial = np.repeat(range(15), 4)
    y = 1 + 0.4 * rng.normal(size=15)[trial] + 0.3 * rng.normal(size=60)
    theirs = MixedLM(y, np.ones((60, 1)), trial).fit(reml=True)
    fit = fit_mixed_aft(np.exp(y), np.exp(y), ["one"] * 60, trial)
    assert fit.location[0] == pytest.approx(theirs.fe_params[0], abs=1e-6)
    assert fit.spread.sigma**2 == pytest.approx(theirs.scale, rel=1e-3)
    assert fit.spread.tau**2 == pytest.approx(float(theirs.cov_re[0, 0]), rel=1e-3)


def test_censored_times_agree_with_adaptive_integrals(invented):
    layout = lay_out(invented["left"].to_numpy(), invented["right"].to_numpy(), *coded(invented))
    found, theta = search(layout, 3, (0, 2), restricted=False)
    # R's integrate() and nlminb (pooling_mixed.R, part 3).
    assert found.loglik(theta)[0] == pytest.approx(-87.5468273, abs=1e-5)
    assert theta[:3] == pytest.approx([0.223884, 0.648785, 1.355549], abs=1e-3)
    spread = found.spread(theta)
    assert (spread.sigma, spread.tau) == pytest.approx((0.303723, 0.362024), abs=1e-3)


def test_nested_integral_agrees_with_adaptive_integrals(invented):
    layout = lay_out(invented["left"].to_numpy(), invented["right"].to_numpy(), *coded(invented))
    location = np.array([0.1, 0.6, 1.2])
    value = loglik_at(layout, location, Spread(0.28, 0.22, 0.33), (9, 7))
    assert value == pytest.approx(-89.39596233, abs=1e-5)
    assert loglik_at(layout, location, Spread(0.28, 0.22, 0.33), (25, 25)) == pytest.approx(
        -89.39596233, abs=1e-7
    )


def test_without_clusters_it_is_the_usual_interval_regression(invented):
    fit = fit_mixed_aft(
        invented["left"], invented["right"], invented["group"], range(63), restricted=False
    )
    # survival 3.5-3, survreg with interval-censored log-normal times (pooling_mixed.R, part 4).
    assert fit.free == (0,)
    assert fit.location == pytest.approx([0.23366792, 0.65953763, 1.36837546], abs=1e-4)
    assert fit.spread.sigma == pytest.approx(0.50135281, abs=1e-4)


def test_one_vessel_a_trial_gives_the_prediction_interval_of_a_sample():
    # Ten points, one a trial: the limits for an eleventh are mean +- t(9) s sqrt(1 + 1/10), and the
    # 90% / 95% tolerance factor at n = 10 is 2.3546 (ISO 16269-6:2014, Table C.2, by memory; equal
    # to the noncentral t).
    y = np.array([0.1, 0.4, 0.35, 0.8, 0.55, 0.2, 0.9, 0.65, 0.3, 0.75])
    fit = fit_mixed_aft(np.exp(y), np.exp(y), ["one"] * 10, range(10))
    s = y.std(ddof=1)
    half = stats.t.ppf(0.975, 9) * s * np.sqrt(1.1)
    limits = np.log(fit.new_batch()[["conf_low", "conf_high"]].to_numpy()[0])
    assert limits == pytest.approx([y.mean() - half, y.mean() + half], abs=1e-4)
    bound = np.log(fit.upper_bound(0.9)["conf_high"][0])
    assert bound == pytest.approx(y.mean() + 2.3546 * s, abs=1e-3)


def test_each_cluster_with_both_groups_tells_as_much_of_their_ratio():
    # Exact times of one batch a cell: the shift of a cluster cancels in the difference, whose
    # variance is 2 sigma^2 / 12, so that each of 12 clusters brings 1 / (2 sigma^2).
    rng = np.random.default_rng(8)
    cluster, group = np.repeat(range(12), 2), np.tile(["a", "b"], 12)
    time = np.exp(0.4 * rng.normal(size=12)[cluster] + 0.3 * rng.normal(size=24))
    fit = fit_mixed_aft(time, time, group, cluster)
    row = fit.contrasts().iloc[0]
    assert row["gain"] == pytest.approx(1 / (2 * fit.spread.sigma**2), rel=1e-6)
    assert row["std_error"] ** -2 == pytest.approx(12 * row["gain"], rel=1e-6)


def test_order_of_intervals_changes_no_bit(invented):
    columns = ["left", "right", "group", "trial"]
    turned = invented.sample(frac=1, random_state=5)
    first = fit_mixed_aft(*(invented[c] for c in columns))
    second = fit_mixed_aft(*(turned[c] for c in columns))
    pd.testing.assert_frame_equal(first.tidy(), second.tidy(), check_exact=True)
    pd.testing.assert_frame_equal(first.contrasts(), second.contrasts(), check_exact=True)


def never_clear(invented):
    own = invented[["left", "right", "group", "trial"]]
    extra = pd.DataFrame({"left": 8.0, "right": np.inf, "group": 9, "trial": [1, 2, 3, 4]})
    return pd.concat([own, extra])


def test_a_group_that_never_cleared_keeps_its_lower_limit(invented):
    frame = never_clear(invented)
    fit = fit_mixed_aft(*(frame[c] for c in ["left", "right", "group", "trial"]))
    typical, batch = fit.typical_time().loc[3], fit.new_batch().loc[3]
    assert typical["estimate"] == batch["estimate"] == np.inf
    assert typical["conf_high"] == batch["conf_high"] == np.inf
    assert 0 < batch["conf_low"] < typical["conf_low"]
    assert fit.upper_bound()["conf_high"][3] == np.inf
    # It adds nothing to what is known of the others.
    alone = fit_mixed_aft(*(invented[c] for c in ["left", "right", "group", "trial"]))
    assert fit.location[:3] == pytest.approx(alone.location, abs=1e-12)


def test_the_lower_limit_solves_the_binomial_equation(invented):
    own = invented[["left", "right", "group", "trial"]]
    extra = pd.DataFrame({"left": 8.0, "right": np.inf, "group": 9, "trial": [91, 92, 93, 94]})
    fit = fit_mixed_aft(*(pd.concat([own, extra])[c] for c in own))
    # Alone in its trials: four independent batches not clear at 8 h have the probability
    # share^4; share^4 = 0.025 gives share = 0.3976 (Clopper & Pearson 1934), the share of batches
    # above 8 h when the median is at its lower limit.
    low = fit.typical_time()["conf_low"].iloc[-1]
    share = stats.norm.cdf((np.log(low) - np.log(8)) / np.sqrt(fit.total_variance))
    assert share == pytest.approx(0.3976, abs=2e-3)


def test_contrast_with_a_group_that_never_cleared(invented):
    frame = never_clear(invented)
    pairs = fit_mixed_aft(*(frame[c] for c in ["left", "right", "group", "trial"])).contrasts()
    row = pairs[(pairs["group_a"] == 1) & (pairs["group_b"] == 9)].iloc[0]
    assert row["estimate"] == 0
    assert row["conf_low"] == 0
    assert row["conf_high"] < 1
    assert row["p_value"] < 0.05


def test_clear_at_the_first_look_is_an_upper_limit(invented):
    own = invented[["left", "right", "group", "trial"]]
    extra = pd.DataFrame({"left": 0.0, "right": 0.25, "group": 0, "trial": [1, 2, 3, 4]})
    frame = pd.concat([own, extra])
    fit = fit_mixed_aft(*(frame[c] for c in ["left", "right", "group", "trial"]))
    typical = fit.typical_time().loc[0]
    assert (typical["estimate"], typical["conf_low"]) == (0, 0)
    assert 0.25 < typical["conf_high"] < 1
    assert np.isfinite(fit.upper_bound()["conf_high"][0])


def test_spreads_finer_than_the_readings_are_said_so():
    left = np.array([1.0, 1, 2, 2, 1, 1, 2, 2])
    fit = fit_mixed_aft(left, 2 * left, ["a"] * 8, [1, 1, 2, 2, 3, 3, 4, 4])
    assert "finer than the readings" in fit.note


@pytest.mark.parametrize(
    ("left", "right", "group", "cluster", "words"),
    [
        ([1, 2], [2, 3], ["a", "a"], [1, 1], "two clusters"),
        ([1, 2], [2, 3], ["a", "b"], [1, 2], "two clusters"),
        ([1, 2], [np.inf, np.inf], ["a", "a"], [1, 2], "came clear"),
        ([0, 0], [np.inf, np.inf], ["a", "a"], [1, 2], "says anything"),
        ([3, 2], [2, 3], ["a", "a"], [1, 2], "left <= right"),
    ],
)
def test_what_cannot_be_pooled_is_refused(left, right, group, cluster, words):
    with pytest.raises(ValueError, match=words):
        fit_mixed_aft(left, right, group, cluster)


def test_arguments_are_checked(invented):
    fit = fit_mixed_aft(*(invented[c] for c in ["left", "right", "group", "trial"]))
    with pytest.raises(ValueError, match="share"):
        fit.upper_bound(0.2)
    with pytest.raises(ValueError, match="conf_level"):
        fit.new_batch(95)


HOURS = np.array([0, 0.25, 0.5, 1, 1.5, 2, 3, 4, 6, 8, 10, 12, 16, 20, 24, np.inf])


def simulated_coverage(trials, vessels, replicates):
    """Mean probability of a new batch between its limits; two mixes, nominal 0.95."""
    rng = np.random.default_rng(29)
    sigma, omega, tau = 0.3, 0.15, 0.3
    total, location = np.sqrt(sigma**2 + omega**2 + tau**2), np.log([1.2, 3.0])
    covered = []
    for _ in range(replicates):
        trial = np.repeat(range(trials), 2 * vessels)
        group = np.concatenate([np.repeat([0, 1], n) for n in vessels])
        shift = tau * rng.normal(size=trials)[trial]
        shift = shift + omega * rng.normal(size=(trials, 2))[trial, group]
        time = np.exp(location[group] + shift + sigma * rng.normal(size=len(trial)))
        at = np.searchsorted(HOURS, time)
        batch = fit_mixed_aft(HOURS[at - 1], HOURS[at], group, trial).new_batch()
        z = (np.log(batch[["conf_low", "conf_high"]].to_numpy()) - location[:, None]) / total
        covered.append(np.diff(stats.norm.cdf(z)).mean())
    return np.mean(covered)


# The full table, more replicates and harder cases: tests/reference/pooling_coverage.txt.
@pytest.mark.parametrize(
    ("trials", "vessels", "replicates"),
    [(5, [2] * 5, 40), (5, [1, 1, 1, 1, 3], 40), (10, [1] * 8 + [3] * 2, 25), (30, [1] * 30, 15)],
)
def test_a_new_batch_lies_between_its_limits_as_often_as_said(trials, vessels, replicates):
    assert 0.93 <= simulated_coverage(trials, np.array(vessels), replicates) <= 0.97
