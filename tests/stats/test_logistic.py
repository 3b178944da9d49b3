"""Logistic models against published fits and closed forms."""

import numpy as np
import pytest
from firthmodels import FirthLogisticRegression, detect_separation
from scipy.special import expit
from scipy.stats import t
from statsmodels.genmod.cov_struct import Independence
from statsmodels.genmod.families import Binomial
from statsmodels.genmod.generalized_estimating_equations import GEE

from trialkit.stats.inverse_prediction import fieller_interval, inverse_prediction
from trialkit.stats.logistic import fit_logistic
from trialkit.stats.separation import find_separation

# Tobacco budworm: dead of 20 at log2 doses 0..5, males then females (Collett 1991, Modelling
# Binary Data, p. 75; Venables & Ripley 2002, Modern Applied Statistics with S, 4th ed., sec. 7.2).
DEAD = [1, 4, 9, 13, 18, 20, 0, 2, 6, 10, 12, 16]
MALE = np.repeat([1.0, 0.0], 6)
LOG_DOSE = np.tile(np.arange(6.0), 2)
BUDWORM = np.column_stack([1 - MALE, MALE, LOG_DOSE])

# Endometrial cancer grade of 79 women (Heinze & Schemper 2002, Statistics in Medicine 21,
# 2409-2419): neovasculation, pulsatility index, endometrium height, high grade.
# fmt: off
NV = [
    0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 1, 1, 1, 1, 1, 0, 0, 0, 0,
    0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 1, 1, 1, 1, 0, 0, 0, 0, 0, 0, 0, 0, 0,
    0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 1, 0, 0, 0, 1, 1, 0, 1, 0,
]
PI = [
    13, 16, 8, 34, 20, 5, 17, 10, 26, 17, 8, 7, 20, 10, 18, 16, 18, 8, 29, 12, 20, 38, 22, 7,
    25, 15, 7, 28, 11, 19, 10, 10, 18, 14, 21, 11, 17, 25, 16, 19, 15, 33, 24, 48, 12, 19, 2,
    22, 40, 5, 0, 21, 15, 29, 15, 12, 3, 20, 23, 12, 22, 42, 15, 13, 14, 19, 12, 13, 10, 12,
    49, 6, 5, 17, 11, 21, 5, 19, 33,
]
EH = [
    1.64, 2.26, 3.14, 2.68, 1.28, 2.31, 1.8, 1.68, 1.56, 2.31, 2.01, 1.89, 3.15, 1.23, 1.27,
    1.76, 2, 2.64, 0.88, 1.27, 1.37, 0.97, 1.14, 0.88, 0.91, 0.58, 0.97, 1.5, 1.33, 2.37, 1.82,
    3.13, 1.31, 1.92, 1.64, 2.01, 1.88, 1.93, 2.11, 1.29, 1.72, 0.75, 1.92, 1.84, 1.11, 1.61,
    1.18, 1.44, 1.18, 0.93, 1.17, 1.19, 1.06, 2.02, 2.29, 2.33, 2.9, 1.7, 1.41, 2.25, 1.54,
    1.97, 1.75, 2.16, 2.57, 1.37, 3.61, 2.04, 2.17, 1.69, 0.27, 1.84, 1.3, 0.96, 1.01, 0.98,
    0.35, 1.02, 0.85,
]
HG = [
    0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 0, 0, 0,
    0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 0, 0, 0, 0, 0, 0, 0,
    0, 0, 0, 0, 0, 0, 0, 0, 0, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1,
]
# fmt: on
ENDOMETRIAL = np.column_stack([np.ones(79), NV, PI, EH])
ENDOMETRIAL_TERMS = ["const", "NV", "PI", "EH"]


def budworm():
    return fit_logistic(BUDWORM, DEAD, np.full(12, 20), terms=["F", "M", "ldose"])


def endometrial():
    return fit_logistic(ENDOMETRIAL, HG, terms=ENDOMETRIAL_TERMS)


def test_budworm_coefficients():
    # Venables & Ripley 2002, sec. 7.2.
    fit = budworm()
    assert fit.method == "maximum likelihood"
    assert not fit.separation.separated
    assert fit.coefficients == pytest.approx([-3.47316, -2.37241, 1.06421], abs=1e-5)
    errors = np.sqrt(np.diag(fit.covariance))
    assert errors == pytest.approx([0.46852, 0.38551, 0.13108], abs=1e-5)


def test_budworm_residual_deviance():
    # Venables & Ripley 2002, sec. 7.2: 6.7571 on 9, with interaction 4.9937 on 8.
    assert budworm().deviance == pytest.approx(6.7571, abs=1e-4)
    crossed = np.column_stack([BUDWORM, MALE * LOG_DOSE])
    assert fit_logistic(crossed, DEAD, np.full(12, 20)).deviance == pytest.approx(4.9937, abs=1e-4)


