"""From a person's own table to a report: nothing guessed, the answer the one worked out by hand."""

from datetime import datetime
from math import inf

import pytest

import trialkit as tk
from trialkit.cli import run

START = datetime(2031, 3, 1, 9)
TEXT = """hours,Alder,Alder,Birch,Birch,purified water
0.5,3,7,0,1,12
1,11,12,4,3,12
2,12,12,9,8,12
4,12,12,11,10,12
8,12,12,12,10,12
"""


@pytest.fixture
def table(tmp_path):
    path = tmp_path / "Kitchen bench.csv"
    path.write_text(TEXT)
    return path


def test_intervals_are_those_of_the_table(table, tmp_path):
    found = tk.import_table(table, tmp_path / "bench", start=START)
    trial = tk.read_trial(found.folder)
    # Within a line of purified water (11 or 12 of 12), twice in a row, read off the table by eye.
    expected = {("M01", 1, 0.5, 1.0): 2, ("M02", 1, 2.0, 4.0): 1, ("M02", 1, 8.0, inf): 1}
    rows = tk.clearing_intervals(trial)[["mix", "block", "left_h", "right_h"]]
    got = [(m, int(b), left, right) for m, b, left, right in rows.itertuples(index=False)]
    assert {row: got.count(row) for row in got} == expected
    assert trial.mixes["name"].tolist() == ["Alder", "Birch"]
    assert trial.protocol.title == "Kitchen bench"
    assert not (tk.check_trial(found.folder)["level"] == "refuse").any()


def test_what_was_taken_is_said(table, tmp_path):
    told = str(tk.import_table(table, tmp_path / "bench", start=START))
    assert "Alder: columns 2, 3" in told
    assert "purified water: column 6" in told
    assert "1 line worse" in told


def test_what_is_assumed_and_what_was_left_out_is_said(table, tmp_path):
    table.write_text(f"My test\n{TEXT}")
    told = str(tk.import_table(table, tmp_path / "bench", start=START))
    assert "its title: My test" in told
    assert tk.read_trial(tmp_path / "bench").protocol.title == "My test"
    assert "A salinity of 35 and the licence are assumed" in told


def test_a_refused_table_names_no_file_that_is_not_written(table, tmp_path, capsys):
    table.write_text(TEXT.replace(",12", ",12!"))
    command = ["import", str(table), str(tmp_path / "bench"), "--start", "2031-03-01T09:00"]
    assert run(command) == 1
    told = capsys.readouterr().err
    assert "column purified water" in told
    assert "problems.csv" not in told


def test_numbered_headings_are_different_mixes_and_that_is_said(table, tmp_path):
    table.write_text(TEXT.replace("Alder,Alder", "Alder 1,Alder 2"))
    told = str(tk.import_table(table, tmp_path / "bench", start=START))
    assert "Alder 1 and Alder 2 count as different mixes." in told


def test_a_missing_cell_is_not_a_reading(table, tmp_path):
    table.write_text(TEXT.replace("1,11,12,4,3,12", "1,11,,4,3,12"))
    trial = tk.read_trial(tk.import_table(table, tmp_path / "bench", start=START).folder)
    assert trial.readings["value"].isna().sum() == 1


@pytest.mark.parametrize(
    ("change", "options", "message"),
    [
        (("purified water", "tap"), {}, "no column is headed reference"),
        (("1,11", "0.5,11"), {}, "a time stands in two rows"),
    ],
)
def test_a_table_without_sense_is_refused(table, tmp_path, change, options, message):
    table.write_text(TEXT.replace(*change))
    with pytest.raises(tk.TrialDataError, match=message):
        tk.import_table(table, tmp_path / "bench", start=START, **options)
    assert not (tmp_path / "bench").exists()


def test_clear_or_not_needs_a_tolerance_of_zero(table, tmp_path):
    table.write_text("hours,Alder,Birch,reference\n1,0,0,1\n2,1,0,1\n4,1,0,1\n")
    with pytest.raises(tk.TrialDataError, match="--tolerance 0"):
        tk.import_table(table, tmp_path / "bench", start=START)
    found = tk.import_table(table, tmp_path / "bench", start=START, tolerance=0)
    rows = tk.clearing_intervals(tk.read_trial(found.folder))
    assert rows[["left_h", "right_h"]].to_numpy().tolist() == [[1.0, 2.0], [4.0, inf]]


@pytest.mark.parametrize(
    ("options", "message"),
    [
        ({"quantity": "glow"}, "quantity must be one of"),
        ({"unit": "NTU"}, "unit of clarity must be one of"),
        ({"quantity": "mass", "unit": "kg"}, "quantity must be|tolerance must be given"),
    ],
)
def test_bad_options_are_refused(table, tmp_path, options, message):
    with pytest.raises(ValueError, match=message):
        tk.import_table(table, tmp_path / "bench", start=START, **options)


def test_the_command_says_what_to_do_next(table, tmp_path, capsys):
    folder = tmp_path / "bench"
    assert run(["import", str(table), str(folder), "--start", "2031-03-01T09:00"]) == 0
    assert "trialkit check" in capsys.readouterr().out
    assert run(["check", str(folder)]) == 0
    assert run(["import", str(table), str(folder), "--start", "2031-03-01T09:00"]) == 2
    table.write_text("time,Alder\n1,2\n")
    assert run(["import", str(table), str(tmp_path / "b"), "--start", "2031-03-01T09:00"]) == 1
    assert "hours or minutes" in capsys.readouterr().err
