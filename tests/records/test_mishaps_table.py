"""Mishaps of columns, vessels, conversions and lost lines of a plan are refused or said."""

import shutil
import tomllib
from pathlib import Path

import pytest

from tests.records import conftest as base
from tests.records.mishaps_table import TABLE_OF_READINGS, of_readings
from tests.records.test_mishaps import DEMO, _outcomes
from trialkit.records.check import check_trial
from trialkit.records.read import read_trial


@pytest.fixture(scope="module")
def demo(request, tmp_path_factory):
    """A demo trial to be damaged."""
    folder = tmp_path_factory.mktemp("tables") / request.param
    return Path(shutil.copytree(DEMO / request.param, folder))


@pytest.mark.parametrize("demo", ["single", "rerun"], indirect=True)
@pytest.mark.parametrize("kind", TABLE_OF_READINGS, ids=lambda kind: kind.__name__)
def test_mishaps_of_columns_and_vessels_are_said(demo, kind):
    text = (demo / "readings.csv").read_text(encoding="utf-8")
    count = {"single": 6, "rerun": 3}[demo.name]
    found = _outcomes(demo, "readings.csv", lambda rng: of_readings(kind, text, rng), count, 4301)
    assert found["SILENT"] == 0, found


@pytest.mark.parametrize("demo", ["single"], indirect=True)
def test_a_line_lost_from_the_plan_is_said(demo):
    # Unsealed, the plan is held against itself: a claim may be lost whole, but no line of one.
    path = demo / "trial.toml"
    text = path.read_text(encoding="utf-8")
    lines = text.splitlines()
    good = tomllib.loads(text)
    silent = []
    for number, line in enumerate(lines):
        if " = " not in line:
            continue
        path.write_text("\n".join(lines[:number] + lines[number + 1 :]) + "\n", encoding="utf-8")
        problems = check_trial(demo)
        if problems.empty:
            silent.append(line)
    path.write_text(text, encoding="utf-8", newline="")
    assert good["title"] == read_trial(demo).protocol.title
    assert not silent


def test_a_criterion_under_the_name_of_another_quantity_is_said(make_folder):
    text = base.TOML.replace("[criteria.clarity]", "[criteria.x]")
    text = text.replace("[criteria.haze]", "[criteria.clarity]")
    text = text.replace("[criteria.x]", "[criteria.haze]")
    problems = check_trial(make_folder(trial=text))
    hits = problems[problems["message"].str.contains("name of another quantity")]
    assert hits["column"].tolist() == ["criteria.haze.quantity", "criteria.clarity.quantity"]


def test_a_blind_trial_is_told_so_and_not_warned_about(make_folder):
    vessels = base.VESSELS.replace(",M01\n", ",\n").replace(",M02\n", ",\n")
    problems = check_trial(make_folder(vessels=vessels))
    hit = problems[problems["file"] == "key.csv"]
    assert hit["level"].tolist() == ["note"]


def test_a_blank_may_weigh_less_than_nothing(make_folder):
    text = base.readings_text() + "K05,R01,168,residue,{},mg,,,,\n"
    warned = check_trial(make_folder(readings=text.format("-2")))
    assert warned["message"].str.contains("less than nothing").any()
    assert "refuse" not in set(warned["level"])
    salt = text.replace("K05,R01,168,residue", "K01,R01,168,residue")
    assert "refuse" in set(check_trial(make_folder(readings=salt.format("-2")))["level"])
