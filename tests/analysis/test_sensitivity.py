"""The grid of definitions: complete, consistent with the single road, and open about the foil."""

import numpy as np
import pytest

from trialkit.analysis.clearing import clearing_intervals
from trialkit.analysis.sensitivity import sensitivity, sensitivity_summary
from trialkit.stats._batch import fit_aft_batch


@pytest.fixture
def two_mixes(hand_trial):
    """M01 clears about 3 h, M02 about 6 h; R02 is one session later than R01."""
    rows = {}
    for number, (mix, start) in enumerate(
        [("M01", s) for s in (2, 3, 3)] + [("M02", s) for s in (5, 6, 6)]
    ):
        looks = [10 if h >= start else min(9, 5 + h) for h in range(1, 10)]
        rows[f"V{number + 1:02d}"] = (mix, {"R01": looks, "R02": [0, *looks[:-1]]})
    values = {vessel: looks for vessel, (_, looks) in rows.items()}
    return hand_trial(values, mixes={vessel: mix for vessel, (mix, _) in rows.items()})


def test_the_declared_definition_is_in_the_grid_once_with_the_single_answer(two_mixes):
    grid = sensitivity(two_mixes)
    declared = grid[grid["declared"]]
    assert declared["mix"].tolist() == ["M01", "M02"]
    frame = clearing_intervals(two_mixes, "clarity")
    codes = (frame["mix"] == "M02").to_numpy().astype(int)
    ends = (frame[["left_h"]].to_numpy().T, frame[["right_h"]].to_numpy().T)
    single = np.exp(fit_aft_batch(*ends, codes, "lognormal").log_quantile(0.5))[0]
    np.testing.assert_allclose(declared["estimate"], single, rtol=1e-8)
    assert declared["n_event"].tolist() == [3, 3]


def test_every_definition_ranks_every_mix(two_mixes):
    grid = sensitivity(two_mixes)
    assert (grid.groupby("definition")["mix"].nunique() == 2).all()
    # 3 tolerances (0, 1, 2 lines) x 3 holds x 5 rules, three families and one foil.
    assert grid["definition"].nunique() == 3 * 3 * 5 * 4
    columns = ["criterion", "tolerance", "hold", "rater_rule", "family", "placement"]
    assert not grid.duplicated([*columns, "mix"]).any()


def test_a_stricter_rule_never_makes_a_mix_faster(two_mixes):
    grid = sensitivity(two_mixes)
    own = grid[(grid["placement"] == "interval") & (grid["family"] == "lognormal")]
    by_rule = own.pivot_table(
        index=["tolerance", "hold", "mix"], columns="rater_rule", values="estimate", aggfunc="first"
    )
    assert (by_rule["any"] <= by_rule["all"] + 1e-9).all()
    # R02 sees everything one session later, so the rules do differ.
    assert (by_rule["any"] < by_rule["all"]).any()


def test_a_mix_that_never_cleared_ranks_last_with_inf(hand_trial):
    values = {
        "V01": {"R01": [0, 10, 10, 10]},
        "V02": {"R01": [0, 0, 10, 10]},
        "V03": {"R01": [0, 0, 0, 0]},
        "V04": {"R01": [0, 0, 0, 0]},
    }
    mixes = {"V01": "M01", "V02": "M01", "V03": "M02", "V04": "M02"}
    grid = sensitivity(hand_trial(values, mixes=mixes))
    never = grid[(grid["mix"] == "M02") & (grid["tolerance"] == 0)]
    assert np.isinf(never["estimate"]).all()
    assert (never["rank"] == 2).all()


def test_the_summary_counts_no_foil(two_mixes):
    grid = sensitivity(two_mixes)
    summary = sensitivity_summary(grid)
    assert summary["mix"].tolist() == ["M01", "M02"]
    assert (summary["n_definition"] == 3 * 3 * 5 * 3).all()
    assert summary["rank"].tolist() == [1, 2]
    assert (summary["estimate_low"] <= summary["estimate"]).all()
    assert (summary["estimate"] <= summary["estimate_high"]).all()


def test_intervals_that_were_given_cannot_be_judged_again(hand_trial):
    import pandas as pd

    trial = hand_trial({"V01": {"R01": [0, 10, 10]}})
    given = pd.DataFrame(
        [("V01", "clarity", 1.0, 2.0)], columns=["vessel", "criterion", "left_h", "right_h"]
    )
    declared = type(trial)(**{**vars(trial), "intervals": given})
    assert sensitivity(declared).empty
