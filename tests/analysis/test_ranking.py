"""Places, open places and letters of mixes."""

import numpy as np
import pandas as pd
import pytest

from trialkit.analysis.comparison import compare_mixes
from trialkit.analysis.comparison_plan import ComparisonPlan
from trialkit.analysis.ranking import rank_mixes

INF = np.inf


def frame(ends):
    rows = [
        {"mix": mix, "block": str(i + 1), "left_h": left, "right_h": right}
        for mix, pairs in ends.items()
        for i, (left, right) in enumerate(pairs)
    ]
    return pd.DataFrame(rows)


FAST = [(1, 1.5), (1.5, 2), (1, 1.5), (2, 3)]
MIDDLE = [(1, 1.5), (2, 3), (1.5, 2), (2, 3)]
SLOW = [(6, 8), (8, 10), (4, 6), (6, 8)]
NEVER = [(30, INF)] * 4


def test_two_like_mixes_then_a_slow_one_then_one_that_never_cleared():
    table = rank_mixes(frame({"M01": NEVER, "M02": SLOW, "M03": FAST, "M04": MIDDLE}))
    assert table["mix"].tolist() == ["M03", "M04", "M02", "M01"]
    assert table["rank"].tolist() == [1, 2, 3, 4]
    assert table["rank_low"].tolist() == [1, 1, 3, 4]
    assert table["rank_high"].tolist() == [2, 2, 3, 4]
    assert table["letters"].tolist() == ["a", "a", "b", "c"]
    assert table["probability_first"].sum() == pytest.approx(1)
    assert table["probability_first"].iloc[0] > table["probability_first"].iloc[1] > 0.05
    assert table["probability_first"].iloc[2:].tolist() == [0, 0]
    assert table["estimate"].iloc[3] == INF
    assert table["note"].tolist() == [
        "",
        "",
        "",
        "never cleared in the window: shares the last place",
    ]
    assert (table["n_event"] + table["n_censored"] == table["n"]).all()


def test_mixes_that_never_cleared_share_a_place_and_a_letter():
    table = rank_mixes(frame({"M01": FAST, "M02": NEVER, "M03": NEVER})).set_index("mix")
    assert table["rank"].to_dict() == {"M01": 1, "M02": 2, "M03": 2}
    assert table.loc["M02", "letters"] == table.loc["M03", "letters"] != table.loc["M01", "letters"]


def test_ranks_agree_with_the_comparisons_whatever_the_control():
    data = frame({"M01": FAST, "M02": MIDDLE, "M03": SLOW})
    plan = ComparisonPlan(control="M03")
    assert rank_mixes(data, plan=plan).equals(rank_mixes(data))
    assert rank_mixes(data, pairs=compare_mixes(data)).equals(rank_mixes(data))
    with pytest.raises(ValueError, match="all pairs of 3 mixes; got 2"):
        rank_mixes(data, pairs=compare_mixes(data, plan=plan))
    letters = rank_mixes(data).set_index("mix")["letters"]
    for row in compare_mixes(data).itertuples():
        shared = set(letters[row.mix_a]) & set(letters[row.mix_b])
        assert bool(shared) == (row.verdict == "not shown different")


def test_one_vessel_a_mix_leaves_every_place_open():
    table = rank_mixes(frame({"M01": [(1, 2)], "M02": [(10, 12)], "M03": [(30, INF)]}))
    assert table["rank_low"].tolist() == [1, 1, 1]
    assert table["rank_high"].tolist() == [3, 3, 3]
    assert table["letters"].tolist() == ["a", "a", "a"]
    assert table["probability_first"].tolist() == pytest.approx([1 / 3] * 3)
    assert table["note"].str.startswith("one vessel a mix").all()
    assert not table.isna().any(axis=None)


def test_nothing_cleared_anywhere():
    table = rank_mixes(frame({"M01": NEVER, "M02": NEVER}))
    assert table["rank"].tolist() == [1, 1]
    assert table["rank_high"].tolist() == [2, 2]
    assert table["probability_first"].tolist() == [0.5, 0.5]


def test_the_seed_decides_the_repeats():
    data = frame({"M01": FAST, "M02": MIDDLE})
    one, same, other = (rank_mixes(data, plan=ComparisonPlan(seed=s)) for s in (1, 1, 2))
    assert one.equals(same)
    assert not one["probability_first"].equals(other["probability_first"])
    # Binomial error of 2,000 repeats is 0.011.
    assert one["probability_first"].to_numpy() == pytest.approx(
        other["probability_first"].to_numpy(), abs=0.05
    )
