"""Claims: the verdict follows from the interval and the claimed number, nothing else."""

import math

import pandas as pd
import pytest

from trialkit.analysis.claims import assess_claim, assess_claims
from trialkit.records.trial import Claim
from trialkit.stats.aft import fit_aft

# Two mixes, the second about three times as slow; the third never clears.
LOOKS = pd.DataFrame(
    {
        "mix": ["M01"] * 4 + ["M02"] * 4 + ["M03"] * 4,
        "left_h": [1, 1, 2, 2, 4, 4, 6, 6, 24, 24, 24, 24],
        "right_h": [2, 3, 3, 4, 6, 8, 8, 10, *[math.inf] * 4],
    }
)


@pytest.fixture(scope="module")
def fit():
    return fit_aft(LOOKS["left_h"], LOOKS["right_h"], LOOKS["mix"])


def verdict(fit, **claim) -> str:
    return assess_claim(Claim("c", "text", criterion="clarity", **claim), LOOKS, fit)["verdict"]


def test_a_time_claim_turns_with_the_claimed_time(fit):
    limits = fit.quantile(0.5).set_index("group").loc["M01"]
    low, high = limits["conf_low"], limits["conf_high"]
    assert verdict(fit, mix="M01", within_h=high * 1.001) == "supported"
    assert verdict(fit, mix="M01", within_h=high * 0.999) == "not settled"
    assert verdict(fit, mix="M01", within_h=low * 1.001) == "not settled"
    assert verdict(fit, mix="M01", within_h=low * 0.999) == "contradicted"


def test_a_claim_about_nine_in_ten_is_harder_to_support(fit):
    high = fit.quantile(0.5).set_index("group").loc["M01", "conf_high"]
    assert verdict(fit, mix="M01", within_h=high, share=0.5) == "supported"
    assert verdict(fit, mix="M01", within_h=high, share=0.9) == "not settled"


def test_a_mix_that_never_cleared_contradicts_a_time_well_inside_the_window(fit):
    assert verdict(fit, mix="M03", within_h=2) == "contradicted"
    # Nothing was seen beyond the window, so nothing contradicts a time out there.
    assert verdict(fit, mix="M03", within_h=48) == "not settled"


def test_an_order_claim_turns_with_the_order(fit):
    assert verdict(fit, mix="M01", before="M02") == "supported"
    assert verdict(fit, mix="M02", before="M01") == "contradicted"
    assert verdict(fit, mix="M01", before="M03") == "supported"
    assert verdict(fit, mix="M03", before="M02") == "contradicted"


def test_the_deciding_number_is_told(fit):
    found = assess_claim(Claim("c", "text", "M01", "clarity", within_h=2.0), LOOKS, fit)
    assert found["threshold"] == 2.0
    assert found["unit"] == "h"
    assert (found["n"], found["n_event"]) == (4, 4)
    assert found["conf_low"] < found["estimate"] < found["conf_high"]
    assert found["term"] == "time by which 50% of batches are clear"


def test_a_claim_about_a_mix_that_no_vessel_holds_is_named(fit):
    with pytest.raises(ValueError, match="no vessel holds mix M09"):
        verdict(fit, mix="M09", within_h=1)


def test_one_vessel_a_mix_settles_no_order(hand_trial):
    """One vessel each: 1 h against 8 h could be two vessels of one mix."""
    from dataclasses import replace

    values = {"V01": {"R01": [10] * 9}, "V02": {"R01": [0] * 7 + [10, 10]}}
    trial = hand_trial(values, mixes={"V01": "M01", "V02": "M02"})
    claims = {"c": Claim("c", "first", "M01", "clarity", before="M02")}
    trial = replace(trial, protocol=replace(trial.protocol, claims=claims))
    assert assess_claims(trial)["verdict"].tolist() == ["not settled"]
    declared = replace(trial.protocol, declared_scale=0.1)
    assert assess_claims(replace(trial, protocol=declared))["verdict"].tolist() == ["supported"]
