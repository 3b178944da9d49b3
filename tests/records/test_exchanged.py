"""Readings that stand under another vessel's code, in a round or in a sheet, are named."""

import pytest

from tests.records import conftest as base
from tests.records.test_water_rules import _said
from trialkit.records.check import check_trial

SOUND = base.readings_text()


def _warned(folder):
    return check_trial(folder).query("level == 'warn'")


def _recoded(turn, *marks):
    """Codes exchanged in the rows that hold all of some marks."""
    lines = SOUND.splitlines(keepends=True)
    return "".join(
        turn.get(line[:3], line[:3]) + line[3:] if all(m in line for m in marks) else line
        for line in lines
    )


@pytest.mark.parametrize(
    ("marks", "pair", "words"),
    [
        ((",R02,", ",clarity,"), ("K01", "K02"), "clarity by R01 and by R02"),
        ((",haze,",), ("K01", "K04"), "clarity and haze"),
    ],
)
def test_codes_exchanged_in_one_sheet_are_named(make_folder, marks, pair, words):
    turn = dict([pair, pair[::-1]])
    said = _warned(make_folder(readings=_recoded(turn, *marks)))
    hit = said[said["message"].str.contains(words)]
    assert " and ".join(pair) in hit["value"].tolist(), said["message"].tolist()


def test_two_vessels_of_one_mix_that_agree_either_way_are_not_doubted(make_folder):
    said = _warned(
        make_folder(readings=_recoded({"K01": "K03", "K03": "K01"}, ",R02,", ",clarity,"))
    )
    assert not said["message"].str.contains("codes are exchanged").any()


def test_values_pasted_one_column_further_in_the_last_round_are_named(make_folder):
    ring = {f"K0{i}": f"K0{i % 5 + 1}" for i in range(1, 6)}
    said = _warned(make_folder(readings=_recoded(ring, ",R01,8,haze,")))
    assert said["message"].str.contains("beside the wrong vessels").any()


def test_codes_exchanged_from_a_round_on_are_named(tmp_path):
    def exchanged(lines):
        turn = {"F69": "H11", "H11": "F69"}
        late = [line[0] != "v" and float(line.split(",")[2]) > 7 for line in lines]
        return [
            turn.get(line[:3], line[:3]) + line[3:] if is_late else line
            for is_late, line in zip(late, lines, strict=True)
        ]

    said = _said(tmp_path, "single", exchanged)
    assert any("beside the wrong vessels" in message for message in said), said


def test_one_vessel_that_clouds_again_is_no_exchange(make_folder):
    text = SOUND.replace("K01,R01,8,haze,0.17", "K01,R01,8,haze,3.1")
    said = _warned(make_folder(readings=text))
    assert not said["message"].str.contains("wrong vessels").any()


def test_a_rater_whose_sheet_is_missing_is_named(make_folder):
    lines = SOUND.splitlines(keepends=True)
    text = "".join(line for line in lines if ",R01," not in line or ",clarity," not in line)
    said = _warned(make_folder(readings=text))
    hit = said[said["message"] == "a rater has no reading of clarity, which others read by eye"]
    assert hit["value"].tolist() == ["R01"]


def test_purified_water_without_readings_is_named(make_folder):
    lines = SOUND.splitlines(keepends=True)
    text = "".join(line for line in lines if not (line.startswith("K05") and ",haze," in line))
    said = _warned(make_folder(readings=text))
    hit = said[said["message"] == "a planned reading of haze by R01 is missing"]
    assert hit["value"].tolist() == [f"K05 at {h:g} h" for h in base.SCHEDULE_H]


def test_a_raters_values_put_one_row_lower_are_named(make_folder):
    rows = [line.split(",") for line in SOUND.splitlines()]
    own = {(row[0], row[2]): row[4] for row in rows if row[1] == "R02"}
    before = {"2": "1", "4": "2", "8": "4"}
    for row in rows:
        if row[1] == "R02" and row[2] in before:
            row[4] = own[row[0], before[row[2]]]
    said = _warned(make_folder(readings="\n".join(map(",".join, rows)) + "\n"))
    hit = said[said["message"].str.contains("fits the other's a round before")]
    assert hit["value"].tolist() == ["R02 beside R01"]


def test_purified_water_that_one_rater_never_read_is_named(make_folder):
    lines = SOUND.splitlines(keepends=True)
    text = "".join(line for line in lines if not line.startswith(("K05,R01,0.5,c", "K05,R01,1,c",
                   "K05,R01,2,c", "K05,R01,4,c", "K05,R01,8,c")))  # fmt: skip
    said = _warned(make_folder(readings=text))
    hit = said[said["message"] == "a planned reading of clarity by R01 is missing"]
    assert len(hit) == 5
