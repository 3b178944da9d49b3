import re
from html.parser import HTMLParser

import pytest

from tests.report.invented import invented_results
from tests.report.notebooks import executed
from trialkit.report import cover, curves, figures, prose, provenance, tables
from trialkit.report.document import read_document
from trialkit.report.html import _POLYGONS, block_html
from trialkit.report.marks import SHAPES
from trialkit.report.page import document_html
from trialkit.report.render import render_report

VOID = {"meta", "br", "hr", "img", "link", "input"}


class Nesting(HTMLParser):
    """Whether every element is closed where it should be; which names and links there are."""

    def __init__(self):
        super().__init__()
        self.open, self.ids, self.links, self.text = [], [], [], []

    def handle_starttag(self, tag, attrs):
        self.open.append(tag) if tag not in VOID else None
        held = dict(attrs)
        self.ids += [held["id"]] if "id" in held else []
        self.links += [v for k, v in attrs if k in ("href", "xlink:href", "src")]

    def handle_startendtag(self, tag, attrs):
        self.handle_starttag(tag, attrs)
        self.open.pop() if tag not in VOID else None

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        self.text.append(data)


@pytest.fixture(scope="module")
def notebook(tmp_path_factory):
    results = invented_results(
        names=["Salt_5 $x$", "水木 <b>", "אלון", "Elm & co", "Fir 🌲", "Yew"]
    )
    cells = [
        "# Which?",
        cover.answer(results),
        "## One\n\nSee [it](#vessels). A note[^1], a [link](https://example.org/a?b=1&c=2).\n\n"
        "[^1]: Small *print*.\n\n1. a\n2. b\n\n> q\n\n```\nx < y\n```\n\n"
        "| a | b |\n|---|--:|\n| 1 | 2 |",
        figures.vessel_figure(results),
        figures.strip_figure(results),
        "## Two",
        curves.curve_figure(results),
        curves.forest_figure(results),
        "## Three",
        prose.findings(results),
        tables.times_table(results),
        provenance.input_table(results),
    ]
    return executed(cells, tmp_path_factory.mktemp("page") / "n.ipynb")


@pytest.fixture(scope="module")
def page(notebook):
    return document_html(read_document(notebook))


@pytest.fixture(scope="module")
def parsed(page):
    parser = Nesting()
    parser.feed(page)
    assert parser.open == []
    return parser


def test_names_inside_the_page_are_unique(parsed):
    assert len(parsed.ids) == len(set(parsed.ids))


def test_every_reference_arrives(parsed):
    inner = [link[1:] for link in parsed.links if link.startswith("#")]
    assert inner
    assert set(inner) <= set(parsed.ids)


def test_page_needs_no_other_file(page, parsed):
    outer = [link for link in parsed.links if not link.startswith("#")]
    assert outer == ["https://example.org/a?b=1&c=2"]
    assert not re.search(r"<script|<link|@import", page)
    assert all(source.startswith("data:") for source in re.findall(r"src: url\((.{5})", page))


def test_drawings_take_the_colours_of_the_page(page):
    drawings = "".join(re.findall(r"<svg role.*?</svg>", page, flags=re.DOTALL))
    assert "var(--ink)" in drawings
    assert not re.search(r'style="[^"]*(#1b1f24|#000000|#ffffff)', drawings)
    assert "<style" not in drawings


def test_every_drawing_is_told_in_words(page, notebook):
    blocks = read_document(notebook)["blocks"]
    drawings = re.findall(r'<svg role="img" aria-label="([^"]+)"', page)
    assert len(drawings) == sum(block["kind"] == "figure" for block in blocks) == 4


def test_names_keep_their_own_letters(parsed):
    text = "".join(parsed.text)
    # Browsers have faces for what the PDF must spell out.
    for name in ("Salt_5 $x$", "水木 <b>", "אלון", "Elm & co", "Fir 🌲"):
        assert name in text


def test_page_and_pdf_come_of_one_document(notebook, tmp_path, page):
    paths = render_report(notebook, tmp_path, html=True)
    assert [path.name for path in paths] == ["report.pdf", "report.html"]
    assert paths[1].read_text(encoding="utf-8") == page


def test_every_shape_of_mark_has_a_drawing():
    assert {*_POLYGONS, "circle"} == set(SHAPES.values())


def test_piece_in_a_notebook_shows_as_html():
    table = provenance.mix_table(invented_results())
    bundle = table._repr_mimebundle_()
    assert "<caption>The mixes</caption>" in bundle["text/html"]
    plain = bundle["text/html"].replace('style="text-align: left" ', "")
    assert plain == block_html(table.to_json())
    # A notebook sets cells to the right unless they say where.
    assert bundle["text/html"].count("text-align: left") == plain.count('class="left')
    assert "Alder" in bundle["text/plain"]
