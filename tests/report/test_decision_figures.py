import math
import re
from functools import cache

import pandas as pd
import pytest

from tests.report.invented import INF
from tests.report.weighed import changed, weighed, without
from trialkit.report.blocks import Figure, Prose
from trialkit.report.decision_figures import claim_ratio_figure, ratio_figure
from trialkit.report.definition_figure import definitions_figure
from trialkit.report.marks import mix_marks
from trialkit.report.pair_ratios import print_ratio
from trialkit.report.rater_figures import rater_figure
from trialkit.report.rater_pairs import rater_pair_figure
from trialkit.report.ratio_axis import ratio_axis

FIGURES = {
    claim_ratio_figure: ("claims", "claims-ratios"),
    ratio_figure: ("comparisons", "ratios"),
    definitions_figure: ("sensitivity", "definitions"),
    rater_figure: ("rater_times", "raters"),
    rater_pair_figure: ("rater_intervals", "rater-pairs"),
}


@cache
def six():
    return weighed()


@cache
def drawn(draw, mixes=6):
    return draw(six() if mixes == 6 else weighed(mixes, 3))


def words_in(svg):
    """The texts of a drawing."""
    return [re.sub("<[^>]+>", "", text) for text in re.findall(r"<text.*?</text>", svg, re.S)]


@pytest.mark.parametrize("draw", FIGURES)
def test_second_drawing_has_the_same_bytes(draw):
    assert draw(weighed()).svg == drawn(draw).svg


@pytest.mark.parametrize("draw", FIGURES)
def test_drawing_has_label_words_and_note(draw):
    block = drawn(draw)
    assert isinstance(block, Figure)
    assert block.label == FIGURES[draw][1]
    assert len(block.alt) > 40
    assert block.note.endswith(".")


@pytest.mark.parametrize("empty", [True, False])
@pytest.mark.parametrize("draw", FIGURES)
def test_question_not_asked_gets_a_sentence(draw, empty):
    table, label = FIGURES[draw]
    said = draw(without(six(), table, empty=empty))
    assert isinstance(said, Prose)
    assert said.text.endswith(".")
    assert said.label == label


@pytest.mark.parametrize("mixes", [2, 30])
@pytest.mark.parametrize("draw", FIGURES)
def test_few_or_many_mixes_fit_on_a_page(draw, mixes):
    block = drawn(draw, mixes)
    height = float(re.search(r'viewBox="0 0 [\d.]+ ([\d.]+)"', block.svg).group(1))
    assert 60 < height <= 8.6 * 72 + 1


def test_every_pair_of_few_mixes_has_a_row():
    texts = words_in(drawn(ratio_figure).svg)
    rows = [text for text in texts if " against " in text]
    assert len(rows) == len(set(rows)) == 15
    assert "Hazel against Alder" in rows
    assert "Alder against Hazel" not in rows


def test_ratio_is_the_one_of_the_results_turned_round():
    pairs = six()["comparisons"].set_index(["mix_a", "mix_b"])
    row = pairs.loc[("M01", "M04")]
    told = print_ratio(1 / row["estimate"], 1 / row["conf_high"], 1 / row["conf_low"])
    assert told in words_in(drawn(ratio_figure).svg)
    # The sixth never cleared: the pair has one limit, 1 / 0.12.
    assert "above 8.3" in words_in(drawn(ratio_figure).svg)


def test_many_mixes_stand_against_the_quickest_with_the_rest_counted():
    block = drawn(ratio_figure, 30)
    rows = [text for text in words_in(block.svg) if " against " in text]
    assert len(rows) == 29
    assert all(row.endswith("against Alder") for row in rows)
    assert "406 pairs left to the results file." in block.note  # 30 * 29 / 2 - 29


def test_pairs_without_any_limit_are_not_drawn():
    no_limit = {"estimate": 1.0, "conf_low": 0.0, "conf_high": INF, "verdict": "no comparison"}
    said = ratio_figure(changed(six(), "comparisons", **no_limit))
    assert said.text == "These vessels set no limit to any ratio of times."


def test_claims_on_ratios_are_drawn_and_no_others():
    svg = drawn(claim_ratio_figure).svg
    assert "Alder before Birch" in words_in(svg)
    assert "Alder in two hours" not in words_in(svg)
    assert "not settled" in words_in(svg)


