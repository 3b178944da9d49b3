"""Coverage of the median's limits at 2-4 vessels a mix, by simulation with literal seeds."""

import numpy as np
import pytest
from scipy.stats import norm

from trialkit.stats._batch import NEVER, fit_aft_batch
from trialkit.stats._limits import contrast_p_value, limits_for, quantile_limits, share_limits
from trialkit.stats._trials import simulate_intervals

# Eight mixes, medians from 1.5 h to 40 h: read hourly to 24 h, the last is nearly always
# censored whole and is covered when its lower limit is right.
LOCATION = np.log(np.geomspace(1.5, 40, 8))
SCALE = 0.3


def fits(n_vessel, n_trial, seed, location=LOCATION):
    left, right, codes = simulate_intervals(location, SCALE, n_vessel, n_trial, seed)
    return fit_aft_batch(left, right, codes)


def covered(fit, location=LOCATION):
    limits = quantile_limits(fit, 0.5, limits_for(fit, 0.95))
    return (limits[:, :, 0] <= location) & (location <= limits[:, :, 1])


@pytest.mark.parametrize("n_vessel", [2, 3, 4])
def test_median_limits_cover(n_vessel):
    # 300 trials of 8 mixes. Mixes of a trial share a scale, so trials are the sample:
    # the tolerance is three standard errors of the trials' own spread.
    fit = fits(n_vessel, 300, seed=40 + n_vessel)
    assert fit.converged.all()
    assert (fit.place[:, -1] == NEVER).mean() > 0.5
    found = covered(fit)
    error = 3 * found.mean(axis=1).std() / np.sqrt(len(found))
    assert error < 0.025
    assert 0.94 - error <= found.mean() <= 0.98 + error


@pytest.mark.slow
@pytest.mark.parametrize("n_vessel", [2, 3, 4])
def test_median_limits_cover_long(n_vessel):
    found = covered(fits(n_vessel, 6000, seed=4))
    assert 0.94 <= found.mean() <= 0.98
    # Each mix too, the censored one by its lower limit: three standard errors are 0.0085.
    assert (found.mean(axis=0) >= 0.94 - 0.0085).all()


@pytest.mark.parametrize("n_vessel", [2, 3, 4])
def test_contrast_of_equal_mixes_is_rarely_significant(n_vessel):
    # Two equal mixes among four: p under 0.05 in at most 5% (1,500 trials, three standard
    # errors are 0.017).
    location = np.log([4.0, 4.0, 8.0, 12.0])
    p = contrast_p_value(fits(n_vessel, 1500, 50 + n_vessel, location), 0, 1)
    assert 0.01 <= (p < 0.05).mean() <= 0.05 + 0.017


@pytest.mark.parametrize("t", [5.5, 12.0])
def test_share_limits_cover_on_each_side(t):
    # Six mixes with a median of 8 h: 11% are clear by 5.5 h, 91% by 12 h. The mixes of a
    # trial share a scale, so the tolerance is three standard errors of the trials' means.
    location = np.full(6, np.log(8.0))
    found = share_limits(fits(3, 600, 60, location), t, 0.95)
    share = norm.cdf((np.log(t) - np.log(8)) / SCALE)
    for missed in (found[..., 0] > share, found[..., 1] < share):
        error = 3 * missed.mean(axis=1).std() / np.sqrt(len(missed))
        assert error < 0.015
        assert missed.mean() == pytest.approx(0.025, abs=error + 0.003)
