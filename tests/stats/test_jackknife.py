"""The jackknife over units against the interval it must equal for a mean."""

import numpy as np
import pytest

from trialkit.stats.jackknife import unit_jackknife


def test_jackknife_of_a_mean_of_unit_means_is_the_t_interval():
    # Identity: pseudo-values of a mean are the values (Tukey 1958).
    found = unit_jackknife(np.mean, [2.0, 4.0, 9.0], [1, 2, 3])
    reach = 4.302653 * np.std([2, 4, 9], ddof=1) / np.sqrt(3)  # t .975 on 2 df, tables
    assert (found.conf_low, found.conf_high) == pytest.approx((5 - reach, 5 + reach), abs=1e-5)


def test_one_vessel_gives_no_limits():
    found = unit_jackknife(np.mean, [1.0, 2.0], ["K17", "K17"])
    assert (found.conf_low, found.conf_high) == (-np.inf, np.inf)
