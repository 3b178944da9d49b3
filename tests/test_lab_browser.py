"""What a person does: open JupyterLab on a trial, run the notebook to its end, move a slider.

JupyterLab runs on the loopback address with a token; Debian's Chromium runs without a window.
"""

import json
import os
import secrets
import shutil
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from pathlib import Path

import pytest

import trialkit
from tests.chromium import find_chromium, open_page, stop

DEMO = Path(trialkit.__file__).parents[1] / "data" / "demo"
BROWSER = find_chromium()

pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(BROWSER is None, reason="no chromium on this machine"),
]

START = "import sys; from trialkit.lab import open_lab; open_lab(sys.argv[1], options=sys.argv[2:])"
NOTEBOOK = "[...jupyterapp.shell.widgets('main')].find(w => w.context?.path.endsWith('.ipynb'))"
MODEL = f"({NOTEBOOK})?.content?.model"
STATUS = "document.querySelector('[role=status][aria-live]')?.textContent"


def free_port():
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


@pytest.fixture(scope="module")
def lab(tmp_path_factory):
    """Address of a JupyterLab on a copy of the demo trial, with settings of nobody's own."""
    place = tmp_path_factory.mktemp("lab")
    folder = shutil.copytree(
        DEMO / "harbour", place / "trial", ignore=shutil.ignore_patterns("out", "lab")
    )
    port, token = free_port(), secrets.token_hex(16)
    own = {
        "JUPYTER_TOKEN": token,
        "JUPYTER_CONFIG_DIR": str(place / "config"),
        "JUPYTER_DATA_DIR": str(place / "data"),
        "JUPYTER_RUNTIME_DIR": str(place / "runtime"),
        "JUPYTERLAB_WORKSPACES_DIR": str(place / "workspaces"),
        "JUPYTERLAB_SETTINGS_DIR": str(place / "settings"),
        "IPYTHONDIR": str(place / "ipython"),
    }
    options = [
        "--no-browser",
        "--allow-root",
        f"--ServerApp.port={port}",
        "--ServerApp.port_retries=0",
        "--LabApp.expose_app_in_browser=True",
    ]
    log = place / "log.txt"
    with log.open("w") as file:
        server = subprocess.Popen(
            [sys.executable, "-c", START, str(folder), *options],
            env=os.environ | own,
            stdout=file,
            stderr=file,
            start_new_session=True,
        )
    try:
        wait_for_server(f"http://127.0.0.1:{port}/api", server, log)
        yield f"http://127.0.0.1:{port}", token
    finally:
        stop(server)


def wait_for_server(address, server, log, seconds=40):
    end = time.monotonic() + seconds
    while time.monotonic() < end and server.poll() is None:
        try:
            with urllib.request.urlopen(address, timeout=5):
                return
        except OSError:
            time.sleep(0.1)
    pytest.fail(f"JupyterLab did not start:\n{log.read_text()[-2000:]}")


def test_without_the_token_nobody_gets_in(lab):
    address, _ = lab
    with pytest.raises(urllib.error.HTTPError) as refused:
        urllib.request.urlopen(f"{address}/api/contents", timeout=10)
    assert refused.value.code == 403
    refused.value.close()


def test_the_notebook_runs_and_the_panel_follows_a_slider(lab):
    address, token = lab
    with open_page(f"{address}/lab/tree/lab/comparison.ipynb?token={token}", BROWSER) as page:
        page.wait(f"!!window.jupyterapp && !!{MODEL}", "the notebook did not open", 60)
        page.wait(f"({NOTEBOOK}).sessionContext.isReady", "no kernel came", 60)
        page.run(f"jupyterapp.shell.activateById(({NOTEBOOK}).id)")
        page.wait(f"jupyterapp.shell.currentWidget === {NOTEBOOK}", "the notebook has no focus")
        page.run("jupyterapp.commands.execute('notebook:run-all-cells')")
        assert_all_ran(json.loads(page.run(f"JSON.stringify({MODEL}.toJSON().cells)")))
        assert page.run("document.querySelectorAll('dialog, .jp-Dialog').length") == 0

        # The last cell is drawn once it is in sight.
        page.run(
            f"(() => {{ const n = {NOTEBOOK}.content; n.activeCellIndex = n.widgets.length - 1;"
            " n.scrollToItem(n.widgets.length - 1); })()"
        )
        before = page.wait(STATUS, "the panel did not appear")
        assert before.startswith("As declared.")
        move_slider(page, "NTU")
        after = page.wait(f"(t => t !== {json.dumps(before)} && t)({STATUS})", "no text changed")
        assert after.startswith("Another definition")


def assert_all_ran(cells):
    code = [cell for cell in cells if cell["cell_type"] == "code"]
    assert len(code) > 10
    assert [c["source"] for c in code if c["execution_count"] is None] == []
    failed = [
        f"{c['source']}: {o['ename']}: {o['evalue']}"
        for c in code
        for o in c["outputs"]
        if o["output_type"] == "error"
    ]
    assert failed == []
    assert any("image/svg" in str(c["outputs"]) or "<svg" in str(c["outputs"]) for c in code)


def move_slider(page, label):
    """Go to the slider of that label as a person without a mouse does, and press a key."""
    handle = (
        "[...document.querySelectorAll('.widget-slider')]"
        f".find(s => s.textContent.includes({json.dumps(label)}))?.querySelector('[role=slider]')"
    )
    page.wait(f"!!({handle})", f"no slider for {label}")
    value = page.run(f"({handle}).getAttribute('aria-valuenow')")
    page.run(f"({handle}).focus()")
    page.press("Home")
    page.wait(f"({handle}).getAttribute('aria-valuenow') !== '{value}'", "the slider stands still")
