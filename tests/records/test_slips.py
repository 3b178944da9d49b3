"""Slips of a person are refused or warned about; ways of saving a file change nothing."""

import random
import shutil
from collections import Counter

import pytest

from tests.records.slips import CERTAIN, HARMLESS, PLAUSIBLE, forced, slipped
from tests.records.test_damage import DEMO, outcome_of
from trialkit.records.read import read_trial


@pytest.fixture(scope="module", params=["single", "rerun"])
def bench(request, tmp_path_factory):
    """A demo trial to damage: its folder, what is read of it, and the text of its readings."""
    folder = tmp_path_factory.mktemp("slips") / request.param
    shutil.copytree(DEMO / request.param, folder)
    return folder, read_trial(folder), (folder / "readings.csv").read_text(encoding="utf-8")


def _outcomes(bench, make, count, seed):
    folder, good, sound = bench
    rng, outcomes = random.Random(seed), Counter()
    for _ in range(count if folder.name == "single" else count // 4):
        made = make(sound, rng)
        data = made if isinstance(made, bytes) else made.encode()
        (folder / "readings.csv").write_bytes(data)
        outcomes[outcome_of(folder, good)] += 1
    (folder / "readings.csv").write_text(sound, encoding="utf-8", newline="")
    return outcomes


@pytest.mark.parametrize("kind", CERTAIN, ids=lambda kind: kind.__name__)
def test_slips_that_leave_a_mark_are_never_silent(bench, kind):
    outcomes = _outcomes(bench, lambda text, rng: slipped(kind, text, rng), 24, 2101)
    assert outcomes["SILENT"] == 0, outcomes


def test_damage_by_force_is_never_silent(bench):
    outcomes = _outcomes(bench, forced, 60, 2102)
    assert outcomes["SILENT"] == 0, outcomes
    assert outcomes["refused"] > 10


# Share of the changed files that have to be noticed, in demo trials of 54 and 429 readings; what
# is left (a digit that makes as likely a reading) only double entry finds.
@pytest.mark.parametrize(("kind", "least"), [
    ("digits_transposed", 0.8), ("character_deleted", 0.75), ("character_doubled", 0.85),
    ("digit_replaced", 0.7), ("point_moved", 0.95), ("time_moved", 0.95),
    ("values_typed_twice", 0.9), ("values_of_vessels_exchanged", 0.3),
])  # fmt: skip
def test_most_slips_that_make_another_number_are_noticed(bench, kind, least):
    slip = next(slip for slip in PLAUSIBLE if slip.__name__ == kind)
    outcomes = _outcomes(bench, lambda text, rng: slipped(slip, text, rng), 60, 2103)
    changed = outcomes.total() - outcomes["same"]
    assert changed > 3
    assert 1 - outcomes["SILENT"] / changed >= least, outcomes


@pytest.mark.parametrize("kind", HARMLESS, ids=lambda kind: kind.__name__)
def test_ways_of_saving_change_nothing(bench, kind):
    assert set(_outcomes(bench, kind, 4, 2104)) == {"same"}
