"""The column-wise path gives what the strict path gives, or leaves the file to it."""

import numpy as np
import pytest

from tests.records import conftest as base
from trialkit.records import sheet
from trialkit.records.assemble import assemble
from trialkit.records.check import check_trial
from trialkit.records.logger import _plain_chunk, read_logged
from trialkit.records.pieces import read_pieces
from trialkit.records.read import read_trial
from trialkit.records.reading_cells import Setting

HEAD = "vessel,rater,elapsed_h,quantity,value,unit,instrument\n"


def _lines(step_s=60.0):
    rng = np.random.default_rng(31)
    hours = np.arange(1, int(8 * 3600 / step_s)) * step_s / 3600
    return [
        f"K0{vessel},R01,{hour:.6f},haze,{1 + 20 * np.exp(-hour) + rng.random():.2f},NTU,T01\n"
        for hour in hours
        for vessel in range(1, 6)
    ]


LINES = _lines()


@pytest.fixture
def setting(folder):
    trial = read_trial(folder)
    return Setting.of(trial)


@pytest.mark.parametrize("end", ["\n", "\r\n"])
@pytest.mark.parametrize("order", ["by time", "by vessel"])
def test_both_paths_agree(make_folder, monkeypatch, end, order):
    lines = LINES if order == "by time" else sorted(LINES, key=lambda line: line[:3])
    text = (HEAD + "".join(lines)).replace("\n", end)
    folder = make_folder(readings=text)
    monkeypatch.setattr(sheet, "FROM_BYTES", 10**12)
    strict = read_trial(folder)
    monkeypatch.setattr(sheet, "FROM_BYTES", 1)
    fast = read_trial(folder)
    assert read_logged(text.encode(), Setting.of(fast))
    assert fast.readings.equals(strict.readings)
    assert list(fast.readings.dtypes) == list(strict.readings.dtypes)
    assert fast.problems.equals(strict.problems)


def test_times_as_dates_agree(make_folder, monkeypatch):
    lines = [
        f"K0{vessel},R01,2031-04-02T{9 + minute // 60:02d}:{minute % 60:02d},haze,5.{vessel},NTU\n"
        for minute in range(300)
        for vessel in range(1, 6)
    ]
    folder = make_folder(readings="vessel,rater,time,quantity,value,unit\n" + "".join(lines))
    monkeypatch.setattr(sheet, "FROM_BYTES", 1)
    fast = read_trial(folder)
    monkeypatch.setattr(sheet, "FROM_BYTES", 10**12)
    assert fast.readings.equals(read_trial(folder).readings)


ODD = {
    "limit": lambda line: line.replace("haze,", "haze,<"),
    "empty": lambda line: _put(line, 4, ""),
    "nan": lambda line: _put(line, 4, "nan"),
    "inf": lambda line: _put(line, 4, "inf"),
    "exponent": lambda line: _put(line, 4, "1e1"),
    "plus": lambda line: _put(line, 4, "+1.5"),
    "needless zero": lambda line: _put(line, 4, "05.2"),
    "bare point": lambda line: _put(line, 4, "5."),
    "many digits": lambda line: _put(line, 4, "5.12345678901234567"),
    "space": lambda line: _put(line, 4, " 5.2"),
    "quoted": lambda line: _put(line, 4, '"5.2"'),
    "out of bounds": lambda line: _put(line, 4, "2000"),
    "negative": lambda line: _put(line, 4, "-1"),
    "small letter": lambda line: line.lower(),
    "unknown vessel": lambda line: "K99" + line[3:],
    "unknown unit": lambda line: line.replace("NTU", "NTX"),
    "other unit": lambda line: line.replace("NTU", "FNU"),
    "late": lambda line: _put(line, 2, "8.1"),
    "after all": lambda line: _put(line, 2, "50"),
    "short": lambda line: line.replace(",T01", ""),
    "long": lambda line: line.replace(",T01", ",T01,"),
    "blank row": lambda line: "\n" + line,
    "twice": lambda line: line + line,
    "nul": lambda line: _put(line, 4, "5\0"),
    "accent": lambda line: _put(line, 6, "é"),
    "word": lambda line: _put(line, 4, "True"),
}


def _put(line, column, text):
    cells = line.rstrip("\n").split(",")
    cells[column] = text
    return ",".join(cells) + "\n"


@pytest.mark.parametrize("odd", ODD)
@pytest.mark.parametrize("place", [0, 1000, -1])
def test_anything_odd_is_left_to_the_strict_path(setting, odd, place):
    lines = list(LINES)
    lines[place] = ODD[odd](lines[place])
    assert read_logged((HEAD + "".join(lines)).encode(), setting) is None


@pytest.mark.parametrize("cut", [1, 3, 20])
def test_a_file_cut_off_in_a_row_is_left_to_the_strict_path(setting, cut):
    assert read_logged((HEAD + "".join(LINES))[:-cut].encode(), setting) is None


def test_the_logger_note_says_what_was_looked_at(make_folder):
    trial = read_trial(make_folder(readings=HEAD + "".join(LINES)))
    assert trial.problems["message"].str.contains("come from a logger").any()


def test_hand_readings_are_not_taken_for_a_logger(folder):
    assert not read_trial(folder).problems["message"].str.contains("logger").any()
    assert base.readings_text().count("\n") > 50


@pytest.mark.parametrize("kind", ["limit", "empty", "exponent", "unknown vessel", "out of bounds"])
@pytest.mark.parametrize("place", [0, 700, len(LINES) - 1])
def test_a_file_in_pieces_is_read_as_one_that_is_read_whole(make_folder, monkeypatch, kind, place):
    odd = ODD[kind](LINES[place])
    folder = make_folder(readings=HEAD + "".join([*LINES[:place], odd, *LINES[place + 1 :]]))
    monkeypatch.setattr(sheet, "FROM_BYTES", 10**12)
    whole = assemble(folder)
    monkeypatch.setattr(sheet, "FROM_BYTES", 1)
    called = []
    reader = sheet.read_pieces
    monkeypatch.setattr(sheet, "read_pieces", lambda *a: called.append(reader(*a)) or called[-1])
    pieces = assemble(folder)
    assert called[0] is not None
    # How many decimals are usual is seen only where a file or a piece has rows enough.
    said = [a.problems[~a.problems["message"].str.contains("decimals")] for a in (pieces, whole)]
    assert said[0].reset_index(drop=True).equals(said[1].reset_index(drop=True))
    assert (pieces.trial is None) == (whole.trial is None)
    if whole.trial is not None:
        assert pieces.trial.readings.equals(whole.trial.readings)


def test_a_reading_that_stands_twice_in_two_pieces_is_refused(make_folder, monkeypatch):
    folder = make_folder(readings=HEAD + "".join([*LINES, LINES[3]]))
    monkeypatch.setattr(sheet, "FROM_BYTES", 1)
    problems = check_trial(folder)
    twice = problems[problems["message"] == "this reading stands twice"]
    assert twice["row"].tolist() == [len(LINES) + 2]


def test_quotation_marks_send_a_file_down_the_whole_road(setting):
    text = HEAD + "".join(LINES).replace("K01", '"K01"', 1)
    assert read_pieces("readings.csv", text.encode(), setting, []) is None


@pytest.mark.parametrize(
    ("number", "plain"), [("5.12345678901234", True), ("5.123456789012345", False)]
)
def test_numbers_of_more_than_sixteen_characters_are_left_to_the_strict_path(number, plain):
    assert len(number) == (16 if plain else 17)
    row = f"K01,1,haze,{number},NTU\n".encode()
    assert _plain_chunk(np.frombuffer(row * 3, np.uint8)) == plain
