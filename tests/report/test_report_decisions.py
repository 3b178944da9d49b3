import dataclasses
import io
from functools import cache

import pypdf
import pytest

from tests.report.decided import decided
from tests.report.invented import invented_results
from tests.report.notebooks import executed
from trialkit.report import cover, decision_tables, decisions, robustness, verdicts
from trialkit.report.document import read_document
from trialkit.report.render import document_pdf

FIGURES = [
    decisions.claims_figure,
    decisions.comparison_figure,
    decisions.rank_figure,
    robustness.sensitivity_figure,
    robustness.agreement_figure,
    robustness.plan_figure,
]
TABLES = [
    decision_tables.claims_table,
    decision_tables.comparison_table,
    decision_tables.rank_table,
    decision_tables.sensitivity_table,
    decision_tables.agreement_table,
    decision_tables.balance_table,
]


@pytest.fixture(scope="module")
def results():
    return decided(invented_results())


@cache
def drawn(draw):
    return draw(decided(invented_results()))


@pytest.mark.parametrize("draw", FIGURES)
def test_second_drawing_has_the_same_bytes(draw, results):
    assert draw(results).svg == drawn(draw).svg


@pytest.mark.parametrize("draw", FIGURES)
def test_drawing_has_words_and_a_note(draw):
    block = drawn(draw)
    assert len(block.alt) > 40
    assert block.note.endswith(".")


def test_labels_are_unique(results):
    labels = [drawn(draw).label for draw in FIGURES] + [make(results).label for make in TABLES]
    assert len(labels) == len(set(labels))


def test_pieces_are_typeset_together(results, tmp_path):
    cells = ["# T", "## One", *map(drawn, FIGURES), *(make(results) for make in TABLES)]
    pdf = document_pdf(read_document(executed(cells, tmp_path / "n.ipynb")))
    text = "\n".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(pdf)).pages)
    for words in ("Figure 6.", "Table 6.", "Alder in two hours", "not shown different"):
        assert words in text


def test_claim_on_a_ratio_is_in_the_table_and_not_on_the_axis(results):
    assert "Alder before Birch" not in drawn(decisions.claims_figure).svg
    last = decision_tables.claims_table(results).rows[-1]
    assert last[0] == "Alder before Birch"
    assert last[2:] == ("ratio of times, Alder to Birch", "0.70 (0.40 to 1.2)", "below 1")


def test_claim_on_a_mix_that_never_cleared(results):
    row = decision_tables.claims_table(results).rows[1]
    assert row[3:] == ("not reached (above 25)", "within 12 h")


def test_pair_with_a_mix_that_never_cleared_has_one_limit(results):
    rows = decision_tables.comparison_table(results).rows
    row = next(row for row in rows if row[:2] == ("Alder", "Hazel"))
    assert row[2:5] == ("under 0.12", "under 0.12", "under 0.001")
    assert row[-1] == "Alder clears sooner"


def test_all_pairs_of_few_mixes_are_listed(results):
    assert len(decision_tables.comparison_table(results).rows) == 15


def test_of_many_mixes_only_pairs_shown_different_are_listed():
    table = decision_tables.comparison_table(decided(invented_results(30, 3)))
    assert all("clears sooner" in row[-1] for row in table.rows)
    left_out = 435 - len(table.rows)
    assert f"{left_out} pairs not shown different are left out." in table.note


def test_nobody_is_called_the_same(results):
    told = " ".join(map(str, [drawn(draw).alt + drawn(draw).note for draw in FIGURES]))
    told += " ".join(make(results).note for make in TABLES)
    assert "not shown different" in told
    assert "the same as" not in told
    assert "equal to" not in told


def test_cover_says_what_is_shown_of_the_first(results):
    sentence = cover.answer(results).sentence
    assert "It was shown to clear sooner than Elm, Fir and Hazel" in sentence
    assert "not shown different from Birch and Cedar." in sentence


@pytest.mark.parametrize(
    ("mix", "words"),
    [
        ("M06", "It was shown to clear later than every other mix."),
        (
            "M04",
            "It was shown to clear sooner than Hazel, shown to clear later than Alder and not "
            "shown different from Birch, Cedar and Fir.",
        ),
    ],
)
def test_pairs_are_told_from_either_side(results, mix, words):
    assert verdicts.answer_to_pairs(results, mix) == words


def test_one_pair_is_not_every_other_mix():
    two = decided(invented_results(2, 4))
    assert verdicts.answer_to_pairs(two, "M01") == "It was shown to clear sooner than Birch."


def test_readings_on_time(results):
    assert "100% within 5 minutes of the plan" in drawn(robustness.plan_figure).alt
    late = results["verdicts"].assign(elapsed_h=results["verdicts"]["elapsed_h"] + 0.2)
    tables = {**results.tables, "verdicts": late}
    alt = robustness.plan_figure(dataclasses.replace(results, tables=tables)).alt
    assert "0% within 5 minutes of the plan, at most 12 minutes off" in alt


def test_balance_has_a_row_a_quantity(results):
    assert decision_tables.balance_table(results).rows == [
        ("temperature", "C", "0.95", "no imbalance shown")
    ]


@pytest.mark.parametrize("make", [*FIGURES, *TABLES])
@pytest.mark.parametrize("state", ["absent", "empty"])
def test_question_not_asked_gets_a_sentence(make, state, results):
    plain = invented_results()
    if state == "empty":
        plain = dataclasses.replace(plain, tables={n: t[:0] for n, t in results.tables.items()})
    else:
        tables = {n: t for n, t in plain.tables.items() if n != "verdicts"}
        plain = dataclasses.replace(plain, tables=tables)
    said = make(plain)
    assert said.text.endswith(".")
    assert said.label == make(results).label


def test_reference_to_what_is_absent_keeps_its_words(tmp_path):
    absent = decisions.claims_figure(invented_results())
    cells = ["# T", "## One\n\nSee [the picture](#claims-figure).", absent]
    document = read_document(executed(cells, tmp_path / "n.ipynb"))
    assert document["blocks"][1]["body"][1] == {
        "kind": "text",
        "label": "claims-figure",
        "body": [{"kind": "text", "text": "the picture"}],
        "text": "the picture",
    }
    assert [block["kind"] for block in document["blocks"]] == ["heading", "paragraph", "paragraph"]


def test_no_comparison_is_said_once(results):
    pairs = results["comparisons"].assign(verdict="no comparison")
    tables = {**results.tables, "comparisons": pairs}
    said = verdicts.answer_to_pairs(dataclasses.replace(results, tables=tables), "M01")
    assert said == "With these vessels no mix can be told from another."
