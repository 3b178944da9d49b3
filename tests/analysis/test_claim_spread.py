"""Claims judged by a spread of each mix's own."""

import numpy as np
import pandas as pd
import pytest

from trialkit.analysis.claim_spread import claims_by_own_spread
from trialkit.analysis.claims import assess_claim
from trialkit.records.trial import Claim
from trialkit.stats.aft import fit_aft
from trialkit.stats.own_scales import fit_own_scales

# Three mixes that hardly vary, and one whose vessels clear anywhere in a working day.
STEADY = [(3.0, 3.1), (3.1, 3.2), (3.2, 3.3), (2.9, 3.0)]
UNSTEADY = [(0.8, 1.0), (2.0, 2.2), (4.5, 5.0), (1.0, 1.2)]
LOOKS = pd.DataFrame(
    [(mix, *ends) for mix in ("M01", "M02", "M03") for ends in STEADY]
    + [("M04", *ends) for ends in UNSTEADY],
    columns=["mix", "left_h", "right_h"],
)
WITHIN = Claim("quick", "text", "M04", "clarity", within_h=5.0)
BEFORE = Claim("order", "text", "M04", "clarity", before="M01")


@pytest.fixture(scope="module")
def fit():
    return fit_aft(LOOKS["left_h"], LOOKS["right_h"], LOOKS["mix"])


def test_a_claim_on_an_uneven_mix_may_rest_on_one_spread(fit):
    assert assess_claim(WITHIN, LOOKS, fit)["verdict"] == "supported"
    row = claims_by_own_spread([WITHIN], {"clarity": fit}).iloc[0]
    assert row["verdict"] == "not settled"
    own = fit_own_scales(LOOKS["left_h"], LOOKS["right_h"], LOOKS["mix"]).quantile(0.5)
    expected = own.set_index("group").loc["M04"]
    assert row["conf_low"] == expected["conf_low"]
    assert row["conf_high"] == expected["conf_high"]


def test_a_claim_of_order_has_a_ratio_without_unit(fit):
    table = claims_by_own_spread([BEFORE, WITHIN], {"clarity": fit})
    assert table["claim"].tolist() == ["order", "quick"]
    assert table["unit"].tolist() == ["", "h"]
    assert table["conf_low"][0] < 1 < table["conf_high"][0]


def test_no_row_where_no_spread_was_measured():
    once = LOOKS.drop_duplicates("mix")
    for scale in (None, 0.3):
        fit = fit_aft(once["left_h"], once["right_h"], once["mix"], scale=scale)
        assert claims_by_own_spread([WITHIN], {"clarity": fit}).empty
    assert np.isfinite(fit.quantile(0.5)["conf_high"]).all()
