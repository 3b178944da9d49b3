"""Places and files that are no plain ones: refused in a line, never followed, never waited for.

A pipe or an endless device would hang whoever opens it, a link would be written through. On a
system without pipes their cases skip.
"""

import os
import tomllib
import zipfile
from pathlib import Path

import openpyxl
import pytest
from openpyxl.styles import Font

from tests.records import conftest as base
from trialkit.bundle import BundleError, bundle_trial
from trialkit.cli import run
from trialkit.datapackage import slug
from trialkit.planning.preview import preview_plan, write_plan
from trialkit.planning.seal import seal_trial
from trialkit.publish import refuse_taken, whole_or_nothing
from trialkit.records.read import read_trial
from trialkit.records.workbook import write_workbook

START = ("--start", "2031-04-02T08:00")
DEMO = Path(__file__).parents[1] / "data" / "demo"
OUTSIDE = "what stands outside the folder"


@pytest.fixture
def folder(tmp_path):
    """A sound folder on disk."""
    return base.write_folder(tmp_path / "bench")


@pytest.fixture
def make_folder(tmp_path):
    """A maker of folders that differ from the sound one in the files named."""
    return lambda **texts: base.write_folder(tmp_path / "bench", **texts)


@pytest.fixture
def outside(tmp_path):
    """A file that no command may touch."""
    path = tmp_path / "outside.txt"
    path.write_text(OUTSIDE)
    yield path
    assert path.read_text() == OUTSIDE


@pytest.fixture
def pipe(tmp_path):
    """A pipe that nobody writes to: opening it waits for ever."""
    if not hasattr(os, "mkfifo"):
        pytest.skip("this system has no pipes in folders")
    path = tmp_path / "pipe.csv"
    os.mkfifo(path)
    return path


def _run(*words):
    return run([str(word) for word in words])


def test_a_pipe_is_no_table_to_import_and_no_answers(pipe, tmp_path, capsys):
    assert _run("import", pipe, tmp_path / "new", *START) == 1
    assert "pipe.csv: this is not an ordinary file" in capsys.readouterr().err
    assert _run("plan", tmp_path / "new", "--answers", pipe) == 2
    assert "pipe.csv is not an ordinary file" in capsys.readouterr().err
    assert not (tmp_path / "new").exists()


def test_an_endless_device_is_no_table_to_import(tmp_path, capsys):
    if not Path("/dev/zero").exists():
        pytest.skip("this system has no /dev/zero")
    assert _run("import", "/dev/zero", tmp_path / "new", *START) == 1
    assert "not an ordinary file" in capsys.readouterr().err


def test_the_list_of_problems_is_not_written_into_a_pipe(folder, pipe, capsys):
    text = base.readings_text().replace("lines", "linez")
    (folder / "readings.csv").write_text(text)
    pipe.rename(folder / "problems.csv")
    assert _run("check", folder) == 1
    assert "problems.csv is no ordinary file" in capsys.readouterr().out


@pytest.mark.parametrize("command", ["report", "bundle"])
def test_an_address_is_no_place(folder, command, capsys):
    assert _run(command, folder, "--out", "https://example.org/x") == 2
    assert "is an address, not a place" in capsys.readouterr().err
    assert _run("demo", "ftp://example.org/x") == 2


def test_a_bundle_is_not_written_through_a_link(folder, outside):
    (folder / "key.csv").unlink(missing_ok=True)
    out = folder / "packed.zip"
    (folder / "packed.zip.partial").symlink_to(outside)
    bundle_trial(folder, out)
    assert zipfile.is_zipfile(out)
    assert not out.is_symlink()
    out.unlink()
    out.symlink_to(folder / "nowhere")
    with pytest.raises(BundleError, match="exists already"):
        bundle_trial(folder, out)


def test_a_workbook_is_not_written_through_a_link_and_others_may_read_it(folder, outside):
    (folder / "readings.xlsx.partial").symlink_to(outside)
    path = write_workbook(folder)
    plain = folder / "plain.txt"
    plain.write_text("")
    assert path.stat().st_mode == plain.stat().st_mode
    path.unlink()
    path.symlink_to(outside)
    assert not write_workbook(folder, force=True).is_symlink()
    assert sorted(p.name for p in folder.iterdir() if p.suffix == ".partial") == []


def test_a_report_replaces_links_beside_it_and_follows_none(tmp_path, outside):
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    (elsewhere / "kept.txt").write_text("kept")
    for name in ("out.partial", "out.earlier"):
        (tmp_path / name).symlink_to(elsewhere)
    with whole_or_nothing(tmp_path / "out") as partial:
        (partial / "report.pdf").write_text("new")
    assert (tmp_path / "out" / "report.pdf").read_text() == "new"
    assert [path.name for path in elsewhere.iterdir()] == ["kept.txt"]


@pytest.mark.parametrize("there", [True, False])
def test_a_report_is_not_put_where_a_link_leads(tmp_path, there):
    target = tmp_path / "target"
    if there:
        target.mkdir()
    (tmp_path / "out").symlink_to(target)
    with pytest.raises(Exception, match="is a link to another place"):
        refuse_taken(tmp_path / "out", force=True)


