"""A sound folder comes back exactly as written, an unsound one not at all."""

import hashlib
import math

import pandas as pd
import pytest

from trialkit.records.check import check_trial
from trialkit.records.read import read_trial
from trialkit.records.trial import TrialDataError

READING_COLUMNS = [
    "vessel",
    "mix",
    "role",
    "block",
    "rater",
    "phase",
    "session",
    "elapsed_h",
    "quantity",
    "value",
    "limit",
    "unit",
    "position",
    "repeat",
    "instrument",
    "note",
    "row",
]


def test_sound_folder_has_no_problem(folder):
    problems = check_trial(folder)
    assert set(problems["message"]) == {"a remark stands beside the reading"}
    assert set(problems["level"]) == {"note"}


def test_readings_are_those_of_the_file(folder):
    trial = read_trial(folder)
    assert list(trial.readings.columns) == READING_COLUMNS
    lines = (folder / "readings.csv").read_text().splitlines()
    for reading in trial.readings.to_dict("records"):
        vessel, rater, hours, quantity, value, unit, position, _, tool, note = lines[
            reading["row"] - 1
        ].split(",")
        written = (vessel, rater, quantity, unit, position, tool, note)
        names = ("vessel", "rater", "quantity", "unit", "position", "instrument", "note")
        assert tuple(reading[name] for name in names) == written
        assert reading["elapsed_h"] == float(hours)
        assert reading["value"] == float(value)


def test_session_and_phase_come_from_the_schedule(folder):
    readings = read_trial(folder).readings
    late = readings[readings["phase"] == "storage"]
    assert set(late["quantity"]) == {"salinity"}
    assert set(late["session"]) == {0}
    early = readings[readings["phase"] == "mixing"]
    assert early.groupby("session")["elapsed_h"].first().tolist() == [0.5, 1, 2, 4, 8]


def test_vessels_start_and_loss(make_folder):
    vessels = """\
vessel,role,mix,block,volume_l,dose_g,start,lost_h
K01,trial,M01,1,20,760,2031-04-02T08:00:00,
K02,trial,M02,1,20,760,2031-04-02T09:30:00,3.5
K03,trial,M01,2,20,760,2031-04-02T08:00:00,
K04,trial,M02,2,20,760,2031-04-02T08:00:00,
K05,reference,,,20,,2031-04-02T08:00:00,
"""
    lines = None
    frame = read_trial(make_folder(vessels=vessels, readings=lines, intervals=INTERVALS)).vessels
    assert frame["start_h"].tolist() == [0, 1.5, 0, 0, 0]
    assert frame["lost_h"].tolist() == [math.inf, 3.5, math.inf, math.inf, math.inf]


INTERVALS = "vessel,criterion,left_h,right_h\nK01,clarity,1,2\nK02,fully clear,8,\n"


def test_intervals_may_stand_in_for_readings(make_folder):
    trial = read_trial(make_folder(readings=None, intervals=INTERVALS))
    assert trial.readings.empty
    assert trial.intervals["right_h"].tolist() == [2, math.inf]


@pytest.mark.parametrize(
    ("heading", "cells"),
    [
        ("elapsed_min", ["30", "480"]),
        ("elapsed_h", ["0.5", "8"]),
        ("day,clock", ["1,08:30", "1,16:00"]),
        ("time", ["2031-04-02T08:30", "2031-04-02 16:00:00+00:00"]),
    ],
)
def test_four_ways_of_writing_time_agree(make_folder, heading, cells):
    rows = [f"K01,R01,{cell},haze,{5 - i},NTU" for i, cell in enumerate(cells)]
    text = f"vessel,rater,{heading},quantity,value,unit\n" + "\n".join(rows) + "\n"
    readings = read_trial(make_folder(readings=text)).readings
    assert readings["elapsed_h"].tolist() == [0.5, 8]
    assert readings["session"].tolist() == [0, 4]


def test_times_count_from_the_vessels_own_start(make_folder):
    text = "vessel,rater,time,quantity,value,unit\nK02,R01,2031-04-02T09:05,haze,3,NTU\n"
    assert read_trial(make_folder(readings=text)).readings["elapsed_h"].tolist() == [1.0]


def test_limits_and_empty_cells_are_kept(make_folder):
    text = (
        "vessel,rater,elapsed_h,quantity,value,unit\n"
        "K01,R01,1,haze,<0.1,NTU\nK01,R01,2,haze,,NTU\nK02,R01,1,haze,>40,NTU\n"
    )
    readings = read_trial(make_folder(readings=text)).readings
    assert readings["limit"].tolist() == ["<", "", ">"]
    assert pd.isna(readings["value"]).tolist() == [False, True, False]


def test_without_any_mix_the_trial_is_blinded(make_folder):
    vessels = "vessel,role\nK01,trial\nK02,trial\nK03,trial\nK04,trial\nK05,reference\n"
    trial = read_trial(make_folder(vessels=vessels))
    assert trial.blinded
    assert set(trial.readings["mix"]) == {""}
    key = "vessel,mix\nK01,M01\nK02,M02\nK03,M01\nK04,M02\n"
    unblinded = read_trial(make_folder(vessels=vessels, key=key))
    assert not unblinded.blinded
    assert unblinded.vessels["mix"].tolist() == ["M01", "M02", "M01", "M02", ""]


def test_sources_carry_the_digest_of_every_file(folder):
    sources = read_trial(folder).sources
    assert set(sources["file"]) == {
        "trial.toml",
        "mixes.csv",
        "vessels.csv",
        "raters.csv",
        "readings.csv",
    }
    for name, digest, size in sources.itertuples(index=False):
        data = (folder / name).read_bytes()
        assert (digest, size) == (hashlib.sha256(data).hexdigest(), len(data))


def test_a_refusal_carries_all_problems_at_once(make_folder):
    text = (
        "vessel,rater,elapsed_h,quantity,value,unit\n"
        "K99,R01,1,haze,1,NTU\nK01,R01,1,haze,abc,NTU\nK01,R01,2,haze,1,lines\n"
        "K01,R01,-2,haze,1,NTU\nK01,R01,99,haze,1,NTU\nK02,R01,1,haze,1,NTU\n"
        "K02,R01,1,haze,1,NTU\n"
    )
    with pytest.raises(TrialDataError) as caught:
        read_trial(make_folder(readings=text, mixes=None))
    problems = caught.value.problems
    assert "mixes.csv" in set(problems["file"])
    with pytest.raises(TrialDataError) as caught:
        read_trial(make_folder(readings=text, mixes="mix,name\nM01,Alder\nM02,Birch\n"))
    refused = caught.value.problems.query("level == 'refuse'")
    assert set(refused["row"]) == {2, 3, 4, 5, 6, 8}
