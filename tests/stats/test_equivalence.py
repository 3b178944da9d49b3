"""Two one-sided tests against closed forms and the interval they are equal to."""

import numpy as np
import pytest
from scipy.stats import t

from trialkit.stats.equivalence import equivalence_paired


def test_two_differences_by_hand():
    # Mean 0, SD sqrt 2, error 1; t on 1 df is Cauchy: P(T > 2) = 1/2 - atan(2)/pi.
    found = equivalence_paired([-1.0, 1.0], 2.0)
    assert found.p_value == pytest.approx(0.5 - np.arctan(2) / np.pi, abs=1e-12)
    assert found.decision == "not settled"


@pytest.mark.parametrize("seed", range(8))
def test_decision_is_that_of_the_90_percent_interval(seed):
    # Schuirmann 1987: reject at 5% exactly when the 90% interval lies within the margin.
    rng = np.random.default_rng(seed)
    sample = rng.normal(0.1, 0.3, size=6)
    found = equivalence_paired(sample, 0.35)
    reach = t.ppf(0.95, 5) * sample.std(ddof=1) / np.sqrt(6)
    within = abs(sample.mean()) + reach < 0.35
    assert (found.decision == "equivalent") == within
    assert (found.test_high - found.test_low) / 2 == pytest.approx(reach)


def test_both_decisions_occur_above():
    decisions = {
        equivalence_paired(np.random.default_rng(s).normal(0.1, 0.3, 6), 0.35).decision
        for s in range(8)
    }
    assert {"equivalent", "not settled"} <= decisions


def test_a_difference_beyond_the_margin_is_different():
    assert equivalence_paired([1.0, 1.1, 0.9], 0.2).decision == "different"


def test_rounded_readings_that_agree_exactly_keep_the_spread_of_rounding():
    # Difference of two uniform roundings of step r: variance 2 r^2 / 12 = r^2 / 6.
    found = equivalence_paired([0.0, 0.0, 0.0], 0.5, resolution=1.0)
    assert found.test_high == pytest.approx(t.ppf(0.95, 2) * np.sqrt(1 / 6) / np.sqrt(3))
    assert found.decision == "not settled"
    assert equivalence_paired([0.0, 0.0, 0.0], 0.5, resolution=0.1).decision == "equivalent"


def test_identical_unrounded_differences():
    assert equivalence_paired([0.1, 0.1, 0.1], 0.5).decision == "equivalent"
    assert equivalence_paired([0.6, 0.6, 0.6], 0.5).decision == "different"


@pytest.mark.parametrize("sample", [[], [0.0]])
def test_one_vessel_or_none_settles_nothing(sample):
    found = equivalence_paired(sample, 1.0)
    assert found.p_value == 1.0
    assert found.decision == "not settled"
    assert found.conf_high == np.inf


def test_margin_must_be_positive():
    with pytest.raises(ValueError, match="above 0"):
        equivalence_paired([0.0, 0.1], 0.0)
