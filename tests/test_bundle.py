"""A bundle is whole, the same wherever it is made, and what is done to it afterwards is found."""

import hashlib
import json
import os
import re
import shutil
import time
import zipfile
from importlib import metadata
from pathlib import Path

import nbformat
import pytest
import yaml

import trialkit
from trialkit import verify
from trialkit.bundle import bundle_trial, citation
from trialkit.records.read import read_trial
from trialkit.records.trial import TrialDataError
from trialkit.unpack import BundleError, open_bundle
from trialkit.verify import verify_bundle

DEMO = Path(trialkit.__file__).parents[1] / "data" / "demo"


def copy_trial(folder):
    return shutil.copytree(DEMO / "single", folder, ignore=shutil.ignore_patterns("out", "lab"))


@pytest.fixture(scope="module")
def bundle(tmp_path_factory):
    """One bundle, made through the whole of the kit."""
    made = tmp_path_factory.mktemp("made")
    return bundle_trial(copy_trial(made / "trial"), made / "kitchen.zip")


def contents(path):
    with zipfile.ZipFile(path) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def repack(path, files, *, manifest=True):
    """A zip of these files; with a manifest that fits them unless told otherwise."""
    if manifest:
        listed = sorted(name for name in files if name != "manifest-sha256.txt")
        lines = [f"{hashlib.sha256(files[name]).hexdigest()}  {name}\n" for name in listed]
        files = files | {"manifest-sha256.txt": "".join(lines).encode()}
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in files.items():
            archive.writestr(name, data)
    return path


@pytest.fixture
def recomputed(bundle, monkeypatch):
    """Let our results be those of the sound bundle, so that a test need not compute them again."""

    def stand_in(inputs, out, **options):
        out.mkdir()
        for name, data in contents(bundle).items():
            if name.startswith("report/"):
                (out / Path(name).name).write_bytes(data)

    monkeypatch.setattr(verify, "publish_trial", stand_in)


def test_it_holds_what_a_third_person_needs(bundle):
    names = set(contents(bundle))
    inputs = {"trial.toml", "mixes.csv", "vessels.csv", "raters.csv", "readings.csv", "key.csv"}
    assert {f"trial/{name}" for name in inputs} <= names
    assert {"report/results.json", "report/report.pdf", "report/comparison.ipynb"} <= names
    assert {"datapackage.json", "manifest-sha256.txt", "CITATION.cff", "versions.txt"} <= names


def test_inputs_are_the_bytes_of_the_folder(bundle):
    for name, data in contents(bundle).items():
        if name.startswith("trial/"):
            assert data == (DEMO / "single" / Path(name).name).read_bytes()


def test_the_manifest_lists_every_other_file_as_coreutils_read_it(bundle):
    files = contents(bundle)
    lines = files.pop("manifest-sha256.txt").decode().splitlines()
    # Two spaces: read as binary (GNU coreutils manual, section "sha2 utilities").
    listed = dict(reversed(re.fullmatch(r"([0-9a-f]{64})  (.+)", line).groups()) for line in lines)
    assert listed == {name: hashlib.sha256(data).hexdigest() for name, data in files.items()}


def test_frictionless_finds_nothing_wrong_in_the_whole(bundle):
    frictionless = pytest.importorskip("frictionless")
    with open_bundle(bundle) as folder:
        report = frictionless.validate(str(folder / "datapackage.json"))
    assert report.flatten(["type", "message"]) == []


def test_the_citation_has_what_its_format_asks_for(bundle):
    held = yaml.safe_load(contents(bundle)["CITATION.cff"])
    # Required keys: Druskat et al. 2021, Citation File Format 1.2.0, schema guide.
    assert {"cff-version", "message", "title", "authors"} <= set(held)
    assert held["cff-version"] == "1.2.0"
    assert held["type"] == "dataset"
    assert all(author["name"] for author in held["authors"])
    assert held["license"] == "CC-BY-4.0"


def test_the_citation_names_the_authors_of_the_trial(tmp_path):
    folder = copy_trial(tmp_path / "single")
    toml = folder / "trial.toml"
    person = {
        "given_names": "Ada",
        "family_names": "Byron",
        "affiliation": 'Harbour: "wet" lab',
        "orcid": "0000-0002-1825-0097",
    }
    inner = ", ".join(f"{key} = {json.dumps(text)}" for key, text in person.items())
    people = f'authors = ["Reef club", {{ {inner} }}]\n'
    toml.write_text(people + toml.read_text(encoding="utf-8"), encoding="utf-8")
    held = yaml.safe_load(citation(read_trial(folder)))
    # Keys of a person and of an entity: Druskat et al. 2021, Citation File Format 1.2.0.
    assert held["authors"] == [
        {"name": "Reef club"},
        {
            "given-names": "Ada",
            "family-names": "Byron",
            "affiliation": 'Harbour: "wet" lab',
            "orcid": "https://orcid.org/0000-0002-1825-0097",
        },
    ]


