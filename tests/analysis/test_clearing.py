"""Intervals from readings, each case small enough to check by eye."""

import math

import numpy as np
import pandas as pd
import pytest

from trialkit.analysis.clearing import (
    clearing_intervals,
    combine_criteria,
    intervals_from_gaps,
    reading_gaps,
)

INF = math.inf


def one(trial, **options) -> tuple:
    """`left_h`, `right_h`, `reclouded_h` of the only trial vessel."""
    frame = clearing_intervals(trial, "clarity", **options)
    return tuple(frame.loc[0, ["left_h", "right_h", "reclouded_h"]])


# Sessions are read at 1, 2, 3, … h; the reference always shows 10 lines.
@pytest.mark.parametrize(
    ("series", "expected"),
    [
        ([0, 5, 10, 10, 10], (2, 3, INF)),  # not clear at 2, clear at 3, held at 4
        ([10, 10, 10], (0, 1, INF)),  # clear at the first look: left is 0
        ([11, 12, 10], (0, 1, INF)),  # better than the reference is clear
        ([0, 5, 9, 9], (4, INF, INF)),  # never: one line short at the end
        ([0, 10, 5, 10, 10], (3, 4, INF)),  # one clear look does not hold
        ([0, 10, 10, 5, 10, 10], (1, 2, 4)),  # re-clouded at 4: reported, time kept
        ([0, None, 10, 10], (1, 3, INF)),  # a look not made widens the interval
        ([0, 10, None, 10], (1, 2, INF)),  # successive means successive looks made
        ([0, 5, 5, 10], (3, INF, INF)),  # last look clear, unconfirmed: not counted as clear
        ([0], (1, INF, INF)),
        ([10], (0, INF, INF)),  # one look, clear, unconfirmed: nothing is known
    ],
)
def test_interval_of_one_vessel_one_rater(hand_trial, series, expected):
    assert one(hand_trial({"V01": {"R01": series}})) == expected


def test_hold_of_one_takes_the_first_clear_look(hand_trial):
    trial = hand_trial({"V01": {"R01": [0, 10, 5, 10, 10]}})
    assert one(trial, hold=1) == (1, 2, 3)
    assert one(trial, hold=2) == (3, 4, INF)
    assert one(trial, hold=3) == (3, INF, INF)


@pytest.mark.parametrize(
    ("rule", "expected"),
    [
        ("majority", (2, 3, INF)),  # 2 of 3 clear from 3 h on
        ("all", (3, 4, INF)),
        ("any", (1, 2, INF)),
        ("R03", (3, 4, INF)),
    ],
)
def test_rater_rules(hand_trial, rule, expected):
    looks = {"R01": [0, 10, 10, 10, 10], "R02": [0, 0, 10, 10, 10], "R03": [0, 0, 0, 10, 10]}
    assert one(hand_trial({"V01": looks}, rater_rule=rule)) == expected


def test_half_of_the_raters_is_not_a_majority(hand_trial):
    trial = hand_trial({"V01": {"R01": [0, 10, 10, 10], "R02": [0, 0, 10, 10]}})
    assert one(trial) == (2, 3, INF)


def test_each_rater_is_held_against_the_reference_as_that_rater_saw_it(hand_trial):
    """A rater who reads one line fewer everywhere finds the same vessels clear."""
    trial = hand_trial({"V01": {"R01": [0, 9, 9]}})
    readings = trial.readings
    readings.loc[readings["role"] == "reference", "value"] = 9
    assert one(trial) == (1, 2, INF)


def test_tolerance_is_in_the_unit_and_survives_decimals(hand_trial, haze):
    """0.4 - 0.1 is more than 0.3 in binary floats; the reading meets a tolerance of 0.3."""
    trial = hand_trial({"V01": {"R01": [2.0, 0.4]}}, criterion=haze, reference=0.1)
    assert 0.4 - 0.1 > 0.3
    frame = clearing_intervals(trial, "haze")
    assert tuple(frame.loc[0, ["left_h", "right_h"]]) == (1, 2)
    tighter = clearing_intervals(trial, "haze", tolerance=0.29)
    assert tighter.loc[0, "right_h"] == INF


def test_a_reading_above_the_range_is_never_clear_one_below_it_is_its_limit(hand_trial, haze):
    trial = hand_trial({"V01": {"R01": [0.1, 0.1]}}, criterion=haze, reference=0.1)
    first = (trial.readings["vessel"] == "V01") & (trial.readings["session"] == 0)
    trial.readings.loc[first, "limit"] = ">"
    assert clearing_intervals(trial, "haze").loc[0, "left_h"] == 1
    trial.readings.loc[first, "limit"] = "<"
    assert clearing_intervals(trial, "haze").loc[0, "left_h"] == 0


def test_repeats_of_one_look_are_one_reading(hand_trial):
    trial = hand_trial({"V01": {"R01": [0, 10, 10]}})
    again = trial.readings[trial.readings["vessel"] == "V01"].assign(repeat=2)
    many = pd.concat([trial.readings, *[again] * 9], ignore_index=True)
    repeated = type(trial)(**{**vars(trial), "readings": many})
    pd.testing.assert_frame_equal(clearing_intervals(trial), clearing_intervals(repeated))


