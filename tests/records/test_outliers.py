"""How often slips in sound readings are noticed, and how seldom sound readings are doubted."""

from pathlib import Path

import numpy as np
import pytest

from trialkit.records.outliers import FAR, far_off
from trialkit.records.read import read_trial
from trialkit.records.rows import Rows, others_span

DEMO = Path(__file__).parents[2] / "data" / "demo"


@pytest.fixture(scope="module")
def haze():
    trial = read_trial(DEMO / "harbour")
    return Rows.of(trial.readings.query("quantity == 'haze' and value == value"))


def _with(rows, index, value):
    columns = dict(rows.columns)
    columns["value"] = rows["value"].copy()
    columns["value"][index] = value
    return Rows(columns)


def test_sound_readings_are_seldom_doubted(haze):
    score, _ = far_off(haze, "low")
    assert (score > FAR).mean() < 0.003


@pytest.mark.parametrize("factor", [10, 100, 0.01])
def test_a_moved_decimal_point_is_noticed(haze, factor):
    rng = np.random.default_rng(17)
    noticed = []
    for index in rng.choice(len(haze), 60, replace=False):
        damaged = _with(haze, index, haze["value"][index] * factor)
        noticed.append(far_off(damaged, "low")[0][index] > FAR)
    assert np.mean(noticed) >= 0.9


def test_the_span_of_the_others_leaves_the_reading_itself_out():
    # By hand: group 0 holds 1, 5, 2; group 1 holds 9 alone.
    low, high = others_span(np.array([0, 0, 0, 1]), np.array([1.0, 5.0, 2.0, 9.0]))
    assert low[:3].tolist() == [2, 1, 1]
    assert high[:3].tolist() == [5, 2, 5]
    assert np.isnan([low[3], high[3]]).all()
