"""Simulated power against closed forms, on every backend the same."""

import dataclasses
from xml.etree import ElementTree

import numpy as np
import pandas as pd
import pytest
from scipy.stats import norm

from trialkit.planning._simulated_fits import chunk, simulated_intervals
from trialkit.planning.closed_forms import power_contrast, power_t, tolerance_factor
from trialkit.planning.power import PowerQuestion, simulate_power
from trialkit.planning.power_picture import draw_power

# Looks so dense that times are as good as exact: 1% steps.
DENSE = tuple(np.geomspace(0.01, 500, 1100))
LOOKS = (0.5, 1, 1.5, 2, 3, 4, 6, 8, 12, 16, 24)


def within_error(share, expected, n_trials):
    """Four Monte Carlo standard errors: a wrong alarm in 16,000 runs."""
    return abs(share - expected) < 4 * np.sqrt(expected * (1 - expected) / n_trials)


def test_power_of_two_mixes_is_that_of_a_t_test():
    # With exact log-normal times the calibrated likelihood ratio is the t test. R 4.2.2,
    # example(power.t.test): n = 20 a group, one standard deviation apart: 0.8689528.
    question = PowerQuestion((2.0, 4.0), DENSE, 0.3, ratio=np.exp(0.3), hold=1, vessels=(20,))
    found = simulate_power(question, n_trials=2000, seed=41)["power"].iloc[0]
    assert within_error(found, 0.8689528, 2000)
    assert within_error(found, power_t(20, 1.0), 2000)


@pytest.mark.parametrize("n", [2, 4])
def test_power_among_eight_mixes_uses_the_pooled_spread(n):
    # Eight mixes of n vessels pool 8 (n - 1) degrees of freedom.
    times = tuple(np.geomspace(0.5, 12, 8))
    question = PowerQuestion(times, DENSE, 0.4, ratio=2.5, hold=1, vessels=(n,))
    found = simulate_power(question, n_trials=2000, seed=42).iloc[0]
    shift, df = np.log(2.5) / 0.4 * np.sqrt(n / 2), 8 * (n - 1)
    assert within_error(found["power"], power_contrast(shift, df), 2000)
    strict = power_contrast(shift, df, alpha=0.05 / 28)
    assert within_error(found["power_all_pairs"], strict, 2000)


def test_assured_bound_with_dense_looks_is_the_tolerance_bound():
    # Exact times, four mixes of 5: the bound holds with confidence 0.95, and the median of its
    # log excess is near k E(s) - z: ISO 16269-6 factor with 16 degrees of freedom.
    question = PowerQuestion((1.0, 2.0, 4.0, 8.0), DENSE, 0.3, hold=1, vessels=(5,))
    bound = chunk(question, 5, 3000, np.random.SeedSequence(43))["bound"]
    assert within_error((bound >= 0).mean(), 0.95, 3000)
    expected = 0.3 * (tolerance_factor(5, df=16) - norm.ppf(0.9))
    assert np.median(bound) == pytest.approx(expected, abs=0.02)


def test_chance_of_a_mix_never_seen_clear_has_a_closed_form():
    # A mix whose median is the last confirmed look is not seen in any of n vessels: 0.5 ** n.
    question = PowerQuestion((1.0, 4.0, 16.0), LOOKS, 0.3, ratio=4.0, vessels=(2, 3))
    assert question.cuts()[-1] == 16
    assert question.pair_times().tolist() == [1.0, 4.0, 16.0]
    found = simulate_power(question, n_trials=2000, seed=44)["some_mix_censored"]
    assert within_error(found[0], 0.25, 2000)
    assert within_error(found[1], 0.125, 2000)


def test_sparse_looks_leave_no_spread_and_no_bound():
    question = PowerQuestion((2.2, 5.0), (1, 3, 9, 27, 81), 0.05, ratio=5.0, vessels=(3,))
    row = simulate_power(question, n_trials=200).iloc[0]
    assert row["no_scale"] > 0.9
    assert row["assured_factor"] == np.inf


