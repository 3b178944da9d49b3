import dataclasses
import io

import pypdf
import pytest

from tests.report.invented import INF
from tests.report.notebooks import executed
from tests.report.weighed import changed, weighed, without
from trialkit.report.balance_words import balance_words
from trialkit.report.claim_words import claims_words
from trialkit.report.condition_table import conditions_table
from trialkit.report.decision_figures import claim_ratio_figure, ratio_figure
from trialkit.report.decision_words import comparison_words
from trialkit.report.definition_figure import definitions_figure
from trialkit.report.definition_words import sensitivity_words
from trialkit.report.document import read_document
from trialkit.report.rater_figures import rater_figure
from trialkit.report.rater_tables import rater_alone_table, rater_claims_table, rater_drift_table
from trialkit.report.rater_words import rater_words
from trialkit.report.render import document_pdf

WORDS = {
    claims_words: "claims",
    comparison_words: "comparisons",
    sensitivity_words: "sensitivity",
    rater_words: "agreement",
    balance_words: "balance",
}
TABLES = {
    rater_alone_table: "rater_times",
    rater_claims_table: "rater_claims",
    rater_drift_table: "rater_drift",
    conditions_table: "balance",
}


@pytest.fixture(scope="module")
def results():
    return weighed()


@pytest.mark.parametrize("empty", [True, False])
@pytest.mark.parametrize("make", [*WORDS, *TABLES])
def test_question_not_asked_gets_a_sentence(make, empty, results):
    table = {**WORDS, **TABLES}[make]
    said = make(without(results, table, empty=empty)).text
    assert said.endswith(".")
    assert "\n" not in said


@pytest.mark.parametrize("make", WORDS)
def test_nobody_is_called_the_same_or_by_a_code(make, results):
    text = make(results).text
    assert "the same as" not in text
    assert "equal to" not in text
    assert not any(mix in text.replace("M02 from", "") for mix in results["mixes"]["mix"])


def test_all_pieces_are_typeset_together(results, tmp_path):
    figures = [claim_ratio_figure, ratio_figure, definitions_figure, rater_figure]
    cells = ["# T", "## One", *(make(results) for make in [*WORDS, *figures, *TABLES])]
    pdf = document_pdf(read_document(executed(cells, tmp_path / "n.ipynb")))
    text = "\n".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(pdf)).pages)
    for words in ("Figure 4.", "Table 4.", "Not shown different", "A claim hangs on who looked"):
        assert words in text


def test_claims_are_counted_then_told_one_by_one(results):
    text = claims_words(results).text
    assert text.startswith("Of 3 claims 1 is supported, 1 is contradicted and 1 is not settled.")
    assert text.count("\n- ") == 3
    assert "is 1.2 h (95% limits: 0.80 to 1.8 h): all of that is within the 2 h" in text
    assert "is above 25 h: all of that is above the 12 h of the claim." in text
    assert "Alder to Birch, is 0.70 (0.40 to 1.2): that allows for either of them first." in text


def test_bound_beyond_the_window_is_the_models(results):
    assert "it is the model that speaks" not in claims_words(results).text
    low = [0.8, 40.0, 0.4]
    said = claims_words(changed(results, "claims", conf_low=low)).text
    assert said.count("Beyond the 30 h that were watched it is the model that speaks.") == 1


def test_claim_without_limits_is_not_given_a_number(results):
    one = dataclasses.replace(results, tables={**results.tables, "claims": results["claims"][:1]})
    said = claims_words(changed(one, "claims", conf_low=0.0, conf_high=INF, verdict="not settled"))
    assert said.text.startswith("The one claim of this trial is not settled.")
    assert "These vessels set no limits to the time by which" in said.text
    assert "1.2 h" not in said.text


def test_ratio_claim_against_the_claim(results):
    verdicts = ["supported", "contradicted", "contradicted"]
    said = claims_words(changed(results, "claims", verdict=verdicts)).text
    assert "all of that is above 1, against the claim." in said


