"""The picture of the bench shows every vessel, and no mix."""

from xml.etree import ElementTree

from trialkit.planning.bench import draw_bench
from trialkit.planning.layout import randomise_blocks, vessel_codes

SPACE = "{http://www.w3.org/2000/svg}"


def test_every_vessel_is_drawn_once_where_it_stands():
    layout = randomise_blocks(["M01", "M02", "M03"], 4, seed=5)
    layout["vessel"] = vessel_codes(16, seed=6)
    layout["role"] = ["reference" if mix == "" else "trial" for mix in layout["mix"]]
    picture = draw_bench(layout)
    root = ElementTree.fromstring(picture.svg)
    words = [node.text for node in root.findall(f"{SPACE}text")]
    assert sorted(w for w in words if w in set(layout["vessel"])) == sorted(layout["vessel"])
    assert not any(mix in picture.svg for mix in ("M01", "M02", "M03"))
    boxes = root.findall(f"{SPACE}rect")
    places = {(box.get("x"), box.get("y")) for box in boxes}
    assert len(boxes) == len(places) == 16
    assert words.count("pure") == 4
    assert "16 vessels in 4 blocks" in picture.alt
