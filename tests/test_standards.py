"""Descriptor and citation of a bundle hold to the official schemas of their standards.

The schemas are read out of packages that carry them, at these versions: Citation File Format 1.2.0
in cffconvert (Apache-2.0), Data Package 2.0 in check-datapackage (MIT). Their own programs pin
other versions of jsonschema, or of Python, than the kit; the schema needs neither.
"""

import json
import shutil
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest
import yaml
from jsonschema.validators import validator_for

import trialkit
from trialkit.bundle import bundle_trial
from trialkit.unpack import open_bundle

DEMO = Path(trialkit.__file__).parents[1] / "data" / "demo"
CFF = ("cffconvert", "2.0.0", "cffconvert/schemas/1.2.0/schema.json")
PACKAGE = ("check-datapackage", "0.37.0", "check_datapackage/schemas/data-package-2-0.json")
AUTHORS = """authors = [
  { given_names = "Ada", family_names = "Example", affiliation = "Harbour: \\"new\\" room" },
  "The reading club",
]
"""


def schema_of(cache, package, version, member):
    """The schema inside a wheel, fetched once by pip; skipped, with what pip said, without one."""
    place = Path(cache.mkdir(f"{package}-{version}"))
    if not list(place.glob("*.whl")):
        options = ["--no-deps", "--only-binary=:all:", "--python-version=3.13", "--timeout=15"]
        command = [sys.executable, "-m", "pip", "download", "-q", *options, "-d", str(place)]
        done = subprocess.run(
            [*command, f"{package}=={version}"], capture_output=True, text=True, timeout=120
        )
        if done.returncode:
            last = done.stderr.strip().splitlines()[-1:] or ["pip could not be run"]
            pytest.skip(f"{package} {version}, which carries the schema, can't be had: {last[0]}")
    (wheel,) = place.glob("*.whl")
    with zipfile.ZipFile(wheel) as packed:
        return json.loads(packed.read(member))


@pytest.fixture(scope="module")
def cff(pytestconfig):
    return schema_of(pytestconfig.cache, *CFF)


@pytest.fixture(scope="module")
def package(pytestconfig):
    return schema_of(pytestconfig.cache, *PACKAGE)


@pytest.fixture(scope="module", params=["single", "blind", "authors"])
def bundle(request, tmp_path_factory):
    """Descriptor and citation of a bundle, of several kinds of trial."""
    place = tmp_path_factory.mktemp("bundle")
    folder = shutil.copytree(
        DEMO / "single", place / "single", ignore=shutil.ignore_patterns("out", "lab")
    )
    # The report is not asked about here, and a blind bundle is made without waiting for one.
    (folder / "key.csv").unlink()
    if request.param == "authors":
        path = folder / "trial.toml"
        path.write_text(AUTHORS + path.read_text())
    if request.param == "single":
        shutil.copy(DEMO / "single" / "key.csv", folder)
    with open_bundle(bundle_trial(folder)) as unpacked:
        descriptor = json.loads((unpacked / "datapackage.json").read_text(encoding="utf-8"))
        return descriptor, yaml.safe_load((unpacked / "CITATION.cff").read_text(encoding="utf-8"))


def faults(schema, document):
    validator = validator_for(schema)(schema)
    return [f"{list(e.absolute_path)}: {e.message[:200]}" for e in validator.iter_errors(document)]


def test_citation_is_citation_file_format(cff, bundle):
    assert faults(cff, bundle[1]) == []


def test_descriptor_is_data_package_two(package, bundle):
    assert faults(package, bundle[0]) == []


def test_the_schemas_are_not_blind(cff, package, bundle):
    descriptor, citation = bundle
    assert faults(cff, {**citation, "license": "free to a good home"})
    assert faults(cff, {k: v for k, v in citation.items() if k != "authors"})
    assert faults(package, {**descriptor, "resources": []})
    broken = json.loads(json.dumps(descriptor))
    broken["resources"][0]["hash"] = "not a hash"
    assert faults(package, broken)