def test_every_pair_is_told_once(results):
    text = comparison_words(results).text
    shown = results["comparisons"]["verdict"].str.contains("sooner")
    assert f"Of 15 pairs {shown.sum()} were shown different" in text
    lines = [line for line in text.splitlines() if line.startswith("- ")]
    assert sum(line.count("(") for line in lines) == shown.sum()
    left_open = next(line for line in text.splitlines() if line.startswith("Not shown different"))
    assert left_open.count(" against ") == 15 - shown.sum()
    assert "no evidence that they are alike" in left_open


def test_pairs_of_many_mixes_are_counted():
    results = weighed(30, 3)
    text = comparison_words(results).text
    shown = results["comparisons"]["verdict"].str.contains("sooner")
    ahead = shown[results["comparisons"]["mix_a"] == "M01"].sum()
    assert f"Of 435 pairs {shown.sum()} were shown different." in text
    assert f"Alder than {ahead}" in text
    assert f"Not shown different: {435 - shown.sum()} pairs." in text
    assert max(map(len, text.splitlines())) < 900


def test_overall_difference_is_told_first(results):
    assert comparison_words(results).text.startswith("**The mixes do differ in the time until")
    alike = changed(results, "comparisons", verdict="not shown different")
    alike = changed(alike, "overall", verdict="not shown", p_value=0.25)
    text = comparison_words(alike).text
    assert text.startswith("**The mixes were not shown to differ")
    assert "That is no evidence that they are alike." in text
    assert "could not have shown one" not in text
    weak = comparison_words(changed(alike, "overall", p_smallest=0.125)).text
    assert "could not have shown one: its p can't be below 0.125." in weak


def test_pairs_that_only_the_model_tells_apart_are_said_to_hang_on_it(results):
    found = changed(results, "overall", verdict="not shown", p_value=0.056)
    text = comparison_words(found).text
    assert text.startswith("**That the mixes differ in the time until fully clear hangs on the")
    assert "p 0.056" in text


def test_what_the_verdicts_rest_on(results):
    text = comparison_words(results).text
    assert "1 of the 8 rests on one assumption" in text
    assert "(Alder with Elm)" in text
    assert (
        "Blocks held equal, 1 verdict is another (Alder with Birch: Alder clears sooner)." in text
    )
    assert "its p can't be below 0.125." in text


def test_sound_verdicts_are_said_to_stand(results):
    sound = changed(results, "comparisons", p_own_scale=0.001, p_smallest=0.01)
    sound = changed(sound, "comparisons_in_blocks", verdict=results["comparisons"]["verdict"])
    text = comparison_words(sound).text
    assert "All of this stands as well" in text
    assert "Blocks held equal, every verdict stands." in text
    assert "needs no model" not in text


def test_one_vessel_a_mix_is_said_in_words(results):
    note = "one vessel a mix: a difference between mixes cannot be told from one between vessels"
    single = changed(results, "comparisons", verdict="no comparison", note=note)
    text = comparison_words(single).text
    assert text.startswith("**No mix can be told from another in this trial.** One vessel a mix:")
    assert "shown different" not in text


@pytest.mark.parametrize(
    ("verdict", "words"),
    [
        ("M01 clears sooner", "The one pair was shown different"),
        ("not shown different", "The one pair was not told apart."),
    ],
)
def test_one_pair_reads_as_one(verdict, words):
    assert words in comparison_words(changed(weighed(2, 4), "comparisons", verdict=verdict)).text


def test_order_of_the_mixes_is_told_for_each_criterion(results):
    clear, haze, _ = sensitivity_words(results).text.split("\n\n")
    assert "judged in 18 ways: the order of the mixes is the declared one in all 18." in clear
    assert "judged in 27 ways: the order of the mixes is another in 1 of the 27." in haze
    assert "Cedar and Elm change places, only with a tolerance of 0\\.15, 3 readings" in haze
    assert "Alder is first in every one." in haze


def test_midpoints_are_told_apart(results):
    clear = sensitivity_words(results, criterion="clarity").text.split("\n\n")[0]
    assert "which is known to mislead, that of Alder would move most" in clear
    grid = results["sensitivity"]
    no_foil = grid[grid["placement"] == "interval"]
    plain = dataclasses.replace(results, tables={**results.tables, "sensitivity": no_foil})
    assert "known bias" not in sensitivity_words(plain).text


