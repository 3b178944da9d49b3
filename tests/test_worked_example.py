"""The worked example runs from top to bottom and prints what it says."""

import re
from pathlib import Path

import pytest

import trialkit
from tests.worked import Step, run_document

DOCS = Path(trialkit.__file__).parents[1] / "docs"
PAGE = DOCS / "worked-example.md"


@pytest.fixture(scope="module")
def steps(tmp_path_factory):
    return run_document(PAGE, tmp_path_factory.mktemp("worked"))


def test_every_command_prints_what_the_page_says(steps):
    assert len(steps) == 11
    wrong = [f"$ {step.command}\n{step.printed}" for step in steps if not step.holds]
    assert not wrong, "\n".join(wrong)


def test_only_the_slip_is_refused(steps):
    refused = [step.command for step in steps if step.code]
    assert refused == ["trialkit check shed"]
    assert [step.code for step in steps if step.command == "trialkit check shed"] == [1, 0]


def test_every_command_of_the_kit_that_a_trial_needs_is_shown(steps):
    shown = {step.command.split()[1] for step in steps if step.command.startswith("trialkit")}
    assert shown == {"plan", "sheets", "check", "report", "bundle", "verify", "pool"}


def test_every_picture_is_there():
    named = re.findall(r"!\[[^\]]+\]\(([^)]+)\)", PAGE.read_text(encoding="utf-8"))
    assert len(named) >= 4
    assert [name for name in named if not (DOCS / name).is_file()] == []


def test_what_is_left_out_may_differ_and_nothing_else_may():
    assert Step("", "a ... c\n", "a b\nc\n", 0).holds
    assert Step("", "a\n...\nd\n", "a\nb\nc\nd\n", 0).holds
    assert not Step("", "a ... c\n", "a b d\n", 0).holds
    assert not Step("", "", "surprise\n", 0).holds
