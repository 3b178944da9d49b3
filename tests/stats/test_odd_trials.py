"""Invented trials of every odd kind: each question has an answer in order, never NaN."""

import numpy as np
import pytest

from trialkit.stats._trials import read_on_schedule
from trialkit.stats.aft import fit_aft

SCHEDULES = [
    np.arange(1.0, 25.0),
    np.array([0.25, 0.5, 1, 1.5, 2, 3, 4, 6, 8, 10, 12, 16, 20, 24, 30]),
    np.array([1.0, 24.0]),
    np.array([6.0]),
]


def odd_trial(rng):
    """A few mixes of 1-5 vessels: tight or wide, early or late, some exact, some lost."""
    n_group, n_vessel = rng.integers(2, 8), rng.integers(1, 6)
    group = np.repeat(np.arange(n_group), n_vessel)
    location = rng.normal(1.5, rng.choice([0.1, 1, 2]), n_group)
    scale = rng.choice([0.02, 0.1, 0.3, 1.0])
    times = np.exp(location[group] + scale * rng.standard_normal(len(group)))
    left, right = read_on_schedule(times, SCHEDULES[rng.integers(len(SCHEDULES))])
    fate = rng.random(len(group))
    exact = (fate < 0.2) & (rng.random() < 0.3)
    lost = (fate > 0.9) & (rng.random() < 0.3)
    left, right = np.where(exact, times, left), np.where(exact, times, right)
    return np.where(lost, 0.0, left), np.where(lost, np.inf, right), group


def in_order(frame):
    slack = 1 + 1e-6
    low, high = frame["conf_low"] <= frame["estimate"] * slack, frame["conf_high"] * slack
    return not frame.isna().any(axis=None) and (low & (frame["estimate"] <= high)).all()


def test_a_likelihood_that_is_highest_at_a_scale_of_zero_has_limits():
    # The vessels of one mix were read half a minute apart: a time common to all of them is
    # possible in each mix, and Newton nears the highest point without end.
    left = [0.742, 0.733, 0.475, 0.742, 3.467, 2.492, 2.467, 3.467, 3.5, 3.475, 3.483, 3.483]
    right = [1.233, 1.242, 0.742, 1.233, 4.967, 3.5, 3.492, 4.983, 5.0, 5.0, 4.975, 5.0]
    fit = fit_aft([*left, *[23.983] * 4], [*right, *[np.inf] * 4], np.repeat(range(4), 4))
    assert fit.scale < 1e-3
    for a, b in ((0, 1), (0, 2), (1, 2), (0, 3)):
        assert in_order(fit.contrast(a, b))
    assert in_order(fit.quantile(0.5))


@pytest.mark.parametrize("family", ["lognormal", "loglogistic", "weibull"])
@pytest.mark.parametrize("seed", range(40))
def test_every_question_has_an_answer(family, seed):
    left, right, group = odd_trial(np.random.default_rng(seed))
    fit = fit_aft(left, right, group=group, family=family)
    for p in (0.1, 0.5, 0.9):
        assert in_order(fit.quantile(p))
    assert in_order(fit.probability_by([1, 5, 24]))
    assert in_order(fit.upper_bound(0.9))
    contrast = fit.contrast(0, 1)
    assert in_order(contrast)
    assert 0 <= contrast.loc[0, "p_value"] <= 1


def test_a_limit_that_nobody_could_act_on_is_open():
    """Two vessels a mix: 51,000 h and 0.00008 h are no limits to a time of 2 h, in any unit."""
    left, right = np.array([1, 2, 2, 8.0]), np.array([2, 4, 4, np.inf])
    for unit in (1, 24, 3600):
        fit = fit_aft(left * unit, right * unit, list("aabb"))
        row = fit.quantile(0.5).iloc[0]
        assert (row["conf_low"], row["conf_high"]) == (0, np.inf)
        assert 0 < fit.quantile(0.5, 0.9).loc[0, "conf_low"] < row["estimate"]
        assert 0.05 < fit.contrast("a", "b").loc[0, "p_value"] < 1
