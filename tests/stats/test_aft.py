"""Times with a shape: published fits, closed forms, and the odd trials that occur."""

import numpy as np
import pytest
from scipy import stats
from scipy.optimize import minimize

from tests.stats.data_published import BEARINGS, CONTROL, INF, RADIATION, TREATED, WITH_CHEMOTHERAPY
from trialkit.stats._batch import fit_aft_batch
from trialkit.stats._limits import limits_for, quantile_limits
from trialkit.stats.aft import fit_aft

FAMILIES = ["lognormal", "loglogistic", "weibull"]
COSMESIS = np.concatenate([RADIATION, WITH_CHEMOTHERAPY], axis=1)
CHEMOTHERAPY = np.repeat([0.0, 1.0], [46, 48])


@pytest.mark.parametrize(
    ("family", "intercept", "effect", "scale", "loglik"),
    [
        # Values of survreg in R 4.2.2, package survival 3.5-3, on the rows that
        # Finkelstein & Wolfe (1985) print; a second library gave the same.
        ("weibull", 3.89928, -0.56755, 0.61934, -143.3208),
        ("lognormal", 3.54788, -0.42100, 0.88214, -146.6223),
        ("loglogistic", 3.60925, -0.48731, 0.49962, -145.5851),
    ],
)
def test_breast_cosmesis(family, intercept, effect, scale, loglik):
    fit = fit_aft(*COSMESIS, design=CHEMOTHERAPY, family=family)
    assert fit.coefficients.tolist() == pytest.approx([intercept, effect], abs=1e-4)
    assert fit.scale == pytest.approx(scale, abs=1e-4)
    assert fit.loglik == pytest.approx(loglik, abs=1e-3)
    by_group = fit_aft(*COSMESIS, group=CHEMOTHERAPY, family=family)
    assert np.diff(by_group.coefficients)[0] == pytest.approx(effect, abs=1e-4)


def test_ball_bearings():
    # Lieblein & Zelen (1956); Lawless (1982), p. 228: shape 2.10, scale 81.9.
    fit = fit_aft(BEARINGS, BEARINGS, family="weibull")
    assert 1 / fit.scale == pytest.approx(2.10206, abs=1e-4)
    assert np.exp(fit.coefficients["all"]) == pytest.approx(81.8783, abs=1e-3)
    assert fit.loglik == pytest.approx(-113.6913, abs=1e-3)
    assert fit.quantile(0.1).loc[0, "estimate"] == pytest.approx(28.069, abs=1e-3)


def test_remission_times():
    # Gehan (1965), Biometrika 52, 203-223; the Weibull fit as survreg in R 4.2.2 gives it.
    both = np.concatenate([TREATED, CONTROL], axis=1)
    fit = fit_aft(*both, group=np.repeat(["6-MP", "control"], 21), family="weibull")
    assert -np.diff(fit.coefficients)[0] == pytest.approx(1.26733, abs=1e-4)
    assert fit.scale == pytest.approx(0.73219, abs=1e-4)
    assert fit.loglik == pytest.approx(-106.5795, abs=1e-3)
    # At scale 1 it is the exponential: events over total time, log ratio 1.52661.
    one = fit_aft(*both, group=np.repeat(["6-MP", "control"], 21), family="weibull", scale=1)
    assert -np.diff(one.coefficients)[0] == pytest.approx(1.52661, abs=1e-4)
    assert one.coefficients["6-MP"] == pytest.approx(np.log(TREATED[0].sum() / 9), abs=1e-8)


