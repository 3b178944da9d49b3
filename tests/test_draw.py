"""Two processes draw the figures of one report, with the same outcome as one."""

import json
import os
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

import trialkit as tk
from trialkit.draw import second_drawer
from trialkit.report import shared as meeting
from trialkit.report.blocks import Figure, Prose
from trialkit.report.shared import FOLDER, draw_last_first, shared

SINGLE = Path(__file__).parents[1] / "data" / "demo" / "single"


@shared
def one_figure(results, *, criterion=None):
    return Figure("one", "One", f"alt {results} {criterion}", "<svg/>")


@shared
def two_figure(results):
    return Prose("Nothing to draw.", "two")


@pytest.fixture
def folder(tmp_path, monkeypatch):
    monkeypatch.setenv(FOLDER, str(tmp_path))
    return tmp_path


def test_without_a_meeting_place_a_figure_is_drawn(monkeypatch):
    monkeypatch.delenv(FOLDER, raising=False)
    assert one_figure(3).alt == "alt 3 None"


def test_what_the_other_left_is_taken_over(folder):
    draw_last_first([one_figure.__wrapped__, two_figure.__wrapped__], "theirs", folder)
    # What comes back was made with the other's results, so it was not drawn here.
    assert one_figure("mine").to_json() == one_figure.__wrapped__("theirs").to_json()
    assert two_figure("mine") == Prose("Nothing to draw.", "two")


def test_what_this_process_began_the_other_leaves_alone(folder):
    assert one_figure("mine").alt == "alt mine None"
    draw_last_first([one_figure.__wrapped__], "theirs", folder)
    assert list(folder.glob("*.json")) == []


def test_a_question_of_its_own_is_answered_here(folder):
    draw_last_first([one_figure.__wrapped__], "theirs", folder)
    assert one_figure("mine", criterion="haze").alt == "alt mine haze"


def test_a_figure_that_never_comes_is_drawn_here(folder, monkeypatch):
    monkeypatch.setattr(meeting, "_PATIENCE_S", 0.02)
    (folder / "one_figure").touch()
    assert one_figure("mine").alt == "alt mine None"


def test_waits_for_a_figure_that_is_being_drawn(folder):
    def slow_figure(results):
        time.sleep(0.2)
        return Figure("slow", "Slow", results, "<svg/>")

    other = threading.Thread(target=draw_last_first, args=([slow_figure], "theirs", folder))
    other.start()
    while not (folder / "slow_figure").exists():
        time.sleep(0.001)
    assert shared(slow_figure)("mine").alt == "theirs"
    other.join()


@pytest.fixture(scope="module")
def results_folder(tmp_path_factory):
    folder = tmp_path_factory.mktemp("results")
    tk.write_results(tk.trial_results(tk.read_trial(SINGLE)), folder)
    return folder


def test_the_second_process_draws_the_very_same(results_folder, monkeypatch):
    monkeypatch.setattr(os, "cpu_count", lambda: 2)
    names = ["vessel_figure", "forest_figure"]
    results = tk.read_results(results_folder)
    mine = [getattr(tk, name)(results).to_json() for name in names]
    with second_drawer(results_folder, names) as start:
        start()
        place = Path(os.environ[FOLDER])
        (place / "begun").touch()
        until = time.monotonic() + 60
        while len(list(place.glob("*.json"))) < 2 and time.monotonic() < until:
            time.sleep(0.02)
        theirs = [json.loads((place / f"{name}.json").read_text()) for name in names]
    assert theirs == mine
    assert FOLDER not in os.environ
    assert not place.exists()


def test_one_processor_starts_no_second_process(results_folder, monkeypatch):
    monkeypatch.setattr(os, "cpu_count", lambda: 1)
    monkeypatch.setattr(subprocess, "Popen", None)
    with second_drawer(results_folder, ["vessel_figure"]) as start:
        start()


def test_the_second_process_ends_with_the_first(tmp_path):
    command = [sys.executable, "-m", "trialkit.draw", str(tmp_path), str(tmp_path / "place")]
    (tmp_path / "place").mkdir()
    drawer = subprocess.Popen(command, stdin=subprocess.PIPE)
    drawer.stdin.close()
    assert drawer.wait(timeout=60) == 0