def test_no_claim_on_a_ratio_is_said():
    claims = six()["claims"]
    said = claim_ratio_figure(changed(six(), "claims", unit=["h"] * len(claims)))
    assert said.text == "No claim of this trial compares two mixes."


def test_axis_of_ratios_holds_every_finite_end_with_one():
    axis = ratio_axis([0.0, 3.0, 14.0, INF])
    assert axis.low < 1 < 3 < 14 < axis.high
    assert axis.at(0.0) == axis.low
    assert axis.at(INF) == axis.high


def test_every_vessel_stands_once_in_each_pair_of_raters():
    vessels = sorted(six()["intervals"]["vessel"].unique())
    drawn_ones = re.findall(r'id="pair-1-(\w+)"', drawn(rater_pair_figure).svg)
    assert sorted(drawn_ones) == vessels


def test_vessels_with_intervals_apart_are_named_in_the_alt_text():
    seen = six()["intervals"].query("mix == 'M02' and right_h < inf")["vessel"]
    alt = drawn(rater_pair_figure).alt
    assert f"{len(seen)} with intervals apart" in alt
    assert all(vessel in alt for vessel in seen)


def test_three_raters_make_three_pairs():
    table = six()["rater_intervals"]
    third = table[table["rater"] == "R01"].assign(rater="R03")
    results = changed(six(), "rater_intervals")
    results.tables["rater_intervals"] = pd.concat([table, third])
    block = rater_pair_figure(results)
    assert {int(n) for n in re.findall(r'id="pair-(\d)-', block.svg)} == {1, 2, 3}


def strokes(block, color):
    """How many upright strokes of a colour a drawing has: moves of its open paths."""
    paths = re.findall(r'<path d="([^"]*)"[^>]*style="([^"]*)"', block.svg)
    return sum(d.count("M ") for d, style in paths if f"stroke: {color}" in style)


def test_every_definition_that_differs_has_a_stroke():
    grid = six()["sensitivity"]
    own = grid[(grid["mix"] == "M03") & (grid["placement"] == "interval")]
    expected = sum(
        own.loc[own["criterion"] == name, "estimate"].map(lambda t: f"{t:.3g}").nunique()
        for name in ("clarity", "haze")
    )
    assert expected > 20
    color = mix_marks(list(six()["mixes"]["mix"]))["M03"].color.lower()
    assert strokes(drawn(definitions_figure), color) == expected


def test_ranks_are_told_for_each_criterion():
    block = drawn(definitions_figure)
    assert words_in(block.svg).count("3 to 4") == 2  # the third, the fourth; under haze only
    assert "clarity: 18 definitions, 6 with midpoints." in block.alt


def test_one_criterion_gives_one_panel():
    block = definitions_figure(six(), criterion="haze")
    assert "Free of haze" in words_in(block.svg)
    assert "Clear" not in words_in(block.svg)


def test_nothing_reached_is_said():
    said = definitions_figure(changed(six(), "sensitivity", estimate=math.inf))
    assert said.text.startswith("No mix reached a typical time")


def test_each_rater_has_a_panel_with_counts():
    texts = words_in(drawn(rater_figure).svg)
    assert "R01 alone" in texts
    assert "R02 alone" in texts
    assert texts.count("1 of 4") == 1
    assert texts.count("0 of 4") == 11


def test_alt_tells_only_mixes_that_a_rater_moves():
    alt = drawn(rater_figure).alt
    assert "R01 alone: Birch 1.1 instead of 1.3." in alt
    assert "R02 alone: every vessel as declared." in alt


def test_criterion_that_one_rater_judged_is_refused_by_name():
    with pytest.raises(ValueError, match="must be one of clarity; got 'haze'"):
        rater_figure(six(), criterion="haze")


@pytest.mark.parametrize(("draw", "arrows"), [(ratio_figure, 5), (rater_figure, 2)])
def test_open_end_is_an_arrow(draw, arrows):
    # The sixth mix never cleared: nothing but arrows is filled with its colour.
    color = mix_marks(list(six()["mixes"]["mix"]))["M06"].color.lower()
    filled = re.findall(rf'<use [^>]*style="fill: {color}[^>]*/>', drawn(draw).svg)
    assert len(filled) == arrows
