"""Words beside the row of a vessel, of which the interval does not tell all."""

from dataclasses import replace
from datetime import datetime
from pathlib import Path
from tempfile import TemporaryDirectory

import pandas as pd
import pytest

import trialkit as tk
from tests.report.invented import INF, invented_results
from trialkit.report.methods import methods
from trialkit.report.remarks import remarks
from trialkit.report.selection import block_count

COLUMNS = ["criterion", "mix", "block", "vessel", "left_h", "right_h", "reclouded_h"]


@pytest.fixture(scope="module")
def results():
    """Watched for 30 h: two vessels clear at 30 h only, one not, one not read after 24 h."""
    rows = [
        ("fully clear", "M01", "1", vessel, left, right, again)
        for vessel, left, right, again in (
            ("A10", 24.0, INF, INF),
            ("A11", 24.0, INF, INF),
            ("A12", 30.0, INF, INF),
            ("A13", 24.0, INF, INF),
            ("A14", 4.0, 6.0, 12.0),
            ("A15", 4.0, INF, INF),
        )
    ]
    looks = [
        (criterion, vessel, "M01", session, hour, verdict)
        for vessel, last in (("A10", 30), ("A11", 30), ("A12", 30), ("A13", 24))
        for criterion in ("clarity", "haze")
        for session, hour in enumerate((24, 30))
        for verdict in [
            "not read"
            if hour > last
            else "clear"
            if hour == 30 and (vessel, criterion) not in (("A12", "haze"), ("A12", "clarity"))
            else "not clear"
        ]
    ]
    base = invented_results(2, 4)
    vessels = pd.DataFrame(
        [(f"A{10 + i}", "M01", "1", "trial", "", 4.5 if i == 5 else INF) for i in range(6)],
        columns=["vessel", "mix", "block", "role", "place", "lost_h"],
    )
    columns = ["criterion", "vessel", "mix", "session", "elapsed_h", "verdict"]
    more = {
        "intervals": pd.DataFrame(rows, columns=COLUMNS),
        "vessels": vessels,
        "verdicts": pd.DataFrame(looks, columns=columns),
    }
    return replace(base, tables={**base.tables, **more})


def test_what_befell_each_vessel(results):
    late = "clear at the last look, not confirmed"
    assert remarks(results) == {
        "A10": late,
        "A11": late,
        "A13": "then not followed",
        "A14": "cloudy again at 12 h",
        "A15": "lost at 4.5 h",
    }


def test_intervals_without_looks_say_no_more_than_they_hold(results):
    bare = replace(results, tables={k: v for k, v in results.tables.items() if k != "verdicts"})
    assert remarks(bare)["A10"] == "then not followed"


def test_a_reference_outside_the_blocks_is_no_block(results):
    vessels = results["vessels"]
    reference = pd.DataFrame([{"vessel": "Z01", "mix": "", "block": "", "role": "reference"}])
    tables = {**results.tables, "vessels": pd.concat([vessels, reference], ignore_index=True)}
    changed = replace(results, tables=tables)
    assert block_count(changed) == 1
    assert "blocks" not in methods(changed).text.partition("The vessel is the unit")[0]


def test_a_mix_seen_clear_too_late_is_not_called_cloudy():
    # Alder clears in time; of Birch both vessels read clear at the last look and at no other.
    text = "hours,Alder,Alder,Birch,Birch,reference\n1,4,5,0,0,12\n2,12,12,3,2,12\n"
    text += "4,12,12,8,6,12\n8,12,12,12,12,12\n"
    with TemporaryDirectory() as place:
        (Path(place) / "bench.csv").write_text(text)
        found = tk.import_table(
            Path(place) / "bench.csv", Path(place) / "bench", start=datetime(2031, 3, 1, 9)
        )
        results = tk.trial_results(tk.read_trial(found.folder))
    sentence = tk.answer(results).sentence
    assert sentence.endswith(
        "Birch was not clear in any vessel within 8.0 h; the last look found 2 of 2 vessels clear, "
        "too late to be confirmed."
    )
    words = tk.findings(results).text
    assert "Clear at the last look only, so not confirmed: 2 of 2 vessels of Birch." in words
    assert "no vessel was confirmed to be clear within 8.0 h" in tk.limits(results).text
