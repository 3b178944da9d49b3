"""Mishaps of a spreadsheet in any file are refused or said; what is left is as plausible as before.

The third generator beside damage.py and slips.py: blocks, columns, rounds and whole files, in
readings, small tables, plan and workbook. What is held against the sound trial is all that an
analysis receives.
"""

import random
import shutil
from collections import Counter
from pathlib import Path

import openpyxl
import pytest

from tests.records import conftest as base
from tests.records import mishaps as m
from tests.records import mishaps_book as b
from tests.records import mishaps_plan as p
from trialkit.records.read import read_trial
from trialkit.records.trial import TrialDataError
from trialkit.records.workbook import write_workbook

DEMO = Path(__file__).parents[2] / "data" / "demo"
COLUMNS = ["file", "column", "value", "level", "message"]

# Leaves data as plausible as they were: values alike, codes of vessels that clear alike.
PLAUSIBLE_ROWS = {
    m.replaced_in_one_column,
    m.first_cell_filled_down,
    m.a_round_copied_under_another_time,
    m.two_rounds_exchanged,
    m.values_of_two_vessels_exchanged_in_a_round,
    m.codes_of_two_vessels_exchanged_from_a_round_on,
    m.codes_of_reference_and_vessel_exchanged,
    m.clock_an_hour_off_from_a_round_on,
    m.top_and_bottom_exchanged,
}
# Of the small tables only what readings, seal or claims contradict can be noticed.
PLAUSIBLE_CELLS = {
    p.cells_of_two_rows_exchanged,
    p.column_pasted_one_row_lower,
    p.column_sorted_alone,
    p.cell_filled_down,
    p.series_filled,
    p.columns_exchanged,
    p.number_mistyped,
    p.number_in_another_unit,
    p.replaced_everywhere,
}
PLAUSIBLE_BOOK = {
    b.values_pasted_one_row_lower,
    b.values_pasted_one_column_right,
    b.headings_of_two_vessels_exchanged,
    b.value_in_another_vessel,
}

# Times of the sealed trial are local, so that a zone moves starts and readings alike; a comma may
# stand in the licence, which is any text.
SEALED = [kind for kind in p.TOML_MISHAPS if kind not in (p.zone_changed, p.number_with_a_comma)]


def _said(trial):
    """Findings whatever their row: rows that moved are nothing new."""
    return Counter(map(tuple, trial.problems[COLUMNS].astype(str).to_numpy().tolist()))


def _same(one, two):
    frames = all(getattr(one, n).equals(getattr(two, n)) for n in ("mixes", "vessels", "raters"))
    readings = [trial.readings.drop(columns="row") for trial in (one, two)]
    intervals = [trial.intervals for trial in (one, two)]
    alike = intervals[0] is intervals[1] or intervals[0].equals(intervals[1])
    return frames and readings[0].equals(readings[1]) and alike and one.protocol == two.protocol


def _outcome(folder, good):
    try:
        trial = read_trial(folder)
    except TrialDataError as error:
        return "refused" if (error.problems["level"] == "refuse").any() else "without a reason"
    if _same(trial, good):
        return "same"
    return "said" if _said(trial) - _said(good) else "SILENT"


def _outcomes(folder, name, make, count, seed):
    """Outcomes of a mishap of one file, so many times; it is put back as it was."""
    sound, good = (folder / name).read_bytes(), read_trial(folder)
    rng, outcomes = random.Random(seed), Counter()
    for _ in range(count):
        try:
            data = make(rng)
        except (StopIteration, IndexError, ValueError, KeyError):
            continue  # the file has no such column or key
        (folder / name).write_bytes(data)
        outcomes[_outcome(folder, good)] += 1
    (folder / name).write_bytes(sound)
    return outcomes


@pytest.fixture(scope="module")
def demo(request, tmp_path_factory):
    """A demo trial to be damaged."""
    folder = tmp_path_factory.mktemp("mishaps") / request.param
    return Path(
        shutil.copytree(DEMO / request.param, folder, ignore=shutil.ignore_patterns("out*"))
    )


