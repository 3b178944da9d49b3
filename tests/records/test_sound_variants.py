"""Ways of writing the same readings that must give the same frame, and no false refusal."""

import csv
import io
import re

import pytest

from tests.records import conftest as base
from trialkit.records.check import check_trial
from trialkit.records.export import write_readings
from trialkit.records.problems import format_problems
from trialkit.records.read import read_trial

SOUND = base.readings_text()


def _grid(delimiter, end="\r\n", decimal="."):
    rows = list(csv.reader(io.StringIO(SOUND)))
    rows = [rows[0], *([cell.replace(".", decimal) for cell in row] for row in rows[1:])]
    out = io.StringIO()
    csv.writer(out, delimiter=delimiter, lineterminator=end).writerows(rows)
    return out.getvalue()


VARIANTS = {
    "bom": ("\ufeff" + SOUND).encode(),
    "utf-16": SOUND.encode("utf-16"),
    "semicolons": _grid(";"),
    "tabs": _grid("\t"),
    "semicolons and decimal commas": _grid(";", decimal=","),
    "quoted decimal commas": _grid(",", decimal=","),
    "cr": SOUND.replace("\n", "\r"),
    "crlf": SOUND.replace("\n", "\r\n"),
    "cp1252": SOUND.encode("cp1252"),
    "blank rows": SOUND.replace("\nK03,R01,1,", "\n\n,,,,,,,,,\nK03,R01,1,"),
    "spaces": SOUND.replace(",", " , "),
    "no-break spaces": SOUND.replace("K01,", "\u00a0K01\u00a0,"),
    "small letters": SOUND.replace("K01", "k01").replace("NTU", "ntu").replace("R01", "r01"),
    "capital headings": SOUND.replace("vessel,rater", "Vessel,RATER"),
    "apostrophes": SOUND.replace("haze,21.3", "haze,'21.3"),
    "unit in the cell": SOUND.replace("haze,21.3,", "haze,21.3 NTU,"),
    "other column order": "\n".join(
        ",".join(reversed(line.split(","))) for line in SOUND.splitlines()
    )
    + "\n",
    "padded columns": SOUND.replace("\n", ",,\n"),
    "shuffled rows": "\n".join([SOUND.splitlines()[0], *sorted(SOUND.splitlines()[1:])]) + "\n",
}


@pytest.mark.parametrize("variant", VARIANTS)
def test_the_same_readings_written_otherwise(make_folder, tmp_path, variant):
    good = read_trial(base.write_folder(tmp_path / "good")).readings.drop(columns="row")
    trial = read_trial(make_folder(readings=VARIANTS[variant]))
    assert trial.readings.drop(columns="row").equals(good), format_problems(trial.problems)


@pytest.mark.parametrize(
    ("variant", "words"),
    [
        ("semicolons and decimal commas", "decimals are written with a comma"),
        ("quoted decimal commas", "decimals are written with a comma"),
    ],
)
def test_a_comma_for_decimals_is_said(make_folder, variant, words):
    problems = check_trial(make_folder(readings=VARIANTS[variant]))
    assert (problems["level"] == "warn").any()
    assert problems["message"].str.contains(words).any()


def test_row_numbers_are_those_of_the_spreadsheet(make_folder):
    text = SOUND.replace("\nK03,R01,1,", "\n\n\nK03,R01,1,").replace("haze,0.14", "haze,x")
    row = next(n for n, line in enumerate(text.split("\n"), 1) if "haze,x" in line)
    problems = check_trial(make_folder(readings=text))
    assert problems.loc[problems["level"] == "refuse", "row"].tolist() == [row]


def test_a_note_over_two_lines_counts_as_one_row(make_folder):
    text = SOUND.replace(",top,,,lid was closed", ',top,,,"lid was\nclosed"', 1)
    trial = read_trial(make_folder(readings=text))
    assert "lid was\nclosed" in set(trial.readings["note"])
    assert trial.readings["row"].max() == len(SOUND.splitlines())


