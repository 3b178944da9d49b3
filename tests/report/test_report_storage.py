"""Figures and tables of storage: every vessel drawn, every number said, nothing when nothing is."""

import re
from dataclasses import replace
from types import SimpleNamespace

import pandas as pd
import pytest

import trialkit as tk
from trialkit.report.blocks import Figure, Prose, Table
from trialkit.report.storage_cells import print_limits

FIGURES = [tk.residue_figure, tk.evenness_figure, tk.salinity_figure]
TABLES = [
    tk.evenness_table, tk.dose_table, tk.drift_table, tk.residue_table, tk.residue_pairs_table,
    tk.kept_table, tk.evenness_times_table, tk.clarity_change_table, tk.detection_table,
    tk.cleaning_table, tk.changes_table,
]  # fmt: skip


@pytest.fixture(scope="module")
def harbour(tmp_path_factory):
    """The storage findings of the demo trial, through results.json."""
    found = tk.storage_results(tk.read_trial("data/demo/harbour"), acceptable=250.0)
    folder = tmp_path_factory.mktemp("storage")
    tk.write_results(found, folder)
    return tk.read_results(folder)


@pytest.fixture(scope="module")
def empty(tmp_path_factory):
    """Those of a trial without storage."""
    folder = tmp_path_factory.mktemp("nothing")
    tk.write_results(tk.storage_results(tk.read_trial("data/demo/single")), folder)
    return tk.read_results(folder)


def marks_in(svg: str) -> list[str]:
    """Vessels of the marks; no mark bears the name of another."""
    ids = re.findall(r'id="(vessel-[^"]+)"', svg)
    assert len(ids) == len(set(ids))
    return [re.match(r"vessel-([A-Z]\d\d)", name)[1] for name in ids]


def test_every_vessel_with_a_residue_is_drawn(harbour):
    vessels = harbour["residue_vessels"]
    own = vessels.loc[vessels["role"] == "trial", "vessel"]
    assert sorted(marks_in(tk.residue_figure(harbour).svg)) == sorted(own)


def test_every_vessel_is_drawn_at_each_stage(harbour):
    drawn = marks_in(tk.evenness_figure(harbour).svg)
    assert sorted(drawn) == sorted(harbour["homogeneity_vessels"]["vessel"])


def test_every_vessel_has_its_line_of_salinity(harbour):
    series = harbour["salinity_series"]
    own = series.loc[series["phase"] == "storage", "vessel"].unique()
    drawn = marks_in(tk.salinity_figure(harbour).svg)
    assert set(own) <= set(drawn)
    assert len(drawn) == len(set(drawn))


def test_a_result_below_the_limit_is_hollow(harbour):
    vessels = harbour["residue_vessels"]
    below = set(vessels.loc[vessels["below"].astype(bool), "vessel"])
    svg = tk.residue_figure(harbour).svg
    groups = re.findall(r'id="vessel-([A-Z]\d\d)">(.*?)</g>\s*</g>', svg, re.DOTALL)
    hollow = {name for name, body in groups if "fill: #ffffff" in body}
    assert hollow == below
    assert below


@pytest.mark.parametrize("draw", FIGURES)
def test_each_figure_says_what_it_shows(harbour, draw):
    figure = draw(harbour)
    assert isinstance(figure, Figure)
    for name in harbour["mixes"]["name"]:
        assert name in figure.svg
    assert len(figure.alt) > 80
    assert figure.svg == draw(harbour).svg


@pytest.mark.parametrize("make", [*FIGURES, *TABLES])
def test_nothing_read_gives_a_sentence(empty, make):
    found = make(empty)
    assert isinstance(found, Prose)
    assert found.text.endswith((".", "read."))


@pytest.mark.parametrize("make", TABLES[:-1])
def test_each_table_has_its_rows(harbour, make):
    table = make(harbour)
    assert isinstance(table, Table)
    assert table.rows
    assert all(len(row) == len(table.columns) for row in table.rows)
    assert "nan" not in repr(table)


def test_residue_table_prints_what_results_hold(harbour):
    row = harbour["residue"].iloc[0]
    printed = tk.residue_table(harbour).rows[0]
    assert float(printed[2]) == pytest.approx(row["estimate"], rel=5e-3)
    assert printed[1] == f"{row['n_event']} of {row['n']}"


def test_the_cover_names_every_mix(harbour, empty):
    for results in (harbour, empty):
        answer = tk.storage_answer(results)
        assert [row[0] for row in answer.table.rows] == list(results["mixes"]["name"])
        assert answer.sentence.endswith(".")


def test_words_use_names_and_show_their_own_characters(harbour):
    text = tk.storage_words(harbour, "residue").text
    assert "M05" not in text
    words = pd.DataFrame({"topic": ["residue"], "sentence": ["M01 *left* more."]})
    mixes = pd.DataFrame({"mix": ["M01"], "name": ["A_B"]})
    results = type(
        "R", (), {"__getitem__": lambda _, n: {"storage_words": words, "mixes": mixes}[n]}
    )()
    assert tk.storage_words(results, "residue").text == r"A\_B \*left\* more."


@pytest.mark.parametrize(
    ("low", "high", "printed"),
    [
        (0.1, 0.5, "0.10 to 0.50"),
        (-0.25, float("inf"), "above −0.25"),
        (-float("inf"), float("inf"), "not placed"),
        (0.0, float("inf"), "not placed"),
    ],
)
def test_limits_in_words(low, high, printed):
    assert print_limits(SimpleNamespace(conf_low=low, conf_high=high)) == printed


def test_scores_by_eye_have_a_table_of_their_own(harbour):
    assert "No residue was scored" in tk.residue_score_table(harbour).text
    scored = tk.line_scores(tk.read_trial("data/demo/harbour")).drop(columns="time_h")
    with_scores = replace(harbour, tables={**harbour.tables, "residue_scores": scored})
    table = tk.residue_score_table(with_scores)
    assert len(table.rows) == len(scored)
    assert "alike" not in table.note
