"""Shares of looks nested in vessels."""

import numpy as np
import pytest
from scipy.stats import t

from trialkit.stats.clustered_share import clustered_share
from trialkit.stats.estimate import proportion_exact


def test_all_vessels_alike_count_as_one_look_each():
    # Clopper & Pearson 1934: n of n vessels.
    found = clustered_share(np.ones(40), np.repeat(np.arange(4), 10))
    assert found.conf_low == pytest.approx(proportion_exact(4, 4).conf_low)


def test_effective_number_of_looks_by_hand():
    # Vessel shares 1, 1, 1, 0 of ten looks each: variance 4/3 x 0.75/16 = 1/16, so that the data
    # are worth .75 x .25 x 16 = 3 looks, times (t .975, 39 df / t .975, 3 df) squared.
    found = clustered_share(np.repeat([1.0, 1, 1, 0], 10), np.repeat(np.arange(4), 10))
    size = 3 * (t.ppf(0.975, 39) / t.ppf(0.975, 3)) ** 2
    expected = proportion_exact(0.75 * size, size)
    assert (found.conf_low, found.conf_high) == pytest.approx(
        (expected.conf_low, expected.conf_high)
    )


def test_looks_of_every_vessel_repeated_narrow_nothing():
    rng = np.random.default_rng(2)
    hits, vessel = rng.integers(0, 2, 30).astype(float), np.repeat(np.arange(6), 5)
    once = clustered_share(hits, vessel)
    again = clustered_share(np.tile(hits, 10), np.tile(vessel, 10))
    assert again.conf_high - again.conf_low == pytest.approx(
        once.conf_high - once.conf_low, rel=0.05
    )


def test_one_vessel_bounds_nothing():
    found = clustered_share([1.0, 0.0], ["K17", "K17"])
    assert (found.conf_low, found.conf_high) == (0, 1)


@pytest.mark.parametrize(("hits", "unit"), [([], []), ([1.0, np.nan], [1, 2])])
def test_gaps_are_refused(hits, unit):
    with pytest.raises(ValueError, match="number everywhere"):
        clustered_share(hits, unit)