@pytest.mark.parametrize("demo", ["single", "rerun"], indirect=True)
@pytest.mark.parametrize("kind", [*m.MISHAPS, *m.TEXT_MISHAPS], ids=lambda kind: kind.__name__)
def test_mishaps_in_readings_are_said(demo, kind):
    text = (demo / "readings.csv").read_text(encoding="utf-8")
    count = {"single": 5, "rerun": 2}[demo.name]
    found = _outcomes(demo, "readings.csv", lambda rng: m.mishap(kind, text, rng), count, 4101)
    if kind not in PLAUSIBLE_ROWS:
        assert found["SILENT"] == 0, found


@pytest.mark.parametrize("demo", ["rerun"], indirect=True)
def test_most_plausible_mishaps_in_readings_are_said_where_there_is_enough_to_compare(demo):
    text = (demo / "readings.csv").read_text(encoding="utf-8")
    total = Counter()
    for kind in sorted(PLAUSIBLE_ROWS, key=lambda kind: kind.__name__):
        make = lambda rng, kind=kind: m.mishap(kind, text, rng)  # noqa: E731
        total += _outcomes(demo, "readings.csv", make, 4, 4102)
    changed = total.total() - total["same"]
    assert total["SILENT"] <= 0.2 * changed, total


@pytest.mark.parametrize("demo", ["single", "harbour"], indirect=True)
@pytest.mark.parametrize("kind", p.TABLE_MISHAPS, ids=lambda kind: kind.__name__)
@pytest.mark.parametrize("name", ["vessels.csv", "key.csv", "mixes.csv", "raters.csv"])
def test_mishaps_in_the_small_tables_are_said(demo, name, kind):
    text = (demo / name).read_text(encoding="utf-8")
    count = {"single": 4, "harbour": 1}[demo.name]
    found = _outcomes(demo, name, lambda rng: p.of_table(kind, text, rng), count, 4103)
    sealed = name == "key.csv" and demo.name == "harbour"
    if sealed or kind not in PLAUSIBLE_CELLS:
        assert found["SILENT"] == 0, found


@pytest.mark.parametrize("demo", ["harbour"], indirect=True)
@pytest.mark.parametrize("kind", SEALED, ids=lambda kind: kind.__name__)
def test_mishaps_in_a_sealed_plan_are_said(demo, kind):
    text = (demo / "trial.toml").read_text(encoding="utf-8")
    found = _outcomes(demo, "trial.toml", lambda rng: p.of_toml(kind, text, rng), 2, 4104)
    assert found["SILENT"] == 0, found


@pytest.mark.parametrize("demo", ["single", "rerun"], indirect=True)
@pytest.mark.parametrize("kind", m.CLOCK_MISHAPS, ids=lambda kind: kind.__name__)
def test_mishaps_of_days_and_clock_times_are_said(demo, kind):
    path, start = demo / "readings.csv", read_trial(demo).protocol.start.replace(tzinfo=None)
    sound = path.read_text(encoding="utf-8")
    text = m.with_clock(sound, start)
    path.write_text(text, encoding="utf-8", newline="")
    found = _outcomes(demo, path.name, lambda rng: m.mishap(kind, text, rng), 6, 4105)
    path.write_text(sound, encoding="utf-8", newline="")
    assert found["SILENT"] == 0, found


@pytest.mark.parametrize("kind", b.BOOK_MISHAPS, ids=lambda kind: kind.__name__)
def test_mishaps_in_the_workbook_are_said(tmp_path, kind):
    folder = base.write_folder(tmp_path / "bench")
    trial = read_trial(folder)
    (folder / "readings.csv").unlink()
    path = write_workbook(folder)
    book = openpyxl.load_workbook(path)
    b.fill(book, trial)
    book.save(path)
    sound = path.read_bytes()

    def make(rng):
        path.write_bytes(sound)
        book = openpyxl.load_workbook(path)
        kind(book, rng)
        book.save(path)
        return path.read_bytes()

    found = _outcomes(folder, path.name, make, 2, 4106)
    if kind not in PLAUSIBLE_BOOK:
        assert found["SILENT"] == 0, found
