"""Textbook sample sizes against the figures that textbooks and R print."""

import itertools

import pytest

from trialkit.planning.closed_forms import (
    events_freedman,
    events_schoenfeld,
    power_shares,
    power_t,
    smallest_p,
    tolerance_factor,
    vessels_distribution_free,
    vessels_noether,
)


def test_power_of_a_t_test():
    # R 4.2.2, example(power.t.test): n = 20, delta = 1 gives 0.8689528; 63.77 for delta = 0.5
    # and power 0.9 is not whole, so 63 is under and 64 over.
    assert power_t(20, 1.0) == pytest.approx(0.8689528, abs=1e-6)
    assert power_t(85, 0.5) < 0.9 < power_t(86, 0.5)


def test_power_for_two_shares():
    # R 4.2.2, example(power.prop.test): n = 50, .50 v .75 gives 0.7401659; 76.7 for power 0.9.
    assert power_shares(50, 0.5, 0.75) == pytest.approx(0.7401659, abs=1e-6)
    assert power_shares(76, 0.5, 0.75) < 0.9 < power_shares(77, 0.5, 0.75)


def test_events_for_a_log_rank_test():
    # Schoenfeld (1981), Biometrika 68:316; the second figure is 133 in Collett, Modelling
    # Survival Data in Medical Research (from memory, not verified).
    assert events_schoenfeld(2, 0.8) == pytest.approx(65.35, abs=0.01)
    assert events_schoenfeld(0.57, 0.9) == pytest.approx(133.0, abs=0.1)
    # Freedman (1982), Statistics in Medicine 1:121, by his formula.
    assert events_freedman(2, 0.8) == pytest.approx(70.64, abs=0.01)


def test_vessels_for_a_rank_sum_test():
    # Noether (1987), JASA 82:645, by his formula.
    assert vessels_noether(0.7, 0.8) == pytest.approx(65.41, abs=0.01)


@pytest.mark.parametrize(
    ("n", "p"), [(2, 1 / 3), (3, 0.1), (4, 0.0285714), (5, 0.0079365), (6, 0.0021645)]
)
def test_smallest_p_without_blocks(n, p):
    assert smallest_p(n, blocked=False) == pytest.approx(p, abs=1e-7)


@pytest.mark.parametrize("n", [2, 3, 4, 5])
def test_smallest_p_in_blocks_by_enumeration(n):
    # The first mix wins in every block; swap labels within blocks in all ways.
    sums = [sum(signs) for signs in itertools.product((-1, 1), repeat=n)]
    assert smallest_p(n) == sum(abs(s) >= n for s in sums) / len(sums)


def test_tolerance_factors():
    # ISO 16269-6 and Odeh & Owen tables: one-sided 90/95, then 95/95.
    ninety = {3: 6.1553, 4: 4.1619, 5: 3.4066, 6: 3.0063, 10: 2.3546, 20: 1.9260}
    for n, factor in ninety.items():
        assert tolerance_factor(n) == pytest.approx(factor, abs=1e-4)
    for n, factor in {3: 7.6559, 5: 4.2027, 10: 2.9110, 20: 2.3960}.items():
        assert tolerance_factor(n, 0.95) == pytest.approx(factor, abs=1e-4)
    # NIST/SEMATECH e-Handbook 7.2.6.3: n = 43, 90/99 (from memory, not verified): 1.8740 exact.
    assert tolerance_factor(43, 0.9, 0.99) == pytest.approx(1.8740, abs=1e-4)


def test_pooled_spread_needs_a_smaller_factor():
    assert tolerance_factor(4, df=20) < tolerance_factor(4)


def test_distribution_free_numbers():
    # Wilks (1941), Ann. Math. Stat. 12:91: 90/95, 95/95, 99/95.
    found = [vessels_distribution_free(share, 0.95) for share in (0.9, 0.95, 0.99)]
    assert found == [29, 59, 299]
