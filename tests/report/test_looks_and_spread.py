"""Single looks, own spreads: what is said of a real run, of none, and on the cover."""

import re
from dataclasses import replace
from pathlib import Path

import pytest

import trialkit as tk
from tests.report.weighed import changed, without
from trialkit.report.markdown import escape

DEMO = Path(__file__).parents[2] / "data" / "demo"


@pytest.fixture(scope="module")
def results():
    return tk.trial_results(tk.read_trial(DEMO / "harbour"))


@pytest.fixture(scope="module")
def single():
    return tk.trial_results(tk.read_trial(DEMO / "single"))


def test_each_mix_and_criterion_has_a_row_of_looks(results):
    table = tk.look_table(results)
    assert len(table.rows) == 2 * len(results["mixes"])
    linden = next(row for row in table.rows if row[0] == "Linden")
    assert linden[2] == "not reached"
    assert "9-in-10" in table.note
    words = tk.look_words(results).text
    assert words.count("One look finds a vessel") == 2
    assert words.count("That rests on") == 2
    assert words.endswith("Not told, since all its looks were alike: Linden\\.")
    assert "M05" not in words


def test_shares_of_looks_carry_exact_limits(results):
    table = tk.look_share_table(results)
    assert [column.header for column in table.columns][1] == "0.25 h"
    alder = table.rows[0]
    # 0 of 4 and 4 of 4: 0.025^(1/4) = 0.398 (Clopper & Pearson 1934).
    assert alder[1] == "0 of 4 (0–60%)"
    assert alder[-1] == "4 of 4 (40–100%)"


def test_scores_of_one_look_are_held_against_one_mix(results):
    table = tk.look_score_table(results)
    assert [row[1] for row in table.rows] == ["Alder"] * 5
    linden = next(row for row in table.rows if row[0] == "Linden")
    # 4 against 4 without overlap: p = 2/70 = 0.029; times five by Holm.
    assert linden[3:] == ("all lower", "0 to 0.0745", "0.029", "0.143")
    assert "clarity at 0.5 h" in table.note
    none = replace(results, tables={**results.tables, "look_scores": results["look_scores"][:0]})
    assert tk.look_score_table(none).text.endswith("so there is no table.")


def test_both_times_stand_side_by_side_where_it_matters(results):
    table = tk.own_spread_table(results)
    assert [row[0] for row in table.rows] == ["Alder", "Birch", "Rowan", "Cedar", "Hazel"]
    words = tk.own_spread_words(results).text
    assert "spread more than those of others" in words
    assert "have the wider limits of the two" in words
    unsure = changed(results, "spread", verdict="not shown unequal", p_value=0.3)
    assert "have the wider limits of the two" in tk.own_spread_words(unsure).text
    assert "Mixes may not spread alike (p 0.300)" in tk.answer(unsure).table.note
    even = changed(results, "spread", matters=False, verdict="not shown unequal", p_value=0.8)
    assert "only gross differences" in tk.own_spread_words(even).text
    assert "are the ones to use" in tk.own_spread_table(even).text


def test_cover_has_the_wider_limits_where_spreads_may_differ(results):
    common, own, used = (
        results[name]
        .query("criterion == 'fully clear' and term == 'assured time'")
        .set_index("mix")
        for name in ("times", "times_own_spread", "times_to_use")
    )
    for mix, bound in used["conf_high"].drop("all mixes").items():
        assert bound == max(common["conf_high"][mix], own["conf_high"].get(mix, 0))
    assert used["conf_high"]["M06"] > 2 * common["conf_high"]["M06"]
    answer = tk.answer(results)
    assert "mixed for 6.8 h" in answer.sentence
    rowan = next(row for row in answer.table.rows if row[0] == "Rowan")
    assert rowan[3:] == ("4.8 to 15", "37 h")
    # The times table and the one time for all mixes speak of the same.
    assert next(row for row in tk.times_table(results).rows if row[0] == "Rowan")[-1] == "37"
    assert "37 h, the assured time of Rowan" in tk.one_time_words(results).text
    even = changed(results, "spread", matters=False, verdict="not shown unequal")
    assert "mixed for 3.8 h" in tk.answer(even).sentence
    assert "27 h, the assured time of Hazel" in tk.one_time_words(even).text


