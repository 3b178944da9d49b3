"""Filled vessels, limits that jump and counts that fall back are said; limits alone are not."""

import csv
import io
import shutil
from pathlib import Path

import pytest

from trialkit.records.check import check_trial
from trialkit.records.problems import format_problems

DEMO = Path(__file__).parents[2] / "data" / "demo"


def _changed(tmp_path, demo, change):
    """Warnings about a demo whose readings were changed row by row."""
    folder = tmp_path / demo
    shutil.copytree(DEMO / demo, folder)
    sound = (folder / "readings.csv").read_text(encoding="utf-8")
    rows = list(csv.DictReader(io.StringIO(sound)))
    for number, row in enumerate(rows, 2):
        change(number, row)
    out = io.StringIO()
    writer = csv.DictWriter(out, rows[0], lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    (folder / "readings.csv").write_text(out.getvalue(), encoding="utf-8")
    return check_trial(folder).query("level != 'note'")


def _filled(vessel, first, step):
    """A change that fills the clarity of a vessel in equal steps."""
    count = iter(range(100))

    def change(_, row):
        if (row["vessel"], row["quantity"]) == (vessel, "clarity"):
            row["value"] = str(first + step * next(count))

    return change


@pytest.mark.parametrize(
    ("vessel", "first", "step", "words"),
    [("W52", 1, 1, "goes on in equal steps"), ("N22", 9, -1, "goes on in equal steps"),
     ("W52", 4, 0, "stays the same"), ("F69", 2, 0, "stays the same")],
)  # fmt: skip
def test_a_vessel_that_was_filled_from_first_to_last_is_said(tmp_path, vessel, first, step, words):
    warned = _changed(tmp_path, "single", _filled(vessel, first, step))
    hit = warned[warned["message"].str.contains(words)]
    assert hit["fix"].str.contains(vessel).any(), format_problems(warned)


@pytest.mark.parametrize("value", ["0", "12"])
def test_a_vessel_at_an_end_of_the_scale_may_stay_there(tmp_path, value):
    warned = _changed(tmp_path, "single", _filled("N22", int(value), 0))
    assert not warned["message"].str.contains("from its first round to its last").any()


def test_slow_water_may_gain_a_line_a_round_for_a_while(tmp_path):
    # Eight rounds of fifteen, as one vessel of the demo does by itself.
    slow = iter([0, 1, 1, 2, 3, 4, 5, 6, 7, 8, 8, 8, 8, 8, 8, *[8] * 10])

    def change(_, row):
        if (row["vessel"], row["quantity"], row["rater"]) == ("L84", "clarity", "R02"):
            row["value"] = str(next(slow))

    warned = _changed(tmp_path, "harbour", change)
    assert not warned["message"].str.contains("goes on in equal steps").any()


@pytest.mark.parametrize("value", ["<0.01", ">99", "<1"])
@pytest.mark.parametrize("at", [3, 41, 122, 140])
def test_a_limit_far_from_the_readings_around_it_is_said(tmp_path, value, at):
    def change(number, row):
        if number == at:
            assert row["quantity"] == "haze"
            row["value"] = value

    warned = _changed(tmp_path, "rerun", change)
    own = warned[(warned["row"] == at) & (warned["column"] == "value")]
    assert own["message"].str.contains("jumps away|reach or go beyond").any(), own
    assert own["value"].iloc[0].startswith(value[0])


@pytest.mark.parametrize("demo", ["rerun", "harbour"])
@pytest.mark.parametrize(
    ("low", "high"), [(0.2, None), (0.5, None), (1, None), (None, 15), (0.3, 12)]
)
def test_a_meter_that_ends_at_limits_is_not_doubted(tmp_path, demo, low, high):
    def change(_, row):
        if row["quantity"] != "haze" or not row["value"]:
            return
        value = float(row["value"])
        if low is not None and value < low:
            row["value"] = f"<{low}"
        elif high is not None and value > high:
            row["value"] = f">{high}"

    warned = _changed(tmp_path, demo, change)
    # One reading of this demo was skipped from the start.
    assert set(warned["message"]) <= {"the cell is empty; it counts as not read"}


@pytest.mark.parametrize(("at", "value"), [(20, "0"), (155, "0"), (149, "0")])
def test_a_count_that_falls_back_on_a_steep_part_is_said(tmp_path, at, value):
    def change(number, row):
        if number == at:
            assert row["quantity"] == "clarity"
            row["value"] = value

    warned = _changed(tmp_path, "single" if at < 100 else "rerun", change)
    assert warned.loc[warned["row"] == at, "message"].str.contains("jumps away").any(), warned


@pytest.mark.parametrize(("vessel", "after_h"), [("N22", 10), ("N22", 4), ("H11", 7)])
def test_zeros_for_what_was_not_read_are_said(tmp_path, vessel, after_h):
    # A vessel that was clear for hours, and is at nothing from some round on.
    def change(_, row):
        if row["vessel"] == vessel and float(row["elapsed_h"]) > after_h:
            row["value"] = "0"

    warned = _changed(tmp_path, "single", change)
    hit = warned[warned["message"].str.contains("falls back by more than half")]
    assert hit["value"].tolist() == ["0"], format_problems(warned)


def test_water_that_clouds_again_for_some_rounds_is_not_doubted(tmp_path):
    # The demo has such a vessel: 12 lines, then 8 or 9 for ten hours, then 12.
    warned = _changed(tmp_path, "harbour", lambda number, row: None)
    assert set(warned["message"]) == {"the cell is empty; it counts as not read"}


@pytest.mark.parametrize("vessel", ["V19", "X62"])
def test_zeros_of_a_meter_that_reads_none_are_said(tmp_path, vessel):
    # Purified water, and a vessel that is clear: elsewhere it reads 0.11 NTU at the least.
    def change(_, row):
        if (row["vessel"], row["quantity"]) == (vessel, "haze") and float(row["elapsed_min"]) > 500:
            row["value"] = "0"

    warned = _changed(tmp_path, "rerun", change)
    hit = warned["message"].str.contains("exactly 0, to which no other reading comes near")
    assert hit.sum() == 3, format_problems(warned)


def test_a_meter_that_was_set_to_zero_in_the_water_is_not_doubted(tmp_path):
    def change(_, row):
        if row["quantity"] == "haze":
            row["value"] = f"{max(0.0, float(row['value']) - 0.12):.2f}"

    warned = _changed(tmp_path, "rerun", change)
    assert not warned["message"].str.contains("exactly 0").any()
