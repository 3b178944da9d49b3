"""Family-wise error and power of the comparisons; the long table is in tests/reference."""

import importlib.util
from pathlib import Path

import numpy as np
import pytest

STUDY = Path(__file__).parents[1] / "reference" / "comparison_study.py"


@pytest.fixture(scope="module")
def study():
    spec = importlib.util.spec_from_file_location("comparison_study", STUDY)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def layout(study, name, vessels):
    base = {each.name: each for each in study.LAYOUTS}[name]
    return study.replace(base, vessels=vessels)


TRIALS = 400
# Three binomial standard errors of 400 trials about 0.05.
SLACK = 3 * np.sqrt(0.05 * 0.95 / TRIALS)


@pytest.mark.parametrize(
    ("name", "vessels", "most"),
    [
        ("equal spread", 3, 0.05),
        ("equal spread", 4, 0.05),
        ("partly censored, median 24 of 30 h", 3, 0.05),
        ("three mixes never clear", 4, 0.05),
        ("ties: sparse readings, tight mixes", 4, 0.05),
        ("weibull times, fitted lognormal", 4, 0.05),
        ("blocks differ", 4, 0.05),
        # One scale for all is too small for noisy mixes: the long study found 0.071 to 0.104 in
        # 2,000 trials. Not hidden: the own-scale column is there for this.
        ("unequal spread 1:4", 4, 0.08),
        ("one noisy mix 1:4", 3, 0.105),
    ],
)
def test_family_error_of_the_pooled_ratio(study, name, vessels, most):
    own = layout(study, name, vessels)
    left, right = study.draw(own, TRIALS, seed=77)
    error = study.summary(own, study.pooled(own, left, right))[0]
    assert error <= most + SLACK


@pytest.mark.parametrize(
    ("name", "vessels"),
    [("unequal spread 1:4", 3), ("one noisy mix 1:4", 3), ("one quiet mix 4:1", 4)],
)
def test_family_error_with_a_scale_of_their_own_when_spread_is_unequal(study, name, vessels):
    own = layout(study, name, vessels)
    left, right = study.draw(own, TRIALS, seed=78)
    error = study.summary(own, study.pair(own, left, right))[0]
    assert error <= 0.06 + SLACK  # 0.018 to 0.054 in the long study


def test_holding_blocks_equal_finds_more_and_keeps_the_level(study):
    equal, slow = (
        layout(study, name, 4) for name in ("blocks differ", "one mix twice as slow, blocks differ")
    )
    left, right = study.draw(equal, TRIALS, seed=79)
    assert study.summary(equal, study.blocks_held(equal, left, right))[0] <= 0.05 + SLACK
    left, right = study.draw(slow, TRIALS, seed=80)
    held = study.summary(slow, study.blocks_held(slow, left, right))[2]
    plain = study.summary(slow, study.pooled(slow, left, right))[2]
    # 0.835 against 0.184 in the long study.
    assert held > 0.7
    assert plain < 0.3


def test_power_of_steps_of_one_and_a_half(study):
    own = layout(study, "steps of 1.5", 4)
    left, right = study.draw(own, TRIALS, seed=81)
    power = study.summary(own, study.pooled(own, left, right))[2]
    assert power == pytest.approx(0.65, abs=0.05)  # 0.653 in the long study
    # Blocks of one vessel a mix and Holm over 15 pairs: no permutation can claim anything.
    few = slice(0, 20)
    blocked = study.permuted(own, left[few], right[few])[0]
    assert study.summary(own, blocked)[2] == 0


def test_holm_here_is_the_one_of_the_kit(study):
    from trialkit.stats.multiplicity import adjust_p_values

    p = np.random.default_rng(4).random((5, 7)) ** 2
    expected = [adjust_p_values(row) for row in p]
    assert study.holm(p) == pytest.approx(np.array(expected), abs=1e-12)