def test_budworm_doses_that_kill_a_quarter_half_and_three_quarters():
    # Venables & Ripley 2002, sec. 7.2 (dose.p): females, log2 scale.
    found = inverse_prediction(budworm(), [0.25, 0.5, 0.75], slope="ldose", at={"F": 1})
    assert found.estimate.to_list() == pytest.approx([2.231265, 3.263587, 4.295910], abs=1e-5)


def test_fieller_interval_of_the_median_dose():
    # Recomputed in R 4.2.2 from the covariance of the same fit, after Finney 1971, ch. 4.
    fit = budworm()
    found = inverse_prediction(fit, 0.5, slope="ldose", at={"F": 1}, interval="fieller").iloc[0]
    assert (found.conf_low, found.conf_high) == pytest.approx((2.81222, 3.74064), abs=1e-5)
    pair = np.ix_([0, 2], [0, 2])
    flip = np.diag([-1, 1])
    covariance = flip @ fit.covariance[pair] @ flip
    interval = fieller_interval(3.47316, 1.06421, covariance, 1.959964)
    assert interval.g == pytest.approx(0.05828, abs=1e-5)


def test_profile_limits_of_the_median_dose_cost_the_chi_square_quantile():
    # By definition: holding P(limit) = 0.5 costs 3.8415 of deviance; GLM with an offset says so.
    fit = budworm()
    found = inverse_prediction(fit, 0.5, slope="ldose", at={"F": 1}).iloc[0]
    for limit in (found.conf_low, found.conf_high):
        # logit = slope * (ldose - limit) for females, with a free level for males.
        held = np.column_stack([MALE, LOG_DOSE - limit * (1 - MALE)])
        drop = fit_logistic(held, DEAD, np.full(12, 20)).deviance - fit.deviance
        assert drop == pytest.approx(3.841459, abs=1e-4)


def test_profile_and_fieller_agree_with_many_animals():
    # Both are first-order exact: with 100 times the animals they meet.
    fit = fit_logistic(BUDWORM, np.multiply(DEAD, 100), np.full(12, 2000), terms=["F", "M", "x"])
    limits = [
        inverse_prediction(fit, 0.5, slope="x", at={"F": 1}, interval=name).iloc[0, 3:5].tolist()
        for name in ("profile", "fieller")
    ]
    assert limits[0] == pytest.approx(limits[1], abs=2e-4)


def test_endometrial_separation_is_found_and_named():
    # Heinze & Schemper 2002: neovasculation separates quasi-completely.
    fit = endometrial()
    assert fit.separation.infinite == {"NV": "+inf"}
    assert "NV (+inf)" in str(fit)
    assert fit.method == "Firth"


def test_endometrial_firth_estimates():
    # Heinze & Schemper 2002, table II; last digits from brglm2 0.9 in R 4.2.2.
    expected = [3.77456, 2.92927, -0.03475, -2.60416]
    assert endometrial().coefficients == pytest.approx(expected, abs=2e-5)


def test_endometrial_profile_limits_and_p_values():
    # Heinze & Schemper 2002, table II (0.61, 7.85 for NV).
    table = endometrial().tidy().set_index("term")
    assert table.loc["NV", ["conf_low", "conf_high"]].to_list() == pytest.approx(
        [0.6097, 7.8546], abs=2e-4
    )
    assert table.loc["PI", ["conf_low", "conf_high"]].to_list() == pytest.approx(
        [-0.1245, 0.0404], abs=1e-4
    )
    assert table.loc["EH", ["conf_low", "conf_high"]].to_list() == pytest.approx(
        [-4.3652, -1.2327], abs=2e-4
    )
    assert table.p_value["NV"] == pytest.approx(0.00912, rel=2e-3)
    assert table.p_value["EH"] == pytest.approx(2.5e-5, rel=2e-2)


def test_profile_limits_agree_with_the_library():
    # Second road: firthmodels' own Venzon-Moolgavkar search.
    library = FirthLogisticRegression().fit(ENDOMETRIAL[:, 1:], HG)
    limits = library.conf_int(method="pl", features=[0, 1, 2])[:3]
    ours = endometrial().tidy().loc[1:, ["conf_low", "conf_high"]].to_numpy()
    assert ours == pytest.approx(limits, abs=1e-3)