@pytest.mark.parametrize("name", ["trial.toml", "sealed.txt"])
def test_a_seal_is_not_written_through_a_link(make_folder, outside, name):
    folder = make_folder(readings=None)
    if name == "trial.toml":
        outside = (folder / name).rename(folder / "moved.toml")
    (folder / name).symlink_to(outside)
    with pytest.raises(ValueError, match=f"{name} is a link"):
        seal_trial(folder)


def test_a_workbook_with_readings_is_sealed_no_more(make_folder):
    folder = make_folder(readings=None)
    path = write_workbook(folder)
    seal_trial(folder)
    book = openpyxl.load_workbook(path)
    page = book["haze"]
    row = next(cell.row for cell in page["A"] if cell.value == "planned") + 1
    page.cell(row, 4).value = 3.5
    book.save(path)
    with pytest.raises(ValueError, match=r"readings\.xlsx holds readings already"):
        seal_trial(folder)


def test_a_place_that_the_system_denies_is_no_fault_of_the_kit(folder, tmp_path, capsys):
    (folder / "readings.xlsx").mkdir()
    assert _run("sheets", folder, "--force") == 2
    told = capsys.readouterr().err
    assert "Traceback" not in told
    assert "readings.xlsx" in told
    assert _run("sheets", folder, "--force") == 2
    assert _run("import", folder / "readings.csv", tmp_path / ("x" * 300), *START) in (1, 2)
    assert "Traceback" not in capsys.readouterr().err


def test_the_checks_own_list_is_no_file_to_wonder_about(folder, capsys):
    text = base.readings_text().replace("lines", "linez")
    (folder / "readings.csv").write_text(text)
    assert _run("check", folder) == 1
    capsys.readouterr()
    assert _run("check", folder) == 1
    assert "does not read a file of this name" not in capsys.readouterr().out


RUN_BY_SPREADSHEETS = ["=cmd|x", "@SUM(1)", "-2+3", "+1", "'=1", "'quoted", "plain"]


def test_a_table_imported_holds_no_name_that_a_spreadsheet_runs(tmp_path):
    table = tmp_path / "bench.csv"
    heads = ",".join(RUN_BY_SPREADSHEETS)
    rows = "".join(f"{t},{','.join([str(t)] * 7)},12\n" for t in (1, 2, 4, 8))
    table.write_text(f"hours,{heads},reference\n{rows}")
    assert _run("import", table, tmp_path / "new", *START) == 0
    written = (tmp_path / "new" / "mixes.csv").read_text().splitlines()[1:]
    assert not [line for line in written if line.split(",")[1][0] in "=+-@"]
    assert list(read_trial(tmp_path / "new").mixes["name"]) == RUN_BY_SPREADSHEETS


def test_a_plan_holds_no_name_that_a_spreadsheet_runs(tmp_path):
    folder = tmp_path / "planned"
    answers = tomllib.loads((DEMO / "answers.toml").read_text())
    for mix, name in zip(answers["mixes"], RUN_BY_SPREADSHEETS, strict=False):
        mix |= {"name": name, "lot": name}
    answers |= {"raters": ["=cmd|x", "plain"], "claims": {}, "control": ""}
    write_plan(preview_plan(answers, n_trials=100), folder)
    for name in ("mixes.csv", "raters.csv"):
        cells = [c for line in (folder / name).read_text().splitlines() for c in line.split(",")]
        assert not [cell for cell in cells if cell[:1] in ("=", "+", "-", "@")]
    trial = read_trial(folder)
    assert list(trial.mixes["name"]) == RUN_BY_SPREADSHEETS[: len(answers["mixes"])]
    assert list(trial.mixes["lot"]) == list(trial.mixes["name"])
    assert list(trial.raters["name"]) == ["=cmd|x", "plain"]


@pytest.mark.parametrize(
    ("title", "name"),
    [("CON", "trial-con"), ("../../x", "x"), ("Console", "console"), ("海水", "trial")],
)
def test_a_title_makes_a_file_name_that_every_system_has(title, name):
    assert slug(title) == name


def test_an_import_writes_through_no_link(tmp_path):
    table, elsewhere = tmp_path / "bench.csv", tmp_path / "elsewhere"
    table.write_text("hours,Alder,reference\n1,3,12\n2,12,12\n4,12,12\n")
    elsewhere.mkdir()
    (tmp_path / "new.partial").symlink_to(elsewhere)
    assert _run("import", table, tmp_path / "new", *START) == 0
    assert list(elsewhere.iterdir()) == []
    (tmp_path / "other").symlink_to(tmp_path / "nowhere")
    assert _run("import", table, tmp_path / "other", *START) == 2


def test_an_import_tells_what_it_took_all_the_same(tmp_path, capsys):
    book = openpyxl.Workbook()
    rows = (["hours", "Alder", "reference"], [1, 3, 12], [2, 12, 12], [4, 12, 12])
    for row in rows:
        book.active.append(row)
    for place in ("B2", "B3"):
        book.active[place].font = Font(strike=True)
    book.save(tmp_path / "bench.xlsx")
    assert _run("import", tmp_path / "bench.xlsx", tmp_path / "new", *START) == 0
    told = capsys.readouterr().out
    assert 'column B2: "3" - the cell is struck through; it was read all the same.' in told
    assert "(1 more.)" in told
