"""What single looks say, on trials written by hand."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from trialkit.analysis.clear_readings import clear_readings
from trialkit.analysis.line_scores import line_scores, scored_looks

SLOW = {"K10": [4, 10, 10, 10, 10, 10], "K11": [4, 5, 10, 10, 10, 10],
        "K12": [4, 5, 6, 10, 10, 10]}  # fmt: skip
LATE = {"K20": [3, 4, 5, 6, 10, 10], "K21": [3, 4, 5, 10, 10, 10], "K22": [3, 4, 5, 6, 7, 10]}
NEVER = {"K30": [1, 2, 2, 3, 3, 3], "K31": [1, 2, 2, 2, 3, 3]}
MIX = {"K1": "M01", "K2": "M02", "K3": "M03"}


@pytest.fixture
def trial(hand_trial):
    """Three mixes: one clears, one clears later, one never."""
    values = {v: {"R01": s} for v, s in {**SLOW, **LATE, **NEVER}.items()}
    return hand_trial(values, mixes={v: MIX[v[:2]] for v in values})


def test_times_are_ordered_and_unknown_where_no_look_was_clear(trial):
    found = clear_readings(trial, "clarity")
    half = found.times[found.times["p"] == 0.5].set_index("mix")
    assert half.estimate["M01"] < half.estimate["M02"]
    assert (half.estimate["M03"], half.conf_high["M03"]) == (np.inf, np.inf)
    assert half.method["M03"] == "no look clear"
    # The three vessels of M01 clear in (1, 2], (2, 3] and (3, 4] hours.
    assert 1 < half.estimate["M01"] < 4
    assert "Left out, every look alike: M03" in str(found)


def test_shares_have_exact_limits(trial):
    found = clear_readings(trial, "clarity").shares.set_index(["mix", "time_h"])
    row = found.loc[("M01", 3.0)]
    assert (row.n_clear, row.n) == (2, 3)
    # Clopper & Pearson 1934: the lower limit of 3 of 3 is 0.025 ** (1/3).
    assert found.conf_low["M01", 6.0] == pytest.approx(0.025 ** (1 / 3))


def test_separation_is_said(hand_trial):
    values = {f"K1{i}": {"R01": [5, 10, 10, 10]} for i in range(3)}
    values |= {f"K2{i}": {"R01": [5, 6, 10, 10]} for i in range(3)}
    found = clear_readings(hand_trial(values, mixes={v: MIX[v[:2]] for v in values}), "clarity")
    assert "separation" in str(found)
    assert found.times["method"].str.startswith("Firth, profile").all()
    # The data say no more than: between 1 and 2 hours, between 2 and 3 hours. Both times lie
    # there, 9 in 10 too: every later look was clear.
    by_mix = found.times.groupby("mix")["estimate"]
    assert by_mix.agg(lambda times: times.between(1, 2).all())["M01"]
    assert by_mix.agg(lambda times: times.between(2, 3).all())["M02"]
    half = found.times[found.times["p"] == 0.5].set_index("mix")
    assert 1 < half.estimate["M01"] < 2
    assert 2 < half.estimate["M02"] < 3


def test_readings_repeated_tenfold_narrow_nothing(trial):
    more = pd.concat([trial.readings] * 10, ignore_index=True)
    once, again = (
        clear_readings(trial, "clarity"),
        clear_readings(replace(trial, readings=more), "clarity"),
    )
    assert again.times["conf_low"].to_list() == pytest.approx(once.times["conf_low"].to_list())


def test_one_session_places_no_time_and_says_so(hand_trial):
    values = {f"K1{i}": {"R01": [10 if i else 5]} for i in range(3)}
    found = clear_readings(hand_trial(values, hold=1), "clarity")
    assert len(found.times) == 0
    assert len(found.shares) == 1
    assert "one time only" in str(found)


def test_unknown_criterion_is_refused(trial):
    with pytest.raises(ValueError, match="criterion must be one of clarity"):
        clear_readings(trial, "haze")


def test_line_scores_at_one_session(trial):
    table = line_scores(trial, at_h=3).set_index("mix_a")
    # At 3 h: M01 10, 10, 6; M02 5, 5, 5; no overlap, but 3 against 3 bounds nothing.
    assert table.estimate["M02"] == 0
    assert (table.conf_low["M02"], table.conf_high["M02"]) == (0, np.inf)
    assert table.p_value["M02"] >= table.p_smallest["M02"]
    assert table.mix_b.unique().tolist() == ["M01"]


def test_line_scores_pick_the_session_that_tells_most(trial):
    assert len(line_scores(trial)) == 2
    assert len(line_scores(trial, "haze")) == 0


def test_line_scores_are_held_against_the_declared_control(trial):
    protocol = replace(trial.protocol, comparisons="control", control="M02")
    table = line_scores(replace(trial, protocol=protocol), at_h=3)
    assert table.mix_b.unique().tolist() == ["M02"]
    assert table.mix_a.tolist() == ["M01", "M03"]
    assert table.time_h.unique().tolist() == [3]
    # Two rows: Holm doubles the smaller p.
    assert table.p_adjusted.min() == pytest.approx(min(2 * table.p_value.min(), 1))


def test_scored_looks_ask_each_quantity_in_lines_once(trial):
    assert scored_looks(trial)["quantity"].unique().tolist() == ["clarity"]
    given = trial.protocol.criteria["clarity"]
    metered = replace(given, quantity="haze", unit="NTU")
    protocol = replace(trial.protocol, criteria={"haze": metered})
    assert scored_looks(replace(trial, protocol=protocol)).empty