def test_one_time_for_all_mixes_is_given_only_where_each_has_one(results, single):
    words = tk.one_time_words(results).text
    assert "can't be given, since Linden has no assured time. For the others" in words
    assert "none has an assured time" in tk.one_time_words(single).text
    again = tk.trial_results(tk.read_trial(DEMO / "rerun"))
    assert "**One time for all mixes:** 23 h, the assured time of Cedar" in (
        tk.one_time_words(again).text
    )


def test_a_claim_says_when_it_rests_on_equal_spread(results):
    assert "rests on all mixes" not in tk.claims_words(results).text
    own = results["claims_own_spread"]
    other = own.assign(
        verdict=own["verdict"].where(own["claim"] != "alder_two_hours", "not settled")
    )
    frail = replace(results, tables={**results.tables, "claims_own_spread": other})
    words = tk.claims_words(frail).text
    assert words.count("rests on all mixes spreading alike") == 1
    assert "is 0.89 h (95% limits: 0.43 to 1.7 h), and the claim not settled" in words


def test_cover_warns_only_where_spreads_may_differ(results):
    assert "do not spread alike" in tk.answer(results).table.note
    even = changed(results, "spread", matters=False, verdict="not shown unequal")
    assert "do not spread alike" not in tk.answer(even).table.note
    assert "do not spread alike" not in tk.answer(results, criterion="haze").table.note
    assert "do not spread alike" not in tk.answer(without(results, "spread")).table.note


def test_one_vessel_a_mix_is_told_so(single):
    assert "can't be asked" in tk.own_spread_words(single).text
    assert "foretell these looks without error" in tk.look_words(single).text


def test_a_declared_spread_is_labelled_wherever_limits_stand():
    trial = tk.read_trial(DEMO / "single")
    protocol = replace(trial.protocol, declared_scale=0.3, scale_source="the spring re-run")
    results = tk.trial_results(replace(trial, protocol=protocol))
    label = "0.30 on the scale of log time, from other trials (the spring re-run)"
    assert label in tk.answer(results).table.note
    assert escape(label) in tk.own_spread_words(results).text
    assert escape(label) in tk.methods(results).text
    assert "spread of its own" not in tk.comparison_words(results).text
    # A definition of clear that is the declared one gives the time of the first page.
    typical = results["times"].query("criterion == 'clarity' and term == 'typical time'")
    declared = results["sensitivity"].query("declared and criterion == 'clarity'")
    expected = typical.set_index("mix")["estimate"]
    for mix, estimate in declared.set_index("mix")["estimate"].items():
        assert estimate == pytest.approx(expected[mix], rel=1e-9)


def test_a_declared_spread_gives_way_to_the_vessels_own():
    trial = tk.read_trial(DEMO / "rerun")
    protocol = replace(trial.protocol, declared_scale=0.3, scale_source="the spring re-run")
    results = tk.trial_results(replace(trial, protocol=protocol))
    assert "declared_scale" not in results.meta
    assert "from other trials" not in tk.answer(results).table.note


def test_given_intervals_leave_no_look(results):
    bare = replace(results, tables=dict(results.tables))
    for name in ("look_times", "look_shares", "look_models"):
        bare.tables[name] = results[name].iloc[:0]
    for make in (tk.look_words, tk.look_table, tk.look_share_table):
        assert "no single look" in make(bare).text


def test_of_many_mixes_only_the_ends_are_named_in_words(results):
    # Thirty mixes: six of them, five times over, each under another code.
    codes = {mix: [f"{mix}{n}" for n in range(5)] for mix in results["mixes"]["mix"]}
    tables = dict(results.tables)
    for name in ("mixes", "times", "look_times"):
        frame = tables[name].assign(mix=tables[name]["mix"].map(codes))
        tables[name] = frame.explode("mix", ignore_index=True).dropna(subset="mix")
    words = tk.look_words(replace(results, tables=tables)).text.split("\n\n")[0]
    ends = r"with even chances at times that go from Alder \S+ 0.90 h to Hazel \S+ 6.2 h\."
    assert re.search(ends, words)
    assert "Birch" not in words
