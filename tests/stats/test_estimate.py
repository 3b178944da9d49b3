"""Estimates print as sentences; the exact binomial limits are the published ones."""

import math

import pytest

from trialkit.stats.estimate import Estimate, proportion_exact


@pytest.mark.parametrize(("n", "low"), [(2, 0.1581), (3, 0.2924), (4, 0.3976), (5, 0.4782)])
def test_all_of_n_has_the_closed_form_lower_limit(n, low):
    # With n of n the lower limit solves p^n = 0.025 (Clopper & Pearson 1934).
    found = proportion_exact(n, n)
    assert found.conf_low == pytest.approx(0.025 ** (1 / n), abs=1e-9)
    assert found.conf_low == pytest.approx(low, abs=5e-5)
    assert found.conf_high == 1


def test_none_of_n_mirrors_all_of_n():
    none, every = proportion_exact(0, 6), proportion_exact(6, 6)
    assert none.conf_low == 0
    assert none.conf_high == pytest.approx(1 - every.conf_low, abs=1e-12)


def test_mendel_peas():
    # Mendel's 682 of 925 as in the help page of binom.test in R (Conover 1971, p. 97).
    found = proportion_exact(682, 925)
    assert (found.conf_low, found.conf_high) == pytest.approx((0.70767, 0.76541), abs=1e-5)


def test_sentences():
    assert str(Estimate(1.5, 1, 4, unit="h", method="Turnbull")) == (
        "1.5 h (95% CI 1 to 4; Turnbull)"
    )
    assert str(Estimate(2, 1, math.inf, 0.9, unit="h")) == "2 h (90% CI above 1 h)"
    assert str(Estimate(math.inf, 1, math.inf, unit="h")).startswith("not reached")


@pytest.mark.parametrize(
    "bad", [(math.nan, 0, 1, 0.95), (1, 2, 1, 0.95), (1, 0, 2, 95), (1, math.nan, 2, 0.95)]
)
def test_impossible_estimates_are_refused(bad):
    with pytest.raises(ValueError, match="got"):
        Estimate(*bad)


@pytest.mark.parametrize(("successes", "n"), [(5, 4), (-1, 4), (0, 0)])
def test_impossible_counts_are_refused(successes, n):
    with pytest.raises(ValueError, match=f"got {successes} of {n}"):
        proportion_exact(successes, n)
