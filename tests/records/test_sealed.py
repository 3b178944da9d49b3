"""A plan that was changed since it was sealed says so when it is read."""

import shutil
from pathlib import Path

import pytest

from trialkit.records.check import check_trial

DEMO = Path(__file__).parents[2] / "data" / "demo" / "harbour"


@pytest.fixture
def harbour(tmp_path):
    return Path(shutil.copytree(DEMO, tmp_path / "harbour", ignore=shutil.ignore_patterns("out*")))


def _edited(folder, old, new, name="trial.toml"):
    path = folder / name
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8", newline="")
    return check_trial(folder).query("file == 'trial.toml'")


def test_a_sealed_plan_says_nothing(harbour):
    assert _edited(harbour, "[storage]", "# a remark\n[storage]").empty


@pytest.mark.parametrize(
    ("old", "new", "line", "column", "value", "was"),
    [
        ("tolerance = 1\n", "tolerance = 2\n", 20, "criteria.clarity.tolerance", "2", "1"),
        ("hold = 2\n", "", 16, "criteria.clarity.hold", "", "2"),
        ("within_h = 2\n", "within_h = 3\n", 36, "claims.alder_two_hours.within_h", "3", "2"),
        ("seed = 4021", "seed = 4022", 7, "seed", "4022", "4021"),
    ],
)
def test_what_was_changed_is_named_with_what_was_sealed(
    harbour, old, new, line, column, value, was
):
    found = _edited(harbour, old, new)
    found = found[found["message"].str.contains("after the plan was sealed")]
    assert found["level"].tolist() == ["warn"]
    assert found[["row", "column", "value"]].to_numpy().tolist() == [[line, column, value]]
    assert found["fix"].iloc[0].startswith(f"Sealed was {was};")


def test_a_line_that_was_added_is_named(harbour):
    found = _edited(harbour, "seed = 4021", 'seed = 4021\nfamily = "weibull"')
    assert found[["column", "message"]].to_numpy().tolist() == [
        ["family", "this was added after the plan was sealed"]
    ]


def test_a_copy_that_was_edited_too_tells_nothing(harbour):
    _edited(harbour, "tolerance = 1\n", "tolerance = 2\n", "sealed.txt")
    found = _edited(harbour, "tolerance = 1\n", "tolerance = 2\n")
    assert found["message"].tolist() == ["the plan or its seal was changed after it was sealed"]
    assert "missing or altered" in found["fix"].iloc[0]


def test_a_seal_that_was_taken_out_is_missed(harbour):
    found = _edited(harbour, 'seal = "', 'sael = "')
    assert "there is a sealed plan, but trial.toml has no seal" in found["message"].tolist()
