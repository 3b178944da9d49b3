"""Pages for browsers, checked with axe in headless Chromium, in light and dark, on desk and phone.

Outside answer: axe-core, the rules tagged WCAG 2.0 and 2.1, levels A and AA, and best practice.
"""

import json
import shutil
from importlib.resources import files
from pathlib import Path

import pytest

import trialkit
from tests.chromium import find_chromium, open_page
from trialkit.panel import clearing_panel
from trialkit.records.read import read_trial

DEMO = Path(trialkit.__file__).parents[1] / "data" / "demo"
BROWSER = find_chromium()
AXE = pytest.importorskip("axe_core_python", reason="axe-core-python is not installed")

pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(BROWSER is None, reason="no chromium on this machine"),
]

PHONE = {"width": 360, "height": 740, "deviceScaleFactor": 2, "mobile": True}
DESK = {"width": 1280, "height": 900, "deviceScaleFactor": 1, "mobile": False}
TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "best-practice"]


def violations(page):
    """Each rule that is broken, with the first elements that break it."""
    page.run(files("axe_core_python").joinpath("axe.min.js").read_text(encoding="utf-8"))
    options = json.dumps({"runOnly": {"type": "tag", "values": TAGS}})
    found = json.loads(
        page.run(f"axe.run(document, {options}).then(r => JSON.stringify(r.violations))")
    )
    return [
        f"{rule['id']} ({rule['impact']}): {[node['html'][:120] for node in rule['nodes'][:3]]}"
        for rule in found
    ]


def look(page, scheme, screen):
    """Show the page in light or dark, on a desk or a phone."""
    page.call("Emulation.setDeviceMetricsOverride", **screen)
    feature = {"name": "prefers-color-scheme", "value": scheme}
    page.call("Emulation.setEmulatedMedia", features=[feature])


def whole_page(body):
    return (
        '<!doctype html><html lang="en"><head><meta charset="utf-8"><title>A page</title></head>'
        f"<body><main><h1>A page</h1>{body}</main></body></html>"
    )


def test_axe_sees_what_is_wrong(tmp_path):
    """The check is not blind."""
    path = tmp_path / "bad.html"
    path.write_text(
        whole_page('<img src="x.png"><p style="color:#ccc;background:#fff">pale</p><h4>Deep</h4>')
    )
    with open_page(path.as_uri(), BROWSER) as page:
        found = " ".join(violations(page))
    for rule in ("image-alt", "color-contrast", "heading-order"):
        assert rule in found


def test_the_panel_in_a_notebook(tmp_path):
    panel = clearing_panel(read_trial(DEMO / "harbour"))
    path = tmp_path / "panel.html"
    path.write_text(whole_page(panel.children[-1].value), encoding="utf-8")
    with open_page(path.as_uri(), BROWSER) as page:
        assert violations(page) == []


@pytest.fixture(scope="module")
def report(tmp_path_factory):
    """The page of the demo trial's report."""
    from trialkit.publish import publish_trial

    made = tmp_path_factory.mktemp("report")
    ignored = shutil.ignore_patterns("out", "lab")
    folder = shutil.copytree(DEMO / "harbour", made / "trial", ignore=ignored)
    return publish_trial(folder, made / "out") / "report.html"


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("screen", [DESK, PHONE], ids=["desk", "phone"])
def test_the_report(report, scheme, screen):
    with open_page(report.as_uri(), BROWSER) as page:
        look(page, scheme, screen)
        assert violations(page) == []
        wide = page.run("document.documentElement.scrollWidth - window.innerWidth")
        assert wide <= 0, f"the page is {wide} pixels too wide"
        loaded = page.run("JSON.stringify(performance.getEntriesByType('resource').map(e=>e.name))")
        assert [name for name in json.loads(loaded) if not name.startswith("data:")] == []


INK_OF_LETTERS = """
[...document.querySelectorAll('svg text')].map(text => [
  !!text.closest('[id*="on-pale"]'), getComputedStyle(text).fill
])
"""


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_letters_on_a_pale_cell_are_dark_whatever_the_page_is(report, scheme):
    with open_page(report.as_uri(), BROWSER) as page:
        look(page, scheme, DESK)
        found = page.run(INK_OF_LETTERS)
    bright = {
        on_pale: {brightness(ink) for own, ink in found if own is on_pale}
        for on_pale in (True, False)
    }
    assert max(bright[True]) < 0.2
    if scheme == "dark":
        assert min(bright[False]) > 0.6
    else:
        assert max(bright[False]) < 0.5


def brightness(ink):
    """Mean of red, green, blue, from 0 to 1."""
    parts = [int(part) for part in ink.removeprefix("rgb(").removesuffix(")").split(",")]
    return sum(parts) / 3 / 255