@pytest.mark.parametrize(("events", "trials"), [(0, 4), (1, 4), (4, 4), (3, 7)])
def test_firth_of_a_share_adds_half_an_event(events, trials):
    # Firth 1993, Biometrika 80, p. 30: log((k + 1/2) / (n - k + 1/2)).
    fit = fit_logistic([[1.0]], [events], [trials], firth=True)
    expected = np.log((events + 0.5) / (trials - events + 0.5))
    assert fit.coefficients[0] == pytest.approx(expected, abs=1e-5)


def test_firth_of_two_opposite_groups():
    # 4 of 4 against 0 of 4: the difference of two halved logits is 2 log 9.
    fit = fit_logistic([[1, 0], [1, 1]], [0, 4], [4, 4])
    assert fit.coefficients[1] == pytest.approx(2 * np.log(9), abs=1e-5)
    assert fit.separation.infinite == {"x1": "-inf", "x2": "+inf"}


def test_one_outcome_everywhere_is_separation():
    found = find_separation([[1, -1], [1, 2]], [1, 1], ["const", "x"])
    assert found.infinite == {"const": "+inf", "x": "either side"}


def test_separation_is_found_where_the_library_finds_it():
    # Second road: firthmodels' own check, on 200 small sets at random.
    rng = np.random.default_rng(7)
    seen = []
    for _ in range(200):
        design = np.column_stack([np.ones(8), rng.integers(0, 2, 8), rng.normal(size=8)])
        outcome = (rng.normal(size=8) + design[:, 2] > 0).astype(float)
        if np.linalg.matrix_rank(design) < 3 or np.unique(outcome).size < 2:
            continue
        found = find_separation(design, outcome, ["const", "mix", "x"])
        seen.append(found.separated)
        assert found.separated == detect_separation(design, outcome, fit_intercept=False).separation
    assert 20 < sum(seen) < len(seen) - 20


def test_overlapping_columns_are_refused():
    with pytest.raises(ValueError, match="overlap"):
        fit_logistic([[1, 1], [1, 1], [1, 1]], [0, 1, 0])


@pytest.mark.parametrize(
    ("events", "trials", "message"),
    [([5], [4], "between 0 and trials"), ([1, 2], [4, 4], "rows of design")],
)
def test_bad_counts_are_refused(events, trials, message):
    with pytest.raises(ValueError, match=message):
        fit_logistic([[1.0]], events, trials)


def test_flat_slope_leaves_the_dose_unbounded():
    # The same share at every dose: no dose can be placed, on either side.
    fit = fit_logistic([[1, 0], [1, 1], [1, 2]], [4, 5, 5], [10, 10, 10], terms=["c", "x"])
    for name in ("fieller", "profile"):
        found = inverse_prediction(fit, 0.9, slope="x", at={"c": 1}, interval=name).iloc[0]
        assert found.conf_high == np.inf


def vessel_readings(seed=11, n_vessel=4, times=(1, 2, 3, 4, 6, 8, 12), spread=0.2):
    """Readings of vessels of two mixes that clear once, log-logistic between vessels."""
    rng = np.random.default_rng(seed)
    mix = np.repeat([0, 1], n_vessel)
    clears = np.log(3) + 0.7 * mix + spread * rng.logistic(size=2 * n_vessel)
    log_time = np.log(times)
    clear = (log_time[None, :] >= clears[:, None]).astype(float).ravel()
    vessel = np.repeat(np.arange(2 * n_vessel), len(times))
    design = np.column_stack([np.ones_like(clear), mix[vessel], np.tile(log_time, 2 * n_vessel)])
    return design, clear, vessel


def test_repeated_readings_of_a_vessel_narrow_nothing():
    # Pseudo-replication (Hurlbert 1984): one vessel read ten times over is still one vessel.
    design, clear, vessel = vessel_readings(spread=0.5)
    again = np.r_[np.arange(len(clear)), np.repeat(np.flatnonzero(vessel == 0), 9)]
    terms = ["const", "mix B", "log time"]
    once = fit_logistic(design, clear, terms=terms, cluster=vessel)
    tenfold = fit_logistic(design[again], clear[again], terms=terms, cluster=vessel[again])
    assert once.method == "cluster-robust"
    assert tenfold.coefficients == pytest.approx(once.coefficients, abs=1e-6)
    assert tenfold.tidy().conf_high.to_list() == pytest.approx(once.tidy().conf_high, abs=1e-5)


def test_repeated_readings_narrow_nothing_under_separation():
    design, clear, vessel = vessel_readings(spread=0.05)
    terms = ["const", "mix B", "log time"]
    once = fit_logistic(design, clear, terms=terms, cluster=vessel)
    again = np.tile(np.arange(len(clear)), 10)
    tenfold = fit_logistic(design[again], clear[again], terms=terms, cluster=vessel[again])
    assert once.method == "Firth"
    assert tenfold.tidy().conf_low.to_list() == pytest.approx(once.tidy().conf_low, rel=1e-3)


