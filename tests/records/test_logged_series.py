"""Between the readings that the plan is held against, a logger's series are looked at too."""

import random

import numpy as np
import pytest

from tests.records.mishaps_logger import LOGGER_MISHAPS, probes_exchanged_midway
from tests.records.test_damage import outcome_of
from tests.records.test_logger import HEAD
from trialkit.records import sheet
from trialkit.records.check import check_trial
from trialkit.records.read import read_trial

_RATE = {1: 1.1, 2: 0.35, 3: 1.0, 4: 0.4, 5: 0}


def _lines(noise, step_min=1):
    """Haze of four vessels that clear, and of purified water, as a probe reads it."""
    rng = np.random.default_rng(5)
    lines = []
    for hour in np.arange(1, 480, step_min) / 60:
        for vessel in range(1, 6):
            haze = 0.12 + 25 * np.exp(-_RATE[vessel] * hour) * (vessel < 5)
            haze *= 1 + noise * rng.standard_normal()
            lines.append(f"K0{vessel},R01,{hour:.6f},haze,{haze:.2f},NTU,T01\n")
    return lines


@pytest.fixture(params=["in columns", "cell by cell"])
def logged(request, make_folder, monkeypatch):
    """A folder whose readings a logger wrote, its sound trial and its rows."""
    monkeypatch.setattr(sheet, "FROM_BYTES", 1 if request.param == "in columns" else 10**12)
    lines = _lines(0.03, 1 if request.param == "in columns" else 3)
    folder = make_folder(readings=HEAD + "".join(lines))
    return folder, read_trial(folder), [line.strip().split(",") for line in lines]


@pytest.mark.parametrize("kind", LOGGER_MISHAPS, ids=lambda kind: kind.__name__)
def test_mishaps_of_a_logger_are_never_silent(logged, kind):
    folder, good, rows = logged
    rng = random.Random(3101)
    rows = [list(row) for row in rows]
    if kind is probes_exchanged_midway:
        # Two vessels of one mix clear alike, and either may be the other.
        rows = [row for row in rows if row[0] not in ("K03", "K04")]
        (folder / "readings.csv").write_text(HEAD + "".join(",".join(r) + "\n" for r in rows))
        good = read_trial(folder)
    kind(rows, rng)
    (folder / "readings.csv").write_text(HEAD + "".join(",".join(r) + "\n" for r in rows))
    assert outcome_of(folder, good) != "SILENT"


@pytest.mark.parametrize("noise", [0, 0.01, 0.1, 0.3])
def test_sound_series_are_not_doubted(make_folder, noise):
    said = check_trial(make_folder(readings=HEAD + "".join(_lines(noise))))
    words = "logger has a gap|own interval|stuck|just before and after|one level"
    assert not said["message"].str.contains(words).any()


def test_a_short_stand_while_the_water_clears_is_named(make_folder):
    # K03 falls by a third in these 24 minutes; later, when it is clear, its readings repeat.
    rows = [line.strip().split(",") for line in _lines(0.03, 3)]
    stood = [row for row in rows if row[0] == "K03"][23:32]
    for row in stood:
        row[4] = stood[0][4]
    said = check_trial(make_folder(readings=HEAD + "".join(",".join(row) + "\n" for row in rows)))
    assert said["message"].str.contains("was it stuck").any()


def test_a_probe_that_hangs_out_of_the_water_for_a_third_of_the_time_is_named(make_folder):
    rows = [line.strip().split(",") for line in _lines(0.03, 3)]
    rng = random.Random(4401)
    for row in [row for row in rows if row[0] == "K03"][90:143]:
        row[4] = rng.choice(["0.00", "999.99"])
    said = check_trial(make_folder(readings=HEAD + "".join(",".join(row) + "\n" for row in rows)))
    assert said["message"].str.contains("just before and after").any()