def test_versions_are_those_at_work(bundle):
    lines = contents(bundle)["versions.txt"].decode().splitlines()
    found = dict(line.split("==") for line in lines[1:])
    for name in ("trialkit", "numpy", "pandas", "scipy", "typst", "statsmodels", "papermill"):
        assert found[name] == metadata.version(name)
    assert "pytest" not in found


def test_the_same_trial_gives_the_same_bytes_elsewhere(bundle, tmp_path, monkeypatch):
    elsewhere = tmp_path / "an other place" / "deeper"
    elsewhere.mkdir(parents=True)
    monkeypatch.setenv("TZ", "Pacific/Auckland")
    time.tzset()
    again = bundle_trial(copy_trial(elsewhere / "renamed"), elsewhere / "b.zip")
    monkeypatch.undo()
    time.tzset()
    first, second = contents(bundle), contents(again)
    assert [name for name in first if first[name] != second.get(name)] == []
    assert again.read_bytes() == bundle.read_bytes()


def test_no_path_of_this_machine_is_packed(bundle):
    places = {str(Path(bundle).parent), str(Path.home()), str(DEMO.parents[1]), os.sep + "tmp"}
    texts = {n: d for n, d in contents(bundle).items() if not n.endswith(".pdf")}
    for name, data in texts.items():
        assert [place for place in places if place != os.sep and place.encode() in data] == [], name


def test_while_blind_neither_key_nor_results_are_packed(tmp_path):
    folder = copy_trial(tmp_path / "blind")
    (folder / "key.csv").unlink()
    (folder / "key-nonce.txt").write_text("0123456789abcdef\n")
    path = bundle_trial(folder)
    assert path == folder / "kitchen-bench-five-blends-one-bucket-each.zip"
    names = set(contents(path))
    assert not {"trial/key.csv", "trial/key-nonce.txt"} & names
    assert not any(name.startswith("report/") for name in names)
    found = verify_bundle(path)
    assert found.exit_code == 0
    assert "still blind" in str(found)


def test_a_seal_is_packed_with_what_it_takes_to_check_it(tmp_path, monkeypatch):
    monkeypatch.setattr("trialkit.bundle.publish_trial", lambda inputs, out, **_: _nothing(out))
    folder = copy_trial(tmp_path / "sealed")
    for name in ("sealed.txt", "key-nonce.txt"):
        (folder / name).write_text("x\n")
    names = set(contents(bundle_trial(folder)))
    assert {"trial/sealed.txt", "trial/key-nonce.txt", "trial/key.csv"} <= names


def _nothing(out):
    out.mkdir()
    (out / "manifest-sha256.txt").touch()


def test_a_bundle_is_not_replaced_unasked(bundle, tmp_path):
    folder, taken = copy_trial(tmp_path / "t"), tmp_path / "taken.zip"
    taken.write_text("mine")
    with pytest.raises(BundleError, match="--force"):
        bundle_trial(folder, taken)
    assert taken.read_text() == "mine"


def test_refused_data_are_not_packed(tmp_path):
    folder = copy_trial(tmp_path / "t")
    readings = folder / "readings.csv"
    readings.write_text(readings.read_text().replace("clarity", "clority"))
    with pytest.raises(TrialDataError, match="clority"):
        bundle_trial(folder)
    assert list(folder.glob("*.zip*")) == []


def test_the_same_comes_out_and_nothing_of_theirs_is_run(bundle, tmp_path):
    """The whole road, on a bundle whose notebook and files would leave a mark if they were run."""
    mark = tmp_path / "mark"
    files = contents(bundle)
    harm = f"open({str(mark)!r}, 'w').close()"
    notebook = nbformat.reads(files["report/comparison.ipynb"].decode(), as_version=4)
    for cell in notebook.cells:
        if cell.cell_type == "code":
            cell.source = harm
    files["report/comparison.ipynb"] = nbformat.writes(notebook).encode()
    for name in ("pandas.py", "sitecustomize.py", "trialkit.py"):
        files[f"trial/{name}"] = files[f"report/{name}"] = harm.encode()
    found = verify_bundle(repack(tmp_path / "hostile.zip", files))
    assert found.status == "same inputs, same results"
    assert found.exit_code == 0
    assert found.report_same
    assert found.versions == []
    assert not mark.exists()
    assert "report.pdf came out byte for byte" in str(found)
    assert "no seal" in found.seal


