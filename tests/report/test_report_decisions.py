import dataclasses
import io
from functools import cache

import pandas as pd
import pypdf
import pytest

from tests.report.decided import decided
from tests.report.invented import NAMES, invented_results
from tests.report.notebooks import executed
from trialkit.report import (
    cover,
    decision_tables,
    decisions,
    definition_table,
    pair_table,
    punctuality,
    rater_tables,
    verdicts,
)
from trialkit.report.document import read_document
from trialkit.report.render import document_pdf

FIGURES = [
    decisions.claims_figure,
    decisions.comparison_figure,
    decisions.rank_figure,
    punctuality.plan_figure,
]
TABLES = [
    decision_tables.claims_table,
    pair_table.comparison_table,
    decision_tables.rank_table,
    definition_table.sensitivity_table,
    rater_tables.agreement_table,
]

NOT_COMPARED = "no comparison"


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
    for words in ("Figure 4.", "Table 5.", "Alder in two hours", "not shown different"):
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
    rows = pair_table.comparison_table(results).rows
    row = next(row for row in rows if row[:2] == ("Hazel", "Alder"))
    # the drawn pair says under 0.12 the other way round: 1 / 0.12 = 8.3
    assert row[2:5] == ("above 8.3", "above 8.3", "under 0.001")
    assert row[-1] == "shown different"


def test_all_pairs_of_few_mixes_are_listed(results):
    assert len(pair_table.comparison_table(results).rows) == 15


def test_of_many_mixes_the_first_against_each_then_the_open_pairs_are_listed():
    results = decided(invented_results(30, 3))
    rows = pair_table.comparison_table(results).rows
    assert len(rows) == 60
    assert {name for row in rows[:29] for name in row[:2]} == set(NAMES)
    assert all("Alder" in row[:2] for row in rows[:29])
    assert {row[-1] for row in rows[29:]} == {"not shown different"}
    assert len({row[:2] for row in rows}) == 60


def test_pairs_without_a_row_are_counted():
    results = decided(invented_results(30, 3))
    table = pair_table.comparison_table(results)
    every = results["comparisons"]["verdict"].str.contains("sooner").sum()
    listed = sum(row[-1] == "shown different" for row in table.rows)
    # 30 * 29 / 2 pairs, 60 of them with a row
    assert f"375 more pairs stand in results.json, {every - listed} of them shown" in table.note


def test_pairs_nearest_the_front_are_listed_first():
    rows = pair_table.comparison_table(decided(invented_results(30, 3))).rows[29:]
    times = invented_results(30, 3)["times"]
    typical = times[times["term"] == "typical time"].set_index("mix")["estimate"]
    place = dict(zip(NAMES, typical[:30].rank(method="first"), strict=True))
    front = [min(place[row[0]], place[row[1]]) for row in rows]
    assert front == sorted(front)


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
    assert "100% within 5 minutes of the plan" in drawn(punctuality.plan_figure).alt
    late = results["verdicts"].assign(elapsed_h=results["verdicts"]["elapsed_h"] + 0.2)
    tables = {**results.tables, "verdicts": late}
    alt = punctuality.plan_figure(dataclasses.replace(results, tables=tables)).alt
    assert "0% within 5 minutes of the plan, at most 13 minutes off" in alt


def test_readings_on_the_minute_need_no_picture(results):
    planned = pd.Series(results.meta["schedule_h"])
    times = results["verdicts"]["session"].map(planned)
    on_time = results["verdicts"].assign(elapsed_h=times)
    tables = {**results.tables, "verdicts": on_time}
    prose = punctuality.plan_figure(dataclasses.replace(results, tables=tables))
    assert prose.text == "Every reading is noted at the minute that was planned."


def test_nothing_is_ranked_where_nothing_was_compared(results):
    bare = changed(results, "comparisons", verdict=NOT_COMPARED)
    makers = (decisions.comparison_figure, decisions.rank_figure)
    for make in (*makers, pair_table.comparison_table, decision_tables.rank_table):
        assert not hasattr(make(bare), "rows")
        assert not hasattr(make(bare), "svg")


def test_one_pair_needs_no_square_and_no_ranks():
    two = decided(invented_results(2, 4))
    assert decisions.comparison_figure(two).label == "pairs-figure"
    assert not hasattr(decisions.comparison_figure(two), "svg")
    assert not hasattr(decisions.rank_figure(two), "svg")
    assert len(pair_table.comparison_table(two).rows) == 1


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
    # what stands in for it is for the screen
    assert [block["kind"] for block in document["blocks"]] == ["heading", "paragraph"]


def test_agreement_of_several_pairs_names_them(results):
    table = results["agreement"]
    other = table.assign(rater="R01, R03")
    three = dataclasses.replace(
        results, tables={**results.tables, "agreement": pd.concat([table, other])}
    )
    assert {row[1] for row in rater_tables.agreement_table(three).rows} == {"R01, R02", "R01, R03"}
    assert "Raters" not in [c.header for c in rater_tables.agreement_table(results).columns]


def test_no_square_is_drawn_of_pairs_without_a_limit(results):
    bare = changed(results, "comparisons", verdict="no comparison")
    assert decisions.comparison_figure(bare).label == "pairs-figure"
    assert not hasattr(decisions.comparison_figure(bare), "svg")


def changed(results, table, **columns):
    tables = {**results.tables, table: results[table].assign(**columns)}
    return dataclasses.replace(results, tables=tables)


def test_pairs_not_compared_are_counted_apart(results):
    verdict = results["comparisons"]["verdict"].copy()
    left_open = (verdict == "not shown different").sum()
    mixed = changed(results, "comparisons", verdict=verdict.where(verdict.index > 0, NOT_COMPARED))
    alt = verdicts.comparison_alt(mixed)
    assert alt.startswith("15 pairs of mixes. Alder was shown")
    assert alt.endswith(
        f"{left_open - 1} pairs were not shown different. "
        "1 pair was not compared: the data set no limit."
    )
    none = verdicts.comparison_alt(changed(results, "comparisons", verdict=NOT_COMPARED))
    assert none == "15 pairs of mixes. 15 pairs were not compared: the data set no limit."
    assert "not compared" not in verdicts.comparison_alt(results)


def test_answer_tells_what_was_not_compared_apart(results):
    verdict = results["comparisons"]["verdict"].copy()
    verdict[0] = NOT_COMPARED
    said = verdicts.answer_to_pairs(changed(results, "comparisons", verdict=verdict), "M01")
    assert "not shown different from Cedar and not compared with Birch, to which no ratio" in said


def test_claim_without_any_limit_has_none_in_words(results):
    bare = changed(results, "claims", conf_low=0.0, conf_high=float("inf"))
    alt = verdicts.claim_alt(bare)
    assert "Alder in two hours: supported, no limit, claimed 2.0 h." in alt
    assert "limit h" not in alt
    assert "Hazel overnight: contradicted, limits above 25 h, claimed 12 h." in verdicts.claim_alt(
        results
    )


def test_least_p_is_told_as_it_is(results):
    # 1 of the 8 ways to permute: a p of 0.125 is no 0.12.
    assert "it can't be below 0.125." in pair_table.comparison_table(results).note


def test_no_comparison_is_said_once(results):
    pairs = results["comparisons"].assign(verdict="no comparison")
    tables = {**results.tables, "comparisons": pairs}
    said = verdicts.answer_to_pairs(dataclasses.replace(results, tables=tables), "M01")
    assert said == "With these vessels no mix can be told from another."
