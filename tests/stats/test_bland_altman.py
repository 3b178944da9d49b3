"""Limits of agreement against the paper that proposed them."""

import numpy as np
import pytest

from trialkit.stats.bland_altman import limits_of_agreement

# Bland & Altman 1986, Lancet 327, table 1: first peak flow readings, large and mini meter
# (values from memory; the printed mean and standard deviation below confirm them).
LARGE = [494, 395, 516, 434, 476, 557, 413, 442, 650, 433, 417, 656, 267, 478, 178, 423, 427]
MINI = [512, 430, 520, 428, 500, 600, 364, 380, 658, 445, 432, 626, 260, 477, 259, 350, 451]


def test_peak_flow_meters():
    # Bland & Altman 1986: mean -2.1, SD 38.8 l/min; with 2 SD the limits are -79.7 and 75.5.
    found = limits_of_agreement(np.subtract(LARGE, MINI))
    assert found.bias == pytest.approx(-2.1, abs=0.05)
    assert found.sd == pytest.approx(38.8, abs=0.05)
    assert found.bias - 2 * found.sd == pytest.approx(-79.7, abs=0.1)
    assert found.bias + 2 * found.sd == pytest.approx(75.5, abs=0.1)
    assert found.bias_limits == pytest.approx((-22.0, 17.8), abs=0.1)  # ibid.


def test_exact_limit_is_the_tolerance_factor():
    # The upper limit of mean + 1.2816 SD is a one-sided 90/95 tolerance limit: k = 3.4066 at
    # n = 5 (Odeh & Owen 1980; ISO 16269-6).
    found = limits_of_agreement([-2.0, -1.0, 0.0, 1.0, 2.0], share=0.8, conf_level=0.9)
    assert found.high_limits[1] / found.sd == pytest.approx(3.4066, abs=1e-4)
    assert found.low_limits[0] == pytest.approx(-found.high_limits[1])


def test_one_pair_leaves_every_limit_open():
    table = limits_of_agreement([0.4]).tidy()
    assert np.isinf(table.conf_low).all()
    assert np.isinf(table.conf_high).all()


def test_missing_differences_are_refused():
    with pytest.raises(ValueError, match="one or more"):
        limits_of_agreement([0.1, np.nan])