def test_complete_normal_times_give_students_interval():
    # With exact times the calibrated limits are Student's with a pooled scale, and the
    # contrast is the two-sample t-test: the deviance is N log(1 + t^2 / df).
    first, second = np.log([2.0, 2.5, 3.1, 2.2]), np.log([4.0, 3.1, 5.2])
    times = np.exp(np.concatenate([first, second]))
    fit = fit_aft(times, times, group=list("aaaabbb"))
    df = 5
    pooled = np.sqrt(((first - first.mean()) ** 2).sum() + ((second - second.mean()) ** 2).sum())
    half = stats.t.ppf(0.975, df) * pooled / np.sqrt(df) / 2
    row = fit.quantile(0.5).loc[0]
    expected = np.exp([first.mean() - half, first.mean() + half])
    assert row[["conf_low", "conf_high"]].tolist() == pytest.approx(expected, rel=1e-5)
    contrast = fit.contrast("a", "b").loc[0]
    test = stats.ttest_ind(first, second)
    assert contrast["p_value"] == pytest.approx(test.pvalue, rel=1e-5)
    limits = np.exp(test.confidence_interval(0.95))
    assert contrast[["conf_low", "conf_high"]].tolist() == pytest.approx(limits, rel=1e-5)


def test_student_p_value_of_a_known_scale_is_normal():
    times = np.array([2.0, 2.5, 4.0, 5.2])
    fit = fit_aft(times, times, group=list("aabb"), scale=0.3)
    z = np.log(times[:2] / times[2:]).mean() / 0.3
    assert fit.contrast("a", "b").loc[0, "p_value"] == pytest.approx(2 * stats.norm.sf(abs(z)))
    assert "scale given" in fit.contrast("a", "b").loc[0, "method"]


@pytest.mark.parametrize("family", FAMILIES)
def test_profile_by_brute_force(family):
    # A second road: the profile deviance at each limit, with scipy's own minimiser.
    left, right = np.array([1, 2, 3, 5, 5.0]), np.array([2, 3, 4, 6, 8.0])
    fit = fit_aft(left, right, group=list("aaabb"), family=family)
    shape = {"lognormal": stats.norm, "loglogistic": stats.logistic, "weibull": stats.gumbel_l}
    z = shape[family].ppf(0.5)

    @np.errstate(divide="ignore")
    def minus(mu_a, mu_b, log_scale):
        mu = np.array([mu_a, mu_a, mu_a, mu_b, mu_b])
        ends = [(np.log(t) - mu) / np.exp(log_scale) for t in (left, right)]
        return -np.log(shape[family].cdf(ends[1]) - shape[family].cdf(ends[0])).sum()

    limit = 5 * np.log1p(stats.t.ppf(0.975, 3) ** 2 / 3)
    for bound in fit.quantile(0.5).loc[0, ["conf_low", "conf_high"]]:
        profile = minimize(
            lambda v, bound=bound: minus(np.log(bound) - z * np.exp(v[1]), v[0], v[1]),
            [fit.coefficients["b"], np.log(2 * fit.scale)],
            method="Nelder-Mead",
            options={"xatol": 1e-9, "fatol": 1e-11, "maxiter": 4000},
        )
        assert 2 * (profile.fun + fit.loglik) == pytest.approx(limit, abs=1e-4)


@pytest.mark.parametrize("p", [0.1, 0.5, 0.9])
@pytest.mark.parametrize("family", FAMILIES)
def test_limits_of_share_and_quantile_agree(family, p):
    # t is the upper limit of the p-quantile when p is the lower limit of the share by t.
    fit = fit_aft([1, 2, 3, 5, 5], [2, 3, 4, 6, 8], group=list("aaabb"), family=family)
    for bound, column in (("conf_high", "conf_low"), ("conf_low", "conf_high")):
        t = fit.quantile(p).loc[0, bound]
        assert fit.probability_by(t).loc[0, column] == pytest.approx(p, abs=2e-3)


