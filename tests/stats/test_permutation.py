"""Permutation tests against combinatorics, exact rank tests and full enumeration."""

from itertools import permutations

import numpy as np
import pytest
from scipy import stats
from statsmodels.duration.survfunc import survdiff

from trialkit.stats import permutation
from trialkit.stats.permutation import permutation_test, smallest_p_value
from trialkit.stats.scores import interval_scores


@pytest.mark.parametrize(
    ("sizes", "expected"),
    [
        # Two over the number of ways to choose the first group: 2 / C(n, n1).
        ((2, 2), 1 / 3),
        ((3, 3), 0.1),
        ((3, 4), 2 / 35),
        ((4, 4), 2 / 70),
        ((5, 5), 2 / 252),
        ((6, 6), 2 / 924),
        ((1, 1), 1.0),
    ],
)
def test_smallest_p_value_and_that_it_is_reached(sizes, expected):
    group = np.repeat(["a", "b"], sizes)
    answer = permutation_test(np.arange(sum(sizes)), group)
    assert smallest_p_value(group) == pytest.approx(expected, abs=1e-12)
    assert answer.p_value == pytest.approx(expected, abs=1e-12)
    assert answer.p_smallest == pytest.approx(expected, abs=1e-12)


def test_blocks_of_one_pair_each_leave_two_to_the_blocks():
    group, block = np.tile(["a", "b"], 4), np.repeat(range(4), 2)
    answer = permutation_test(np.tile([0.0, 1.0], 4), group, block=block)
    assert answer.n_arrangements == 16
    assert answer.p_value == pytest.approx(2 / 16, abs=1e-12)  # the sign test, 4 of 4
    assert smallest_p_value(group, block) == pytest.approx(2 / 16, abs=1e-12)


def test_paired_sign_test_of_freireich():
    # Freireich et al. (1963), Blood 21, 699-716: 18 of 21 pairs prefer one treatment, p 0.00149.
    better = np.repeat([1, -1], [18, 3])
    scores = np.column_stack([better, -better]).ravel()
    answer = permutation_test(scores, np.tile(["a", "b"], 21), block=np.repeat(range(21), 2))
    assert answer.exact
    assert answer.p_value == pytest.approx(0.00149, abs=5e-6)
    # Stratified log-rank with pairs as strata: (18 - 3)^2 / 21.
    assert answer.z**2 == pytest.approx(225 / 21, abs=1e-9)


@pytest.mark.parametrize(("right", "p"), [(3, 0.242857), (4, 0.0142857)])
def test_lady_tasting_tea(right, p):
    # Fisher (1935), The Design of Experiments, ch. 2: 4 of 8 cups to be picked.
    picked = np.array([1] * right + [0] * (4 - right) + [1] * (4 - right) + [0] * right)
    group = np.repeat(["milk first", "tea first"], 4)
    answer = permutation_test(picked, group, alternative="greater")
    assert answer.p_value == pytest.approx(p, abs=1e-6)
    assert answer.p_smallest == pytest.approx(1 / 70)


def test_three_against_three_is_not_significant_whatever_the_large_sample_curve_says():
    time, event = np.array([1, 2, 3, 24, 24, 24]), np.array([1, 1, 1, 0, 0, 0])
    group = np.repeat(["a", "b"], 3)
    chi2, p = survdiff(time, event, group)
    assert (chi2, p) == pytest.approx((5.0517, 0.0246), abs=1e-4)
    left = np.where(event, time, 24).astype(float)
    right = np.where(event, time, np.inf)
    answer = permutation_test(interval_scores(left, right), group)
    assert answer.p_value == pytest.approx(2 / 20, abs=1e-12)
    assert answer.p_value == answer.p_smallest
    assert str(answer) == "p = 0.1 (exact permutation, 20 arrangements; smallest attainable 0.1)"


def test_exact_rank_sum_test():
    # The exact two-sided Wilcoxon-Mann-Whitney test is this test on ranks.
    x, y = [1.1, 2.4, 3.3, 5.0, 6.2], [2.0, 4.1, 7.7, 8.8, 9.1, 9.5]
    answer = permutation_test(stats.rankdata(x + y), np.repeat(["a", "b"], [5, 6]))
    assert answer.p_value == pytest.approx(stats.mannwhitneyu(x, y, method="exact").pvalue)


# Hollander & Wolfe (1973), Nonparametric Statistical Methods, p. 140: seconds to round first base
# by three methods, 22 players (printed as an example of R's friedman.test).
ROUNDING = """
540 550 555 585 570 575 520 560 550 555 550 540 590 585 570 545 555 560 540 540 535 545 550 535
525 515 500 585 580 570 525 520 510 565 555 545 560 535 545 505 500 495 550 550 540 545 555 550
555 555 535 545 550 555 550 545 525 565 560 540 570 565 555 630 630 625
"""


def test_blocks_with_ranks_are_the_friedman_test():
    hundredths = np.array([int(word) for word in ROUNDING.split()]).reshape(22, 3)
    ranks = stats.rankdata(hundredths, axis=1).ravel()
    group, block = np.tile(["narrow", "round", "wide"], 22), np.repeat(range(22), 3)
    answer = permutation_test(ranks, group, block=block)
    assert answer.statistic == pytest.approx(11.1429, abs=1e-4)
    assert answer.p_asymptotic == pytest.approx(0.003805, abs=1e-6)
    assert answer.p_value == pytest.approx(0.0038, abs=0.002)


