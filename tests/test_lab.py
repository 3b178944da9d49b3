"""Copies for JupyterLab are set to their trial, never lose an edit, and run by this interpreter."""

import ast
import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import nbformat
import pytest
from jupyter_client.kernelspec import KernelSpecManager

import trialkit
import trialkit as tk
from trialkit import lab_copies
from trialkit.lab import OneKernel
from trialkit.lab_copies import LOOKS_CODE, prepare_lab, with_parameters
from trialkit.publish import shipped

DEMO = Path(trialkit.__file__).parents[1] / "data" / "demo"


@pytest.fixture
def folder(tmp_path):
    return shutil.copytree(
        DEMO / "single", tmp_path / "trial", ignore=shutil.ignore_patterns("out", "lab")
    )


def actions(folder):
    return {done.path.name: done.action for done in prepare_lab(folder)}


def notebook(folder, name="comparison.ipynb"):
    return nbformat.read(folder / "lab" / name, as_version=4)


def edit(path, change):
    held = json.loads(path.read_text(encoding="utf-8"))
    change(held)
    path.write_text(json.dumps(held), encoding="utf-8")


def parameters(cells):
    cell = next(c for c in cells if "parameters" in c["metadata"].get("tags", []))
    body = ast.parse("".join(cell["source"])).body
    return {node.target.id: ast.literal_eval(node.value) for node in body}


def test_copies_are_sound_notebooks_set_to_the_trial(folder):
    found = actions(folder)
    assert set(found.values()) == {"copied"}
    assert "comparison.ipynb" in found
    for name in found:
        copied = notebook(folder, name)
        nbformat.validate(copied)
        ours = nbformat.read(shipped("notebooks") / name, as_version=4)
        before, after = parameters(ours.cells), parameters(copied.cells)
        assert (folder / "lab" / after["folder"]).resolve() == folder.resolve()
        assert (folder / "lab" / after["out"]).is_dir()
        assert {k: v for k, v in after.items() if before[k] != v}.keys() <= {"folder", "out"}
        assert all(cell.get("outputs", []) == [] for cell in copied.cells)


def test_the_comparison_ends_with_the_panel(folder):
    prepare_lab(folder)
    cells = notebook(folder).cells
    assert cells[-1].source == "tk.clearing_panel(trial)"
    # The report would stop at what only a screen can show.
    assert all(cell.metadata.tags == ["screen-only"] for cell in cells[-4:])


@pytest.mark.parametrize("name", ["harbour", "single"])
def test_the_raw_readings_are_drawn_a_panel_a_mix(name):
    trial = tk.read_trial(DEMO / name)
    names = {"trial": trial, "tk": tk}
    exec(LOOKS_CODE.replace("sns.relplot", "grid = sns.relplot"), names)
    titles = {axes.get_title() for axes in names["grid"].axes.flat}
    shown = {*trial.mixes["name"], "purified water"}
    assert titles == {f"name = {name}" for name in shown}


def test_the_second_time_nothing_is_written(folder):
    prepare_lab(folder)
    before = {p: p.stat().st_mtime_ns for p in (folder / "lab").glob("*.ipynb")}
    assert set(actions(folder).values()) == {"unchanged"}
    assert {p: p.stat().st_mtime_ns for p in before} == before


def test_an_edit_is_kept_and_said(folder):
    prepare_lab(folder)
    path = folder / "lab" / "comparison.ipynb"

    def change(held):
        held["cells"][-1]["source"] = ["mine = 1"]

    edit(path, change)
    before = path.read_bytes()
    done = next(d for d in prepare_lab(folder) if d.path == path)
    assert done.action == "kept"
    assert "kept as you edited it" in str(done)
    assert path.read_bytes() == before


def test_a_run_is_no_edit_but_its_outputs_stay(folder):
    """JupyterLab saves sources as lists of lines, with outputs, in an order of its own."""
    prepare_lab(folder)
    path = folder / "lab" / "comparison.ipynb"
    ran = notebook(folder)
    ran.cells[1].outputs = [nbformat.v4.new_output("stream", text="ran")]
    nbformat.write(ran, path)
    assert isinstance(json.loads(path.read_text())["cells"][0]["source"], list)
    assert actions(folder)["comparison.ipynb"] == "unchanged"
    assert "ran" in path.read_text()


