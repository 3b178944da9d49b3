"""Same or said: whatever damages a sound folder, data are the same, refused, or warned about."""

import random
import shutil
import time
from collections import Counter
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from joblib import Parallel, delayed

from tests.records.damage import damaged
from trialkit.records.read import read_trial
from trialkit.records.trial import TrialDataError

DEMO = Path(__file__).parents[2] / "data" / "demo"
FILES = ("readings.csv",) * 6 + ("vessels.csv", "mixes.csv", "raters.csv")
PROBLEM = ["file", "row", "column", "value", "level", "message"]


def _said(problems):
    return set(map(tuple, problems[PROBLEM].astype(str).to_numpy().tolist()))


def _sound_refusal(problems):
    """A refusal has a reason; a fault of the kit is no refusal and goes through as it is."""
    assert (problems["level"] == "refuse").any()
    return "refused"


def _same(one, two):
    """Whether two frames hold the same readings, on whatever rows of the file."""
    return one.equals(two) or one.drop(columns="row").equals(two.drop(columns="row"))


def outcome_of(folder, good):
    """refused, same, said or SILENT, for a folder held against the sound trial."""
    try:
        trial = read_trial(folder)
    except TrialDataError as error:
        return _sound_refusal(error.problems)
    if _same(trial.readings, good.readings):
        return "same"
    return "said" if _said(trial.problems) - _said(good.problems) else "SILENT"


def _run(demo, count, seed, tmp_path):
    """Outcomes of so many single pieces of damage, and the silent ones in words."""
    folder = tmp_path / f"{demo}-{seed}"
    shutil.copytree(DEMO / demo, folder)
    good = read_trial(folder)
    rng, outcomes, silent = random.Random(seed), Counter(), []
    # A key that is not sealed by its digest can be exchanged for another sound one.
    files = [*FILES, *(["key.csv"] * bool(good.protocol.key_sha256))]
    for number in range(count):
        name = rng.choice(files)
        sound = (DEMO / demo / name).read_text(encoding="utf-8")
        what, data = damaged(sound, rng)
        (folder / name).write_bytes(data)
        outcome = outcome_of(folder, good)
        outcomes[outcome] += 1
        if outcome == "SILENT":
            changed = set(data.decode().splitlines()) ^ set(sound.splitlines())
            silent.append((number, what, name, sorted(changed)[:4]))
        (folder / name).write_text(sound, encoding="utf-8", newline="")
    return outcomes, silent


@pytest.mark.parametrize(
    ("demo", "count", "seed"), [("single", 400, 7101), ("rerun", 120, 7102), ("harbour", 40, 7103)]
)
def test_damage_is_never_silent(tmp_path, demo, count, seed):
    outcomes, silent = _run(demo, count, seed, tmp_path)
    assert not silent
    assert set(outcomes) == {"same", "refused", "said"}


@pytest.mark.slow
def test_three_thousand_pieces_of_damage(tmp_path):
    # On two processors they are to take less than a minute: `pytest -m slow -s` prints the time.
    batches = [
        ("single", 1100, 1), ("single", 1100, 11), ("rerun", 325, 2), ("rerun", 325, 12),
        ("harbour", 75, 3), ("harbour", 75, 13),
    ]  # fmt: skip
    start = time.perf_counter()
    runs = Parallel(n_jobs=-1, backend="multiprocessing")(
        delayed(_run)(*batch, tmp_path) for batch in batches
    )
    outcomes, silent = zip(*runs, strict=True)
    total = sum(outcomes, Counter())
    print(dict(total), f"{time.perf_counter() - start:.0f} s")
    assert not any(silent)
    assert sum(total.values()) == 3000


@pytest.fixture(scope="module")
def bench(tmp_path_factory):
    folder = tmp_path_factory.mktemp("hypothesis") / "single"
    shutil.copytree(DEMO / "single", folder)
    return folder, read_trial(folder), (folder / "readings.csv").read_text(encoding="utf-8")


QUICK = settings(
    max_examples=120,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)


# A digit or a point more can make another sound number; the rules for that are tested apart.
@QUICK
@given(
    place=st.floats(0, 1),
    text=st.text(st.characters(exclude_characters="0123456789.", codec="utf-8"), max_size=6),
)
def test_inserted_text_is_never_silent(bench, place, text):
    folder, good, sound = bench
    at = int(place * len(sound))
    (folder / "readings.csv").write_bytes((sound[:at] + text + sound[at:]).encode())
    assert outcome_of(folder, good) != "SILENT"


@QUICK
@given(start=st.floats(0, 1), length=st.integers(1, 400))
def test_cut_out_text_is_never_silent(bench, start, length):
    folder, good, sound = bench
    lines = sound.splitlines(keepends=True)
    first = 1 + int(start * (len(lines) - 2))
    cut = lines[:first] + lines[first + 1 + length // 20 :]
    (folder / "readings.csv").write_text("".join(cut), encoding="utf-8", newline="")
    assert outcome_of(folder, good) != "SILENT"


@QUICK
@given(name=st.sampled_from(["trial.toml", "mixes.csv", "raters.csv", "vessels.csv"]),
       data=st.binary(max_size=60), place=st.floats(0, 1))  # fmt: skip
def test_bytes_in_any_file_never_make_a_traceback(bench, name, data, place):
    folder, good, sound = bench
    (folder / "readings.csv").write_text(sound, encoding="utf-8", newline="")
    original = (folder / name).read_bytes()
    at = int(place * len(original))
    (folder / name).write_bytes(original[:at] + data + original[at:])
    outcome = outcome_of(folder, good)
    (folder / name).write_bytes(original)
    assert outcome in {"same", "said", "refused"}
