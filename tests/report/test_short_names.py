import re
from functools import cache
from xml.etree import ElementTree

import pytest
from fontTools.ttLib import TTFont

from tests.report.invented import NAMES
from tests.report.weighed import changed, weighed
from trialkit.report import (
    curves,
    decision_figures,
    decisions,
    definition_figure,
    figures,
    pair_table,
    rater_figures,
)
from trialkit.report.fonts import font_folder, printable
from trialkit.report.short_names import MOST, claim_lines, short_names, shorten

LONG = "Grand Harbour Reef Professional Salt Blend, Coarse Type 2031"
TEXT = "{http://www.w3.org/2000/svg}text"
EVERY = [
    figures.vessel_figure,
    figures.strip_figure,
    curves.curve_figure,
    curves.forest_figure,
    decisions.comparison_figure,
    decisions.rank_figure,
    decision_figures.ratio_figure,
    definition_figure.definitions_figure,
    rater_figures.rater_figure,
]


@cache
def long_named(mixes=6):
    return changed(weighed(mixes, 4), "mixes", name=[LONG, *NAMES[1:mixes]])


@cache
def widths():
    with TTFont(font_folder() / "SourceSans3-Regular.ttf") as font:
        advance, letters = font["hmtx"], font.getBestCmap()
        em = font["head"].unitsPerEm
        return {chr(code): advance[glyph][0] / em for code, glyph in letters.items()}


def left_ends(svg):
    """Where each upright text that is set flush right begins, in points from the left edge."""
    for node in ElementTree.fromstring(svg).iter(TEXT):
        if "text-anchor: end" not in node.get("style") or not node.get("x"):
            continue
        size = float(re.search(r"font-size: ([\d.]+)px", node.get("style")).group(1))
        words = "".join(node.itertext())
        yield words, float(node.get("x")) - size * sum(widths()[sign] for sign in words)


@pytest.mark.parametrize("draw", EVERY)
def test_long_name_is_shortened_and_stays_on_the_paper(draw):
    block = draw(long_named())
    texts = ["".join(node.itertext()) for node in ElementTree.fromstring(block.svg).iter(TEXT)]
    assert len(LONG) == 60
    assert not any(LONG in text for text in texts)
    assert any("Grand Har" in text and "…" in text for text in texts)
    assert all(left >= 0 for _, left in left_ends(block.svg))


@pytest.mark.parametrize("draw", EVERY)
def test_words_for_a_drawing_keep_the_whole_name(draw):
    if draw is not figures.strip_figure:  # tells counts only
        told = draw(changed(long_named(), "rater_times", n_changed=1))
        assert LONG in told.alt


def test_tables_keep_the_whole_name():
    assert pair_table.comparison_table(long_named()).rows[0][1] == LONG


@pytest.mark.parametrize(
    "name", [LONG, "x" * 29, "水" * 15, "ꦱ" * 30, "Fir " + "🌲" * 13, "Ω" * 60]
)
def test_no_short_name_is_longer_than_told(name):
    short = shorten(name)
    assert len(short) <= MOST
    assert "…" in short
    assert re.sub(r"\[[^\[\]]*\]", "", short).count("[") == 0
    assert printable(short) == short


def test_name_that_fits_is_left_alone():
    for name in ("x" * MOST, "水" * (MOST // 2), "Fir 🌲", "Z\u0308" * MOST, "नी" * (MOST // 2)):
        assert shorten(name) == name


@pytest.mark.parametrize("sign", ["Z\u0308", "क्षे", "👩\u200d🔬", "👍🏽", "🇯🇵", "❤\ufe0f", "น้ำ"])
def test_sign_of_several_characters_is_cut_nowhere(sign):
    short = shorten(sign * 40)
    assert short.count("…") == 1
    assert short.replace("…", "").replace(sign, "") == ""


def test_names_that_differ_in_their_middle_are_told_apart_by_code():
    same = "Grand Harbour Reef {} Salt Blend, Coarse Type 2031"
    names = {"M01": same.format("May"), "M02": same.format("June"), "M03": "Fir"}
    short = short_names(names)
    assert len(set(short.values())) == 3
    assert short["M01"].endswith("(M01)")
    assert short["M03"] == "Fir"


def test_long_claim_has_two_lines():
    text = "Grand Harbour Reef Salt is clear before every other blend of this trial, in cold water"
    lines = claim_lines(text).splitlines()
    assert len(lines) == 2
    assert max(map(len, lines)) <= 40
    block = decisions.claims_figure(changed(weighed(), "claims", text=[text] * 3))
    assert all(left >= 0 for _, left in left_ends(block.svg))
    assert text in block.alt


def test_claim_without_spaces_has_two_lines_of_half_as_many_signs():
    lines = claim_lines(
        "海盐混合一号是在一小时内清澈的并且比试验中的所有其他混合物都更早变得清澈"
    ).splitlines()
    assert [len(line) for line in lines] == [20, 16]
    assert claim_lines("海盐 is clear within the hour, 海盐 is clear within") == (
        "海盐 is clear within the hour, 海盐 is\nclear within"
    )