def test_one_block_with_ranks_is_the_kruskal_wallis_test():
    samples = [1.0, 2, 2, 5], [3.0, 3, 8], [4.0, 9, 9, 10, 11]
    values, group = np.concatenate(samples), np.repeat(["a", "b", "c"], [4, 3, 5])
    answer = permutation_test(stats.rankdata(values), group)
    h, p = stats.kruskal(*samples)
    assert (answer.statistic, answer.p_asymptotic) == pytest.approx((h, p), rel=1e-9)


def every_labelling(group, block):
    """All distinct labellings within blocks, by brute force."""
    labellings = [()]
    for b in sorted(set(block)):
        own = sorted(set(permutations([g for g, c in zip(group, block, strict=True) if c == b])))
        labellings = [done + new for done in labellings for new in own]
    return np.array(labellings)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_two_groups_in_blocks_by_brute_force(seed):
    rng = np.random.default_rng(seed)
    block = np.repeat([0, 1, 2], [4, 3, 4])
    group = np.array(list("aabbabbaabb"))
    scores = rng.integers(0, 5, 11) / 3
    all_labels = every_labelling(group, block)
    sums = np.where(all_labels == "a", scores, 0).sum(1)
    observed = scores[group == "a"].sum()
    low, high = (sums <= observed + 1e-9).mean(), (sums >= observed - 1e-9).mean()
    answer = permutation_test(scores, group, block=block)
    assert answer.n_arrangements == len(all_labels) == 6 * 3 * 6
    assert answer.p_value == pytest.approx(min(1, 2 * min(low, high)), abs=1e-12)
    one_sided = permutation_test(scores, group, block=block, alternative="less")
    assert one_sided.p_value == pytest.approx(low, abs=1e-12)
    # The permutational variance is the variance over all labellings.
    assert answer.statistic / answer.z == pytest.approx(sums.std(), rel=1e-9)


def test_three_groups_by_brute_force():
    rng = np.random.default_rng(4)
    block, group = np.repeat([0, 1], [5, 4]), np.array(list("aabbcabcc"))
    scores = rng.normal(size=9)
    centred = scores - np.where(block == 0, scores[:5].mean(), scores[5:].mean())
    labels = every_labelling(group, block)
    sums = np.stack([np.where(labels == g, centred, 0).sum(1) for g in "abc"], axis=1)
    inverse = np.linalg.pinv(np.cov(sums.T, bias=True))
    distance = np.einsum("ni,ij,nj->n", sums, inverse, sums)
    own = np.array([centred[group == g].sum() for g in "abc"])
    expected = (distance >= own @ inverse @ own - 1e-9).mean()
    answer = permutation_test(scores, group, block=block)
    assert answer.exact
    assert answer.p_value == pytest.approx(expected, abs=1e-12)


def test_random_shuffles_agree_with_the_full_count(monkeypatch):
    rng = np.random.default_rng(8)
    scores, group = rng.normal(size=16), np.tile(["a", "b"], 8)
    scores[::2] += 0.8
    block = np.repeat([0, 1], 8)
    full = permutation_test(scores, group, block=block)
    monkeypatch.setattr(permutation, "MAX_STATES", 10)
    drawn = permutation_test(scores, group, block=block, n_random=19_999, seed=3)
    assert full.exact
    assert not drawn.exact
    assert drawn.p_value == pytest.approx(full.p_value, abs=0.02)
    assert drawn == permutation_test(scores, group, block=block, n_random=19_999, seed=3)


def test_a_drawn_p_value_is_never_nought(monkeypatch):
    monkeypatch.setattr(permutation, "MAX_STATES", 10)
    answer = permutation_test(np.arange(60), np.repeat(["a", "b"], 30), n_random=99)
    assert answer.p_value == pytest.approx(2 * (0 + 1) / (99 + 1))
    assert answer.p_smallest == pytest.approx(2 / 100)


def test_drawn_p_values_keep_the_level(monkeypatch):
    # (r + 1) / (m + 1) is at most a with chance at most a; 2,000 repeats, two-sided 0.05 and 0.2.
    monkeypatch.setattr(permutation, "MAX_STATES", 1)
    rng, group = np.random.default_rng(17), np.repeat(["a", "b"], 4)
    p = [
        permutation_test(rng.normal(size=8), group, n_random=99, seed=i).p_value
        for i in range(2_000)
    ]
    for level in (0.05, 0.2):
        # Three binomial standard errors above.
        assert np.mean(np.array(p) <= level) < level + 3 * np.sqrt(level * (1 - level) / 2_000)


def test_ties_everywhere_or_one_group_a_block_leave_nothing_to_tell():
    assert permutation_test(np.zeros(6), list("aaabbb")).p_value == 1
    answer = permutation_test([1, 2, 3, 4], list("aabb"), block=[0, 0, 1, 1])
    assert (answer.p_value, answer.p_smallest, answer.n_arrangements) == (1, 1, 1)
    assert answer.z == 0
    assert answer.method == "no shuffle possible within the blocks"


def test_thirty_groups_are_drawn():
    rng = np.random.default_rng(2)
    answer = permutation_test(rng.normal(size=90), np.tile(np.arange(30), 3), n_random=199)
    assert not answer.exact
    assert 0 < answer.p_value <= 1


def test_refusals():
    with pytest.raises(ValueError, match="two groups"):
        permutation_test([1, 2], ["a", "a"])
    with pytest.raises(ValueError, match="does not fit 3 groups"):
        permutation_test([1, 2, 3], ["a", "b", "c"], alternative="less")


def test_one_row_a_result():
    table = permutation_test([1, 2, 3, 4], list("abab")).tidy()
    assert len(table) == 1
    assert {"statistic", "p_value", "p_smallest", "p_asymptotic", "method"} <= set(table)
