"""Ordered scores against a published fit, two categories, and another library."""

import numpy as np
import pandas as pd
import pytest
from statsmodels.miscmodels.ordinal_model import OrderedModel

from trialkit.stats.logistic import fit_logistic
from trialkit.stats.ordinal import fit_ordinal

# Copenhagen housing, 1,681 tenants: satisfaction (low, medium, high) by influence (3), type of
# dwelling (4) and contact (2) (Madsen 1976; Venables & Ripley 2002, Modern Applied Statistics
# with S, 4th ed., p. 200; counts from memory, confirmed by the printed deviance).
COUNTS = [
    21, 21, 28, 34, 22, 36, 10, 11, 36, 61, 23, 17, 43, 35, 40, 26, 18, 54,
    13, 9, 10, 8, 8, 12, 6, 7, 9, 18, 6, 7, 15, 13, 13, 7, 5, 11,
    14, 19, 37, 17, 23, 40, 3, 5, 23, 78, 46, 43, 48, 45, 86, 15, 25, 62,
    20, 23, 20, 10, 22, 24, 7, 10, 21, 57, 23, 13, 31, 21, 13, 5, 6, 13,
]  # fmt: skip
HOUSING_TERMS = ["medium", "high", "apartment", "atrium", "terrace", "contact"]


def housing():
    contact, dwelling, influence, satisfied = np.indices((2, 4, 3, 3)).reshape(4, -1)
    columns = [influence == 1, influence == 2, *(dwelling == i for i in (1, 2, 3)), contact == 1]
    rows = np.repeat(np.column_stack(columns).astype(float), COUNTS, axis=0)
    return rows, np.repeat(satisfied, COUNTS)


def test_housing_satisfaction():
    # Venables & Ripley 2002, p. 203-205 (polr).
    fit = fit_ordinal(*housing(), terms=HOUSING_TERMS)
    expected = [0.5664, 1.2888, -0.5724, -0.3662, -1.0910, 0.3603]
    assert fit.coefficients == pytest.approx(expected, abs=1e-4)
    assert fit.cuts == pytest.approx([-0.4961, 0.6907], abs=1e-4)
    assert -2 * fit.loglik == pytest.approx(3479.149, abs=1e-3)


def test_housing_profile_limits():
    # Venables & Ripley 2002, p. 205: confint of the same fit, contact 0.1733 to 0.5477
    # (from memory, not verified beyond two digits).
    fit = fit_ordinal(*housing(), terms=HOUSING_TERMS)
    row = fit.tidy().iloc[-1]
    assert (row.conf_low, row.conf_high) == pytest.approx((0.173, 0.548), abs=2e-3)


def scores(seed=2, n=24):
    rng = np.random.default_rng(seed)
    design = np.column_stack([rng.integers(0, 2, n), rng.normal(size=n)])
    latent = design @ [1.0, 0.5] + rng.logistic(size=n)
    return design, np.digitize(latent, [-0.5, 0.5, 1.5])


def test_agrees_with_the_library():
    design, score = scores()
    theirs = OrderedModel(score, design, distr="logit").fit(method="bfgs", disp=0, gtol=1e-8)
    ours = fit_ordinal(design, score)
    assert ours.coefficients == pytest.approx(theirs.params[:2], abs=1e-4)
    assert ours.loglik == pytest.approx(theirs.llf, abs=1e-8)


def test_two_categories_are_a_logistic_model():
    design, score = scores()
    clear = (score > 1).astype(float)
    ordinal = fit_ordinal(design, clear).tidy()
    logistic = fit_logistic(np.column_stack([np.ones(len(clear)), design]), clear).tidy()
    for column in ("estimate", "conf_low", "conf_high", "p_value"):
        assert ordinal[column].to_list() == pytest.approx(logistic[column].to_list()[1:], abs=1e-4)


def test_separated_scores_have_an_infinite_estimate_and_a_finite_bound():
    fit = fit_ordinal([[0]] * 3 + [[1]] * 3, [1, 1, 2, 4, 4, 3], terms=["mix B"])
    row = fit.tidy().iloc[0]
    assert fit.separation.infinite["mix B"] == "+inf"
    assert row.estimate == np.inf
    assert row.conf_high == np.inf
    assert 0 < row.conf_low < 5


def test_no_overlap_bound_by_hand():
    # n low scores in A, n high scores in B, held at odds ratio e^b: by symmetry the cut lies at
    # b/2 and the likelihood is expit(b/2)^(2n); the deviance -4n log expit(b/2) is 3.8415 there.
    n = 4
    row = fit_ordinal([[0]] * n + [[1]] * n, [1] * n + [2] * n).tidy().iloc[0]
    share = np.exp(-3.841459 / (4 * n))
    assert row.conf_low == pytest.approx(2 * np.log(share / (1 - share)), abs=1e-4)


def test_scores_of_a_vessel_repeated_tenfold_narrow_nothing():
    design, score = scores(n=30)
    vessel = np.repeat(np.arange(10), 3)
    again = np.r_[np.arange(30), np.tile(np.flatnonzero(vessel == 4), 9)]
    once = fit_ordinal(design, score, cluster=vessel).tidy()
    tenfold = fit_ordinal(design[again], score[again], cluster=vessel[again]).tidy()
    assert (once.method == "cluster-robust").all()
    pd.testing.assert_frame_equal(
        once[["conf_low", "conf_high"]], tenfold[["conf_low", "conf_high"]], rtol=1e-4
    )


@pytest.mark.parametrize(
    ("design", "score", "message"),
    [([[1], [2]], [3, 3], "every score is the same"), ([[1], [2]], [1, np.nan], "everywhere")],
)
def test_scores_without_contrast_or_with_gaps_are_refused(design, score, message):
    with pytest.raises(ValueError, match=message):
        fit_ordinal(design, score)
