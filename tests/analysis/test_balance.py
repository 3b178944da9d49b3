"""Whether unequal conditions between mixes are seen, and said."""

from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from trialkit.analysis.balance import add_covariates, check_balance, vessel_covariates

MIXES = ["M01", "M02", "M03"]


def make_trial(temperature, salinity, *, lost=(), extra=None, blocks=4):
    """A trial of 3 mixes by `blocks` blocks; arrays of shape (mix, block) of vessel means."""
    vessels = pd.DataFrame(
        [
            {"vessel": f"K{m}{b}", "role": "trial", "mix": mix, "block": f"{b + 1}"}
            for m, mix in enumerate(MIXES)
            for b in range(blocks)
        ]
    )
    vessels["lost_h"] = np.where(vessels["vessel"].isin(lost), 5.0, np.inf)
    vessels["volume_l"] = 60.0
    if extra is not None:
        vessels["start_ph"] = extra
    reference = {"vessel": "K99", "role": "reference", "mix": "", "block": "1", "lost_h": np.inf}
    vessels = pd.concat([vessels, pd.DataFrame([reference])], ignore_index=True)
    readings = [
        _reading(v, quantity, value + wiggle, unit, session)
        for v, t, s in zip(
            vessels.to_dict("records"),
            [*np.ravel(temperature), 40.0],
            [*np.ravel(salinity), 0.0],
            strict=True,
        )
        for quantity, value, unit in (("temperature", t, "C"), ("salinity", s, "PSU"))
        for session, wiggle in ((0, 0.0), (1, 0.2), (2, -0.2))
    ]
    protocol = SimpleNamespace(seed=3)
    return SimpleNamespace(protocol=protocol, vessels=vessels, readings=pd.DataFrame(readings))


def _reading(vessel, quantity, value, unit, session):
    keys = {k: vessel[k] for k in ("vessel", "mix", "role", "block")}
    return keys | {
        "phase": "mixing",
        "session": session,
        "quantity": quantity,
        "value": value,
        "limit": "",
        "unit": unit,
    }


def even(rng, spread=0.1):
    return 24 + rng.normal(0, spread, (3, 4)), 33 + rng.normal(0, spread, (3, 4))


def by_term(table, term):
    return table[table["term"] == term].set_index("mix")


def test_vessel_means_use_the_session_that_each_term_names():
    trial = make_trial(np.arange(12).reshape(3, 4) + 20.0, np.full((3, 4), 33.0))
    table = vessel_covariates(trial)
    assert table["term"].unique().tolist() == ["temperature", "mixed salinity"]
    assert len(table) == 24  # the reference vessel is no part of the comparison
    got = table[table["term"] == "temperature"].set_index("vessel")["value"]
    assert got["K00"] == pytest.approx(20.0)  # (20 + 20.2 + 19.8) / 3
    assert got["K23"] == pytest.approx(31.0)
    # Salinity: the last session only, which the hand-made readings put 0.2 lower.
    salinity = table[table["term"] == "mixed salinity"]
    assert salinity["value"].tolist() == pytest.approx([32.8] * 12)
    assert set(salinity["unit"]) == {"PSU"}


def test_fahrenheit_is_read_as_celsius():
    trial = make_trial(np.full((3, 4), 77.0), np.full((3, 4), 33.0))
    trial.readings.loc[trial.readings["quantity"] == "temperature", "unit"] = "F"
    # 77 F = 25 C; the wiggle of 0.2 F cancels in the mean.
    table = by_term(check_balance(trial), "temperature")
    assert table["estimate"].tolist() == pytest.approx([25.0] * 3)
    assert set(table["unit"]) == {"C"}


def test_readings_below_a_limit_and_missing_ones_are_left_out():
    trial = make_trial(np.full((3, 4), 24.0), np.full((3, 4), 33.0))
    readings = trial.readings
    first = (readings["vessel"] == "K00") & (readings["session"] == 0)
    readings.loc[first & (readings["quantity"] == "temperature"), "value"] = np.nan
    last = (readings["vessel"] == "K00") & (readings["session"] == 2)
    readings.loc[last & (readings["quantity"] == "salinity"), "limit"] = ">"
    table = vessel_covariates(trial)
    got = table[table["vessel"] == "K00"].set_index("term")["value"]
    assert got["temperature"] == pytest.approx(24.0)  # (24.2 + 23.8) / 2
    assert got["mixed salinity"] == pytest.approx(33.2)  # the session before


