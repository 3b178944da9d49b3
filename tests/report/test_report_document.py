import json

import pytest

from tests.report.invented import invented_results
from tests.report.notebooks import executed
from trialkit.report import cover, curves, figures, provenance, tables
from trialkit.report.blocks import Prose
from trialkit.report.document import ReportError, read_document
from trialkit.report.markdown import MarkdownError, escape, parse_markdown, plain_text


@pytest.fixture(scope="module")
def results():
    return invented_results()


def output(kind, **parts):
    return [{"output_type": kind, **parts}]


def refusal(cells, path):
    with pytest.raises(ReportError) as caught:
        read_document(executed(cells, path / "n.ipynb"))
    return str(caught.value)


@pytest.mark.parametrize(
    ("cell", "words"),
    [
        (output("stream", name="stdout", text="hello\nthere"), "text written to stdout"),
        (output("stream", name="stderr", text=["FutureWarning: x"]), "FutureWarning: x"),
        (output("error", ename="KeyError", evalue="'a'"), "it ended in KeyError: 'a'"),
        (output("display_data", data={"image/png": "x"}), "an output of type image/png"),
        (output("execute_result", data={"text/plain": "3"}), "tag the cell screen-only"),
        ("![a](b.png)", "image is not printed"),
        ("<b>bold</b> move", "inline html is not printed"),
        ("<div>\n\nx\n\n</div>", "HTML is not printed: <div>"),
        (r"so $\sigma^2$ it is", "formulas are not printed"),
        ("$$x$$", "formulas are not printed"),
        ("see [it](#nowhere)", "nothing is labelled 'nowhere'"),
        ("#### deep", "headings go down to ### only"),
        ("### first", "before the first ## heading"),
    ],
)
def test_what_cannot_be_printed_is_refused_with_its_cell(cell, words, tmp_path):
    message = refusal(["# Title", cell], tmp_path)
    assert message.startswith("cell 2: ")
    assert words in message


def test_cell_put_in_by_the_run_is_not_counted(tmp_path):
    path = executed(["# Title", [], "![a](b.png)"], tmp_path / "n.ipynb")
    held = json.loads(path.read_text(encoding="utf-8"))
    held["cells"][1]["metadata"]["tags"] = ["injected-parameters"]
    path.write_text(json.dumps(held), encoding="utf-8")
    with pytest.raises(ReportError, match=r"^cell 2: image"):
        read_document(path)


def test_cell_for_the_screen_only_is_left_out(tmp_path):
    path = executed(["# Title", "![a](b.png)"], tmp_path / "n.ipynb")
    held = json.loads(path.read_text(encoding="utf-8"))
    held["cells"][1]["metadata"]["tags"] = ["screen-only"]
    path.write_text(json.dumps(held), encoding="utf-8")
    assert read_document(path)["blocks"] == []


def test_label_used_twice_is_refused(results, tmp_path):
    table = provenance.mix_table(results)
    assert "'mixes' is used twice" in refusal(["# T", table, table], tmp_path)


def test_second_cover_is_refused(results, tmp_path):
    answer = cover.answer(results)
    assert "a second answer; the first is in cell 1" in refusal([answer, answer], tmp_path)


def test_numbers_run_through_the_document(results, tmp_path):
    cells = [
        "# Question?",
        cover.answer(results),
        "## One\n\nSee [it](#times) and [that](#curves).",
        figures.vessel_figure(results),
        "## Two\n\n### Part\n\n### Other",
        provenance.mix_table(results),
        curves.curve_figure(results),
        tables.times_table(results),
    ]
    document = read_document(executed(cells, tmp_path / "n.ipynb"))
    assert document["title"] == "Harbour culture room: six blends"
    assert document["question"] == "Question?"
    numbers = [block["number"] for block in document["blocks"] if "number" in block]
    assert numbers == ["1", "Figure 1", "2", "2.1", "2.2", "Table 1", "Figure 2", "Table 2"]
    refs = [part for part in document["blocks"][1]["body"] if part["kind"] == "ref"]
    assert [ref["text"] for ref in refs] == ["Table 2", "Figure 2"]


def test_computed_sentences_are_markdown(tmp_path):
    path = executed([Prose("## A\n\n*b*")], tmp_path / "n.ipynb")
    kinds = [block["kind"] for block in read_document(path)["blocks"]]
    assert kinds == ["heading", "paragraph"]


def test_footnotes_lists_and_tables_keep_their_words():
    blocks = parse_markdown(
        "A[^1] &amp; B\n\n3. three\n   - deep\n\n[^1]: Foot *note*.\n\n| a | b |\n|---|--:|\n"
        "| x | **1** |\n\n> said\n\n```\ncode\n```\n\n---\n\n<!-- pagebreak -->"
    )
    kinds = [block["kind"] for block in blocks]
    assert kinds == ["paragraph", "list", "table", "quote", "code", "rule", "pagebreak"]
    note = blocks[0]["body"][1]
    assert note["kind"] == "footnote"
    assert plain_text(note["body"]) == "Foot note."
    assert plain_text(blocks[0]["body"]) == "A & B"
    assert blocks[1]["start"] == 3
    assert [column["align"] for column in blocks[2]["columns"]] == ["left", "right"]


@pytest.mark.parametrize(
    "name", ["a_b_c", "*x*", "[x](y)", "$5", "1. x", "# x", "a|b", "&amp;", "<b>", "~~x~~", "`x`"]
)
def test_escaped_names_come_back_as_they_were(name):
    assert plain_text(parse_markdown(escape(name))[0]["body"]) == name


def test_dollar_signs_of_prices_are_no_formula():
    text = "between $3 and $5 a kilogram"
    assert plain_text(parse_markdown(text)[0]["body"]) == text


def test_footnote_with_a_list_is_refused():
    with pytest.raises(MarkdownError, match="a footnote holds paragraphs only"):
        parse_markdown("A[^1]\n\n[^1]: x\n\n    - y\n")
