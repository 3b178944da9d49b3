"""What is committed of a notebook: prose, one parameters cell, calls; no outputs, no logic."""

import ast
import json
import re
from pathlib import Path

import pytest

NOTEBOOKS = sorted((Path(__file__).parents[1] / "notebooks").glob("*.ipynb"))
PARAMETER = re.compile(r"^\w+: (str|int|float|bool) = .+  # .+$")


def cells(path: Path) -> list[dict]:
    return json.loads(path.read_text(encoding="utf-8"))["cells"]


def source(cell: dict) -> str:
    return "".join(cell["source"])


def test_there_is_a_notebook():
    assert NOTEBOOKS


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda p: p.stem)
def test_committed_without_outputs(path):
    code = [cell for cell in cells(path) if cell["cell_type"] == "code"]
    assert [c["id"] for c in code if c["outputs"] or c["execution_count"] is not None] == []


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda p: p.stem)
def test_one_cell_of_parameters_each_typed_with_a_comment(path):
    tagged = [c for c in cells(path) if "parameters" in c["metadata"].get("tags", [])]
    assert len(tagged) == 1
    lines = [line for line in source(tagged[0]).splitlines() if line and line[0] != "#"]
    assert lines
    assert [line for line in lines if not PARAMETER.match(line)] == []


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda p: p.stem)
def test_no_logic_in_a_cell(path):
    """A definition, a loop, a condition or arithmetic belongs into the package."""
    logic = (ast.FunctionDef, ast.ClassDef, ast.For, ast.While, ast.If, ast.BinOp, ast.Lambda)
    found = [
        (cell["id"], type(node).__name__)
        for cell in cells(path)
        if cell["cell_type"] == "code"
        for node in ast.walk(ast.parse(source(cell)))
        if isinstance(node, logic)
    ]
    assert found == []


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda p: p.stem)
def test_opens_with_the_question(path):
    first = cells(path)[0]
    assert first["cell_type"] == "markdown"
    assert source(first).startswith("# ")
    assert "?" in source(first)
