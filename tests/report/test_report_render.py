import dataclasses
import io
import os
import subprocess
import sys
import time
from pathlib import Path

import pypdf
import pytest

from tests.report.invented import invented_results
from tests.report.notebooks import executed
from trialkit.report import cover, curves, figures, methods, prose, provenance, tables
from trialkit.report.blocks import Column, Table
from trialkit.report.document import ReportError, read_document
from trialkit.report.render import document_pdf, render_report

NAMES = ["Salt_5 $x$", "Δrys Ωmega", "ꦱꦏ", "水木", "Fir 🌲", "Żółw & <co>"]


def cells_of(results):
    return [
        "# Which mix is clear, and when?",
        cover.answer(results),
        "## Vessels\n\nSee [it](#vessels). A note[^1].\n\n[^1]: Small *print*.",
        prose.findings(results),
        figures.vessel_figure(results),
        figures.strip_figure(results),
        "## Curves",
        curves.curve_figure(results),
        tables.at_risk_table(results),
        curves.forest_figure(results),
        tables.times_table(results),
        prose.reading_guide(results),
        "## Limits",
        prose.limits(results),
        methods.methods(results),
        provenance.criteria_table(results),
        tables.fit_table(results),
        provenance.mix_table(results),
        provenance.problem_table(results),
        provenance.input_table(results),
        provenance.version_table(results),
    ]


@pytest.fixture(scope="module")
def notebook(tmp_path_factory):
    folder = tmp_path_factory.mktemp("report")
    return executed(cells_of(invented_results()), folder / "n.ipynb")


@pytest.fixture(scope="module")
def pdf(notebook):
    return document_pdf(read_document(notebook))


@pytest.fixture(scope="module")
def reader(pdf):
    return pypdf.PdfReader(io.BytesIO(pdf))


@pytest.fixture(scope="module")
def text(reader):
    return "\n".join(page.extract_text() for page in reader.pages)


def test_second_rendering_has_the_same_bytes(notebook, pdf, tmp_path):
    # In another folder, another time zone, another working folder.
    other = tmp_path / "elsewhere"
    other.mkdir()
    copy = other / "copy.ipynb"
    copy.write_bytes(notebook.read_bytes())
    code = "import sys; from trialkit.report.render import render_report as r; r(*sys.argv[1:])"
    environment = {**os.environ, "TZ": "Pacific/Auckland", "PYTHONPATH": str(Path.cwd())}
    command = [sys.executable, "-W", "ignore", "-c", code, str(copy), str(other)]
    subprocess.run(command, cwd=other, env=environment, check=True)
    assert (other / "report.pdf").read_bytes() == pdf


def test_pdf_declares_both_standards(pdf):
    # ISO 14289-1 (PDF/UA-1) and ISO 19005-2 level A name themselves in the XMP packet.
    assert b"<pdfuaid:part>1</pdfuaid:part>" in pdf
    assert b"<pdfaid:part>2</pdfaid:part>" in pdf
    assert b"<pdfaid:conformance>A</pdfaid:conformance>" in pdf


def test_pdf_is_tagged_titled_and_in_english(reader):
    root = reader.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"]
    assert root["/Lang"].startswith("en")
    assert reader.metadata.title == "Harbour culture room: six blends"
    assert str(reader.metadata.creation_date.date()) == "2031-04-02"


def test_every_font_is_inside(reader):
    fonts = {}
    for page in reader.pages:
        for name, font in page["/Resources"].get("/Font", {}).items():
            fonts[name] = font.get_object()["/DescendantFonts"][0].get_object()
    assert fonts
    for font in fonts.values():
        descriptor = font["/FontDescriptor"].get_object()
        assert {"/FontFile2", "/FontFile3"} & set(descriptor)


def test_figures_are_drawn_not_photographed(reader):
    assert not any(page.images for page in reader.pages)


def structure(node, kind):
    """Every element of that kind below a node of the tag tree."""
    found = [node] if node.get("/S") == kind else []
    below = node.get("/K", [])
    for child in below if isinstance(below, list) else [below]:
        child = child.get_object()
        if isinstance(child, dict):
            found += structure(child, kind)
    return found


def test_every_figure_is_told_in_words(reader):
    tree = reader.trailer["/Root"]["/StructTreeRoot"]
    told = [figure.get("/Alt", "") for figure in structure(tree, "/Figure")]
    assert len(told) == 4
    assert all("Alder" in alt or "clarity" in alt for alt in told)


def test_tables_have_heads(reader):
    tree = reader.trailer["/Root"]["/StructTreeRoot"]
    for table in structure(tree, "/Table"):
        assert structure(table, "/TH")