def test_a_good_unbalanced_trial_is_not_refused(make_folder):
    vessels = base.VESSELS.replace("start,mix", "start,lost_h,mix").replace(":00,M", ":00,,M")
    vessels = vessels.replace("08:15:00,,M02", "08:15:00,3,M02").replace("K05", "K05")
    vessels = vessels.replace("2031-04-02T08:00:00,\n", "2031-04-02T08:00:00,,\n")
    toml = base.TOML + '[instruments.T02]\nquantity = "haze"\nunit = "NTU"\nresolution = 0.01\n'
    lines = [
        line
        for line in SOUND.splitlines()
        if not line.startswith(("K04,R01,4", "K04,R02,4", "K04,R01,8", "K04,R02,8", "K04,R01,168"))
    ]
    lines = [line.replace("T01", "T02") if ",8,haze" in line else line for line in lines]
    lines.append("K01,R01,2.1,haze,2.2,NTU,,,T02,")
    lines.append("K01,R01,3,clarity,11,lines,,,,")
    folder = make_folder(vessels=vessels, trial=toml, readings="\n".join(lines) + "\n")
    problems = check_trial(folder)
    assert "refuse" not in set(problems["level"]), format_problems(problems)
    assert len(read_trial(folder).readings) == len(lines) - 1


HOSTILE = (
    r"$\frac{$",
    "_x",
    "<script>alert(1)</script>",
    '#read("x")',
    "=cmd|'/c calc'!A0",
    "+1",
    "@sum",
    "'=quoted",
    "x" * 60,
    "盐水",
    "🐟",
    "\u05de\u05dc\u05d7",
)


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_names_come_back_literally(make_folder, tmp_path, name):
    quoted = '"' + name.replace('"', '""') + '"'
    if name.startswith("'="):
        quoted = f"'{name}"
    folder = make_folder(
        mixes=f"mix,name\nM01,{quoted}\nM02,Birch\n",
        readings=SOUND.replace("lid was closed", quoted, 1),
    )
    trial = read_trial(folder)
    assert trial.mixes["name"].iloc[0] == name
    assert name in set(trial.readings["note"])
    write_readings(trial.readings, folder / "readings.csv")
    written = (folder / "readings.csv").read_text(encoding="utf-8")
    cells = [cell for row in csv.reader(io.StringIO(written)) for cell in row]
    assert not [cell for cell in cells if cell[:1] in "=+-@" and cell]
    again = read_trial(folder).readings.drop(columns="row")
    assert again.equals(trial.readings.drop(columns="row"))


def test_a_second_sheet_is_compared_cell_by_cell(make_folder):
    folder = make_folder(**{"readings-second": SOUND})
    problems = check_trial(folder)
    assert problems["message"].str.contains("agree with the second sheet").any()
    (folder / "readings-second.csv").write_text(
        SOUND.replace("haze,21.3", "haze,23.1").replace("K01,R01,2,haze,2.31,NTU,,,T01,\n", "")
    )
    refused = check_trial(folder).query("level == 'refuse'")
    assert refused["message"].tolist() == [
        "this reading does not stand in readings-second.csv",
        "the reading differs from that in readings-second.csv",
    ]
    assert "23.1" in refused["fix"].iloc[1]


def test_a_key_that_changed_since_its_seal_is_named(make_folder):
    vessels = "vessel,role\nK01,trial\nK02,trial\nK03,trial\nK04,trial\nK05,reference\n"
    rows = ["K01,M01", "K02,M02", "K03,M01", "K04,M02"]
    # printf '0f\nvessel,mix\nK01,M01\nK02,M02\nK03,M01\nK04,M02\n' | sha256sum
    digest = "c6a3af129d7ced94a255d906410d08b2cebaaeb8cd593e322961aa5d0c40723d"
    toml = f'key_sha256 = "{digest}"\nkey_nonce = "0f"\n' + base.TOML
    key = "vessel,mix\n" + "\n".join(rows) + "\n"
    sound = check_trial(make_folder(vessels=vessels, trial=toml, key=key))
    assert not sound["message"].str.contains("sealed").any()
    swapped = key.replace("K01,M01", "K01,M02").replace("K02,M02", "K02,M01")
    changed = check_trial(make_folder(vessels=vessels, trial=toml, key=swapped))
    assert changed["message"].str.contains("sealed").any()


