"""Imports run one way: the rooms of the package know only the rooms below them."""

import ast
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[1] / "trialkit"

# Which of our modules a room may import, by prefix.
ALLOWED = {
    "stats": ("trialkit.stats",),
    "records": ("trialkit.records",),
    "analysis": ("trialkit.analysis", "trialkit.records", "trialkit.stats"),
    "planning": ("trialkit.planning", "trialkit.records", "trialkit.stats"),
    "report": ("trialkit.report", "trialkit.records.kinds"),
}


def our_imports(path: Path) -> list[str]:
    """Absolute names of the modules of ours that a file imports, also inside functions."""
    package = ".".join(("trialkit", *path.relative_to(PACKAGE).parent.parts))
    names = []
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names += [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            names += _from_names(node, package)
    return [name for name in names if name.split(".")[0] == "trialkit"]


def _from_names(node: ast.ImportFrom, package: str) -> list[str]:
    above = package.split(".")[: len(package.split(".")) - node.level + 1] if node.level else []
    base = ".".join([*above, *([node.module] if node.module else [])])
    return [base] if base.count(".") >= 2 else [f"{base}.{alias.name}" for alias in node.names]


@pytest.mark.parametrize("room", sorted(ALLOWED))
def test_a_room_imports_only_rooms_below_it(room):
    files = sorted((PACKAGE / room).rglob("*.py"))
    assert files
    wrong = [
        f"{path.name}: {name}"
        for path in files
        for name in our_imports(path)
        if not any(name == ok or name.startswith(ok + ".") for ok in ALLOWED[room])
    ]
    assert wrong == []


def test_rooms_are_two_levels_deep():
    deeper = [p for p in PACKAGE.rglob("*.py") if len(p.relative_to(PACKAGE).parts) > 2]
    assert deeper == []


def test_the_check_sees_a_forbidden_import(tmp_path, monkeypatch):
    """The check is not blind: a room that imports upwards is caught."""
    bad = tmp_path / "stats" / "bad.py"
    bad.parent.mkdir()
    bad.write_text("def f():\n    from trialkit.analysis import clearing\n    from .. import cli\n")
    monkeypatch.setattr(f"{__name__}.PACKAGE", tmp_path)
    assert our_imports(bad) == ["trialkit.analysis.clearing", "trialkit.cli"]