def test_times_that_differ_between_raters_widen_the_interval(hand_trial):
    trial = hand_trial({"V01": {"R01": [0, 10, 10], "R02": [0, 10, 10]}})
    late = (trial.readings["rater"] == "R02") & (trial.readings["vessel"] == "V01")
    trial.readings.loc[late, "elapsed_h"] += 0.2
    assert one(trial) == (1, 2.2, INF)


def test_a_session_without_any_reference_is_not_judged(hand_trial):
    trial = hand_trial({"V01": {"R01": [0, 10, 10, 10]}})
    gone = (trial.readings["role"] == "reference") & (trial.readings["session"] == 1)
    without = type(trial)(**{**vars(trial), "readings": trial.readings[~gone]})
    assert one(without) == (1, 3, INF)


def test_a_vessel_never_read_says_nothing(hand_trial):
    values = {"V01": {"R01": [0, 10, 10]}, "V02": {"R01": [None, None, None]}}
    frame = clearing_intervals(hand_trial(values)).set_index("vessel")
    assert tuple(frame.loc["V02", ["left_h", "right_h", "n_readings"]]) == (0, INF, 0)


def test_fully_clear_is_the_latest_of_the_criteria(hand_trial, haze):
    trial = hand_trial({"V01": {"R01": [0, 10, 10, 10]}, "V02": {"R01": [0, 0, 0, 0]}})
    murky = hand_trial(
        {"V01": {"R01": [5, 5, 0.2, 0.2]}, "V02": {"R01": [0.2, 0.2, 0.2, 0.2]}},
        criterion=haze,
        reference=0,
    )
    both = combine_criteria([clearing_intervals(trial), clearing_intervals(murky)])
    assert both["left_h"].tolist() == [2, 4]
    assert both["right_h"].tolist() == [3, INF]


def test_intervals_csv_is_taken_instead_of_the_readings(hand_trial):
    trial = hand_trial({"V01": {"R01": [0, 10, 10]}, "V02": {"R01": [0, 10, 10]}})
    given = pd.DataFrame(
        [("V01", "clarity", 4.0, 6.0)], columns=["vessel", "criterion", "left_h", "right_h"]
    )
    declared = type(trial)(**{**vars(trial), "intervals": given})
    frame = clearing_intervals(declared)
    assert frame["left_h"].tolist() == [4, 0]
    assert frame["right_h"].tolist() == [6, INF]


def test_reference_vessels_have_no_interval(hand_trial):
    frame = clearing_intervals(hand_trial({"V01": {"R01": [10, 10]}}))
    assert frame["vessel"].tolist() == ["V01"]


def test_unknown_criterion_rule_and_hold_are_named(hand_trial):
    trial = hand_trial({"V01": {"R01": [10, 10]}})
    with pytest.raises(ValueError, match="criterion must be one of clarity, fully clear"):
        clearing_intervals(trial, "sparkle")
    with pytest.raises(ValueError, match="rater_rule must be one of majority, all, any, R01"):
        clearing_intervals(trial, rater_rule="R09")
    with pytest.raises(ValueError, match="hold must be 1 or more"):
        clearing_intervals(trial, hold=0)


def test_every_interval_holds_the_true_time(hand_trial):
    """A vessel that clears at a known time and is read without error: the interval holds it.

    The same true times, seen on the hour, once with hold 1 and once with hold 2; no interval may
    leave out the truth, also not those that end the record unconfirmed.
    """
    rng = np.random.default_rng(20310402)
    truth = rng.uniform(0, 9, 300)
    hours = np.arange(1, 9)
    values = {
        f"V{i:03d}": {"R01": [10 if h >= t else 0 for h in hours]}
        for i, t in enumerate(truth, start=1)
    }
    gaps = reading_gaps(hand_trial(values), "clarity")
    for hold in (1, 2, 3):
        frame = intervals_from_gaps(gaps, hold=hold).sort_values("vessel")
        assert (frame["left_h"].to_numpy() < truth).all()
        assert (truth <= frame["right_h"].to_numpy()).all()


def by_hand(series, hold):
    """`left_h`, `right_h`, `reclouded_h` and the readings of one series, walked look by look."""
    looks = [(s + 1.0, value >= 10) for s, value in enumerate(series) if value is not None]
    left, right, reclouded = 0.0, INF, INF
    for i, (hour, clear) in enumerate(looks):
        following = [c for _, c in looks[i : i + hold]]
        if right == INF and len(following) == hold and all(following):
            right = hour
        elif right == INF and not clear:
            left = hour
        elif right < INF and not clear:
            reclouded = min(reclouded, hour)
    return left, right, reclouded, len(looks)


def test_all_vessels_at_once_are_the_vessels_one_by_one(hand_trial):
    rng = np.random.default_rng(5)
    for n_session in (1, 2, 5, 9):
        draws = rng.choice([None, 0, 10], (200, n_session), p=[0.2, 0.4, 0.4])
        series = {f"V{i:03d}": list(row) for i, row in enumerate(draws, start=1)}
        trial = hand_trial({vessel: {"R01": values} for vessel, values in series.items()})
        for hold in (1, 2, 3):
            found = intervals_from_gaps(reading_gaps(trial, "clarity"), hold=hold)
            for row in found.itertuples():
                expected = by_hand(series[row.vessel], hold)
                assert (row.left_h, row.right_h, row.reclouded_h, row.n_readings) == expected
