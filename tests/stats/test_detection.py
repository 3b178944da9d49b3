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
