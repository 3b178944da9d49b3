"""The descriptor is what another tool reads it as, and true to the files.

Outside answer: the library frictionless validates descriptor, sizes, hashes, types, keys and enums.
It does not know the categories of version 2.0 of the standard, so those are checked here.
"""

import csv
import dataclasses
import hashlib
import json
import shutil
from pathlib import Path

import pytest

import trialkit
from trialkit.datapackage import describe_files, write_datapackage
from trialkit.records.read import read_trial

frictionless = pytest.importorskip("frictionless")

DEMO = Path(trialkit.__file__).parents[1] / "data" / "demo"


def stage(folder, name="single"):
    """A folder as it stands before it becomes a bundle."""
    shutil.copytree(DEMO / name, folder / "trial", ignore=shutil.ignore_patterns("out", "lab"))
    (folder / "report").mkdir()
    trial = read_trial(folder / "trial")
    trial.readings.to_csv(folder / "report" / "readings-clean.csv", index=False)
    trial.problems.to_csv(folder / "report" / "problems.csv", index=False)
    return trial


def findings(folder):
    report = frictionless.validate(str(folder / "datapackage.json"))
    return report.flatten(["type", "fieldName", "rowNumber"])


def resources(folder):
    held = json.loads((folder / "datapackage.json").read_text(encoding="utf-8"))
    return {resource["name"]: resource for resource in held["resources"]}


def field(resource, name):
    return next(f for f in resource["schema"]["fields"] if f["name"] == name)


@pytest.mark.parametrize("name", ["harbour", "rerun", "single"])
def test_frictionless_finds_nothing_wrong(tmp_path, name):
    write_datapackage(tmp_path, stage(tmp_path, name))
    assert findings(tmp_path) == []


def test_frictionless_sees_every_kind_of_damage(tmp_path):
    """The validation is not blind: each damage is found, by its kind."""
    trial = stage(tmp_path)
    write_datapackage(tmp_path, trial)
    path = tmp_path / "trial" / "readings.csv"
    sound = path.read_text()
    path.write_text(sound.replace("clarity", "clority", 1))
    assert {"hash-count", "constraint-error"} & {kind for kind, *_ in findings(tmp_path)}
    path.write_text(sound)
    assert findings(tmp_path) == []
    vessel = trial.vessels["vessel"].iloc[0]
    key = tmp_path / "trial" / "key.csv"
    key.write_text(key.read_text().replace(vessel, "Z99"))
    descriptor = tmp_path / "datapackage.json"
    held = json.loads(descriptor.read_text())
    for resource in held["resources"]:
        resource.pop("hash")
        resource.pop("bytes")
    descriptor.write_text(json.dumps(held))
    assert "foreign-key" in {kind for kind, *_ in findings(tmp_path)}


def test_sizes_and_hashes_are_those_of_the_files(tmp_path):
    write_datapackage(tmp_path, stage(tmp_path))
    found = resources(tmp_path)
    files = [p for p in tmp_path.rglob("*") if p.is_file() and p.parent != tmp_path]
    assert {r["path"] for r in found.values()} == {
        p.relative_to(tmp_path).as_posix() for p in files
    }
    for resource in found.values():
        data = (tmp_path / resource["path"]).read_bytes()
        assert resource["bytes"] == len(data)
        assert resource["hash"] == "sha256:" + hashlib.sha256(data).hexdigest()


def test_categories_hold_every_value_and_carry_names(tmp_path):
    write_datapackage(tmp_path, stage(tmp_path, "harbour"))
    found = resources(tmp_path)
    checked = 0
    for resource in found.values():
        if "schema" not in resource:
            continue
        with (tmp_path / resource["path"]).open(newline="") as file:
            rows = list(csv.DictReader(file))
        for described in resource["schema"]["fields"]:
            allowed = {entry["value"] for entry in described.get("categories", [])}
            if allowed:
                assert {row[described["name"]] for row in rows} <= allowed | {""}
                checked += 1
    assert checked > 15
    clean = found["readings-clean"]
    assert field(clean, "mix")["categories"][0] == {"value": "M01", "label": "Alder"}
    assert field(clean, "elapsed_h")["unit"] == "h"
    assert field(clean, "elapsed_h")["type"] == "number"
    assert clean["schema"]["foreignKeys"][0]["reference"]["resource"] == "mixes"


def test_a_table_is_described_by_what_stands_in_it(tmp_path):
    """Semicolons, a decimal comma, an unknown column and Windows-1252 stay readable elsewhere."""
    trial = stage(tmp_path)
    path = tmp_path / "trial" / "mixes.csv"
    text = path.read_text().replace(",", ";").replace(".", ",").replace("Alder", "Érable")
    lines = text.splitlines()
    body = [lines[0] + ";colour", *(line + ";white" for line in lines[1:])]
    path.write_bytes(("\n".join(body) + "\n").encode("cp1252"))
    write_datapackage(tmp_path, trial)
    mixes = resources(tmp_path)["mixes"]
    assert mixes["dialect"] == {"delimiter": ";"}
    assert mixes["encoding"] == "windows-1252"
    assert field(mixes, "label_dose_g_per_l")["type"] == "string"
    assert field(mixes, "colour") == {"name": "colour", "type": "string"}
    assert findings(tmp_path) == []


def test_a_file_that_is_no_plain_table_is_a_file(tmp_path):
    trial = stage(tmp_path)
    path = tmp_path / "trial" / "raters.csv"
    path.write_text("\n" + path.read_text())
    write_datapackage(tmp_path, trial)
    raters = resources(tmp_path)["raters"]
    assert "schema" not in raters
    assert "type" not in raters


def test_a_licence_in_words_keeps_its_words(tmp_path):
    trial = stage(tmp_path)
    assert describe_files(tmp_path, trial)["licenses"][0]["name"] == trial.protocol.licence
    worded = dataclasses.replace(trial.protocol, licence="Ask us first")
    held = describe_files(tmp_path, dataclasses.replace(trial, protocol=worded))
    assert held["licenses"] == [{"name": "other", "title": "Ask us first"}]
