"""A second person's entry, damaged: what differs is refused, what stands beside it is said."""

import random
import shutil
from pathlib import Path

import openpyxl
import pytest

from tests.records import conftest as base
from tests.records import mishaps as m
from tests.records import mishaps_book as b
from tests.records.test_mishaps import DEMO, PLAUSIBLE_ROWS, _said, _same
from trialkit.records.export import write_readings
from trialkit.records.read import read_trial
from trialkit.records.trial import TrialDataError
from trialkit.records.workbook import write_workbook


@pytest.fixture(scope="module", params=["single", "rerun"])
def bench(request, tmp_path_factory):
    """Two copies of a demo trial, one with its readings entered a second time; how often."""
    path = tmp_path_factory.mktemp("second")
    alone, both = path / "alone", path / "both"
    for folder in (alone, both):
        shutil.copytree(DEMO / request.param, folder)
    shutil.copyfile(both / "readings.csv", both / "readings-second.csv")
    return alone, both, {"single": 3, "rerun": 1}[request.param]


def _read(folder):
    """The trial, or None where it is refused."""
    try:
        return read_trial(folder)
    except TrialDataError:
        return None


def _silent(alone, both, stem, datas):
    """How many damaged entries differ from the sound one without a word beside the first.

    What an entry says is what it would give as the only one, so that is read first.
    """
    first, second = f"readings{stem}", f"readings-second{stem}"
    good, usual = read_trial(alone), _said(read_trial(both))
    sound, silent = (alone / first).read_bytes(), 0
    for data in datas:
        (alone / first).write_bytes(data)
        (both / second).write_bytes(data)
        one, two = _read(alone), _read(both)
        differs = one is None or not _same(one, good)
        assert one is None or differs or two is not None, "the same readings were refused"
        silent += differs and two is not None and not _said(two) - usual
    (alone / first).write_bytes(sound)
    (both / second).write_bytes(sound)
    return silent


def _made(make, count, seed):
    rng = random.Random(seed)
    for _ in range(count):
        try:
            yield make(rng)
        except (StopIteration, IndexError, ValueError, KeyError):
            continue  # the file has no such column


@pytest.mark.parametrize("kind", [*m.MISHAPS, *m.TEXT_MISHAPS], ids=lambda kind: kind.__name__)
def test_mishaps_in_a_second_entry_are_never_silent(bench, kind):
    text = (bench[0] / "readings.csv").read_text(encoding="utf-8")
    alone, both, count = bench
    datas = _made(lambda rng: m.mishap(kind, text, rng), count, 4201)
    assert _silent(alone, both, ".csv", datas) == 0


def test_a_second_entry_finds_what_is_as_plausible_as_before(bench):
    folder = bench[1]
    text = (folder / "readings.csv").read_text(encoding="utf-8")
    good, usual = read_trial(folder), _said(read_trial(folder))
    found = []
    for kind in sorted(PLAUSIBLE_ROWS, key=lambda kind: kind.__name__):
        for data in _made(lambda rng, kind=kind: m.mishap(kind, text, rng), 3, 4202):
            (folder / "readings.csv").write_bytes(data)
            trial = _read(folder)
            found.append(trial is None or _same(trial, good) or bool(_said(trial) - usual))
    (folder / "readings.csv").write_text(text, encoding="utf-8", newline="")
    assert all(found), f"{len(found) - sum(found)} of {len(found)}"
    assert len(found) > 10


def _filled_book(folder: Path) -> bytes:
    """The workbook of the little bench with its readings typed in; readings.csv is taken away."""
    trial = read_trial(base.write_folder(folder))
    (folder / "readings.csv").unlink()
    path = write_workbook(folder)
    book = openpyxl.load_workbook(path)
    b.fill(book, trial)
    book.save(path)
    return path.read_bytes()


@pytest.mark.parametrize("kind", b.BOOK_MISHAPS, ids=lambda kind: kind.__name__)
def test_mishaps_in_a_second_workbook_are_never_silent(tmp_path, kind):
    alone, both, spare = tmp_path / "alone", tmp_path / "both", tmp_path / "spare.xlsx"
    sound = _filled_book(alone)
    base.write_folder(both)
    write_readings(read_trial(alone).readings, both / "readings.csv")
    (both / "readings-second.xlsx").write_bytes(sound)

    def make(rng):
        spare.write_bytes(sound)
        book = openpyxl.load_workbook(spare)
        kind(book, rng)
        book.save(spare)
        return spare.read_bytes()

    silent = _silent(alone, both, ".xlsx", _made(make, 1, 4203))
    assert silent == 0


def test_another_instrument_or_remark_is_said_beside_the_same_reading(make_folder):
    text = base.readings_text()
    one = text.replace("21.3,NTU,,,T01,", "21.3,NTU,,,,").replace("lid was closed", "lid open", 1)
    problems = read_trial(make_folder(**{"readings-second": one})).problems
    messages = problems["message"].tolist()
    assert "the instrument differs from that in readings-second.csv" in messages
    assert "the note differs from that in readings-second.csv" in messages
    assert problems["message"].str.contains("agree with the second sheet").any()
    hit = problems[problems["message"].str.startswith("the instrument differs")].iloc[0]
    assert (hit["level"], hit["value"]) == ("warn", "T01")
    assert 'says ""' in hit["fix"]


def test_a_second_entry_without_a_first_is_said(make_folder):
    intervals = "vessel,criterion,left_h,right_h\n" + "".join(
        f"K0{vessel},clarity,1,2\n" for vessel in (1, 2, 3, 4)
    )
    folder = make_folder(intervals=intervals, readings=None)
    alone = read_trial(folder).problems
    assert alone["message"].str.contains("only intervals.csv is used").any()
    (folder / "readings-second.csv").write_text(base.readings_text(), encoding="utf-8")
    problems = read_trial(folder).problems
    hit = problems[problems["file"] == "readings-second.csv"]
    assert hit["level"].tolist() == ["warn"]
