"""The storage notebook runs on the demo trial and says what the package says."""

import json
import os
from pathlib import Path

import pytest

import trialkit as tk

ROOT = Path(__file__).parents[1]


@pytest.fixture(scope="module")
def run(tmp_path_factory):
    """The executed notebook's folder."""
    folder = tmp_path_factory.mktemp("storage-notebook")
    parameters = {"folder": os.path.relpath(ROOT / "data/demo/harbour", folder)}
    executed = folder / "storage.ipynb"
    tk.run_notebook(
        ROOT / "notebooks" / "storage.ipynb", executed, parameters=parameters, cwd=folder
    )
    return folder


def test_results_hold_the_numbers_of_the_package(run):
    found = tk.read_results(run)
    residue = tk.residue_summary(tk.read_trial(ROOT / "data/demo/harbour"))
    expected = residue.summary.set_index("mix")["estimate"]
    assert found["residue"].set_index("mix")["estimate"].to_dict() == pytest.approx(
        expected.to_dict(), rel=1e-9
    )
    assert len(found["cleaning"]) == len(expected)


def test_every_printed_residue_is_in_the_document(run):
    cells = json.loads((run / "storage.ipynb").read_text(encoding="utf-8"))["cells"]
    shown = json.dumps([cell.get("outputs", []) for cell in cells])
    table = tk.residue_table(tk.read_results(run))
    assert table.rows
    for row in table.rows:
        assert row[2] in shown


def test_the_report_renders(run):
    path = tk.render_report(run / "storage.ipynb", run)
    assert Path(run / "report.pdf").stat().st_size > 20_000
    assert path
