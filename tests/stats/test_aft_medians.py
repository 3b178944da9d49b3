"""Medians of many trials in step agree with fitting one trial after the other."""

import numpy as np
import pytest

from trialkit.stats.aft import fit_aft
from trialkit.stats.aft_medians import fit_aft_medians

HOURS = np.array([0, 0.25, 0.5, 1, 1.5, 2, 3, 4, 6, 8, 12, 24, np.inf])


def drawn(trials, codes, spread, seed):
    rng = np.random.default_rng(seed)
    time = np.exp(np.array([0.2, 1.4, 3.0])[codes] + spread * rng.normal(size=(trials, len(codes))))
    at = np.searchsorted(HOURS, time)
    return HOURS[at - 1], HOURS[at]


@pytest.mark.parametrize(
    ("codes", "spread"),
    [
        ([0, 0, 0, 1, 1, 1], 0.4),
        ([0, 0, 1, 2, 2, 2], 0.5),  # some mixes never clear, one vessel of another
        ([0, 1, 2], 0.4),  # no freedom for a scale: exact limits
        ([0, 0, 1, 1], 0.02),  # vessels agree: the scale is 0
    ],
)
def test_in_step_or_one_by_one(codes, spread):
    codes = np.array(codes)
    left, right = drawn(12, codes, spread, 5)
    found = fit_aft_medians(left, right, codes)
    for row in range(len(left)):
        fit = fit_aft(left[row], right[row], codes)
        alone = fit.quantile(0.5)
        assert found.scale[row] == pytest.approx(fit.scale, rel=1e-6)
        for name in ("estimate", "conf_low", "conf_high"):
            assert getattr(found, name)[row] == pytest.approx(alone[name].to_numpy(), rel=1e-6)
    assert np.isinf(found.conf_high).any() or spread == 0.02 or 2 not in codes


def test_the_level_is_checked():
    with pytest.raises(ValueError, match="conf_level"):
        fit_aft_medians([[1.0]], [[2.0]], [0], conf_level=95)
