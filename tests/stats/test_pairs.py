"""Pairs fitted together against the same pairs fitted one by one."""

import numpy as np
import pytest
from scipy import stats

from trialkit.stats.aft import fit_aft
from trialkit.stats.pairs import pair_p_values


def pair(rng, sizes):
    time = np.exp(rng.normal(1, 0.4, sum(sizes)))
    looks = np.array([0, 1, 2, 3, 4, 6, 8, np.inf])
    at = np.searchsorted(looks, time)
    group = rng.permutation(np.repeat(["a", "b"], sizes))
    return looks[at - 1], looks[at], group


@pytest.mark.parametrize("family", ["lognormal", "weibull", "loglogistic"])
def test_many_pairs_at_once_are_the_single_fits(family):
    rng = np.random.default_rng(21)
    pairs = [pair(rng, sizes) for sizes in [(4, 4), (3, 4), (4, 4), (2, 3), (4, 4), (3, 4)]]
    singly = [fit_aft(*own, family=family).contrast("a", "b")["p_value"].item() for own in pairs]
    assert pair_p_values(pairs, family=family) == pytest.approx(singly, abs=1e-7)


def test_exact_lognormal_times_give_students_t():
    # With complete normal data the calibrated likelihood ratio is the two-sample t test.
    a, b = np.array([0.1, 0.5, 0.2]), np.array([0.6, 0.9, 1.4, 0.8])
    times = np.exp(np.concatenate([a, b]))
    p = pair_p_values([(times, times, list("aaabbbb"))])
    assert p[0] == pytest.approx(stats.ttest_ind(a, b).pvalue, rel=1e-6)


def test_a_known_scale_gives_the_normal_test():
    a, b = np.array([0.1, 0.5]), np.array([0.6, 1.1])
    times = np.exp(np.concatenate([a, b]))
    p = pair_p_values([(times, times, list("aabb"))], scale=0.3)
    z = (b.mean() - a.mean()) / (0.3 * np.sqrt(1 / 2 + 1 / 2))
    assert p[0] == pytest.approx(2 * stats.norm.sf(z), rel=1e-6)


def test_one_value_a_group_and_no_pair_tell_nothing():
    assert pair_p_values([([1, 5], [2, 6], ["a", "b"])]).tolist() == [1.0]
    assert pair_p_values([]).size == 0


def test_one_group_is_no_pair():
    with pytest.raises(ValueError, match="two groups"):
        pair_p_values([([1, 5], [2, 6], ["a", "a"])])
