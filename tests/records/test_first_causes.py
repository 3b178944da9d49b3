"""The cause of many faults is named, and what follows from it is not."""

import pytest

from tests.records import conftest as base
from trialkit.records.check import check_trial
from trialkit.records.problems import format_problems
from trialkit.records.read import read_trial

SOUND = base.readings_text()


def _refused(folder):
    return check_trial(folder).query("level == 'refuse'")


def test_a_refused_cell_is_not_warned_about_as_well(make_folder):
    # The two hidden marks, and decimals unlike all others, are symptoms of what is refused.
    text = SOUND.replace("haze,21.3,", "haze,-21.33\u200b,")
    problems = check_trial(make_folder(readings=text))
    own = problems[problems["value"].str.contains("21.33")]
    assert own["level"].tolist() == ["refuse"], format_problems(problems)


def test_other_warnings_about_the_row_of_a_refusal_stay(make_folder):
    text = SOUND.replace("haze,21.3,NTU,,,T01,", "haze,x,NTU,,,T01,smells like Birch")
    problems = check_trial(make_folder(readings=text))
    assert problems.query("level == 'refuse'")["column"].tolist() == ["value"]
    warned = SOUND.replace("K01,R01,2,clarity", "K01,R09,2,clarity").replace("lid was", "Birch")
    problems = check_trial(make_folder(readings=warned))
    assert problems["message"].str.contains("unblinded").any()


def test_a_long_number_is_shown_short(make_folder):
    text = SOUND.replace("haze,0.28", "haze,0." + "0" * 400 + "1")
    problems = check_trial(make_folder(readings=text))
    assert problems["value"].str.len().max() <= 40, format_problems(problems)


@pytest.mark.parametrize("blank", [SOUND.partition("\n")[0] + "\n", "every cell"])
def test_a_second_sheet_that_is_still_blank_is_one_refusal(make_folder, blank):
    if blank == "every cell":
        rows = [line.split(",") for line in SOUND.splitlines()]
        rows = [rows[0], *([*row[:4], "", *row[5:]] for row in rows[1:])]
        blank = "\n".join(map(",".join, rows)) + "\n"
    refused = _refused(make_folder(**{"readings-second": blank}))
    assert refused["message"].tolist() == ["the second sheet has no readings yet"]
    assert refused["file"].tolist() == ["readings-second.csv"]


def test_a_key_without_rows_is_one_refusal(make_folder):
    vessels = "\n".join(line.rpartition(",")[0] for line in base.VESSELS.splitlines()) + "\n"
    refused = _refused(make_folder(vessels=vessels, key="vessel,mix\n"))
    assert refused["message"].tolist() == ["the file has headings but no rows"]


def test_vessels_without_rows_are_not_missed_as_reference(make_folder):
    refused = _refused(make_folder(vessels=base.VESSELS.partition("\n")[0] + "\n"))
    assert refused["message"].tolist() == ["the file has headings but no rows"]


@pytest.mark.parametrize(
    ("start", "words"),
    [("2031-10-26T00", "Use the column time"), ("2031-03-30T00", "No clock showed it")],
)
def test_an_hour_of_daylight_saving_beside_a_day_can_be_mended(make_folder, start, words):
    toml = base.TOML.replace('"UTC"', '"Europe/Berlin"').replace("2031-04-02T08", start)
    vessels = "vessel,role,mix\nK01,trial,M01\nK05,reference,\n"
    head = "vessel,rater,day,clock,quantity,value,unit\n"
    text = head + "K01,R01,1,02:30,haze,5,NTU\n"
    refused = _refused(make_folder(trial=toml, vessels=vessels, readings=text))
    assert refused["message"].str.contains("daylight saving").tolist() == [True]
    assert words in refused["fix"].iloc[0]


def _saved_in_pieces(text):
    """As some spreadsheets save text: columns that are empty in sixteen rows are left out there."""
    rows = [line.split(",") for line in text.splitlines()]
    out = []
    for first in range(0, len(rows), 16):
        piece = rows[first : first + 16]
        width = max(len(",".join(row).rstrip(",").split(",")) for row in piece)
        out += [",".join(row[:width]) for row in piece]
    return "\n".join(out) + "\n"


def test_columns_left_out_where_sixteen_rows_are_empty_are_read(make_folder, tmp_path):
    text = _saved_in_pieces(SOUND)
    assert len({line.count(",") for line in text.splitlines()}) > 1
    good = read_trial(base.write_folder(tmp_path / "good"))
    trial = read_trial(make_folder(readings=text))
    assert trial.readings.equals(good.readings)
    said = trial.problems["message"].str.contains("end before the last columns")
    assert trial.problems.loc[said, "level"].tolist() == ["warn"]


def test_a_row_that_ends_by_itself_is_still_refused(make_folder):
    lines = _saved_in_pieces(SOUND).splitlines()
    lines[40] = lines[40].rpartition(",")[0]
    refused = _refused(make_folder(readings="\n".join(lines) + "\n"))
    assert refused["message"].str.startswith("the row has").any()


def test_headings_below_thousands_of_blank_rows_are_found(make_folder, tmp_path):
    good = read_trial(base.write_folder(tmp_path / "good"))
    trial = read_trial(make_folder(readings="\n" * 5000 + SOUND))
    assert trial.readings.drop(columns="row").equals(good.readings.drop(columns="row"))


