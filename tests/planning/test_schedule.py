"""Reading times: information against published optima, proposals that keep their promises."""

import numpy as np
import pytest
from scipy.stats import norm

from trialkit.planning.schedule import information, propose_schedule, schedule_table

# Largest information on a normal mean from k groups, relative to exact data: one minus the
# distortion of the best k-level quantiser of a normal variable, Max (1960), IRE Transactions on
# Information Theory 6:7-12, table I (from memory, not verified; recomputed below).
BEST = {2: 0.6366, 3: 0.8098, 4: 0.8825, 5: 0.9201, 6: 0.9420}


def best_cuts(k):
    """Cuts of the best k groups by Lloyd's iteration: each midway between centres of mass."""
    cuts = np.linspace(-1.5, 1.5, k - 1)
    for _ in range(5000):
        edges = np.concatenate([[-np.inf], cuts, [np.inf]])
        centres = -np.diff(norm.pdf(edges)) / np.diff(norm.cdf(edges))
        cuts = (centres[1:] + centres[:-1]) / 2
    return cuts


@pytest.mark.parametrize("k", BEST)
def test_information_at_the_best_cuts(k):
    spread, median = 0.4, 3.0
    schedule = median * np.exp(spread * best_cuts(k))
    assert information(schedule, [median], spread, hold=1)[0] == pytest.approx(BEST[k], abs=6e-5)


def test_information_is_that_of_simulated_scores():
    # The variance of the score d log P / d mean over simulated vessels, a second road.
    rng = np.random.default_rng(55)
    schedule, median, spread = np.array([0.5, 1, 2, 4]), 1.4, 0.5
    edges = np.concatenate([[-np.inf], np.log(schedule / median) / spread, [np.inf]])
    score = -np.diff(norm.pdf(edges)) / np.diff(norm.cdf(edges))
    drawn = score[np.searchsorted(edges, rng.standard_normal(400_000)) - 1]
    expected = information(schedule, [median], spread, hold=1)[0]
    assert drawn.var() == pytest.approx(expected, abs=4 * np.sqrt(2 / 400_000))


def test_dense_readings_are_as_good_as_exact_times_and_never_is_none():
    schedule = np.geomspace(0.05, 200, 3000)
    kept = information(schedule, [2.0, np.inf], 0.3)
    assert kept[0] == pytest.approx(1.0, abs=1e-4)
    assert kept[1] == 0.0


def test_far_tails_are_finite():
    kept = information([1, 2], [1e-6, 1e9], 0.05)
    assert np.isfinite(kept).all()
    assert (kept >= 0).all()


def test_proposal_has_the_readings_asked_for_and_beats_even_spacing():
    times, window = [0.8, 2.5, 7.0], 24
    proposed = propose_schedule(times, 0.3, n_readings=12, window_h=window, gap_h=0.25)
    assert len(proposed) == 12
    assert proposed[-1] == window
    assert np.diff(proposed).min() >= 0.25
    even = np.linspace(2, 24, 12)
    assert information(proposed, times, 0.3).min() > 0.8
    assert information(proposed, times, 0.3).mean() > information(even, times, 0.3).mean() + 0.3


def test_proposal_is_dense_where_clearing_is_expected():
    proposed = np.array(propose_schedule([3.0], 0.2, n_readings=8, window_h=48))
    assert ((proposed > 1) & (proposed < 9)).sum() >= 6


def test_table_of_a_schedule_loses_nothing_against_itself():
    table = schedule_table([0.5, 1, 2, 4, 8], [1.5, np.inf], 0.3)
    assert table["share_of_dense"].between(0, 1).all()
    assert table["vessels_worth"].tolist()[1] == np.inf
    assert table["never_in_window"].tolist()[1] == 1.0


@pytest.mark.parametrize(
    ("n_readings", "message"), [(2, "at least hold \\+ 1 = 3"), (60, "at most 8 in 8 h")]
)
def test_impossible_numbers_of_readings_are_refused(n_readings, message):
    with pytest.raises(ValueError, match=message):
        propose_schedule([2.0], n_readings=n_readings, window_h=8, gap_h=1.0)


@pytest.mark.parametrize("schedule", [[2, 1], [0, 1], [1]])
def test_bad_schedules_are_refused(schedule):
    with pytest.raises(ValueError, match="schedule_h"):
        information(schedule, [1.0], 0.3)