def test_a_warm_mix_is_out_of_balance():
    temperature, salinity = even(np.random.default_rng(1))
    temperature[2] += 3
    table = by_term(check_balance(make_trial(temperature, salinity)), "temperature")
    assert len(set(table["verdict"])) == 1
    assert table["verdict"].iloc[0].startswith("out of balance: mix means within 3")
    assert table.loc["M03", "difference"] == pytest.approx(
        temperature[2].mean() - temperature.mean()
    )
    assert table["p_value"].iloc[0] < 0.05
    assert (table["low"] <= table["estimate"]).all()
    assert (table["estimate"] <= table["high"]).all()


def test_equal_conditions_show_no_imbalance():
    temperature, salinity = even(np.random.default_rng(2))
    table = check_balance(make_trial(temperature, salinity))
    for term in ("temperature", "mixed salinity"):
        assert by_term(table, term)["verdict"].iloc[0].startswith("no imbalance shown")
    assert by_term(table, "block")["verdict"].iloc[0] == "every mix in each of 4 blocks"


def test_a_small_but_steady_difference_is_called_small():
    rng = np.random.default_rng(3)
    temperature, salinity = even(rng, 0.01)
    temperature += np.array([[0.0], [0.2], [0.4]])
    verdict = by_term(check_balance(make_trial(temperature, salinity)), "temperature")["verdict"]
    assert verdict.iloc[0].startswith("mixes differ, by little")


def test_block_differences_are_not_laid_at_the_mixes():
    # Labels are exchanged within blocks, so what a whole block has in common cannot count.
    within = 24 + np.random.default_rng(6).normal(0, 0.1, (3, 4))
    salinity = np.full((3, 4), 33.0)
    alone = check_balance(make_trial(within, salinity))
    shifted = check_balance(make_trial(within + np.array([0.0, 2, 4, 6]), salinity))
    p = [by_term(t, "temperature")["p_value"].iloc[0] for t in (alone, shifted)]
    assert p[0] == pytest.approx(p[1], abs=1e-12)
    assert stats.f_oneway(*(within + np.array([0.0, 2, 4, 6]))).pvalue > 0.9 > p[1]


def test_a_lost_vessel_is_named_by_mix_and_block():
    temperature, salinity = even(np.random.default_rng(4))
    trial = make_trial(temperature, salinity, lost=["K12"])
    rows = by_term(check_balance(trial), "block")
    assert rows["estimate"].to_dict() == {"M01": 4, "M02": 3, "M03": 4}
    assert rows["verdict"].iloc[0] == "missing (lost or never set up): M02 from block 3"


def test_further_columns_of_the_vessels_are_checked_too():
    temperature, salinity = even(np.random.default_rng(5))
    trial = make_trial(temperature, salinity, extra=np.repeat([8.0, 8.0, 8.6], 4))
    rows = by_term(check_balance(trial), "start_ph")
    assert rows["verdict"].iloc[0] == "mixes differ: mix means within 0.6"
    assert "volume_l" not in set(check_balance(trial)["term"])


def test_one_vessel_a_mix_can_show_nothing_by_chance_alone():
    temperature = np.array([[24.0], [24.2], [24.4]])
    trial = make_trial(temperature, np.full((3, 1), 33.0), blocks=1)
    rows = by_term(check_balance(trial), "temperature")
    assert rows["p_value"].tolist() == [1.0] * 3
    assert rows["p_smallest"].tolist() == [1.0] * 3
    assert not check_balance(trial).isna().any(axis=None)


def test_no_readings_of_conditions_leave_the_blocks():
    trial = make_trial(np.full((3, 4), 24.0), np.full((3, 4), 33.0))
    trial.readings = trial.readings.iloc[:0]
    assert check_balance(trial)["term"].unique().tolist() == ["block"]


def test_conditions_join_the_intervals_and_gaps_are_filled_with_the_mix():
    temperature = np.arange(12).reshape(3, 4) + 20.0
    trial = make_trial(temperature, np.full((3, 4), 33.0))
    trial.readings = trial.readings[trial.readings["vessel"] != "K00"]
    vessels = trial.vessels[trial.vessels["role"] == "trial"]
    intervals = vessels[["mix", "block", "vessel"]].assign(left_h=1.0, right_h=2.0)
    joined = add_covariates(intervals, trial).set_index("vessel")
    assert joined.loc["K00", "temperature"] == pytest.approx(22.0)  # mean of 21, 22, 23
    assert joined.loc["K23", "temperature"] == pytest.approx(31.0)
    assert list(joined.columns[:4]) == ["mix", "block", "left_h", "right_h"]
