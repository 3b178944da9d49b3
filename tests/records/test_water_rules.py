"""What contradicts water, clocks and habits is said; sound trials of other days are not doubted."""

from dataclasses import replace
from pathlib import Path

import pytest

from trialkit.planning.demo import rerun_spec, single_spec
from trialkit.planning.simulate import simulate_trial
from trialkit.records.check import check_trial

DEMO = Path(__file__).parents[2] / "data" / "demo"


def _said(tmp_path, demo, change):
    """The warnings after a change of the lines of readings.csv."""
    for path in (DEMO / demo).glob("*.*"):
        (tmp_path / path.name).write_bytes(path.read_bytes())
    lines = (tmp_path / "readings.csv").read_text(encoding="utf-8").splitlines()
    text = "\n".join(change(lines)) + "\n"
    (tmp_path / "readings.csv").write_text(text, encoding="utf-8")
    return check_trial(tmp_path).query("level == 'warn'")["message"].tolist()


def _put(lines, old, new):
    assert sum(old in line for line in lines) == 1
    return [line.replace(old, new) for line in lines]


@pytest.mark.parametrize(("demo", "old", "new", "words"), [
    # The file writes 0.960, 11.992 and 0.90 in full: a shorter number lost a digit.
    ("single", "V76,R01,11.992", "V76,R01,11.99", "not as many decimals"),
    ("rerun", "P28,R01,479.0,haze,0.93", "P28,R01,479.0,haze,1", "not as many decimals"),
    # Every time of the file is on a half minute.
    ("single", "H11,R01,5.975", "H11,R01,5.977", "full minutes or seconds"),
    # Twelve lines are printed, and purified water shows them all.
    ("single", "H11,R01,23.992,clarity,12", "H11,R01,23.992,clarity,21", "that of purified"),
])  # fmt: skip
def test_one_odd_cell_is_named(tmp_path, demo, old, new, words):
    said = _said(tmp_path, demo, lambda lines: _put(lines, old, new))
    assert any(words in message for message in said), said


def test_a_column_turned_by_one_row_is_named(tmp_path):
    def turned(lines):
        cells = [line.split(",") for line in lines]
        values = [row[4] for row in cells[1:]]
        for row, value in zip(cells[1:], [values[-1], *values], strict=False):
            row[4] = value
        return [",".join(row) for row in cells]

    said = _said(tmp_path, "single", turned)
    assert any("purified water reads worse" in message for message in said), said


def test_rows_typed_twice_are_named(tmp_path):
    def twice(lines):
        cells = [line.split(",") for line in lines]
        haze = [row for row in cells if row[3] == "haze"]
        for row, other in zip(haze[26:34], haze[18:26], strict=True):
            row[4] = other[4]
        return [",".join(row) for row in cells]

    said = _said(tmp_path, "rerun", twice)
    assert any("haze repeats the rows before" in message for message in said), said


def test_salt_water_above_fresher_water_is_named(tmp_path):
    def upside_down(lines):
        swap = {",top,": ",bottom,", ",bottom,": ",top,"}
        out = []
        for line in lines:
            if line.startswith("H79,R01,59.0,salinity"):
                mark = next((mark for mark in swap if mark in line), ",middle,")
                line = line.replace(mark, swap.get(mark, mark))
            out.append(line)
        assert out != lines
        return out

    said = _said(tmp_path, "rerun", upside_down)
    assert any("above a lower one" in message for message in said), said


def test_sound_trials_of_other_days_are_seldom_doubted(tmp_path):
    trials = [(single_spec, 20, 0), (rerun_spec, 10, 3)]
    for make, count, most in trials:
        doubted = 0
        for seed in range(count):
            folder = simulate_trial(
                replace(make(), seed=91_000 + seed), tmp_path / make.__name__ / str(seed)
            )
            problems = check_trial(folder)
            assert "refuse" not in set(problems["level"])
            doubted += (problems["level"] == "warn").any()
        assert doubted <= most


def test_purified_water_whose_code_was_exchanged_is_named_first(tmp_path):
    def exchanged(lines):
        turn = {"W52": "V76", "V76": "W52"}
        return [turn.get(line[:3], line[:3]) + line[3:] for line in lines]

    said = _said(tmp_path, "single", exchanged)
    assert "purified water reads far worse in clarity than a vessel of salt water" in said[0]


def test_two_rounds_whose_times_were_exchanged_are_named(tmp_path):
    def exchanged(lines):
        rows = [line.split(",") for line in lines]
        for row in rows[1:]:
            minutes = float(row[2])
            row[2] = f"{minutes + 30 * (28 <= minutes < 31) - 30 * (58 <= minutes < 61):g}"
        return [",".join(row) for row in rows]

    said = _said(tmp_path, "rerun", exchanged)
    assert any("read worse in clarity than in the round before" in message for message in said)


