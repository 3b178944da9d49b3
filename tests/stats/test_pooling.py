"""Random-effects pooling, held to the BCG vaccine trials and to balanced algebra."""

import math

import numpy as np
import pytest
from statsmodels.stats.meta_analysis import combine_effects
from statsmodels.tools.sm_exceptions import InvalidTestWarning

from trialkit.stats.pooling import pool_estimates

# Colditz et al. 1994, JAMA 271, 698-702, Table 1: vaccinated with and without tuberculosis,
# controls with and without, in 13 trials of BCG vaccine.
BCG = np.array(
    """4 119 11 128; 6 300 29 274; 3 228 11 209; 62 13536 248 12619; 33 5036 47 5761;
    180 1361 372 1079; 8 2537 10 619; 505 87886 499 87892; 29 7470 45 7232; 17 1699 65 1600;
    186 50448 141 27197; 5 2493 3 2338; 27 16886 29 17825""".replace(";", " ").split(),
    dtype=float,
).reshape(13, 4)


@pytest.fixture(scope="module")
def bcg():
    """Log relative risks with their variances."""
    tpos, tneg, cpos, cneg = BCG.T
    estimate = np.log(tpos / (tpos + tneg)) - np.log(cpos / (cpos + cneg))
    return estimate, 1 / tpos - 1 / (tpos + tneg) + 1 / cpos - 1 / (cpos + cneg)


# The published figures of these data: Viechtbauer 2010, Journal of Statistical Software 36(3),
# section 3, whose package metafor 3.8-1 printed the digits below.
@pytest.mark.parametrize(
    ("between", "mean", "tau2"),
    [
        ("dersimonian-laird", -0.71412, 0.30876),
        ("reml", -0.71453, 0.31324),
        ("paule-mandel", -0.71497, 0.3181),
        ("none", -0.43029, 0.0),
    ],
)
def test_bcg_means_by_each_estimator(bcg, between, mean, tau2):
    fit = pool_estimates(*bcg, between=between)
    assert fit.mean == pytest.approx(mean, abs=1e-4)
    assert fit.between_variance == pytest.approx(tau2, abs=1e-4)


def test_bcg_standard_errors_and_heterogeneity(bcg):
    fit = pool_estimates(*bcg, between="dersimonian-laird")
    assert fit.std_error == pytest.approx(0.17874, abs=1e-4)
    assert fit.q == pytest.approx(152.233, abs=1e-3)
    assert 100 * fit.i_squared == pytest.approx(92.12, abs=1e-2)
    assert pool_estimates(*bcg, between="none").std_error == pytest.approx(0.04050, abs=1e-4)


@pytest.mark.parametrize(
    ("between", "low", "high"),
    [("dersimonian-laird", -1.10782, -0.32041), ("reml", -1.10844, -0.32062)],
)
def test_bcg_hartung_knapp_limits(bcg, between, low, high):
    limits = pool_estimates(*bcg, between=between).interval()
    assert limits == pytest.approx((low, high), abs=1e-4)


def test_bcg_prediction_and_between_limits(bcg):
    fit = pool_estimates(*bcg)
    predicted = np.exp(fit.prediction(reference="normal"))
    assert predicted == pytest.approx([0.1546, 1.5490], abs=1e-3)
    # Student's t with Hartung-Knapp, by metafor (tests/reference/pooling_bcg.R).
    assert fit.prediction() == pytest.approx((-1.996017, 0.5669523), abs=1e-4)
    assert fit.between_interval() == pytest.approx((0.1197, 1.1115), abs=1e-3)


def test_hartung_knapp_agrees_with_statsmodels(bcg):
    with pytest.warns(InvalidTestWarning):  # about limits of single studies, which aren't used
        theirs = combine_effects(*bcg, method_re="chi2", use_t=True).summary_frame()
    ours = pool_estimates(*bcg, between="dersimonian-laird").interval()
    row = theirs.loc["random effect wls"]
    assert ours == pytest.approx((row["ci_low"], row["ci_upp"]), abs=1e-10)


def test_equal_variances_give_the_one_sample_t_interval():
    # With equal variances v all weights are equal, REML gives tau2 = s2 - v, and Hartung-Knapp is
    # mean +- t(k - 1) s / sqrt(k).
    y = np.array([0.2, 0.9, 1.4, 2.3])
    fit = pool_estimates(y, np.full(4, 0.05))
    assert fit.between_variance == pytest.approx(y.var(ddof=1) - 0.05, rel=1e-9)
    half = 3.182446 * y.std(ddof=1) / 2  # Student's t, 3 degrees of freedom, 0.975
    assert fit.interval() == pytest.approx((y.mean() - half, y.mean() + half), abs=1e-6)


def test_studies_that_agree_do_not_get_a_hair_thin_interval():
    y, v = [1.0, 1.0], [0.04, 0.04]
    assert pool_estimates(y, v, guard=False).std_error_hk == 0
    assert pool_estimates(y, v).std_error_hk == pytest.approx(math.sqrt(0.02))


def test_one_study_says_nothing_about_others():
    fit = pool_estimates([1.0], [0.1])
    assert fit.interval() == fit.prediction() == (-math.inf, math.inf)
    assert fit.between_interval() == (0.0, math.inf)


def test_the_order_of_studies_does_not_matter(bcg):
    y, v = bcg
    turned = pool_estimates(y[::-1], v[::-1])
    assert turned.between_variance == pytest.approx(pool_estimates(y, v).between_variance, 1e-10)


@pytest.mark.parametrize(
    ("y", "v", "words"),
    [([1, 2], [0.1], "one variance"), ([1, 2], [0.1, 0], "above 0"), ([], [], "one variance")],
)
def test_impossible_input_is_refused(y, v, words):
    with pytest.raises(ValueError, match=words):
        pool_estimates(y, v)
    with pytest.raises(ValueError, match="between must be"):
        pool_estimates([1, 2], [1, 1], between="guess")
