"""The command as a user meets it: exit codes, plain words, no traceback, whole folders or none."""

import hashlib
import json
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from trialkit import cli

DEMO = Path(__file__).parents[1] / "data" / "demo"


def run(*arguments) -> int:
    return cli.run([str(a) for a in arguments])


@pytest.fixture
def single(tmp_path) -> Path:
    """A copy of the smallest demo trial."""
    folder = tmp_path / "single"
    shutil.copytree(DEMO / "single", folder, ignore=shutil.ignore_patterns("out", "lab"))
    return folder


def digests(folder: Path) -> dict[str, str]:
    return {p.name: hashlib.sha256(p.read_bytes()).hexdigest() for p in folder.iterdir()}


def test_help_does_not_wait_for_pandas():
    code = (
        "import sys; from trialkit.cli import run; assert run(['--help']) == 0; "
        "sys.exit('pandas' in sys.modules or 'numpy' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert "The order of work" in done.stdout


def test_check_of_a_sound_folder_exits_0(single, capsys):
    assert run("check", single) == 0
    assert "Traceback" not in capsys.readouterr().err


def test_check_names_file_row_column_value_and_fix(single, capsys):
    readings = single / "readings.csv"
    lines = readings.read_text().splitlines()
    cells = lines[3].split(",")
    column = lines[0].split(",").index("value")
    cells[column] = "twelve"
    readings.write_text("\n".join([*lines[:3], ",".join(cells), *lines[4:]]) + "\n")
    assert run("check", single) == 1
    told = capsys.readouterr().out
    assert 'readings.csv row 4, column value: "twelve"' in told
    assert "Fix:" in told
    assert run("check", single, "--json") == 1
    rows = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    assert any(row["value"] == "twelve" and row["level"] == "refuse" for row in rows)


def test_what_the_message_has_no_room_for_is_in_a_file(single, capsys):
    readings = single / "readings.csv"
    head, *rows = readings.read_text().splitlines()
    column = head.split(",").index("value")
    broken = [",".join([*r.split(",")[:column], "?", *r.split(",")[column + 1 :]]) for r in rows]
    readings.write_text("\n".join([head, *broken]) + "\n")
    assert run("check", single) == 1
    assert f"All of them: {single / 'problems.csv'}" in capsys.readouterr().out
    listed = (single / "problems.csv").read_text().splitlines()
    assert len(listed) > len(rows)
    # The list itself is no fault of the folder.
    readings.write_text("\n".join([head, *rows]) + "\n")
    assert run("check", single) == 0


def test_report_refuses_bad_data_and_writes_nothing(single, capsys):
    (single / "mixes.csv").unlink()
    assert run("report", single) == 1
    told = capsys.readouterr()
    assert "mixes.csv" in told.err
    assert "Traceback" not in told.err
    assert not (single / "out").exists()
    assert not (single / "out.partial").exists()


def test_a_blind_trial_is_told_what_is_missing(single, capsys):
    (single / "key.csv").unlink()
    assert run("report", single) == 2
    assert "key.csv" in capsys.readouterr().err


@pytest.mark.parametrize(
    "arguments",
    [("report", "no such folder"), ("reprot", "."), ("report",), ("check", ".", "--colour")],
)
def test_usage_errors_exit_2(arguments, capsys):
    assert run(*arguments) == 2
    assert "Traceback" not in capsys.readouterr().err


def test_a_fault_of_the_kit_exits_3_and_says_so(single, monkeypatch, capsys):
    import trialkit.records.check

    def broken(*_, **__):
        raise ZeroDivisionError("on purpose")

    monkeypatch.setattr(trialkit.records.check, "check_trial", broken)
    assert run("check", single) == 3
    assert "fault of trialkit" in capsys.readouterr().err


def test_a_fault_while_reading_is_one_sentence_without_a_traceback(single, monkeypatch, capsys):
    import trialkit.records.assemble

    def broken(*_, **__):
        raise ZeroDivisionError("on purpose")

    monkeypatch.setattr(trialkit.records.assemble, "design_problems", broken)
    for command in ("check", "report"):
        assert run(command, single) == 3
        told = capsys.readouterr()
        assert "fault of trialkit, not of your data" in told.err
        assert "ZeroDivisionError in test_cli.py line" in told.err
        assert "report it" in told.err
        assert "Traceback" not in told.err
        assert not told.out


def test_the_list_of_problems_is_safe_to_open_in_a_spreadsheet(single, tmp_path, capsys):
    readings = single / "readings.csv"
    head, *rows = readings.read_text().splitlines()
    column = head.split(",").index("value")
    cells = [row.split(",") for row in rows]
    broken = [",".join([*c[:column], "=cmd|x", *c[column + 1 :]]) for c in cells]
    readings.write_text("\n".join([head, *broken]) + "\n")
    assert run("check", single) == 1
    told = capsys.readouterr().out
    assert '"=cmd|x"' in told
    listed = (single / "problems.csv").read_text()
    assert ",'=cmd|x," in listed
    assert ",=cmd" not in listed
    (single / "problems.csv").unlink()
    elsewhere = tmp_path / "elsewhere.csv"
    (single / "problems.csv").symlink_to(elsewhere)
    assert run("check", single) == 1
    assert "is a link to another place" in capsys.readouterr().out
    assert not elsewhere.exists()


def test_an_interruption_exits_130(single, monkeypatch):
    import trialkit.records.check

    def interrupted(*_, **__):
        raise KeyboardInterrupt

    monkeypatch.setattr(trialkit.records.check, "check_trial", interrupted)
    assert run("check", single) == 130


def test_demo_copies_trials_that_check_clean(tmp_path, capsys):
    assert run("demo", tmp_path / "trials") == 0
    assert run("check", tmp_path / "trials" / "harbour") == 0
    assert not list((tmp_path / "trials").rglob("out"))
    assert run("demo", tmp_path / "trials") == 2
    assert "exists already" in capsys.readouterr().err


def test_report_writes_a_whole_folder_twice_the_same(single, capsys):
    assert run("report", single) == 0
    out = single / "out"
    first = digests(out)
    assert {"report.pdf", "results.json", "comparison.ipynb", "manifest-sha256.txt"} <= set(first)
    listed = dict(
        reversed(line.split("  "))
        for line in (out / "manifest-sha256.txt").read_text().splitlines()
    )
    assert listed == {k: v for k, v in first.items() if k != "manifest-sha256.txt"}

    # A second run without --force leaves the first alone; with it, the bytes are the same.
    assert run("report", single) == 2
    assert "--force" in capsys.readouterr().err
    assert digests(out) == first
    assert run("report", single, "--force") == 0
    assert digests(out) == first
    # Neither the place of the folder nor its name is in what people publish.
    for name in ("report.pdf", "results.json", "comparison.ipynb"):
        assert str(single).encode() not in (out / name).read_bytes()


def test_report_elsewhere_gives_the_same_report(single, tmp_path):
    assert run("report", single, "--out", tmp_path / "a") == 0
    moved = tmp_path / "deeper" / "down"
    shutil.copytree(single, moved)
    assert run("report", moved, "--out", tmp_path / "b" / "c") == 0
    for name in ("report.pdf", "results.json"):
        assert (tmp_path / "a" / name).read_bytes() == (tmp_path / "b" / "c" / name).read_bytes()


def test_a_folder_of_the_user_is_never_replaced(single, capsys):
    out = single / "out"
    out.mkdir()
    (out / "thesis.txt").write_text("years of work")
    assert run("report", single, "--force") == 2
    assert "was not written by trialkit" in capsys.readouterr().err
    assert (out / "thesis.txt").read_text() == "years of work"


def test_a_failure_on_the_way_leaves_the_earlier_report(single, monkeypatch, capsys):
    out = single / "out"
    out.mkdir()
    (out / "manifest-sha256.txt").write_text("")
    (out / "report.pdf").write_text("the earlier one")

    def broken(*_, **__):
        raise RuntimeError("on purpose")

    monkeypatch.setattr("trialkit.publish._render", broken)
    assert run("report", single, "--force") == 3
    assert (out / "report.pdf").read_text() == "the earlier one"
    assert not (single / "out.partial").exists()


def test_pool_names_what_it_cannot_read_and_pools_the_rest(single, tmp_path, capsys):
    broken = tmp_path / "broken"
    shutil.copytree(single, broken)
    (broken / "trial.toml").write_text("title =")
    sources = [DEMO / "rerun", broken, single]
    assert run("pool", *sources, "--out", tmp_path / "pooled", "--scale") == 1
    told = capsys.readouterr().out
    assert "2 trials pooled" in told
    assert "Left out: broken" in told
    assert "[scale]" in told
    assert (tmp_path / "pooled" / "report.pdf").stat().st_size > 10_000
    # The other order of the sources gives the same bytes.
    assert run("pool", *sources[::-1], "--out", tmp_path / "again") == 1
    for name in ("report.pdf", "results.json"):
        one, two = (tmp_path / place / name for place in ("pooled", "again"))
        assert one.read_bytes() == two.read_bytes()


def test_nothing_to_pool_is_said_in_a_line(tmp_path, capsys):
    assert run("pool", tmp_path, "--out", tmp_path / "pooled") == 2
    told = capsys.readouterr().err
    assert "Traceback" not in told
    assert not (tmp_path / "pooled").exists()