@pytest.mark.parametrize("family", FAMILIES)
def test_a_group_that_never_cleared(family):
    group = list("aaabbbccc")
    left = [1, 2, 3, 24, 24, 24, 4, 5, 7]
    right = [2, 3, 5, INF, INF, INF, 5, 7, 9]
    fit = fit_aft(left, right, group=group, family=family)
    row = fit.quantile(0.5).loc[1]
    assert (row["estimate"], row["conf_high"]) == (INF, INF)
    assert 5 < row["conf_low"] < 40
    assert fit.coefficients["b"] == INF
    # The never-cleared group says nothing of the others.
    alone = fit_aft(left[:3] + left[6:], right[:3] + right[6:], group=group[:3] + group[6:])
    both = fit_aft(left, right, group=group)
    assert both.scale == pytest.approx(alone.scale, abs=1e-9)
    ratio = fit.contrast("b", "a").loc[0]
    assert (ratio["estimate"], ratio["conf_high"]) == (INF, INF)
    assert ratio["conf_low"] > 1
    assert ratio["p_value"] < 0.05
    mirrored = fit.contrast("a", "b").loc[0]
    assert (mirrored["estimate"], mirrored["conf_low"]) == (0, 0)
    assert mirrored["conf_high"] == pytest.approx(1 / ratio["conf_low"], rel=1e-5)
    assert fit.probability_by(24).loc[1, ["estimate", "conf_low"]].tolist() == [0, 0]
    assert 0 < fit.probability_by(24).loc[1, "conf_high"] < 0.9
    assert not fit.tidy().isna().any(axis=None)
    assert fit.tidy()[["n", "n_event", "n_censored"]].loc[1].tolist() == [3, 0, 3]


def test_a_group_clear_at_every_first_look():
    fit = fit_aft([0, 0, 0, 1, 2, 3], [1, 1, 1, 2, 3, 5], group=["fast"] * 3 + ["slow"] * 3)
    row = fit.quantile(0.5).loc[0]
    assert (row["estimate"], row["conf_low"]) == (0, 0)
    assert 0.5 < row["conf_high"] < 5
    assert fit.probability_by(1).loc[0, "estimate"] == 1
    ratio = fit.contrast("fast", "slow").loc[0]
    assert ratio[["estimate", "conf_low"]].tolist() == [0, 0]
    assert 0 < ratio["conf_high"] < INF


def test_no_finite_scale():
    # Each group fits one time: a in (2, 3], b in (5, 6]; the likelihood rises to 1.
    left, right, group = [2, 1, 2, 5, 5, 4], [3, 3, 4, 6, 6, 8], list("aaabbb")
    fit = fit_aft(left, right, group=group)
    assert fit.scale == 0.0
    assert fit.loglik == pytest.approx(0, abs=1e-9)
    assert "No finite scale" in fit.note
    found = fit.quantile(0.5)
    assert found["estimate"].tolist() == pytest.approx([3, 6])
    assert (found["conf_low"] < [2, 5]).all()
    assert (found["conf_high"] > [3, 6]).all()
    assert np.isfinite(found["conf_high"]).all()
    # At a time that splits a group the share is that of a coin: 2 of 3 by 3 h.
    split = fit_aft([1, 2, 3], [3, 3, 4])
    assert split.scale == 0.0
    assert split.loglik == pytest.approx(np.log((2 / 3) ** 2 / 3))
    assert split.probability_by(3).loc[0, "estimate"] == pytest.approx(2 / 3, abs=1e-6)


@pytest.mark.parametrize("family", FAMILIES)
def test_scale_zero_is_the_limit_of_small_scales(family):
    # Two of (., 3], one of (3, .], one around 3: the coin has three tosses.
    left, right = [1, 2, 3, 1], [3, 3, 4, 9]
    limit = fit_aft(left, right, family=family).loglik
    small = [fit_aft(left, right, family=family, scale=s).loglik for s in (0.1, 0.03, 0.005)]
    assert small == sorted(small)
    assert limit == pytest.approx(np.log((2 / 3) ** 2 / 3))
    assert small[-1] == pytest.approx(limit, abs=1e-6)


def test_exact_times_that_agree_have_no_limits_of_a_shape():
    fit = fit_aft([3, 3, 3, 5, 5, 5], [3, 3, 3, 5, 5, 5], group=list("aaabbb"))
    assert (fit.scale, fit.loglik) == (0.0, INF)
    assert fit.quantile(0.5)["method"].str.startswith("exact binomial").all()
    assert fit.contrast("a", "b").loc[0, ["conf_low", "conf_high", "p_value"]].tolist() == [
        0, INF, 1,
    ]  # fmt: skip