def test_sandwich_of_one_row_clusters_by_hand():
    # Independent rows, intercept only: scores y - p, so that middle = n p q = information and the
    # design effect is 1. Morel, Bokossa & Neerchal 2003: (n/(n-1) + 1/(n-1)) / (n p q).
    clear = np.array([0, 1, 1, 0, 1, 1, 1.0])
    fit = fit_logistic(np.ones((7, 1)), clear, cluster=np.arange(7))
    share = clear.mean()
    expected = (7 / 6 + 1 / 6) / (7 * share * (1 - share))
    assert fit.covariance[0, 0] == pytest.approx(expected, rel=1e-6)
    table = fit.tidy().iloc[0]
    assert table.conf_high - table.estimate == pytest.approx(
        t.ppf(0.975, 6) * np.sqrt(expected), rel=1e-6
    )


def test_sandwich_without_its_corrections_is_the_library_s():
    # Second road: statsmodels' GEE, equal cluster sizes, gives the plain sandwich.
    design, clear, vessel = vessel_readings(spread=0.5)
    model = GEE(clear, design, vessel, family=Binomial(), cov_struct=Independence())
    plain = model.fit(cov_type="robust").cov_params()
    fit = fit_logistic(design, clear, cluster=vessel)
    naive = fit_logistic(design, clear).covariance * 7  # a vessel of seven readings weighs 1
    middle = np.linalg.solve(naive, np.linalg.solve(naive, plain).T)
    effect = np.trace(naive @ middle) / 3
    expected = 8 / 7 * plain + 0.5 * effect * naive
    assert fit.covariance == pytest.approx(expected, rel=1e-4)


def test_a_group_whose_vessels_look_alike_is_not_certain():
    # Four vessels of one mix clear between the same two looks: where in between is not known.
    times = np.array([1, 2, 4, 8, 12, 16.0])
    clears = np.array([3, 3, 6, 10, 9.0, 9, 9, 9])
    clear = (times >= clears[:, None]).astype(float).ravel()
    vessel = np.repeat(np.arange(8), 6)
    mix = np.repeat([0, 1], 24)
    design = np.column_stack([1 - mix, mix, np.log(np.tile(times, 8))])
    fit = fit_logistic(design, clear, terms=["A", "B", "log time"], cluster=vessel)
    found = inverse_prediction(fit, 0.5, slope="log time", at={"B": 1}, interval="fieller")
    low, high = np.exp(found.iloc[0][["conf_low", "conf_high"]].astype(float))
    assert low < 9
    assert high > 11


def test_as_many_terms_as_vessels_bounds_nothing():
    fit = fit_logistic(np.ones((3, 1)), [0, 1, 0], cluster=[1, 1, 1])
    table = fit.tidy().iloc[0]
    assert (table.conf_low, table.conf_high, table.p_value) == (-np.inf, np.inf, 1.0)


def test_time_at_which_readings_are_clear_covers_the_truth_once():
    design, clear, vessel = vessel_readings(seed=3, n_vessel=8, spread=0.4)
    fit = fit_logistic(design, clear, terms=["const", "mix B", "log time"], cluster=vessel)
    found = inverse_prediction(
        fit, [0.5, 0.9], slope="log time", at={"const": 1}, interval="fieller"
    )
    truth = np.log(3) + 0.4 * np.log(np.array([0.5, 0.9]) / np.array([0.5, 0.1]))
    assert np.all((found.conf_low < truth) & (truth < found.conf_high))
    assert expit(fit.coefficients[[0, 2]] @ [1, found.estimate[1]]) == pytest.approx(0.9)


@pytest.mark.parametrize(
    ("options", "message"),
    [
        ({"slope": "log time", "at": {"const": 1}}, "no likelihood to profile"),
        ({"slope": "log time", "at": {"mix C": 1}}, "no term mix C"),
        ({"slope": "log time", "at": {}}, "level of the model"),
        ({"slope": "log time", "at": {"const": 1}, "interval": "wald"}, "'profile' or 'fieller'"),
        ({"slope": "log time", "at": {"const": 1}, "p": 1.0}, "between 0 and 1"),
    ],
)
def test_questions_that_have_no_answer_are_refused(options, message):
    design, clear, vessel = vessel_readings(spread=0.5)
    fit = fit_logistic(design, clear, terms=["const", "mix B", "log time"], cluster=vessel)
    with pytest.raises(ValueError, match=message):
        inverse_prediction(fit, options.pop("p", 0.5), **options)