def test_a_last_row_that_ends_early_is_refused_though_it_is_a_piece_of_its_own(make_folder):
    lines = SOUND.splitlines()
    last = 16 * (len(lines) // 16) + 1
    cut = [*lines[: last - 1], ",".join(lines[last - 1].split(",")[:-2])]
    refused = _refused(make_folder(readings="\n".join(cut) + "\n"))
    assert refused["message"].str.startswith("the row has").tolist() == [True]


def _renamed(text, **names):
    head, _, rest = text.partition("\n")
    cells = [names.get(cell, cell) for cell in head.split(",")]
    return ",".join(cells) + "\n" + rest


def _first(problems):
    return problems.iloc[0][["message", "fix"]].str.cat(sep=". ")


@pytest.mark.parametrize(
    ("name", "words"),
    [("time_h", "to elapsed_h,"), ("Time (min)", "to elapsed_min,"), ("hours", "to elapsed_h,"),
     ("minutes", "to elapsed_min,"), ("elapsed", "elapsed_h .hours. or elapsed_min"),
     ("time", "plain numbers, not moments. Rename the heading to elapsed_h[.]"),
     ("clok", 'Rename the heading "clok" to clock')],
)  # fmt: skip
def test_a_heading_of_times_is_told_its_name(make_folder, name, words):
    problems = check_trial(make_folder(readings=_renamed(SOUND, elapsed_h=name)))
    assert (problems["message"] + ". " + problems["fix"]).str.contains(words).any()
    assert problems["level"].iloc[0] == "refuse"


@pytest.mark.parametrize(
    ("one", "two"), [("position", "repeat"), ("vessel", "instrument"), ("elapsed_h", "value")]
)
def test_headings_swapped_with_an_empty_or_like_column_are_named_first(make_folder, one, two):
    rows = [line.split(",") for line in SOUND.splitlines() if ",clarity," in line]
    text = "\n".join(",".join([*row[:7], "1", "", ""]) for row in rows) + "\n"
    text = SOUND.partition("\n")[0] + "\n" + text
    sound = check_trial(make_folder(readings=text))
    assert not sound["message"].str.contains("look swapped").any()
    swapped = _renamed(text, **{one: two, two: one})
    problems = check_trial(make_folder(readings=swapped))
    assert problems["message"].iloc[0] == f"the headings {one} and {two} look swapped"


def test_positions_that_were_lost_are_the_cause_of_twins(make_folder):
    rows = [line.split(",") for line in SOUND.splitlines()]
    # A layer under fresher water, so that top and bottom differ.
    text = "".join(
        ",".join([*row[:6], "", *row[7:]]).replace(",33.", f",3{number % 2 + 2}.") + "\n"
        for number, row in enumerate(rows)
    )
    text = text.replace("value,unit,,", "value,unit,position,")
    problems = check_trial(make_folder(readings=text))
    assert _first(problems).startswith("salinity stands twice or more for one vessel"), problems


def test_rows_pasted_twice_have_not_lost_their_positions(make_folder):
    problems = check_trial(make_folder(readings=SOUND + SOUND.partition("\n")[2]))
    assert problems["message"].str.contains("stands twice").any()
    assert not problems["message"].str.contains("without a position").any()


def test_one_position_too_many_is_named_itself(make_folder):
    text = SOUND.replace("K01,R01,1,haze,9.87,NTU,", "K01,R01,1,haze,9.87,NTU,top")
    assert text != SOUND
    problems = check_trial(make_folder(readings=text)).query("column == 'position'")
    assert problems["message"].str.contains("has a position while").tolist() == [True]


def test_a_time_out_of_order_is_named_by_its_own_heading(make_folder):
    text = SOUND.replace("K01,R01,1,haze", "K01,R01,99,haze")
    problems = check_trial(make_folder(readings=text))
    assert (problems["column"] == "elapsed_h").any()
    assert not (problems["column"] == "elapsed").any()


@pytest.mark.parametrize(("point", "words"), [("21.3", "a point stands"), ("1.021,3", "thousands")])
def test_one_odd_number_among_decimal_commas_is_the_only_one_refused(make_folder, point, words):
    text = SOUND.replace(",", ";").replace(".", ",").replace("haze;21,3;", f"haze;{point};")
    refused = _refused(make_folder(readings=text))
    assert refused["value"].tolist() == [point]
    assert words in refused["message"].iloc[0]


def test_rows_that_run_over_by_an_empty_cell_alone_are_still_read(make_folder, tmp_path):
    good = read_trial(base.write_folder(tmp_path / "good"))
    head, _, rest = SOUND.partition("\n")
    trial = read_trial(make_folder(readings=head + "\n" + rest.replace("\n", ",\n")))
    assert trial.readings.equals(good.readings)


@pytest.mark.parametrize("name", ["raters", "mixes"])
def test_a_table_whose_rows_were_all_refused_is_not_called_empty(make_folder, name):
    text = {"raters": base.RATERS, "mixes": base.MIXES}[name]
    refused = _refused(make_folder(**{name: text.replace("R0", "R").replace("M0", "M")}))
    own = refused[refused["file"] == f"{name}.csv"]
    assert own["message"].tolist() == ["this is not a code"] * 2


def test_units_that_the_headings_name_may_stand_in_the_cells(make_folder, tmp_path):
    good = read_trial(base.write_folder(tmp_path / "good"))
    vessels = base.VESSELS.replace(",20,", ",20 L,").replace(",790,", ",790g,")
    assert vessels != base.VESSELS
    assert read_trial(make_folder(vessels=vessels)).vessels.equals(good.vessels)
