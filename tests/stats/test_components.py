"""Variance components against published layouts."""

import numpy as np
import pytest

from trialkit.stats.components import (
    REPEATABILITY_FACTOR,
    mean_of_units,
    unit_mean,
    variance_components,
)

# Yield of dyestuff, six batches of five (Davies & Goldsmith 1972, Statistical Methods in Research
# and Production, 4th ed., table 6.1; Box & Tiao 1973, p. 246).
DYESTUFF = np.array([
    [1545, 1440, 1440, 1520, 1580], [1540, 1555, 1490, 1560, 1495],
    [1595, 1550, 1605, 1510, 1560], [1445, 1440, 1595, 1465, 1545],
    [1595, 1630, 1515, 1635, 1625], [1520, 1455, 1450, 1480, 1445],
])  # fmt: skip

# Glucose in serum, eight laboratories of three (ASTM E691, materials A and D).
GLUCOSE_A = np.array([
    [41.03, 41.45, 41.37], [41.17, 42.0, 41.15], [41.01, 40.68, 42.66], [39.37, 42.37, 42.63],
    [41.88, 41.19, 41.32], [43.28, 40.5, 42.28], [41.08, 41.27, 39.02], [43.36, 42.65, 41.72],
])  # fmt: skip
GLUCOSE_D = np.array([
    [193.71, 193.59, 193.65], [190.88, 200.14, 194.3], [192.71, 193.28, 190.28],
    [195.85, 196.36, 199.43], [192.59, 191.44, 195.12], [195.34, 198.26, 198.13],
    [194.66, 191.99, 187.13], [197.56, 195.99, 200.82],
])  # fmt: skip


def components(table):
    return variance_components(table.ravel(), np.repeat(np.arange(len(table)), table.shape[1]))


def test_dyestuff():
    # Box & Tiao 1973, p. 247: 1764 and 2451; mean square 11,271.5.
    found = components(DYESTUFF)
    assert found.between == pytest.approx(1764.05, rel=1e-5)
    assert found.within == pytest.approx(2451.25, rel=1e-6)
    assert found.ms_between == pytest.approx(11271.5, rel=1e-6)
    assert found.correlation == pytest.approx(0.41849, abs=1e-5)


def test_standard_error_of_the_mean_counts_batches_not_samples():
    # Pseudo-replication (Hurlbert 1984): 30 samples taken for independent give 11.506, the six
    # batches 19.383 = sqrt(11271.5 / 30).
    batch = np.repeat(np.arange(6), 5)
    found = unit_mean(DYESTUFF.ravel(), batch)
    error = (found.conf_high - found.estimate) / 2.570582  # t .975 on 5 df, tables
    assert error == pytest.approx(19.383, abs=1e-3)
    naive = DYESTUFF.std(ddof=1) / np.sqrt(30)
    assert naive == pytest.approx(11.506, abs=1e-3)


def test_tenfold_readings_of_one_batch_narrow_nothing():
    values, batch = DYESTUFF.ravel(), np.repeat(np.arange(6), 5)
    again = np.r_[np.arange(30), np.tile(np.arange(5), 9)]
    once, tenfold = unit_mean(values, batch), unit_mean(values[again], batch[again])
    assert tenfold.conf_low == pytest.approx(once.conf_low)
    assert tenfold.conf_high == pytest.approx(once.conf_high)


def test_glucose_precision():
    # ASTM E691 (printed statistics from memory; recomputed with ILS in R): the variance between
    # laboratories of A is negative and cut at 0.
    a, d = components(GLUCOSE_A), components(GLUCOSE_D)
    assert a.mean == pytest.approx(41.5183, abs=1e-4)
    assert (a.repeatability_sd, a.reproducibility_sd) == pytest.approx((1.0632, 1.0632), abs=1e-4)
    assert (d.repeatability_sd, d.reproducibility_sd) == pytest.approx((2.6251, 3.3657), abs=1e-4)
    assert d.repeatability_limit == pytest.approx(2.772 * 2.6251, abs=2e-2)


def test_repeatability_factor():
    # ISO 5725-6: 1.96 sqrt 2, printed 2.8.
    assert abs(REPEATABILITY_FACTOR - 2.772) < 1e-3


def test_single_readings_have_no_within_and_one_unit_no_between():
    assert variance_components([1, 2, 3], [1, 2, 3]).within == 0
    alone = variance_components([1, 2, 3], [1, 1, 1])
    assert (alone.between, alone.within) == (0, 1)
    found = mean_of_units([3.0])
    assert (found.conf_low, found.conf_high) == (-np.inf, np.inf)


def test_rounded_values_that_agree_keep_the_spread_of_rounding():
    # Half-width t .975 (2 df, 4.302653) x 0.1 / sqrt 3.
    found = mean_of_units([2.0, 2.0, 2.0], floor=0.1)
    assert found.conf_high - 2 == pytest.approx(4.302653 * 0.1 / np.sqrt(3), abs=1e-6)


def test_gaps_are_refused():
    with pytest.raises(ValueError, match="number everywhere"):
        variance_components([1, np.nan], [1, 1])
