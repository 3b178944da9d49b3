"""Amounts below detection limits against published summaries."""

import numpy as np
import pytest

from trialkit.stats.aft import fit_aft
from trialkit.stats.nondetect import fit_nondetects, half_limit_mean, ros_summary

# Arsenic in streams of Oahu, ug/L; "<" is below the limit (Tomlinson 2003; Helsel 2012,
# Statistics for Censored Environmental Data, 2nd ed., ch. 6).
ARSENIC = [
    "<1", "<1", "1.7", "<1", "<1", "<2", "3.2", "<2", "<2", "2.8", "<2", "<2", "<2", "<2", "<2",
    "0.7", "0.9", "0.5", "0.5", "<0.9", "0.5", "0.7", "0.6", "1.5",
]  # fmt: skip
VALUES = np.array([float(text.lstrip("<")) for text in ARSENIC])
BELOW = np.array([text.startswith("<") for text in ARSENIC])

# Durable goods purchases, age, liquidity ratio of 20 households (Tobin 1958, Econometrica 26,
# 24-36; as distributed with the R package survival).
DURABLE = np.array([
    0, 0.7, 0, 0, 0, 0, 0, 3.7, 0, 3, 10.4, 0, 0, 0, 1.5, 0, 0, 3.5, 6.1, 0,
])  # fmt: skip
AGE = [
    57.7, 50.9, 48.5, 41.7, 47.7, 59.8, 44.3, 45.1, 51.7, 50, 46.8, 58, 58.9, 40, 34.1, 39.9,
    33.4, 48.1, 46.6, 53.1,
]  # fmt: skip
LIQUIDITY = [
    236, 283, 207, 220, 238, 216, 284, 221, 275, 269, 207, 249, 246, 277, 231, 219, 240, 266,
    214, 251,
]  # fmt: skip


def test_likelihood_of_arsenic():
    # Recomputed with NADA (cenmle) in R 4.2.2: mu, sigma, median, log-likelihood.
    fit = fit_nondetects(VALUES, BELOW)
    assert fit.location["all"] == pytest.approx(-0.25283, abs=1e-5)
    assert fit.scale == pytest.approx(0.62695, abs=1e-5)
    assert fit.loglik == pytest.approx(-14.29524, abs=1e-5)
    row = fit.medians().iloc[0]
    assert row.estimate == pytest.approx(0.77660, abs=1e-5)
    assert (row.n, row.n_event, row.n_censored) == (24, 11, 13)


def test_regression_on_order_statistics_of_arsenic():
    # Helsel 2012, ch. 6 (NADA cenros): mean 0.9725, SD 0.718, median 0.70.
    found = ros_summary(VALUES, BELOW)
    assert found.mean == pytest.approx(0.97246, abs=1e-5)
    assert found.sd == pytest.approx(0.7180, abs=1e-4)
    assert found.median == pytest.approx(0.70, abs=1e-6)


def test_half_the_limit_is_another_mean():
    # Arithmetic on the same data.
    assert half_limit_mean(VALUES, BELOW) == pytest.approx(1.0021, abs=1e-4)


def test_tobit_table_by_the_same_engine():
    # Tobin 1958; R ?tobin, survreg: a normal left-censored at 0 is a lognormal of exp(y)
    # left-censored at 1.
    left = np.where(DURABLE > 0, np.exp(DURABLE), 0)
    fit = fit_aft(left, np.exp(DURABLE), design=np.column_stack([AGE, LIQUIDITY]))
    expected = [15.14487, -0.12906, -0.04554]
    assert fit.coefficients.to_list() == pytest.approx(expected, abs=1e-4)
    assert fit.scale == pytest.approx(5.57254, abs=1e-4)
    assert fit.loglik + DURABLE.sum() == pytest.approx(-28.9401, abs=1e-4)


def test_inverse_amounts_are_the_left_censored_likelihood():
    # Second road: the same amounts as (0, limit] and exact times.
    direct = fit_aft(np.where(BELOW, 0, VALUES), VALUES)
    turned = fit_nondetects(VALUES, BELOW)
    assert turned.location["all"] == pytest.approx(direct.coefficients["all"], abs=1e-8)
    assert turned.loglik == pytest.approx(direct.loglik, abs=1e-8)


def test_all_below_has_an_upper_bound_and_no_estimate_above_zero():
    amounts, below = [10, 10, 10, 30, 45, 25], [True] * 3 + [False] * 3
    fit = fit_nondetects(amounts, below, list("aaabbb"))
    row = fit.medians().set_index("group").loc["a"]
    assert (row.estimate, row.conf_low) == (0, 0)
    assert 10 < row.conf_high < 30
    ratio = fit.ratio("a", "b").iloc[0]
    assert (ratio.estimate, ratio.conf_low) == (0, 0)
    assert ratio.conf_high < 1


def test_all_detected_is_the_normal_theory_of_logs():
    # Two groups, no limit: the pooled ratio is the ratio of geometric means.
    rng = np.random.default_rng(4)
    amounts = np.exp(rng.normal(size=8))
    groups = np.repeat(["a", "b"], 4)
    fit = fit_nondetects(amounts, np.zeros(8, bool), groups)
    logs = np.log(amounts).reshape(2, 4).mean(axis=1)
    assert fit.ratio("a", "b").estimate[0] == pytest.approx(np.exp(logs[0] - logs[1]))
    assert fit.medians().estimate.to_list() == pytest.approx(np.exp(logs))


def test_everything_below_says_so():
    fit = fit_nondetects([10, 10], [True, True])
    row = fit.medians().iloc[0]
    assert (row.estimate, row.conf_low, row.conf_high) == (0, 0, np.inf)
    assert fit.note


@pytest.mark.parametrize("values", [[0.0, 3.0], [-1.0, 3.0], [np.nan, 3.0]])
def test_amounts_without_a_logarithm_are_refused(values):
    with pytest.raises(ValueError, match="above 0"):
        fit_nondetects(values, [False, False])


@pytest.mark.parametrize(
    "below", [[False, False, True, True], [True] * 5 + [False], [False, True, True, True]]
)
def test_too_few_detected_amounts_for_a_line_are_refused(below):
    with pytest.raises(ValueError, match="too few"):
        ros_summary(np.arange(1.0, len(below) + 1), below)
