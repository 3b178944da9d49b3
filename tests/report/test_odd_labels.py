"""Names, labels and claims that mean something to a program, in every piece of both notebooks."""

import ast
import json
from dataclasses import replace
from pathlib import Path

import pytest

import trialkit as tk
from trialkit.report.blocks import Figure, Prose, Table
from trialkit.report.markdown import parse_markdown

ROOT = Path(__file__).parents[2]
# "Qq" tells where a name stands; around it what markdown, formulas and pages would obey.
ODD = r"$\frac{$*Qq*_z_<b>"
FIELDS = ("mixes", "name"), ("mixes", "lot"), ("claims", "text")


def _calls(notebook):
    """The functions that a notebook calls with the results alone."""
    cells = json.loads((ROOT / "notebooks" / notebook).read_text(encoding="utf-8"))["cells"]
    sources = ["".join(c["source"]) for c in cells if c["cell_type"] == "code"]
    lines = [line for source in sources for line in source.splitlines() if line[:3] == "tk."]
    calls = [ast.parse(line).body[0].value for line in lines]
    alone = [c for c in calls if list(map(ast.unparse, c.args)) == ["results"] and not c.keywords]
    return [call.func.attr for call in alone]


@pytest.fixture(scope="module")
def results():
    found = tk.trial_results(tk.read_trial(ROOT / "data" / "demo" / "harbour"))
    tables = dict(found.tables)
    for table, column in FIELDS:
        if table in tables and column in tables[table]:
            texts = [f"{ODD}{n}" for n in range(len(tables[table]))]
            tables[table] = tables[table].assign(**{column: texts})
    criteria = [{**c, "label": f"qQ {ODD}"} for c in found.meta["criteria"]]
    meta = {**found.meta, "title": ODD, "licence": ODD, "criteria": criteria}
    return replace(found, tables=tables, meta=meta)


def _words(part):
    """All words of a parsed text, as a reader sees them."""
    if isinstance(part, str):
        return part
    if isinstance(part, list):
        return "".join(map(_words, part))
    shown = ("text", "body", "items", "rows", "cells", "head")
    return "".join(_words(part[key]) for key in shown if key in part)


def _texts(piece):
    """Whatever a piece prints, as a reader sees it."""
    if isinstance(piece, Prose):
        return _words(parse_markdown(piece.text))
    if isinstance(piece, Figure):
        return f"{piece.caption} {piece.alt} {piece.note}"
    if isinstance(piece, Table):
        heads = [column.header for column in piece.columns]
        cells = [str(cell) for row in piece.rows for cell in row]
        return " ".join([piece.caption, piece.note, *heads, *cells])
    return ""


NAMES = sorted({name for book in ("comparison.ipynb", "storage.ipynb") for name in _calls(book)})


@pytest.mark.parametrize("name", NAMES)
def test_odd_names_and_labels_come_out_as_they_are(results, name):
    piece = getattr(tk, name)(results)
    text = _texts(piece)
    assert text.count("Qq") == text.count(ODD), text
    assert r"\$" not in text


def test_the_pieces_are_there_and_name_what_they_speak_of(results):
    told = [name for name in NAMES if "Qq" in _texts(getattr(tk, name)(results))]
    assert len(told) > 12, told


def test_a_label_keeps_its_capitals_at_the_head_of_a_panel(results):
    for name in ("strip_figure", "definitions_figure"):
        assert ">QQ $" in getattr(tk, name)(results).svg.replace("&lt;", "<"), name
    heads = [column.header for column in tk.kept_table(results).columns]
    assert f"QQ {ODD}" in heads
