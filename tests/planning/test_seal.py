"""A change after sealing is caught, and a change that means nothing is not."""

import base64
import hashlib
import tomllib

import pandas as pd
import pytest

from trialkit.planning.folder import toml_text
from trialkit.planning.seal import (
    NONCE_FILE,
    SEALED_FILE,
    key_digest,
    key_text,
    seal_of,
    seal_trial,
    sealed_text,
)
from trialkit.planning.seal_check import check_seal

KEY = pd.DataFrame({"vessel": ["K74", "A49"], "mix": ["M02", "M01"]})
NONCE = "c0ffee00c0ffee00c0ffee00c0ffee00"


@pytest.fixture
def folder(tmp_path):
    settings = {
        "title": "Invented",
        "window_h": 24,
        "schedule_h": [1, 2, 4],
        "seed": 4,
        "key_sha256": key_digest(KEY, NONCE),
        "criteria": {"clarity": {"tolerance": 1, "hold": 2}},
    }
    text = sealed_text(settings)
    (tmp_path / SEALED_FILE).write_text(text, encoding="utf-8", newline="\n")
    (tmp_path / "trial.toml").write_text(toml_text({"seal": seal_of(text), **settings}))
    (tmp_path / "key.csv").write_text(key_text(KEY))
    (tmp_path / NONCE_FILE).write_text(NONCE + "\n")
    return tmp_path


def edit(folder, old, new, name="trial.toml"):
    path = folder / name
    text = path.read_text()
    assert old in text
    path.write_text(text.replace(old, new))


def test_untouched_plan_is_as_declared(folder):
    check = check_seal(folder)
    assert (check.status, check.key) == ("yes", "yes")
    assert "not when it was made" in check.sentence
    assert check.seal in check.sentence


def test_seal_is_the_front_of_the_published_digest():
    # FIPS 180-4 example: SHA-256("abc") = ba7816bf 8f01cfea 414140de 5dae2223 b00361a3 ...
    front = bytes.fromhex("ba7816bf8f01cfea414140de5dae2223b00361a3")
    assert base64.b32decode(seal_of("abc").replace("-", "")) == front


def test_key_digest_is_that_of_the_two_files_joined(folder):
    joined = (folder / NONCE_FILE).read_bytes() + (folder / "key.csv").read_bytes()
    assert hashlib.sha256(joined).hexdigest() == key_digest(KEY, NONCE)


def test_a_changed_criterion_is_named(folder):
    edit(folder, "tolerance = 1", "tolerance = 2")
    check = check_seal(folder)
    assert check.status == "changed since"
    assert check.changes.to_dict("records") == [
        {"line": "criteria.clarity.tolerance", "sealed": "1", "now": "2"}
    ]
    assert "changed since, in criteria.clarity.tolerance" in check.sentence


@pytest.mark.parametrize(
    ("old", "new", "line"),
    [
        ("schedule_h = [1, 2, 4]", "schedule_h = [1, 2, 4, 8]", "schedule_h"),
        ("hold = 2", "hold = 1", "criteria.clarity.hold"),
        ("hold = 2", "", "criteria.clarity.hold"),
        ("seed = 4", 'seed = 4\nfamily = "weibull"', "family"),
        ("seed = 4", "seed = 5", "seed"),
    ],
)
def test_each_kind_of_change_is_named(folder, old, new, line):
    edit(folder, old, new)
    assert check_seal(folder).changes["line"].tolist() == [line]


def test_an_added_claim_is_named(folder):
    with (folder / "trial.toml").open("a") as file:
        file.write('\n[claims.late]\nmix = "M01"\n')
    assert check_seal(folder).changes["line"].tolist() == ["claims.late.mix"]


def test_layout_of_the_file_and_unsealed_entries_do_not_matter(folder):
    edit(folder, "window_h = 24", "# longer is dull\nwindow_h   =  24\nlicence = 'CC0-1.0'")
    assert check_seal(folder).status == "yes"


def test_doctored_copy_gives_no_list(folder):
    edit(folder, "tolerance = 1", "tolerance = 2")
    edit(folder, "tolerance = 1", "tolerance = 2", SEALED_FILE)
    check = check_seal(folder)
    assert check.status == "changed since"
    assert check.changes.empty
    assert "not known" in check.sentence


def test_line_ends_of_the_copy_do_not_matter(folder):
    text = (folder / SEALED_FILE).read_bytes().replace(b"\n", b"\r\n")
    (folder / SEALED_FILE).write_bytes(text)
    edit(folder, "tolerance = 1", "tolerance = 2")
    assert len(check_seal(folder).changes) == 1


def test_key_changed_missing_or_without_nonce(folder):
    original = (folder / "key.csv").read_text()
    (folder / "key.csv").write_text(original.replace("M01", "M02"))
    assert check_seal(folder).key == "changed since"
    (folder / "key.csv").write_text(original.replace("\n", "\r\n"))
    assert check_seal(folder).key == "yes"
    (folder / NONCE_FILE).unlink()
    assert check_seal(folder).key == "no nonce"
    (folder / "key.csv").unlink()
    assert check_seal(folder).key == "no key"


def test_no_seal_is_said(tmp_path):
    (tmp_path / "trial.toml").write_text('title = "Invented"\n')
    check = check_seal(tmp_path)
    assert (check.status, check.key) == ("no seal", "not sealed")
    assert "no seal" in check.sentence


def test_sealed_text_is_toml(folder):
    settings = tomllib.loads((folder / "trial.toml").read_text())
    sealed = tomllib.loads(sealed_text(settings))
    assert sealed == {k: v for k, v in settings.items() if k not in ("seal", "title")}


def test_sealing_again_before_the_first_reading(folder):
    edit(folder, "tolerance = 1", "tolerance = 2 # agreed on Monday")
    (folder / "readings.csv").write_text("vessel,value\nA49,\n")
    seal = seal_trial(folder)
    check = check_seal(folder)
    assert (check.status, check.seal) == ("yes", seal)
    assert "agreed on Monday" in (folder / "trial.toml").read_text()


def test_sealing_again_after_a_reading_is_refused(folder):
    (folder / "readings.csv").write_text("vessel,value\nA49,7\n")
    with pytest.raises(ValueError, match="prove nothing"):
        seal_trial(folder)
