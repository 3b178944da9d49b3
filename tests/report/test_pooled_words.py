"""What the pooled report says of its mixes, of their pairs and of more trials."""

import math

import pandas as pd
import pytest

from trialkit.analysis.results import Results
from trialkit.report.pooled_tables import pooled_pairs_table, pooled_spread_table
from trialkit.report.pooled_words import pooled_sentence

PAIR_COLUMNS = [
    "mix_a", "mix_b", "ratio", "conf_low", "conf_high", "p_adjusted", "n_trials", "more_trials",
    "decision",
]  # fmt: skip
OPEN = ("A", "B", 0.8, 0.5, 1.2, 0.4, 6, 37.0, "open")
SETTLED = ("A", "C", 0.3, 0.2, 0.5, 0.001, 6, 0.0, "settled")


def pooled(mixes, pairs=(), note=""):
    """Results of mixes with typical times of 1, 2, ... h."""
    rows = [
        (mix, term, float(k), low, high)
        for k, mix in enumerate(mixes, 1)
        for term, low, high in (("typical time", 0.9 * k, 1.1 * k), ("new batch", 0.5 * k, 2.0 * k))
    ]
    times = pd.DataFrame(rows, columns=["mix", "term", "estimate", "conf_low", "conf_high"])
    tables = {
        "pooled_times": times,
        "pooled_mixes": pd.DataFrame({"mix": mixes, "name": mixes, "lot": ""}),
        "pairs": pd.DataFrame(list(pairs), columns=PAIR_COLUMNS),
        "spreads": pd.DataFrame(
            {"term": ["within a trial"], "estimate": 0.3, "conf_low": 0.2, "conf_high": 0.5}
        ),
    }
    return Results({"conf_level": 0.95, "note": note}, tables)


def test_one_mix_is_compared_with_nothing():
    said = pooled_sentence(pooled(["A"]))
    assert said == (
        "A new batch of A in a new place can be expected to clear in 0.50 to 2.0 h (95% limits), "
        "typically 1.0 h."
    )


@pytest.mark.parametrize(
    ("pairs", "words"),
    [
        ([OPEN], "Which of the two is clear sooner is open."),
        ([SETTLED], "The pair of mixes is settled."),
        ([OPEN, SETTLED], "1 of 2 pairs of mixes is settled; open: A and B."),
        ([SETTLED] * 3, "All 3 pairs of mixes are settled."),
        ([OPEN] * 6, "None of 6 pairs of mixes is settled."),
        ([OPEN] * 6 + [SETTLED] * 2, "2 of 8 pairs of mixes are settled."),
    ],
)
def test_pairs_are_counted(pairs, words):
    said = pooled_sentence(pooled(["A", "B", "C"], pairs))
    assert said.endswith(words)
    # The order of two times is no proof of a difference.
    assert "A, the mix with the shortest typical time, in a new place" in said


def test_more_trials_are_a_plan_or_none():
    cells = {
        OPEN: "37",
        (*OPEN[:2], 1.01, *OPEN[3:7], math.inf, "open"): "over 1\u202f000",
        (*OPEN[:2], 0.0, 0.0, 0.4, 0.2, 6, math.inf, "open"): "cannot be said",
        (*OPEN[:6], 0, math.inf, "open"): "cannot be said",  # no trial holds both
        SETTLED: "–",
    }
    for pair, cell in cells.items():
        table = pooled_pairs_table(pooled(["A", "B", "C"], [pair]))
        assert "".join(table.rows[0][-1].split()) == "".join(cell.split())


def test_a_note_of_the_fit_stands_under_the_spreads():
    note = "each trial has one vessel: the spread between places is contained in that within it"
    assert f"{note.capitalize()}." in pooled_spread_table(pooled(["A"], note=note)).note