def test_intervals_hold_the_times_they_come_from():
    rng = np.random.default_rng(3)
    cuts = np.array([1.0, 2.0, 4.0])
    left, right = simulated_intervals(np.log(np.full(1000, 2.0)), 0.5, cuts, 1, rng)
    share = np.array([((left == a) & (right == b)).mean()
                      for a, b in [(0, 1), (1, 2), (2, 4), (4, np.inf)]])  # fmt: skip
    z = norm.cdf(np.log(cuts / 2) / 0.5)
    assert share.sum() == pytest.approx(1.0)
    assert np.abs(share - np.diff([0, *z, 1])).max() < 0.05


def test_more_vessels_never_hurt():
    question = PowerQuestion((0.8, 1.7, 5.0, np.inf), LOOKS, vessels=(2, 4, 8))
    table = simulate_power(question, n_trials=500)
    assert table["power"].is_monotonic_increasing
    assert table["assured_factor"].is_monotonic_decreasing
    assert table["smallest_p"].tolist() == [0.5, 0.125, 2 / 2**8]
    assert table["n_readings"].tolist() == [n * 5 * 11 for n in (2, 4, 8)]


def test_one_mix_compares_nothing():
    row = simulate_power(PowerQuestion((2.0,), LOOKS, vessels=(4,)), n_trials=50).iloc[0]
    assert row["power"] == 0.0
    assert 1 < row["assured_factor"] < 5


def test_chunks_in_threads_give_the_same_and_tell_their_progress():
    question = PowerQuestion((1.0, 2.0, 4.0), LOOKS, vessels=(2, 3))
    told = []
    alone = simulate_power(question, n_trials=700, seed=9)
    spread = simulate_power(
        question, n_trials=700, seed=9, n_jobs=2, backend="threading",
        progress=lambda done, total: told.append((done, total)),
    )  # fmt: skip
    pd.testing.assert_frame_equal(alone, spread)
    assert told == [(500, 1400), (700, 1400), (1200, 1400), (1400, 1400)]


def test_a_dask_cluster_gives_the_same():
    distributed = pytest.importorskip("distributed", reason="the package distributed is absent")
    question = PowerQuestion((1.0, 2.0, 4.0), LOOKS, vessels=(2, 3))
    alone = simulate_power(question, n_trials=700, seed=9)
    with (
        distributed.LocalCluster(
            n_workers=2, threads_per_worker=1, dashboard_address=None
        ) as cluster,
        distributed.Client(cluster),
    ):
        spread = simulate_power(question, n_trials=700, seed=9, backend="dask")
    pd.testing.assert_frame_equal(alone, spread)


def test_an_unknown_backend_is_refused():
    with pytest.raises(ValueError, match="one of loky, threading, dask, ray; got 'spark'"):
        simulate_power(PowerQuestion((1.0, 2.0), LOOKS), backend="spark")


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"times_h": ()}, "times_h must be hours above 0"),
        ({"times_h": (0.0, 1.0)}, "times_h must be hours above 0"),
        ({"times_h": (np.inf,)}, "at least one mix that is expected to clear"),
        ({"spread": 0.0}, "spread must lie between 0.001 and 3; got 0.0"),
        ({"ratio": 1.0}, "ratio must lie above 1"),
        ({"hold": 11}, "hold must be 1 to 10; got 11"),
        ({"vessels": (1, 2)}, "vessels must be whole numbers of at least 2"),
    ],
)
def test_impossible_questions_are_refused(change, message):
    question = PowerQuestion((1.0, 2.0), LOOKS)
    with pytest.raises(ValueError, match=message):
        dataclasses.replace(question, **change)


def test_picture_holds_every_size_and_leaves_out_what_has_no_bound():
    table = pd.DataFrame(
        {
            "vessels_per_mix": [2, 3, 4],
            "power": [0.2, 0.5, 0.8],
            "power_all_pairs": [0.0, 0.1, 0.4],
            "assured_factor": [np.inf, 1.9, 1.5],
        }
    )
    picture = draw_power(table, ratio=2)
    root = ElementTree.fromstring(picture.svg)
    space = "{http://www.w3.org/2000/svg}"
    assert len(root.findall(f"{space}circle")) == 3 + 2
    assert len(root.findall(f"{space}rect")) == 3
    assert "2: 20%, 3: 50%, 4: 80%" in picture.alt
    bundle = picture._repr_mimebundle_()
    assert bundle["application/vnd.trialkit.block+json"]["kind"] == "figure"