def test_a_changed_input_is_named_before_anything_is_computed(bundle, tmp_path):
    files = contents(bundle)
    files["trial/readings.csv"] = files["trial/readings.csv"].replace(b",0,", b",1,", 1)
    files["trial/intervals.csv"] = b"vessel,criterion,left_h,right_h\n"
    del files["trial/raters.csv"]
    found = verify_bundle(repack(tmp_path / "b.zip", files, manifest=False))
    assert found.status == "inputs changed"
    assert found.exit_code == 1
    assert found.changed.values.tolist() == [
        ["trial/intervals.csv", "added"],
        ["trial/raters.csv", "missing"],
        ["trial/readings.csv", "changed"],
    ]
    assert "trial/readings.csv: changed" in str(found)


def test_inputs_changed_along_with_the_manifest_do_not_fit_the_results(bundle, tmp_path):
    files = contents(bundle)
    files["trial/mixes.csv"] = files["trial/mixes.csv"].rstrip() + b"\n\n"
    found = verify_bundle(repack(tmp_path / "b.zip", files))
    assert found.status == "inputs changed"
    assert found.changed["file"].tolist() == ["trial/mixes.csv"]


def altered(files, change):
    held = json.loads(files["report/results.json"])
    change(held)
    return files | {"report/results.json": json.dumps(held).encode()}


def test_another_number_is_named_with_how_far(bundle, tmp_path, recomputed):
    def faster(held):
        table = held["tables"]["times"]
        at = table["columns"].index("estimate")
        row = next(row for row in table["rows"] if isinstance(row[at], float) and row[at] > 0)
        row[at] /= 2

    found = verify_bundle(repack(tmp_path / "b.zip", altered(contents(bundle), faster)))
    assert found.status == "same inputs, other results"
    assert found.exit_code == 1
    assert found.differences[["table", "column", "apart"]].values.tolist() == [
        ["times", "estimate", pytest.approx(1.0)]
    ]
    assert "100% apart" in str(found)


def test_numbers_within_the_tolerance_are_the_same(bundle, tmp_path, recomputed):
    def last_digit(held):
        table = held["tables"]["times"]
        at = table["columns"].index("estimate")
        for row in table["rows"]:
            row[at] = row[at] * (1 + 1e-8) if isinstance(row[at], float) else row[at]

    found = verify_bundle(repack(tmp_path / "b.zip", altered(contents(bundle), last_digit)))
    assert found.status == "same inputs, same results"
    assert "within 1e-06" in str(found)


def test_other_versions_are_told(bundle, tmp_path, recomputed):
    def older(held):
        held["meta"]["versions"]["numpy"] = "1.0"

    found = verify_bundle(repack(tmp_path / "b.zip", altered(contents(bundle), older)))
    assert found.exit_code == 0
    assert re.search(r"numpy \S+ \(bundle: 1\.0\)", str(found))


def test_the_seal_is_looked_at(tmp_path):
    sealed = shutil.copytree(DEMO / "harbour", tmp_path / "t")
    assert "Declared before the first reading: yes" in verify._seal_sentence(sealed)
    declared = sealed / "trial.toml"
    declared.write_text(declared.read_text().replace("tolerance = 1\n", "tolerance = 2\n", 1))
    assert "changed since" in verify._seal_sentence(sealed)
    (sealed / "sealed.txt").write_bytes(b"\xff\xfe\x00")
    assert "the seal is damaged" in verify._seal_sentence(sealed)


def test_a_forged_report_is_found_though_the_numbers_are_the_same(bundle, tmp_path, recomputed):
    files = contents(bundle)
    files["report/report.pdf"] += b"% forged"
    found = verify_bundle(repack(tmp_path / "b.zip", files, manifest=False))
    assert found.status == "same inputs, same results"
    assert found.exit_code == 1
    assert not found.report_same
    assert "report/report.pdf: changed" in str(found)


@pytest.mark.parametrize(
    "broken", [b"", b"{}", b"[1]", b'{"meta": {}, "tables": {"times": 3}}', b"[" * 100_000]
)
def test_results_that_are_none_are_said_not_raised(bundle, tmp_path, broken):
    files = contents(bundle) | {"report/results.json": broken}
    with pytest.raises(BundleError, match=r"results\.json"):
        verify_bundle(repack(tmp_path / "b.zip", files))


@pytest.mark.parametrize("manifest", [None, b"", b"rm -rf /\n", b"\xff\xfe"])
def test_a_zip_without_a_sound_manifest_is_no_bundle(bundle, tmp_path, manifest):
    files = contents(bundle)
    del files["manifest-sha256.txt"]
    if manifest is not None:
        files["manifest-sha256.txt"] = manifest
    with pytest.raises(BundleError, match=r"manifest-sha256\.txt"):
        verify_bundle(repack(tmp_path / "b.zip", files, manifest=False))
