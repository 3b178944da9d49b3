"""Whatever part of a file is gone, every planned reading that went with it is counted."""

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from tests.records import conftest as base
from trialkit.records.check import check_trial
from trialkit.records.problems import format_problems

DEMO = Path(__file__).parents[2] / "data" / "demo"


def _checked(tmp_path, lines):
    folder = tmp_path / "single"
    shutil.copytree(DEMO / "single", folder)
    (folder / "readings.csv").write_text("".join(lines), encoding="utf-8", newline="")
    return check_trial(folder)


def _sound():
    head, *rows = (DEMO / "single" / "readings.csv").read_text(encoding="utf-8").splitlines(True)
    return head, rows


@pytest.mark.parametrize("kept", [9, 12, 18, 20, 27, 45, 53])
def test_each_reading_that_a_file_sorted_by_vessel_lost_is_missed(tmp_path, kept):
    head, rows = _sound()
    problems = _checked(tmp_path, [head, *sorted(rows)[:kept]])
    missed = problems["message"].str.contains("planned reading of clarity")
    assert missed.sum() == len(rows) - kept, format_problems(problems)


@pytest.mark.parametrize("kept", [1, 2, 3, 4, 8])
def test_purified_water_that_was_read_only_at_first_is_missed(tmp_path, kept):
    head, rows = _sound()
    water = [row for row in rows if row.startswith("V76")][kept:]
    problems = _checked(tmp_path, [head, *(row for row in rows if row not in water)])
    missed = problems[problems["message"].str.contains("planned reading of clarity")]
    assert len(missed) == 9 - kept
    assert missed["value"].str.startswith("V76").all()


def test_raters_who_share_the_vessels_are_not_missed(make_folder):
    # Each vessel is read by one of two: nobody read all, and nothing is missing.
    own = {"K01": "R01", "K02": "R02", "K03": "R02", "K04": "R01"}
    lines = base.readings_text().splitlines(True)
    kept = [
        line
        for line in lines
        if ",clarity," not in line or own.get(line[:3], line[4:7]) == line[4:7]
    ]
    problems = check_trial(make_folder(readings="".join(kept)))
    assert not problems["message"].str.contains("planned reading of clarity is missing").any()


@pytest.mark.parametrize("vessel", [("K01", "2.31"), ("K05", "0.11")])
def test_a_row_repeated_alone_is_pointed_out(make_folder, vessel):
    row = "{},R01,2,haze,{},NTU,,,T01,\n".format(*vessel)
    text = base.readings_text().replace(row, row + row.replace("NTU,,,", "NTU,,2,"))
    problems = check_trial(make_folder(readings=text))
    assert problems["message"].str.contains("read again in this session").sum() == 1


def test_rounds_that_were_repeated_as_a_whole_are_not_pointed_out(make_folder):
    lines = []
    for line in base.readings_text().splitlines(True):
        lines.append(line)
        if ",haze," in line:
            value = float(line.split(",")[4])
            lines.append(
                line.replace(f",{line.split(',')[4]},NTU,,,", f",{value + 0.01:.2f},NTU,,2,")
            )
    problems = check_trial(make_folder(readings="".join(lines)))
    assert not problems["message"].str.contains("read again in this session").any()


def test_a_vessel_that_often_beats_purified_water_is_one_cause(tmp_path):
    head, rows = _sound()
    rows = [
        row.replace(",clarity,12,", ",clarity,14,") if row.startswith("W52") else row
        for row in rows
    ]
    problems = _checked(tmp_path, [head, *rows])
    hit = problems[problems["message"].str.contains("often better than that of purified water")]
    assert hit["value"].tolist() == ["W52"]


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("window_h = 24", "window_h = 48", "window goes on after the last planned reading"),
        ("hold = 2", "hold = 20", "more readings in a row are asked for"),
        ("tolerance = 1", "tolerance = 10", "most of the way between best and worst"),
    ],
)
def test_a_plan_that_its_own_schedule_or_readings_contradict(tmp_path, old, new, words):
    folder = tmp_path / "single"
    shutil.copytree(DEMO / "single", folder)
    toml = (folder / "trial.toml").read_text(encoding="utf-8")
    assert old in toml
    (folder / "trial.toml").write_text(toml.replace(old, new, 1), encoding="utf-8")
    problems = check_trial(folder).query("level == 'warn'")
    assert problems["message"].str.contains(words).any(), format_problems(problems)


def test_what_is_missed_comes_in_one_order_in_every_process(tmp_path):
    folder = tmp_path / "rerun"
    shutil.copytree(DEMO / "rerun", folder)
    lines = (folder / "readings.csv").read_text(encoding="utf-8").splitlines(True)
    taken = [line for line in lines if line.startswith("P28,") and ",salinity," in line][:3]
    kept = "".join(line for line in lines if line not in taken)
    (folder / "readings.csv").write_text(kept, encoding="utf-8", newline="")
    code = (
        "import sys; from trialkit.records.check import check_trial; "
        "print(check_trial(sys.argv[1]).to_csv())"
    )
    told = [
        subprocess.run(
            [sys.executable, "-c", code, str(folder)],
            env={**os.environ, "PYTHONHASHSEED": str(seed)},
            capture_output=True,
            text=True,
            check=True,
        ).stdout
        for seed in range(4)
    ]
    assert told[0].count("planned reading of salinity") == 3
    assert len(set(told)) == 1