def test_positions_exchanged_in_the_whole_file_are_one_cause(tmp_path):
    turn = {"top": "bottom", "bottom": "top"}

    def exchanged(lines):
        rows = [line.split(",") for line in lines]
        return [",".join([*row[:6], turn.get(row[6], row[6]), *row[7:]]) for row in rows]

    said = _said(tmp_path, "rerun", exchanged)
    assert "salinity falls from top to bottom in nearly all vessels" in said[0]
    assert not any("above a lower one" in message for message in said)


def test_readings_at_a_detection_limit_that_lost_their_sign_are_named(tmp_path):
    said = _said(
        tmp_path, "harbour", lambda lines: [line.replace(",<10,", ",10,") for line in lines]
    )
    assert said.count("the reading is no higher than the detection limit, but has no <") == 2


def test_salinity_far_from_the_target_is_named(tmp_path):
    def as_if_fresher(lines):
        rows = [line.split(",") for line in lines]
        for row in rows:
            if row[3] == "salinity" and float(row[4]) > 31:
                row[4] = f"{float(row[4]) - 2.5:.1f}"
        return [",".join(row) for row in rows]

    said = _said(tmp_path, "rerun", as_if_fresher)
    assert any("far from target_salinity" in message for message in said)


def test_a_run_of_rounded_values_is_named(tmp_path):
    def rounded(lines):
        rows = [line.split(",") for line in lines]
        for row in rows:
            if row[3] == "haze" and 85 < float(row[2]) < 250:
                row[4] = f"{float(row[4]):.1f}"
        return [",".join(row) for row in rows]

    said = _said(tmp_path, "rerun", rounded)
    assert any("digit less over several rows" in message for message in said), said


def test_a_meter_that_changes_its_range_is_not_doubted(tmp_path):
    def ranged(lines):
        rows = [line.split(",") for line in lines]
        for row in rows:
            if row[3] == "haze" and float(row[4]) >= 10:
                row[4] = f"{float(row[4]):.1f}"
        return [",".join(row) for row in rows]

    said = _said(tmp_path, "rerun", ranged)
    assert not any("digit less" in message for message in said), said


def test_a_round_that_repeats_where_values_seldom_do_is_named(tmp_path):
    def copied(lines):
        rows = [line.split(",") for line in lines]
        haze = {row[0]: row[4] for row in rows if row[3] == "haze" and 590 < float(row[2]) < 610}
        for row in rows:
            if row[3] == "haze" and 830 < float(row[2]) < 850:
                row[4] = haze[row[0]]
        return [",".join(row) for row in rows]

    said = _said(tmp_path, "rerun", copied)
    assert any("a round of haze repeats the one before" in message for message in said), said


@pytest.mark.parametrize(("old", "new", "words"), [
    ("tolerance = 1", "tolerance = 60", "nearly all vessels meet"),
    ("tolerance = 1", "tolerance = 0.1", "smaller than the steps"),
    ("share = 0.5", "share = 0.05", "fewer than half"),
    ("3, 4, 6", "3.2, 4, 6", "whole round lies off its scheduled time"),
])  # fmt: skip
def test_a_plan_that_readings_contradict_is_named(tmp_path, old, new, words):
    for path in (DEMO / "single").glob("*.*"):
        (tmp_path / path.name).write_bytes(path.read_bytes())
    text = (tmp_path / "trial.toml").read_text(encoding="utf-8")
    assert old in text
    (tmp_path / "trial.toml").write_text(text.replace(old, new, 1), encoding="utf-8")
    said = check_trial(tmp_path).query("level == 'warn'")["message"].tolist()
    assert any(words in message for message in said), said


def test_rounds_far_off_the_plan_are_named_once_a_round(tmp_path):
    def late(lines):
        rows = [line.split(",") for line in lines]
        for row in rows[1:]:
            row[2] = f"{min(float(row[2]) * 1.3, 1440.0):g}"
        return [",".join(row) for row in rows]

    said = _said(tmp_path, "rerun", late)
    assert said.count("a whole round was read far from every scheduled time") >= 3
    assert said.count("the reading is far from every scheduled time") < 10
    assert said.count("the vessel was read again in this session") < 10


def test_many_references_read_one_after_the_other_are_no_copies(tmp_path):
    def more(lines):
        water = [line for line in lines if line.startswith("V76")]
        return [*lines, *(f"X{i:02d}" + line[3:] for line in water for i in range(10, 20))]

    folder = tmp_path / "single"
    folder.mkdir()
    for path in (DEMO / "single").glob("*.*"):
        (folder / path.name).write_bytes(path.read_bytes())
    with (folder / "vessels.csv").open("a", encoding="utf-8") as stream:
        for i in range(10, 20):
            stream.write(f"X{i},reference,1,{i},15.0,0.0,2031-11-08T10:00:00\n")
    lines = more((folder / "readings.csv").read_text(encoding="utf-8").splitlines())
    (folder / "readings.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    said = check_trial(folder)["message"]
    assert not said.str.contains("repeats the rows").any()
