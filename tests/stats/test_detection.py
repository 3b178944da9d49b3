"""Detection limits against their published factors."""

import numpy as np
import pytest

from trialkit.stats.detection import detection_limits


def test_factors_of_currie():
    # Currie 1968, Analytical Chemistry 40, table II: 2.33 and 4.65 sigma of the blank; 10 sigma for
    # quantitation with a well-known blank.
    found = detection_limits([-1.0, 0.0, 1.0])  # SD 1
    assert found.critical == pytest.approx(2.326, abs=1e-3)
    assert found.detection == pytest.approx(4.653, abs=1e-3)
    assert found.quantitation == pytest.approx(10)


def test_factor_of_seven_blanks():
    # 40 CFR part 136, appendix B: 3.143 for seven replicates.
    found = detection_limits(np.arange(7.0))
    assert found.method_limit / found.sd == pytest.approx(3.1427, abs=1e-4)


@pytest.mark.parametrize("blanks", [[], [1.0], [1.0, np.nan]])
def test_one_blank_has_no_spread(blanks):
    with pytest.raises(ValueError, match="two blanks"):
        detection_limits(blanks)


def test_two_results_of_a_blank_vessel_count_as_one_vessel():
    # Mean squares by hand: vessel means 3 and 7, within 2; between = (16 - 2)/2 = 7, in all 9.
    found = detection_limits([2.0, 4.0, 6.0, 8.0], ["K1", "K1", "K2", "K2"])
    assert found.sd == pytest.approx(3.0)
    assert found.n == 2
