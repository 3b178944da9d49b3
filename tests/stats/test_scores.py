"""Scores of intervals against published test statistics and a second road to them."""

import numpy as np
import pytest
from scipy import stats

from trialkit.stats.permutation import permutation_test
from trialkit.stats.scores import interval_scores
from trialkit.stats.turnbull import fit_turnbull

INF = np.inf
# Finkelstein & Wolfe (1985), Biometrics 41, 933-945: months to cosmetic deterioration, (L, R].
RAD = """
0-5 0-7 0-8 4-11 5-11 5-12 6-10 7-14 7-16 11-15 11-18 15- 17-25 17-25 17- 18- 19-26 19-35 22- 24-
24- 25-37 26-40 27-34 32- 33- 34- 36-44 36-48 36- 36- 37-44 37- 37- 37- 38- 40- 45- 46- 46- 46- 46-
46- 46- 46- 46-
"""
RAD_CHEM = """
0-5 0-22 4-8 4-9 5-8 8-12 8-21 10-17 10-35 11-13 11-17 11-20 11- 11- 12-20 13-39 13- 13- 13- 14-17
14-19 15-22 16-20 16-24 16-24 16-60 17-23 17-26 17-27 18-24 18-25 19-32 21- 22-32 23- 24-30 24-31
30-34 30-36 31- 32- 33-40 34- 34- 35-39 35- 44-48 48-
"""
PAIRS = [pair.split("-") for pair in (RAD_CHEM + RAD).split()]
LEFT = np.array([float(left) for left, _ in PAIRS])
RIGHT = np.array([float(right or "inf") for _, right in PAIRS])
GROUP = np.repeat(["1 chem", "2 rad"], [48, 46])


@pytest.mark.parametrize(
    ("kind", "statistic", "z", "p"),
    [
        # Fay & Shaw (2010), J. Stat. Softw. 36(2), printed output for these data.
        ("sun", 9.1418, 2.6684, 0.007622),
        ("finkelstein", 9.9442, 2.6839, 0.007277),
        ("wilcoxon", None, 2.1672, 0.03022),
    ],
)
def test_breast_cosmesis_statistics(kind, statistic, z, p):
    scores = interval_scores(LEFT, RIGHT, kind=kind)
    answer = permutation_test(scores, GROUP)
    if statistic is not None:
        assert answer.statistic == pytest.approx(statistic, abs=1e-4)
    assert answer.z == pytest.approx(z, abs=1e-4)
    assert answer.p_asymptotic == pytest.approx(p, abs=5e-6)
    # The random shuffles must tell the same at 46 v 48: a binomial error of 0.003 at most.
    assert answer.p_value == pytest.approx(p, abs=0.005)


def test_finkelstein_scores_are_the_slope_of_the_proportional_hazards_likelihood():
    # Score test with the observed information, all steps of the pooled curve as nuisance: Fay &
    # Shaw (2010), option "scoretest", chi-square 7.8749, p 0.00501.
    mass = fit_turnbull(LEFT, RIGHT).mass
    mass = mass[mass["probability"] > 1e-9]
    ends = mass["right"].to_numpy()
    survival = np.append(1 - np.cumsum(mass["probability"])[:-1], 0.0)
    z = (GROUP == "1 chem").astype(float)

    def loglik(theta):
        # theta: log hazard ratio, then the log cumulative hazard after each step but the last.
        curve = np.concatenate([[0.0], np.exp(theta[1:]), [INF]])
        hazard = np.exp(theta[0] * z)
        left = (ends <= LEFT[:, None]).sum(1)
        right = np.where(np.isinf(RIGHT), len(ends), (ends <= RIGHT[:, None]).sum(1))
        return np.log(np.exp(-hazard * curve[left]) - np.exp(-hazard * curve[right])).sum()

    start = np.append(0.0, np.log(-np.log(survival[:-1])))
    size, h = len(start), 1e-4
    unit = np.eye(size) * h
    slope = (loglik(start + unit[0]) - loglik(start - unit[0])) / (2 * h)
    bend = np.array(
        [
            [
                loglik(start + a + b)
                - loglik(start + a - b)
                - loglik(start - a + b)
                + loglik(start - a - b)
                for a in unit
            ]
            for b in unit
        ]
    ) / (4 * h * h)
    info = -bend
    variance = info[0, 0] - info[0, 1:] @ np.linalg.solve(info[1:, 1:], info[1:, 0])
    scores = interval_scores(LEFT, RIGHT, kind="finkelstein")
    assert slope == pytest.approx(scores[GROUP == "1 chem"].sum(), abs=1e-4)
    assert slope**2 / variance == pytest.approx(7.8749, abs=2e-3)


def test_exact_times_give_the_scores_of_the_log_rank_test():
    # Without censoring or ties the log-rank scores are 1 - sum 1/(at risk) (Savage 1956):
    # for 3 values 1 - 1/3, 1 - 1/3 - 1/2, 1 - 1/3 - 1/2 - 1, from Sun's as well as by hand.
    t = np.array([2.0, 5.0, 7.0])
    savage = 1 - np.cumsum([1 / 3, 1 / 2, 1])
    # Sun's score of an exact value: (S(t-) L(t-) - S(t) L(t)) / (step), with the sums L.
    assert interval_scores(t, t, kind="sun") == pytest.approx(savage, abs=1e-9)


def test_wilcoxon_scores_of_exact_times_are_centred_ranks():
    t = np.array([3.0, 1.0, 4.0, 1.5, 9.0])
    expected = 1 - (2 * stats.rankdata(t) - 1) / 5  # S(t-) + S(t) - 1
    assert interval_scores(t, t, kind="wilcoxon") == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize("kind", ["sun", "finkelstein", "wilcoxon"])
def test_scores_sum_to_nought_and_fall_with_time(kind):
    rng = np.random.default_rng(5)
    left = np.sort(rng.integers(0, 8, 20).astype(float))
    right = np.where(rng.random(20) < 0.3, np.inf, left + 1)
    scores = interval_scores(left, right, kind=kind)
    assert scores.sum() == pytest.approx(0, abs=1e-6)
    seen = np.isfinite(right)
    assert (np.diff(scores[seen]) <= 1e-9).all()


def test_no_event_or_one_interval_for_all_says_nothing():
    assert interval_scores([24, 24], [INF, INF]).tolist() == [0, 0]
    assert interval_scores([0, 0, 0], [0.25] * 3).tolist() == [0, 0, 0]


def test_a_vessel_that_was_never_judged_scores_nought():
    scores = interval_scores([0, 0, 3], [INF, 1, 4])
    assert scores[0] == pytest.approx(0, abs=1e-9)


def test_unknown_scores_are_refused():
    with pytest.raises(ValueError, match="one of sun"):
        interval_scores([0], [1], kind="peto")