def test_one_vessel_a_group_claims_nothing_between_groups():
    fit = fit_aft([1, 4, 24], [2, 6, INF], group=list("abc"))
    found = fit.quantile(0.5)
    assert (found["conf_low"] == 0).all()
    assert np.isinf(found["conf_high"]).all()
    assert fit.contrast("a", "b").loc[0, "p_value"] == 1
    declared = fit_aft([1, 4, 24], [2, 6, INF], group=list("abc"), scale=0.3)
    assert declared.contrast("a", "b").loc[0, "p_value"] < 0.05
    assert np.isfinite(declared.quantile(0.5).loc[:1, "conf_high"]).all()


def test_nothing_cleared_and_nothing_known():
    never = fit_aft([24] * 8, [INF] * 8, group=list("aaaabbbb"))
    assert never.loglik == 0
    assert np.isinf(never.scale)
    # 0 of 4 clear by 24 h: the share may be up to 1 - 0.025^(1/4) = 0.602, so 90% is later.
    assert never.quantile(0.9)["conf_low"].tolist() == [24, 24]
    assert never.contrast("a", "b").loc[0, "p_value"] == 1
    lost = fit_aft([1, 2, 4, 0, 0], [2, 3, 5, INF, INF], group=list("aaabb"))
    assert lost.quantile(0.5).loc[1, ["estimate", "conf_low", "conf_high"]].tolist() == [
        INF, 0, INF,
    ]  # fmt: skip
    assert not lost.probability_by(3).isna().any(axis=None)
    first = fit_aft([0] * 4, [1] * 4)
    assert first.quantile(0.5).loc[0, ["estimate", "conf_low"]].tolist() == [0, 0]


def test_one_look_that_runs_backwards_has_no_upper_scale():
    # Looked at once each: clear at the early looks, not at the late ones.
    fit = fit_aft([0, 0, 20, 24], [1, 2, INF, INF])
    assert fit.scale == INF
    assert fit.quantile(0.5).loc[0, "conf_high"] == INF
    assert not fit.quantile(0.9).isna().any(axis=None)


def test_narrow_intervals_tend_to_exact_times():
    times = np.array([2.0, 2.5, 3.1, 4.0, 5.2])
    exact = fit_aft(times, times)
    for width in (1e-4, 1e-8):
        near = fit_aft(times * (1 - width / 2), times * (1 + width / 2))
        assert near.scale == pytest.approx(exact.scale, abs=1e-4 * width**0.5 + 1e-7)
        expected = exact.loglik + np.log(times * width).sum()
        assert near.loglik == pytest.approx(expected, abs=1e-4)


@pytest.mark.parametrize("family", FAMILIES)
def test_the_unit_of_time_does_not_matter(family):
    left, right = np.array([1, 2, 3, 0, 5, 9.0]), np.array([2, 3, 4, 6, 6, INF])
    hours = fit_aft(left, right, group=list("aaabbb"), family=family)
    minutes = fit_aft(left * 60, right * 60, group=list("aaabbb"), family=family)
    assert minutes.scale == pytest.approx(hours.scale, rel=1e-7)
    columns = ["estimate", "conf_low", "conf_high"]
    assert minutes.quantile(0.5)[columns].to_numpy() == pytest.approx(
        60 * hours.quantile(0.5)[columns].to_numpy(), rel=1e-5
    )


def test_batch_and_single_agree():
    rng = np.random.default_rng(5)
    times = rng.lognormal(np.repeat([0.5, 1.5, 3.0], 4), 0.4, (40, 12))
    left = np.minimum(np.floor(times), 24)
    right = np.where(times > 24, INF, left + 1)
    codes = np.repeat([0, 1, 2], 4)
    batch = fit_aft_batch(left, right, codes)
    limits = np.exp(quantile_limits(batch, 0.5, limits_for(batch, 0.95)))
    for row in range(40):
        single = fit_aft(left[row], right[row], group=codes)
        assert single.loglik == pytest.approx(batch.value[row], abs=1e-8)
        assert single.scale == pytest.approx(batch.scale[row], abs=1e-8)
        found = single.quantile(0.5)[["conf_low", "conf_high"]].to_numpy()
        assert found == pytest.approx(limits[row], rel=1e-6)


