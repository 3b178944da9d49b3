"""Two groups of scores against counted arrangements."""

import numpy as np
import pytest
from scipy.stats import fisher_exact

from trialkit.stats.ordinal import fit_ordinal
from trialkit.stats.ordinal_contrast import ordinal_contrast


def test_four_against_four_without_overlap():
    # 2 of the 70 ways to deal out 4 + 4 different scores: p = 0.02857.
    found = ordinal_contrast([1, 2, 3, 4], [5, 6, 7, 8])
    assert found.p_value == pytest.approx(2 / 70)
    assert found.p_smallest == pytest.approx(2 / 70)
    assert (found.estimate, found.conf_high) == (np.inf, np.inf)
    assert found.conf_low > 1


def test_three_against_three_bounds_nothing_at_95_percent():
    # The smallest p is 2/20: no statement at 95% can be made, however far apart they lie.
    found = ordinal_contrast([1, 2, 3], [7, 8, 9])
    assert found.p_value == pytest.approx(0.1)
    assert (found.conf_low, found.conf_high) == (0, np.inf)
    assert ordinal_contrast([1, 2, 3], [7, 8, 9], conf_level=0.85).conf_low > 1


@pytest.mark.parametrize("table", [(3, 1), (4, 0), (3, 0)])
def test_two_categories_are_fisher_s_exact_test(table):
    # Fisher 1935, The Design of Experiments, ch. 2 (the lady tasting tea: 3 of 4 right).
    right, wrong = table
    first, second = [0] * right + [1] * wrong, [1] * right + [0] * wrong
    expected = fisher_exact([[right, wrong], [wrong, right]]).pvalue
    assert ordinal_contrast(first, second).p_value == pytest.approx(expected)


def test_limits_hold_one_exactly_when_the_test_does_not_reject():
    rng = np.random.default_rng(12)
    rejected = 0
    for _ in range(8):
        first, second = rng.integers(0, 4, 4), rng.integers(2, 7, 4)
        found = ordinal_contrast(first, second)
        rejected += found.p_value <= 0.05
        inside = found.conf_low <= 1 + 1e-6 and found.conf_high >= 1 - 1e-6
        assert inside == (found.p_value > 0.05)
    assert 0 < rejected < 8


def test_swapping_the_groups_turns_the_ratio_over():
    one = ordinal_contrast([1, 2, 2, 5, 3], [4, 5, 6, 3, 7])
    other = ordinal_contrast([4, 5, 6, 3, 7], [1, 2, 2, 5, 3])
    assert other.estimate == pytest.approx(1 / one.estimate, rel=1e-3)
    assert other.conf_high == pytest.approx(1 / one.conf_low, rel=1e-2)
    assert other.p_value == pytest.approx(one.p_value)


def test_many_scores_are_sampled_with_a_literal_seed():
    rng = np.random.default_rng(3)
    first, second = rng.integers(0, 3, 9), rng.integers(0, 3, 9)
    found = ordinal_contrast(first, second, seed=7)
    assert "sampled" in found.method
    assert found == ordinal_contrast(first, second, seed=7)
    assert found.p_value >= 1 / 1000


def test_no_two_different_scores():
    found = ordinal_contrast([3, 3], [3, 3])
    assert (found.estimate, found.conf_low, found.conf_high, found.p_value) == (1, 0, np.inf, 1)


@pytest.mark.parametrize(("first", "second"), [([], [1]), ([1, np.nan], [1])])
def test_groups_without_scores_are_refused(first, second):
    with pytest.raises(ValueError, match="hold scores"):
        ordinal_contrast(first, second)


def test_estimate_is_the_one_of_the_model_row_by_row():
    # A second road: the regression, which statsmodels' OrderedModel is held to elsewhere.
    first, second = [1, 2, 2, 5, 3], [4, 5, 6, 3, 7]
    fit = fit_ordinal([[0]] * 5 + [[1]] * 5, first + second)
    found = ordinal_contrast(first, second)
    assert np.log(found.estimate) == pytest.approx(fit.coefficients[0], abs=1e-6)
    drops = [fit.profile_deviance(0, np.log(end)) for end in (found.conf_low, found.conf_high)]
    assert drops[0] == pytest.approx(drops[1], abs=1e-3)


def test_scores_far_from_overlap_still_end_the_search():
    # Held far from the scores the likelihood is a slope without curvature.
    found = ordinal_contrast([1, 0, 2, 1], [3, 4, 3, 4])
    assert (found.estimate, found.conf_high) == (np.inf, np.inf)
    assert found.p_value == pytest.approx(2 / 70)
