import dataclasses

import pandas as pd
import pytest

from tests.report.invented import invented_results
from trialkit.report import cover, methods, prose, provenance, tables
from trialkit.report.columns import COLUMNS, PRINTERS, print_cell
from trialkit.report.words import answer_sentence

INF = float("inf")


@pytest.fixture(scope="module")
def results():
    return invented_results()


def test_every_column_of_the_glossary_can_be_printed():
    for name, column in COLUMNS.items():
        assert column.header, name
        assert column.kind in PRINTERS, name


def test_every_column_of_the_results_is_in_the_glossary(results):
    for table in results.tables.values():
        assert set(table.columns) <= set(COLUMNS)


def test_unknown_column_is_refused():
    with pytest.raises(KeyError, match="ci_upper"):
        tables.frame_table(pd.DataFrame({"ci_upper": [1]}), "x", "X", columns=["ci_upper"])


@pytest.mark.parametrize("kind", ["hours", "number", "count", "share", "p", "text"])
def test_missing_values_print_as_missing(kind):
    assert PRINTERS[kind](float("nan")) in ("–", "")


def test_cover_has_a_row_a_mix_fastest_first(results):
    rows = cover.answer(results).table.rows
    assert rows[0] == ("Alder", "4 of 4", "1.2 h", "0.79 to 1.8", "3.5 h")
    assert [row[0] for row in rows] == ["Alder", "Birch", "Cedar", "Elm", "Fir", "Hazel"]


def test_mix_that_never_cleared_is_not_reached(results):
    last = cover.answer(results).table.rows[-1]
    assert last == ("Hazel", "0 of 4", "not reached; above 25 h", "–", "not reached; above 25 h")


def test_time_without_an_upper_limit_is_no_number(results):
    times = results["times"].copy()
    times.loc[(times["mix"] == "M01") & (times["term"] == "assured time"), "conf_high"] = INF
    changed = dataclasses.replace(results, tables={**results.tables, "times": times})
    assert cover.answer(changed).table.rows[0][-1] == "no upper limit"


def test_clear_at_the_first_look_is_before_it(results):
    times = results["times"].copy()
    first = (times["mix"] == "M01") & (times["term"] == "typical time")
    times.loc[first, ["estimate", "conf_low", "conf_high"]] = [0.0, 0.0, 0.25]
    changed = dataclasses.replace(results, tables={**results.tables, "times": times})
    assert cover.answer(changed).table.rows[0][2] == "before the first reading; under 0.25 h"
    assert "before the first reading" in answer_sentence(changed)


def test_sentence_when_nothing_cleared():
    results = invented_results(1, 3)
    assert answer_sentence(results) == (
        "No mix came fully clear in half of its batches within 30 h."
    )


def test_sentence_gives_time_limits_and_the_time_to_mix(results):
    assert answer_sentence(results) == (
        "Alder had the shortest typical time until fully clear, about 1.2 h (95% limits: 0.79 to "
        "1.8 h); mixed for 3.5 h, at least 9 batches in 10 of it should be fully clear. Hazel was "
        "not fully clear in any vessel within 30 h."
    )


def test_vessels_at_risk_add_up(results):
    table = tables.at_risk_table(results)
    assert len(table.columns) == 9
    # The lost vessel of Birch may have been clear or not from 3 h on.
    assert table.rows[1] == ("Birch", "4", "4", "1", *["0 to 1"] * 5)


def test_no_warnings_make_a_sentence(results):
    nothing = {**results.tables, "problems": results["problems"][:0]}
    said = provenance.problem_table(dataclasses.replace(results, tables=nothing))
    assert said.text == "The check of the trial folder found nothing to warn about."


def test_two_mixes_of_one_name_carry_their_codes():
    rows = cover.answer(invented_results(names=["Oak"])).table.rows
    assert rows[0][0] == "Oak (M01)"


def test_mix_without_a_name_is_called_by_its_code(results):
    mixes = results["mixes"].assign(name=None)
    nameless = dataclasses.replace(results, tables={**results.tables, "mixes": mixes})
    assert cover.answer(nameless).table.rows[0][0] == "M01"


def test_unknown_criterion_is_refused(results):
    with pytest.raises(ValueError, match="criterion must be one of fully clear; got 'taste'"):
        cover.answer(results, criterion="taste")


def test_findings_tell_lost_and_clouded_vessels(results):
    text = prose.findings(results).text
    assert "1 of them cloudy again later" in text
    assert "One vessel was lost before the end: K21 (Birch) at 3.0 h." in text


def test_limits_say_when_a_time_lies_beyond_the_watch(results):
    times = results["times"].copy()
    times.loc[(times["mix"] == "M05") & (times["term"] == "assured time"), "conf_high"] = 44.0
    changed = dataclasses.replace(results, tables={**results.tables, "times": times})
    assert "The assured time of Fir lies beyond the 30 h" in prose.limits(changed).text
    assert "beyond the 30 h" not in prose.limits(results).text


def test_limits_of_single_vessels():
    text = prose.limits(invented_results(5, 1)).text
    assert "tried in a single vessel" in text
    assert "All vessels stood in one block" in text


def test_guide_explains_with_the_numbers_of_the_trial(results):
    text = prose.reading_guide(results).text
    assert "For Alder it is 1.2 h" in text
    assert "does not mean that they are the same" in text


def test_many_problems_of_one_kind_are_counted(results):
    columns = ["file", "row", "column", "value", "level", "message", "fix"]
    kind = [
        ("readings.csv", row, "elapsed", "0.1 h", "warn", "far off", "Correct.")
        for row in range(2, 50)
    ]
    other = [("vessels.csv", 3, "lost_h", "", "note", "lost", "Nothing.")]
    told = dataclasses.replace(
        results, tables={**results.tables, "problems": pd.DataFrame(kind + other, columns=columns)}
    )
    table = provenance.problem_table(told)
    assert [row[2] for row in table.rows] == ["2", "3", "4", "–", "3"]
    assert "and 45 more of this kind" in table.rows[3]
    assert table.note == "All 49 stand in problems.csv."


def test_methods_name_their_sources(results):
    text = methods.methods(results).text
    for source in ("Turnbull BW (1976)", "Hurlbert SH (1984)", "Wilks SS (1941)"):
        assert source in text
    assert "log-normal accelerated failure-time model" in text


def test_names_are_not_read_as_markdown():
    text = prose.findings(invented_results(names=["*A*_b_ [x](y)"] * 1)).text
    assert r"\*A\*\_b\_ \[x\]\(y\)" in text


@pytest.mark.parametrize(("column", "value", "text"), [
    ("conf_level", 0.95, "95%"),
    ("lost_h", INF, "not reached"),
    ("converged", True, "yes"),
    ("bytes", 1234567, "1\u2009234\u2009567"),
])  # fmt: skip
def test_cells_print_by_the_kind_of_their_column(column, value, text):
    assert print_cell(column, value) == text


def test_time_without_any_limit(results):
    times = results["times"].copy()
    first = (times["mix"] == "M01") & (times["term"] == "typical time")
    times.loc[first, ["conf_low", "conf_high"]] = [0.0, INF]
    changed = dataclasses.replace(results, tables={**results.tables, "times": times})
    assert "about 1.2 h (these vessels set no limits)" in answer_sentence(changed)
    assert "it takes more than one a mix" in prose.reading_guide(changed).text