def test_a_newer_kit_renews_only_what_was_not_edited(folder, tmp_path, monkeypatch):
    prepare_lab(folder)
    edited = folder / "lab" / "storage.ipynb"
    edit(edited, lambda held: held["cells"].pop())
    newer = shutil.copytree(shipped("notebooks"), tmp_path / "newer")
    for path in newer.glob("*.ipynb"):
        edit(path, lambda held: held["cells"][0].update(source="# A newer title"))
    monkeypatch.setattr(lab_copies, "shipped", lambda name: newer)
    assert actions(folder) == {"comparison.ipynb": "renewed", "storage.ipynb": "kept"}
    assert notebook(folder).cells[0].source == "# A newer title"
    assert "A newer title" not in edited.read_text()


@pytest.mark.parametrize("text", ["", "not json", "[]", '{"cells": []}', '{"metadata": 3}'])
def test_a_file_that_we_did_not_write_is_kept(folder, text):
    (folder / "lab").mkdir()
    path = folder / "lab" / "comparison.ipynb"
    path.write_text(text)
    assert actions(folder)["comparison.ipynb"] == "kept"
    assert path.read_text() == text


def test_parameters_keep_their_types_and_comments():
    source = '# Head\nfolder: str = "a"  # où, größer\nmargin: float = 0.5\nother = 3'
    changed = with_parameters(source, {"folder": 'ü"\\', "margin": 1.0, "absent": 1})
    assert ast.literal_eval(ast.parse(changed).body[0].value) == 'ü"\\'
    assert changed.splitlines()[0] == "# Head"
    assert changed.splitlines()[1].endswith("  # où, größer")
    assert changed.splitlines()[2:] == ["margin: float = 1.0", "other = 3"]


def test_the_only_kernel_is_this_interpreter(tmp_path, monkeypatch):
    """A kernel of the same name elsewhere on the machine would win; here it does not."""
    foreign = tmp_path / "kernels" / "python3"
    foreign.mkdir(parents=True)
    spec = {"argv": ["/no/such/python"], "display_name": "Foreign", "language": "python"}
    (foreign / "kernel.json").write_text(json.dumps(spec))
    monkeypatch.setenv("JUPYTER_PATH", str(tmp_path))
    assert KernelSpecManager().get_kernel_spec("python3").display_name == "Foreign"
    ours = OneKernel()
    for name in ("python3", "someone-elses"):
        assert ours.get_kernel_spec(name).argv[0] == sys.executable
    specs = ours.get_all_specs()
    assert list(specs) == ["python3"]
    assert specs["python3"]["spec"]["argv"][0] == sys.executable


def test_jupyterlab_is_told_to_ask_and_fetch_nothing(folder):
    """The settings as JupyterLab itself reads them, from a process of its own."""
    script = (
        "import sys\n"
        "from jupyterlab.labapp import LabApp\n"
        "from jupyterlab_server.config import get_page_config\n"
        "def started(argv):\n"
        "    app = LabApp.initialize_server(argv)\n"
        "    lab = next(iter(app.extension_manager.extension_apps['jupyterlab']))\n"
        "    off = get_page_config([])['disabledExtensions']\n"
        "    print(app.ip, bool(app.token), lab.news_url, lab.extension_manager, app.root_dir,\n"
        "          app.kernel_spec_manager_class.__name__, any('announce' in n for n in off),\n"
        "          sep='|')\n"
        "LabApp.launch_instance = started\n"
        "from trialkit.lab import open_lab\n"
        "open_lab(sys.argv[1], options=['--no-browser', '--allow-root'])\n"
    )
    settings = {"JUPYTER_CONFIG_DIR": str(folder / "none"), "JUPYTER_RUNTIME_DIR": str(folder)}
    done = subprocess.run(
        [sys.executable, "-c", script, str(folder)],
        capture_output=True,
        text=True,
        timeout=60,
        check=True,
        env=os.environ | settings,
    )
    assert done.stdout.splitlines()[0] == "comparison.ipynb: copied"
    assert done.stdout.splitlines()[-1].split("|") == [
        "127.0.0.1",
        "True",
        "None",
        "readonly",
        str(folder.resolve()),
        "OneKernel",
        "True",
    ]
