import re
from functools import cache
from xml.etree import ElementTree

import pytest

from tests.report.invented import NAMES, invented_results
from trialkit.report import curves, figures
from trialkit.report.marks import COLORS, mix_marks

EVERY = [
    figures.vessel_figure,
    figures.strip_figure,
    curves.curve_figure,
    curves.forest_figure,
]


@pytest.fixture(scope="module")
def results():
    return invented_results()


@cache
def drawn(draw):
    """The drawing of the six mixes, made once for all tests that look at it."""
    return draw(invented_results())


@pytest.fixture
def vessels_svg():
    return drawn(figures.vessel_figure).svg


def words_of(svg):
    """Every text of a drawing, as a reader who searches it finds them."""
    root = ElementTree.fromstring(svg)
    return ["".join(node.itertext()) for node in root.iter("{http://www.w3.org/2000/svg}text")]


@pytest.mark.parametrize(("n_mixes", "n_vessels"), [(1, 1), (8, 4), (30, 3)])
def test_every_vessel_is_drawn_once(n_mixes, n_vessels):
    # Among them vessels that never came clear, whose interval has no width on paper.
    results = invented_results(n_mixes, n_vessels)
    svg = figures.vessel_figure(results).svg
    found = re.findall(r'id="vessel-(\w+)"', svg)
    assert sorted(found) == sorted(results["intervals"]["vessel"])


def test_vessel_never_clear_has_its_mark_inside_the_drawing(vessels_svg, results):
    width = float(re.search(r'viewBox="0 0 ([\d.]+)', vessels_svg).group(1))
    never = results["intervals"].query("mix == 'M06'")["vessel"]
    for vessel in never:
        part = vessels_svg.split(f'id="vessel-{vessel}"')[1]
        x = float(re.search(r'<use [^>]*x="([\d.]+)"', part).group(1))
        assert 0 < x < width


@pytest.mark.parametrize("draw", EVERY)
def test_second_drawing_has_the_same_bytes(draw, results):
    assert draw(results).svg == drawn(draw).svg


@pytest.mark.parametrize("draw", EVERY)
def test_drawing_holds_no_date_no_maker_no_raster(draw):
    svg = drawn(draw).svg
    assert not re.search(r"dc:date|dc:creator|Created with|<image", svg)


@pytest.mark.parametrize("draw", EVERY)
def test_names_are_text_that_can_be_searched(draw):
    found = words_of(drawn(draw).svg)
    assert {"Alder", "Birch", "Cedar", "Elm", "Fir", "Hazel"} <= set(found)


@pytest.mark.parametrize("draw", EVERY)
def test_names_with_signs_of_other_languages_stay_as_they_are(draw):
    names = ["a_b^c $5", r"\frac{1}{2} $x_1$", "50% <salt> & co", "Ωmega", "水 אלון 🌲", "ꦱ"]
    found = words_of(draw(invented_results(names=names)).svg)
    for name in names[:5]:
        assert name in found
    # No typeface of the report holds the last: spelled out, not an empty box.
    assert "[U+A9B1]" in found


@pytest.mark.parametrize("draw", EVERY)
def test_words_for_the_drawing_name_every_mix(draw):
    alt = drawn(draw).alt
    if draw is figures.strip_figure:
        assert "clarity: 193 clear, 156 not clear, 11 not read" in alt
    else:
        assert all(name in alt for name in NAMES[:6])


def test_words_for_the_times_say_what_was_not_reached():
    assert "Hazel: typical time not reached; above 25 h" in drawn(curves.forest_figure).alt


def test_lost_and_clouded_vessels_are_told(vessels_svg):
    found = words_of(vessels_svg)
    assert "lost at 3.0 h" in found
    assert "cloudy again at 16 h" in found


def test_a_short_spread_of_times_has_a_linear_axis():
    results = invented_results(1, 1)
    results.meta["window_h"] = 4.0
    results["intervals"].loc[:, ["left_h", "right_h"]] = [2.0, 3.0]
    words = words_of(figures.vessel_figure(results).svg)
    assert "Hours since mixing began" in words
    spread = words_of(drawn(figures.vessel_figure).svg)
    assert "Hours since mixing began, equal steps are equal ratios" in spread


def test_a_mix_looks_the_same_whatever_its_place(results):
    # Colours follow the list of mixes, not the ranking: shuffled times keep them.
    before = mix_marks(list(results["mixes"]["mix"]))
    svg = drawn(figures.vessel_figure).svg
    for mark in before.values():
        assert mark.color.lower() in svg


def test_no_yellow_among_the_colours():
    # #F0E442 is the yellow of Okabe & Ito (2008): too faint for lines on white.
    assert "#F0E442" not in COLORS
    assert len(set(COLORS)) == 7