@pytest.mark.parametrize(
    ("pair", "value", "expected"),
    # From TEOS-10 densities: 1.026 on three scales.
    [("25/25", "1.026", 34.51), ("20/20", "1.026", 34.21), ("60F/60F", "1.026", 33.88)],
)
def test_specific_gravity_is_read_by_its_pair(make_folder, pair, value, expected):
    tool = f'[instruments.H01]\nquantity = "salinity"\nunit = "SG"\nreference_pair = "{pair}"\n'
    text = SOUND + f"K01,R01,8,salinity,{value},SG,,,H01,\n"
    trial = read_trial(make_folder(trial=base.TOML + tool, readings=text))
    row = trial.readings.query("quantity == 'salinity' and phase == 'mixing'").iloc[0]
    assert row["unit"] == "PSU"
    assert row["value"] == pytest.approx(expected, abs=0.03)


def test_specific_gravity_without_its_pair_is_refused(make_folder):
    text = SOUND + "K01,R01,8,salinity,1.026,SG,,,,\n"
    problems = check_trial(make_folder(readings=text))
    hit = problems[problems["message"].str.contains("without its pair")]
    assert hit["level"].tolist() == ["refuse"]


def test_conductivity_needs_the_temperature(make_folder):
    text = SOUND + "K01,R01,8,salinity,53.0,mS/cm,,,,\n"
    problems = check_trial(make_folder(readings=text))
    assert problems["message"].str.contains("together with the temperature").any()
    warm = text + "K01,R01,8,temperature,77,F,,,,\n"
    readings = read_trial(make_folder(readings=warm)).readings
    # 53.0 mS/cm at 25 degrees: practical salinity 34.947 (PSS-78).
    row = readings.query("quantity == 'salinity' and phase == 'mixing'").iloc[0]
    assert row["value"] == pytest.approx(34.947, abs=0.002)


def test_clock_times_that_daylight_saving_repeats_or_skips_are_refused(make_folder):
    toml = base.TOML.replace('"UTC"', '"Europe/Berlin"').replace("2031-04-02T08", "2031-10-26T00")
    vessels = "vessel,role,mix\nK01,trial,M01\nK02,trial,M02\nK05,reference,\n"
    head = "vessel,rater,time,quantity,value,unit\n"
    once = head + "K01,R01,2031-10-26T01:00,haze,5,NTU\n"
    twice = head + "K01,R01,2031-10-26T02:30,haze,5,NTU\n"
    clear = head + "K01,R01,2031-10-26T02:30+01:00,haze,5,NTU\n"
    assert read_trial(make_folder(trial=toml, vessels=vessels, readings=once)) is not None
    problems = check_trial(make_folder(trial=toml, vessels=vessels, readings=twice))
    assert problems["message"].str.contains("daylight saving repeats").any()
    readings = read_trial(make_folder(trial=toml, vessels=vessels, readings=clear)).readings
    # 00:00 summer time to 02:30 winter time: three and a half hours went by.
    assert readings["elapsed_h"].tolist() == [3.5]


# Persian "sea salt" with the joiner that its spelling asks for; one picture made of two.
@pytest.mark.parametrize("name", ["نمک\u200cدریا", "👩\u200d🔬", "ක්\u200dරි"])
def test_joiners_that_letters_want_are_no_fault(make_folder, name):
    folder = make_folder(
        mixes=f"mix,name\nM01,{name}\nM02,Birch\n",
        trial=re.sub('title = ".*"', f'title = "{name}"', base.TOML, count=1),
    )
    problems = check_trial(folder)
    assert not problems["message"].str.contains("seen").any()
    trial = read_trial(folder)
    assert trial.mixes["name"].iloc[0] == trial.protocol.title == name


def test_joiner_between_latin_letters_is_said(make_folder):
    problems = check_trial(make_folder(mixes="mix,name\nM01,Al\u200dder\nM02,Birch\n"))
    assert problems["message"].str.contains("cannot be seen").any()
