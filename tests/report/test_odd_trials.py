"""Every cell of the comparison has something to show for trials of every odd shape."""

import json
import math
from itertools import product
from pathlib import Path

import pytest

import trialkit as tk
from tests.report.notebooks import executed
from trialkit.report.document import read_document
from trialkit.report.render import document_pdf

NOTEBOOK = Path(__file__).parents[2] / "notebooks" / "comparison.ipynb"
SCHEDULE = [0.5, 1, 2, 4, 6, 8, 12, 24]
TRIAL = """\
title = "Odd"
start = 2031-05-01T08:00:00
timezone = "UTC"
window_h = 24
schedule_h = [0.5, 1, 2, 4, 6, 8, 12, 24]
target_salinity = 33
seed = 77
licence = "CC-BY-4.0"

[criteria.clarity]
label = "clear"
quantity = "clarity"
unit = "lines"
tolerance = 1
hold = 2

[claims.hour]
text = "Blend 1 is clear within the hour"
mix = "M01"
within_h = 1
"""
ORDER = """
[claims.order]
text = "Blend 1 clears before Blend 2"
mix = "M01"
before = "M02"
criterion = "clarity"
"""

# How many mixes, vessels of each, raters, and when the vessel of a mix is clear.
SHAPES = {
    "one mix": (1, 4, 2, lambda mix, vessel: 2.5 + vessel),
    "one vessel a mix": (3, 1, 2, lambda mix, vessel: 1.5 * 2**mix),
    "two vessels": (2, 2, 1, lambda mix, vessel: 1.5 * 2**mix + vessel),
    "never clear": (3, 2, 2, lambda mix, vessel: math.inf),
    "clear at the first look": (3, 2, 1, lambda mix, vessel: 0.1),
    "five raters": (2, 2, 5, lambda mix, vessel: 1.5 * 2**mix + vessel),
    "one mix, one vessel, one rater": (1, 1, 1, lambda mix, vessel: 3.0),
}


def written(folder, n_mixes, per_mix, n_raters, clear_h):
    vessels = {f"V{10 + 10 * i + j}": (i, j) for i, j in product(range(n_mixes), range(per_mix))}
    raters = [f"R{i + 1:02}" for i in range(n_raters)]
    readings = [
        (vessel, rater, hour, 12 if place is None or hour >= clear_h(*place) else 3 + hour % 5)
        for hour in SCHEDULE
        for vessel, place in {**vessels, "Z01": None}.items()
        for rater in raters
    ]
    tables = {
        "mixes": ["mix,name", *(f"M{i + 1:02},Blend {i + 1}" for i in range(n_mixes))],
        "vessels": ["vessel,role,block", *(f"{v},trial,{j + 1}" for v, (_, j) in vessels.items())],
        "key": ["vessel,mix", *(f"{v},M{i + 1:02}" for v, (i, _) in vessels.items())],
        "raters": ["rater,name", *(f"{rater},Reader {rater}" for rater in raters)],
        "readings": ["vessel,rater,elapsed_h,quantity,value,unit"]
        + [f"{v},{r},{hour},clarity,{value:g},lines" for v, r, hour, value in readings],
    }
    tables["vessels"].append("Z01,reference,")
    for name, lines in tables.items():
        (folder / f"{name}.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    settings = TRIAL + ORDER * (n_mixes > 1)
    (folder / "trial.toml").write_text(settings, encoding="utf-8")
    return folder


def cells(results, dropped):
    """What a report has of the notebook: its texts, and what its cells show."""
    for cell in json.loads(NOTEBOOK.read_text(encoding="utf-8"))["cells"]:
        source = "".join(cell["source"]).strip()
        if {dropped, "screen-only"} & set(cell["metadata"].get("tags", [])):
            continue
        if cell["cell_type"] == "markdown":
            yield source
        elif source.startswith("tk."):
            yield eval(source, {"tk": tk, "results": results})


def assert_all_show(folder):
    """Every cell has something to show, and what they show makes one document that prints."""
    trial = tk.read_trial(folder)
    tk.write_results(tk.trial_results(trial), folder)
    dropped = "no-storage" if trial.has_storage else "storage"
    placed = list(cells(tk.read_results(folder), dropped))
    shown = [piece for piece in placed if not isinstance(piece, str)]
    assert len(shown) > 30
    for piece in shown:
        words = json.dumps(piece.to_json(), ensure_ascii=False)
        assert " nan" not in words.lower()
        assert "text/html" in piece._repr_mimebundle_()
    document = read_document(executed(placed, folder / "report.ipynb"))
    assert document_pdf(document).startswith(b"%PDF")


@pytest.mark.parametrize("shape", SHAPES)
def test_every_cell_has_something_to_show(shape, tmp_path):
    assert_all_show(written(tmp_path, *SHAPES[shape]))


def test_a_trial_of_given_intervals_without_any_reading(tmp_path):
    folder = written(tmp_path, *SHAPES["two vessels"])
    (folder / "readings.csv").unlink()
    given = ["V10,clarity,1,2", "V11,clarity,2,4", "V20,clarity,2,4", "V21,clarity,8,"]
    table = "\n".join(["vessel,criterion,left_h,right_h", *given, ""])
    (folder / "intervals.csv").write_text(table, encoding="utf-8")
    assert_all_show(folder)


def test_one_vessel_of_purified_water_sets_no_limit_to_a_drift(tmp_path):
    trial = tk.read_trial(written(tmp_path, *SHAPES["one mix"]))
    tk.write_results(tk.trial_results(trial), tmp_path)
    table = tk.rater_drift_table(tk.read_results(tmp_path))
    on_water = [row for row in table.rows if row[2] == "on purified water"]
    assert [row[4] for row in on_water] == ["no limit", "no limit"]


def test_many_pairs_of_raters_are_told_of_together(tmp_path):
    trial = tk.read_trial(written(tmp_path, *SHAPES["five raters"]))
    tk.write_results(tk.trial_results(trial), tmp_path)
    results = tk.read_results(tmp_path)
    words = tk.rater_words(results).text
    assert "Of 10 pairs of raters none was shown to differ on average." in words
    table = tk.agreement_table(results)
    pairs = {row[1] for row in table.rows if row[1].count(",") == 1}
    assert len(pairs) == 6
    assert table.note == "Not shown: 4 pairs of raters that differ less."


def test_mixes_that_no_reading_parts_are_not_ranked_on_the_cover(tmp_path):
    trial = tk.read_trial(written(tmp_path, *SHAPES["clear at the first look"]))
    tk.write_results(tk.trial_results(trial), tmp_path)
    sentence = tk.answer(tk.read_results(tmp_path)).sentence
    assert sentence.startswith(
        "Blend 1, Blend 2 and Blend 3 had the shortest typical time until clear, each before the "
        "first reading"
    )
    assert sentence.endswith("With these vessels no mix can be told from another.")


def test_a_missing_table_is_told_of_where_no_other_words_do(tmp_path):
    trial = tk.read_trial(written(tmp_path, *SHAPES["clear at the first look"]))
    tk.write_results(tk.trial_results(trial), tmp_path)
    missing = tk.look_score_table(tk.read_results(tmp_path))
    question = "Do the scores differ ([the table](#look-scores))?"
    document = read_document(executed(["# One", "## Two", question, missing], tmp_path / "n.ipynb"))
    text = json.dumps(document, ensure_ascii=False)
    assert "so there is no table." in text
    assert '"kind": "ref"' not in text
