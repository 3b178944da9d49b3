"""Own spreads: asked where they can be, both times given when it matters."""

import numpy as np
import pandas as pd
import pytest

from trialkit.analysis.mixing_time import recommend_mixing_time
from trialkit.analysis.uneven_spread import uneven_spread
from trialkit.stats._trials import simulate_intervals

LOCATION = np.log([3.0, 5.0, 8.0, 12.0])


def trial(scale, seed, n=4):
    left, right, codes = simulate_intervals(LOCATION, np.asarray(scale), n, 1, seed)
    names = np.array(["M01", "M02", "M03", "M04"])[codes]
    return pd.DataFrame({"mix": names, "left_h": left[0], "right_h": right[0]})


def test_an_uneven_mix_gets_a_longer_assured_time_than_its_even_neighbours():
    intervals = trial([0.1, 0.1, 0.1, 0.6], 5)
    found = uneven_spread(intervals)
    row = found.test.iloc[0]
    assert row["verdict"] == "shown unequal"
    assert row["matters"]
    common = recommend_mixing_time(intervals).set_index(["mix", "term"])["conf_high"]
    own = found.times.set_index(["mix", "term"])["conf_high"]
    assert own["M04", "assured time"] > 1.5 * common["M04", "assured time"]
    assert own["M03", "assured time"] < common["M03", "assured time"]
    scales = found.times.groupby("mix")["scale"].first()
    assert scales["M04"] > 2 * scales["M03"]
    assert "shown unequal" in str(found)


def test_equal_spreads_are_called_unequal_no_more_often_than_said():
    # 60 trials: p <= 0.05 in 5%, three standard errors are 0.084.
    verdicts = [uneven_spread(trial([0.3] * 4, seed)).test.iloc[0] for seed in range(60)]
    assert np.mean([row["verdict"] == "shown unequal" for row in verdicts]) <= 0.05 + 0.084
    # Both times matter at a p of one half or less: in half of such trials, +- 0.19.
    assert 0.31 <= np.mean([row["matters"] for row in verdicts]) <= 0.69


@pytest.mark.parametrize(
    "intervals",
    [
        trial([0.3] * 4, 1, n=1),
        trial([0.3] * 4, 1).assign(right_h=np.inf),
        trial([0.3] * 4, 1).assign(left_h=0.0, right_h=0.25),
        trial([0.3] * 4, 1).query("mix == 'M01'"),
        trial([0.3] * 4, 1).query("mix == 'M01' or not mix.duplicated()"),
    ],
    ids=["one vessel each", "none cleared", "all clear at first", "one mix", "one mix repeated"],
)
def test_without_a_spread_nothing_is_compared(intervals):
    found = uneven_spread(intervals)
    row = found.test.iloc[0]
    assert (row["verdict"], row["p_value"], row["matters"]) == ("no spread to compare", 1, False)
    assert found.times.empty
    assert "scale" in found.times


def test_same_seed_same_answer():
    intervals = trial([0.2, 0.4, 0.2, 0.3], 9)
    first, second = (uneven_spread(intervals, seed=3).test for _ in range(2))
    pd.testing.assert_frame_equal(first, second)


def test_times_to_act_on_have_the_wider_limits_only_where_it_matters():
    looks = pd.DataFrame(
        {
            "mix": np.repeat(["M01", "M02", "M03"], 6),
            "left_h": [*np.linspace(3, 3.2, 6), *np.linspace(5, 5.3, 6), 1, 2, 4, 8, 16, 32],
        }
    ).assign(right_h=lambda frame: frame["left_h"] * 1.02)
    times = recommend_mixing_time(looks)
    found = uneven_spread(looks)
    assert found.test["verdict"].iloc[0] == "shown unequal"
    used = found.careful(times).set_index(["mix", "term"])
    own = found.times.set_index(["mix", "term"])
    common = times.set_index(["mix", "term"])
    key = ("M03", "assured time")
    assert used.conf_high[key] == own.conf_high[key] > common.conf_high[key]
    steady = ("M01", "assured time")
    assert used.conf_high[steady] == common.conf_high[steady] > own.conf_high[steady]
    # The longest of the mixes follows.
    assert used.conf_high["all mixes", "assured time"] == used.conf_high[key]
    assert "where wider" in used.method[key]
    assert "where wider" not in used.method[steady]
    alike = looks[looks["mix"] != "M03"]
    assert not uneven_spread(alike).test["matters"].iloc[0]
    times = recommend_mixing_time(alike)
    pd.testing.assert_frame_equal(uneven_spread(alike).careful(times), times)