def test_answer_is_on_the_first_page(reader):
    first = " ".join(reader.pages[0].extract_text().split())
    assert "Alder had the shortest typical time until fully clear" in first
    assert "not reached; above 25 h" in first


def test_pages_are_numbered_of_how_many(reader):
    count = len(reader.pages)
    for number, page in enumerate(reader.pages, start=1):
        assert f"Page {number} of {count}" in page.extract_text()


def test_text_of_figures_can_be_searched(text):
    for words in ("Hours since mixing began", "cloudy again at 16 h", "end of watching"):
        assert words in text


def test_references_and_captions_carry_numbers(text):
    assert "See Figure 1." in text
    assert "Figure 4. Typical and assured time until fully clear." in text
    assert "Table 2. Typical and assured times until fully clear" in text


def test_letter_paper(notebook, tmp_path):
    (path,) = render_report(notebook, tmp_path, paper="us-letter")
    box = pypdf.PdfReader(path).pages[0].mediabox
    assert (round(float(box.width)), round(float(box.height))) == (612, 792)


def test_unknown_paper_is_refused(notebook, tmp_path):
    with pytest.raises(ValueError, match="paper must be one of a4, us-letter; got 'a3'"):
        render_report(notebook, tmp_path, paper="a3")


def test_refused_notebook_leaves_no_report(tmp_path):
    notebook = executed(["# T", "![a](b)"], tmp_path / "n.ipynb")
    with pytest.raises(ReportError, match="cell 2"):
        render_report(notebook, tmp_path)
    assert not (tmp_path / "report.pdf").exists()


def test_names_in_other_scripts_are_printed_or_spelled_out(tmp_path):
    results = invented_results(names=NAMES)
    notebook = executed([cover.answer(results), figures.vessel_figure(results)], tmp_path / "n")
    reader = pypdf.PdfReader(io.BytesIO(document_pdf(read_document(notebook))))
    text = "\n".join(page.extract_text() for page in reader.pages)
    for name in ("Salt_5 $x$", "Δrys Ωmega", "水木", "Fir 🌲", "Żółw & <co>"):
        assert text.count(name) >= 2, name
    assert "[U+A9B1][U+A98F]" in text
    assert "U+A9B1 javanese letter sa" in " ".join(text.split())


def test_long_table_repeats_its_head(tmp_path):
    results = invented_results(30, 1)
    frame = results["intervals"].loc[[i % 30 for i in range(90)]]
    table = tables.frame_table(frame, "x", "Many rows", columns=["vessel", "left_h", "right_h"])
    notebook = executed(["# Long", table], tmp_path / "n.ipynb")
    pages = pypdf.PdfReader(io.BytesIO(document_pdf(read_document(notebook)))).pages
    assert len(pages) > 1
    assert all("Not clear at, h" in page.extract_text() for page in pages)


def test_contents_when_long(notebook, tmp_path):
    many = [f"## Part {n}\n\n<!-- pagebreak -->" for n in range(1, 9)]
    document = read_document(executed(["# Long", *many], tmp_path / "n.ipynb"))
    first = pypdf.PdfReader(io.BytesIO(document_pdf(document))).pages[0].extract_text()
    assert "Contents" in first


def test_typesetting_takes_little(notebook):
    start = time.process_time()
    document_pdf(read_document(notebook))
    assert time.process_time() - start < 5


def test_wide_table_turns_its_page(tmp_path):
    frame = invented_results()["intervals"]
    columns = ["vessel", "left_h", "right_h"]
    table = tables.frame_table(frame, "x", "Wide", columns=columns)
    wide = dataclasses.replace(table, wide=True)
    notebook = executed(["# Wide", "Before.", wide, "After."], tmp_path / "n.ipynb")
    pages = pypdf.PdfReader(io.BytesIO(document_pdf(read_document(notebook)))).pages
    turned = [page.mediabox.width > page.mediabox.height for page in pages]
    assert turned == [False, True, False]


def pages_turned(notebook):
    pages = pypdf.PdfReader(io.BytesIO(document_pdf(read_document(notebook)))).pages
    return [bool(page.mediabox.width > page.mediabox.height) for page in pages]


@pytest.mark.parametrize(("readers", "turned"), [(3, [False]), (9, [False, True, False])])
def test_a_table_turns_its_page_when_its_columns_need_it(tmp_path, readers, turned):
    heads = [Column("Mix"), *(Column(f"R{i:02} alone, h", "right") for i in range(readers))]
    rows = [["Alder", *["not reached (0 of 4)"] * readers]] * 3
    table = Table("alone", "What one rater alone would have found", heads, rows)
    cells = ["# Wide", "Before.", table, "After."]
    assert pages_turned(executed(cells, tmp_path / "n.ipynb")) == turned