def test_many_times_at_once_are_each_time_by_itself():
    fit = fit_aft([1, 2, 3, 24, 24], [2, 3, 4, INF, INF], group=list("aaabb"))
    many = fit.probability_by([2, 5, 24])
    assert many["t"].tolist() == [2, 2, 5, 5, 24, 24]
    columns = ["estimate", "conf_low", "conf_high"]
    for row, t in ((0, 2), (2, 5), (4, 24)):
        alone = fit.probability_by(t)[columns].to_numpy()
        assert many.loc[row : row + 1, columns].to_numpy() == pytest.approx(alone, abs=1e-6)


def test_covariates_shift_all_groups_alike():
    rng = np.random.default_rng(8)
    block = np.tile([-0.5, 0.5], 12)
    times = np.exp(np.repeat([1.0, 2.0], 12) + 0.6 * block + 0.2 * rng.normal(size=24))
    fit = fit_aft(times, times, group=np.repeat(["a", "b"], 12), design=block)
    plain = np.linalg.lstsq(
        np.column_stack([np.repeat([1, 0], 12), np.repeat([0, 1], 12), block]),
        np.log(times),
        rcond=None,
    )[0]
    assert fit.coefficients.tolist() == pytest.approx(plain, abs=1e-7)
    assert list(fit.coefficients.index) == ["a", "b", "x1"]


@pytest.mark.parametrize(
    ("arguments", "match"),
    [
        ({"left": [1], "right": [2], "family": "gamma"}, "gamma"),
        ({"left": [0], "right": [0]}, "time of 0"),
        ({"left": [1], "right": [2], "scale": 0}, "scale must be above 0"),
        ({"left": [1, 2], "right": [2, 3], "design": [1, 1]}, "repeat"),
        ({"left": [1, 2], "right": [2, 3], "design": [1, np.nan]}, "covariate"),
        ({"left": [1, 2], "right": [2, 3], "group": ["a"]}, "group"),
    ],
)
def test_impossible_arguments_are_refused(arguments, match):
    with pytest.raises(ValueError, match=match):
        fit_aft(**arguments)


@pytest.mark.parametrize("seed", range(12))
def test_covariates_that_meet_every_interval_leave_limits(seed):
    # Two vessels a mix with a covariate: often some effect of it suits all at scale 0.
    rng = np.random.default_rng(seed)
    times = np.exp(np.repeat([1.0, 1.5, 2.0], 2) + 0.05 * rng.standard_normal(6))
    left, warmth = np.floor(times), np.tile([-0.5, 0.5], 3)
    fit = fit_aft(left, left + 1, group=np.repeat(list("abc"), 2), design=warmth)
    for frame in (fit.quantile(0.5), fit.quantile(0.9), fit.contrast("a", "c")):
        assert not frame.isna().any(axis=None)
        assert (frame["conf_low"] <= frame["estimate"]).all()
        assert (frame["estimate"] <= frame["conf_high"]).all()
    if fit.scale == 0:
        assert fit.loglik == pytest.approx(0, abs=1e-4)
        assert "No finite scale" in fit.note


def test_a_covariate_that_separates_is_an_error():
    with pytest.raises(RuntimeError, match="covariate"):
        fit_aft([1, 2, 3, 24, 24], [2, 3, 5, INF, INF], design=[0, 0, 0, 1, 1])


def test_impossible_questions_are_refused():
    fit = fit_aft([1, 2, 3, 5, 5], [2, 3, 4, 6, 8], group=list("aaabb"))
    with pytest.raises(ValueError, match="p must lie"):
        fit.quantile(1)
    with pytest.raises(ValueError, match="above 0"):
        fit.probability_by(0)
    with pytest.raises(ValueError, match="one of"):
        fit.contrast("a", "z")
    with pytest.raises(ValueError, match="two groups"):
        fit.contrast("a", "a")
    assert str(fit).startswith("lognormal, scale 0.2")
