"""Names that mean something to a program: literal in every form of a report."""

import re
from html import unescape
from html.parser import HTMLParser

import pytest

from tests.report.notebooks import executed, shown
from tests.report.poppler import pdf_text
from tests.report.weighed import changed, weighed
from trialkit.report import cover, curves, figures, prose, tables
from trialkit.report.claim_words import claims_words
from trialkit.report.decision_words import comparison_words
from trialkit.report.decisions import rank_figure
from trialkit.report.definition_words import sensitivity_words
from trialkit.report.document import read_document
from trialkit.report.page import document_html
from trialkit.report.pair_table import comparison_table
from trialkit.report.render import document_pdf

LONG = "W" * 60
NAMES = [r"$\frac{$", "_x", "<script>", '#read("x")', "=cmd|x", LONG]
FIGURES = [figures.vessel_figure, figures.strip_figure, curves.forest_figure, rank_figure]
TEXTS = [prose.findings, claims_words, comparison_words, sensitivity_words]
TABLES = [tables.times_table, comparison_table]


@pytest.fixture(scope="module")
def results():
    titled = changed(weighed(), "mixes", name=NAMES)
    titled.meta.update(title=" ".join(NAMES))
    return titled


@pytest.fixture(scope="module")
def document(results, tmp_path_factory):
    pieces = [make(results) for make in (cover.answer, *FIGURES, *TEXTS, *TABLES)]
    cells = ["# Which?", "## One", *pieces]
    return read_document(executed(cells, tmp_path_factory.mktemp("odd") / "n.ipynb"))


class Words(HTMLParser):
    """What a browser shows, and which elements it makes."""

    def __init__(self, page):
        super().__init__()
        self.words, self.tags = [], set()
        self.feed(page)

    def handle_starttag(self, tag, attrs):
        self.tags.add(tag)

    def handle_data(self, data):
        self.words.append(data)


@pytest.mark.parametrize("draw", FIGURES)
def test_drawing_holds_the_names(draw, results):
    found = [unescape(text) for text in re.findall(r">([^<>]+)</text>", draw(results).svg)]
    assert set(NAMES) - {LONG} <= set(found)
    assert any(re.fullmatch("W+…W+", text) for text in found)


def test_pdf_holds_the_names(document):
    text = pdf_text(document_pdf(document))
    # Title, cover, drawings, words, tables; a drawing has no room for the long one.
    for name in NAMES:
        assert text.count(name) >= (8 if name == LONG else 12), name
    assert not re.search(r"\\[_$#<=\\]", text)


def test_page_holds_the_names(document):
    page = Words(document_html(document))
    text = "".join(page.words)
    for name in NAMES:
        assert text.count(name) >= 8, name
    assert "script" not in page.tags
    assert not re.search(r"\\[_$#<=\\]", text)


@pytest.mark.parametrize("make", [*TABLES, cover.answer, *FIGURES])
def test_notebook_shows_the_names(make, results):
    page = Words(shown(make(results))["data"]["text/html"])
    assert "script" not in page.tags
    assert set(NAMES[:5]) <= {word.strip() for word in page.words}
