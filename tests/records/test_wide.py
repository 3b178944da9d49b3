"""A person's own table: one reading of each cell, and every odd cell named with its place."""

from datetime import datetime

import openpyxl
import pytest

from trialkit.records.trial import TrialDataError
from trialkit.records.wide import read_wide


def written(tmp_path, text, name="bench.csv"):
    path = tmp_path / name
    path.write_bytes(text.encode("utf-8") if isinstance(text, str) else text)
    return path


def refusals(path):
    with pytest.raises(TrialDataError) as refused:
        read_wide(path)
    return refused.value.problems


def test_times_and_cells_are_taken_as_they_stand(tmp_path):
    found = read_wide(written(tmp_path, "hours,Alder,Alder,reference\n0.5,3,<1,12\n2,12,,12\n"))
    assert found.headings == ("Alder", "Alder", "reference")
    assert found.hours == (0.5, 2.0)
    assert found.cells == (("3", "<1", "12"), ("12", "", "12"))


@pytest.mark.parametrize("heading", ["minutes", "Time (min)", "time, Min."])
def test_minutes_become_hours(tmp_path, heading):
    text = f'"{heading}",Alder\n30,1\n90,2\n'
    assert read_wide(written(tmp_path, text)).hours == (0.5, 1.5)


@pytest.mark.parametrize("heading", ["h", "Hours", "Time (h)", "hrs since salt"])
def test_hours_stay_hours(tmp_path, heading):
    assert read_wide(written(tmp_path, f"{heading},Alder\n0.5,1\n")).hours == (0.5,)


@pytest.mark.parametrize("heading", ["time", "", "Zeit", "hours and minutes"])
def test_a_time_without_a_unit_is_refused(tmp_path, heading):
    problems = refusals(written(tmp_path, f"{heading},Alder\n0.5,1\n"))
    assert problems["message"].str.contains("hours or minutes").all()
    assert problems["row"].tolist() == [1]


def test_semicolons_with_decimal_commas_are_read(tmp_path):
    found = read_wide(written(tmp_path, "hours;Alder;reference\r\n0,5;0,31;0,1\r\n2;0,1;0,1\r\n"))
    assert found.hours == (0.5, 2.0)
    assert found.cells[0] == ("0.31", "0.1")


def test_blank_rows_are_passed_over_and_counted(tmp_path):
    problems = refusals(written(tmp_path, "hours,Alder\n0.5,1\n,\n\n2,O\n"))
    assert problems.loc[0, ["row", "column", "value"]].tolist() == [5, "Alder", "O"]


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "there is no table"),
        ("hours,Alder\n", "there is no table"),
        ("hours,Alder\n,3\n", "no time"),
        ("hours,Alder\n<1,3\n", "not a time"),
        ("hours,Alder\n-1,3\n", "not a time"),
        ("hours,Alder\n1,3,4\n", "under no heading"),
        ("hours,,Alder\n1,3,4\n", "no heading"),
        ("hours,Alder\n1,clear\n", "not a number"),
        ('hours,Alder\n1,"3\n', "can't be told apart"),
        ('hours;Alder\n1;"1,234"\n', "decimals or thousands"),
    ],
)
def test_what_is_wrong_is_said(tmp_path, text, message):
    problems = refusals(written(tmp_path, text))
    assert problems["message"].str.contains(message).any(), problems
    assert (problems["file"] == "bench.csv").all()
    assert problems["fix"].str.endswith((".", "x.")).all()


def test_a_title_above_the_headings_is_left_out_and_kept_in_words(tmp_path):
    text = "My test in March\n\n,made at home\nTime (h),Alder,reference\n0.5,3,12\n"
    found = read_wide(written(tmp_path, text))
    assert found.above == ("My test in March", "made at home")
    assert found.headings == ("Alder", "reference")
    assert found.cells == (("3", "12"),)


def test_a_lone_cell_above_other_headings_is_no_title(tmp_path):
    assert refusals(written(tmp_path, "My test\nwhen,Alder\n0.5,3\n"))["row"].tolist()[0] == 1


def test_a_column_of_words_is_told_once(tmp_path):
    problems = refusals(written(tmp_path, "hours,Alder,Notes\n1,3,pump on\n2,4,\n3,5,lunch\n"))
    assert problems[["row", "column"]].values.tolist() == [[1, "Notes"]]
    assert "Delete a column of notes" in problems.loc[0, "fix"]


@pytest.mark.parametrize(
    ("time", "fix"),
    [("1:30", "1.5 hours, if 1:30 is"), ("average", "Delete a row without readings")],
)
def test_what_is_no_time_is_told_once_with_what_to_write(tmp_path, time, fix):
    problems = refusals(written(tmp_path, f"hours,Alder\n0.5,3\n{time},4\n"))
    assert problems["row"].tolist() == [3]
    assert fix in problems.loc[0, "fix"]


def workbook(tmp_path, rows):
    path = tmp_path / "bench.xlsx"
    book = openpyxl.Workbook()
    for row in rows:
        book.active.append(row)
    book.create_sheet("elsewhere").append(["not", "read"])
    book.save(path)
    return path


def test_the_first_sheet_of_a_workbook_is_read(tmp_path):
    path = workbook(tmp_path, [["hours", "Alder", "reference"], [0.5, 3, 12], [1, None, 12]])
    found = read_wide(path)
    assert found.hours == (0.5, 1.0)
    assert found.cells == (("3", "12"), ("", "12"))


def test_a_clock_time_in_a_workbook_is_refused_with_its_cell(tmp_path):
    path = workbook(tmp_path, [["hours", "Alder"], [datetime(2031, 4, 2, 8), 3]])
    problem = refusals(path).iloc[0]
    assert problem["column"] == "A2"
    assert "date or clock time" in problem["message"]


def test_what_is_no_workbook_is_refused(tmp_path):
    assert "not an .xlsx" in refusals(written(tmp_path, b"hours,Alder", "a.xlsx"))["message"][0]
