"""What a user can rely on by name: the package's names, and the columns of its tables."""

import ast
import inspect
from pathlib import Path

import pytest

import trialkit
from trialkit.report.columns import COLUMNS

ROOT = Path(__file__).parents[1]
STUB = ast.parse((ROOT / "trialkit" / "__init__.pyi").read_text(encoding="utf-8"))
DEMO = ROOT / "data" / "demo"


def declared_names() -> list[str]:
    """`__all__` of the stub, in its own order."""
    assigned = next(node for node in STUB.body if isinstance(node, ast.Assign))
    return ast.literal_eval(assigned.value)


def test_dir_is_what_the_stub_declares():
    imported = [
        alias.asname
        for node in STUB.body
        if isinstance(node, ast.ImportFrom)
        for alias in node.names
    ]
    assert sorted(imported) == sorted(declared_names())
    assert sorted(trialkit.__all__) == sorted(declared_names())
    assert sorted(dir(trialkit)) == sorted(declared_names())


def test_no_public_name_would_be_run_as_a_test():
    assert [name for name in declared_names() if name.startswith("test_")] == []


@pytest.mark.parametrize("name", declared_names())
def test_each_public_function_says_what_comes_back(name):
    thing = getattr(trialkit, name)
    if not callable(thing):
        return
    text = inspect.getdoc(thing)
    assert text, f"{name} has no docstring"
    assert text.splitlines()[0].endswith(".")
    if inspect.isfunction(thing):
        # A context manager yields what it makes.
        assert any(f"{word}\n{'-' * len(word)}" in text for word in ("Returns", "Yields"))


def unknown_columns(results) -> dict[str, list[str]]:
    return {
        name: missing
        for name, table in results.tables.items()
        if (missing := [str(c) for c in table.columns if c not in COLUMNS])
    }


@pytest.mark.parametrize("trial", ["harbour", "rerun", "single"])
def test_every_column_of_every_table_is_in_the_glossary(trial):
    results = trialkit.trial_results(trialkit.read_trial(DEMO / trial))
    assert unknown_columns(results) == {}


def test_every_column_of_the_pooled_tables_is_in_the_glossary():
    folders = [DEMO / trial for trial in ("harbour", "rerun", "single")]
    assert unknown_columns(trialkit.pool_folders(folders)) == {}