def test_midpoints_have_no_vote_on_the_order(results):
    grid = results["sensitivity"]
    ranks = grid["rank"].where(grid["placement"] == "interval", 7 - grid["rank"])
    assert "in all 18." in sensitivity_words(changed(results, "sensitivity", rank=ranks)).text


def test_raters_are_told_plainly(results):
    text = rater_words(results).text
    assert text.startswith("**R01 and R02 made the same call, clear or not, in 93% of their 351")
    assert "A difference between R01 and R02 on average was not shown" in text
    assert "R01 alone would give 1 of 24 vessels another interval" in text
    assert "Birch 1.1 h instead of 1.3 h" in text
    assert "R02 alone finds “Alder in two hours” contradicted instead of supported." in text
    assert "R01 by −0.40 lines against the other raters" in text
    assert "on purified water" not in text


@pytest.mark.parametrize(("sign", "words"), [(1, "0.20 lines clearer"), (-1, "0.20 lines less")])
def test_who_saw_the_water_clearer(sign, words, results):
    table = results["agreement"].copy()
    mean = table["term"] == "mean difference"
    ends = [0.2 * sign, min(0.1 * sign, 0.3 * sign), max(0.1 * sign, 0.3 * sign)]
    table.loc[mean, ["estimate", "conf_low", "conf_high"]] = ends
    moved = dataclasses.replace(results, tables={**results.tables, "agreement": table})
    assert f"On average R01 saw the water {words}" in rater_words(moved).text


def test_no_drift_shown_is_no_evidence(results):
    still = changed(results, "rater_drift", conf_low=-1.0, conf_high=1.0)
    assert "That is no evidence that none does." in rater_words(still).text


def test_what_is_out_of_balance_comes_first_with_its_mix(results):
    text = balance_words(results).text
    assert text.startswith(
        "**The mixes stood unequal in temperature.** Hazel stood at 24 °C (vessels: 23.9 to 24.1), "
        "the others at 21.5 °C."
    )
    assert "No imbalance was shown in: mixed salinity" in text
    assert "Birch from block B04" in text


def test_a_long_list_of_mixes_is_counted():
    results = weighed(30, 3)
    listed = "; ".join(f"M0{i} from block B0{i}" for i in range(1, 8))
    table = results["balance"].copy()
    table.loc[table["term"] == "block", "verdict"] = f"missing: {listed}"
    many = dataclasses.replace(results, tables={**results.tables, "balance": table})
    assert "7 of 30 mixes from at least one block" in balance_words(many).text


def test_conditions_have_a_row_a_mix_with_the_p_values_last(results):
    table = conditions_table(results)
    assert [column.header for column in table.columns] == [
        *("Mix", "Temperature, °C", "Mixed salinity", "Blocks with a vessel"),
    ]
    assert len(table.rows) == len(table.marks) == 7
    assert table.rows[1] == ("Birch", "21.5 (21.4 to 21.6)", "33.0 (32.9 to 33.1)", "3")
    assert table.rows[-1] == ("p", "0.010", "0.700", "–")


def test_rater_tables_hold_every_mix_claim_and_yardstick(results):
    alone = rater_alone_table(results)
    assert [row[0] for row in alone.rows] == list(results["mixes"]["name"])
    assert alone.rows[1][2:] == ("1.3", "1.1 (1 of 4)", "1.3 (0 of 4)")
    assert alone.rows[-1][2:] == ("not reached", "not reached (0 of 4)", "not reached (0 of 4)")
    claims = rater_claims_table(results)
    assert claims.rows[0][1:] == ("supported", "supported", "contradicted (another verdict)")
    assert len(claims.rows) == 3
    drift = rater_drift_table(results)
    assert [row[-1] for row in drift.rows] == ["yes", "yes", "not shown"]
    assert drift.rows[0][3:5] == ("−0.40", "−0.70 to −0.10")


def test_rater_who_judged_no_such_thing_has_a_dash(results):
    table = results["rater_times"]
    fewer = table[(table["rater"] == "R01") | (table["mix"] != "M02")]
    less = dataclasses.replace(results, tables={**results.tables, "rater_times": fewer})
    assert rater_alone_table(less).rows[1][-1] == "–"
