"""The layout is balanced, repeatable and uniform."""

import itertools

import numpy as np
import pandas as pd
import pytest
from scipy.stats import chisquare

from trialkit.planning.layout import randomise_blocks, reading_order, shuffled, vessel_codes


def test_each_block_holds_each_mix_once_with_its_reference():
    layout = randomise_blocks(["M01", "M02", "M03"], 5, seed=1)
    assert (pd.crosstab(layout["block"], layout["mix"]).to_numpy() == 1).all()
    assert (pd.crosstab(layout["block"], layout["place"]).to_numpy() == 1).all()


def test_same_seed_same_layout():
    first, again, other = (randomise_blocks(list("ABCDEF"), 4, seed=s) for s in (8, 8, 9))
    assert first.equals(again)
    assert not first.equals(other)


def test_orders_of_four_are_uniform():
    # All 4! = 24 orders equally likely: Pearson's chi-square over 24,000 draws.
    rng = np.random.default_rng(20310402)
    orders = list(itertools.permutations(range(4)))
    drawn = pd.Series([tuple(shuffled(range(4), rng)) for _ in range(24_000)]).value_counts()
    assert chisquare(drawn.reindex(orders, fill_value=0)).pvalue > 0.001


def test_mix_by_place_is_uniform_over_seeds():
    layouts = [randomise_blocks(list("ABCDE"), 4, seed=s) for s in range(500)]
    counts = pd.concat(layouts).groupby(["mix", "place"]).size()
    # Sum of n x n random permutation matrices (n = 6): Pearson's sum has expectation n(n - 1),
    # so (n - 1)/n times it is chi-square on (n - 1)^2 = 25 degrees of freedom.
    statistic = ((counts - 2000 / 6) ** 2 / (2000 / 6)).sum() * 5 / 6
    assert len(counts) == 36
    assert 8.0 < statistic < 52.6  # 0.0005 and 0.999 quantiles of chi-square on 25


def test_codes_survive_a_misread_character_or_swapped_digits():
    codes = vessel_codes(100, seed=2)
    in_use = set(codes)
    assert len(in_use) == 100
    for code in codes:
        one_wrong = {
            code[:i] + c + code[i + 1 :]
            for i in range(3)
            for c in ("0123456789" if i else "ABCDEFGHIJKLMNOPQRSTUVWXYZ")
        }
        assert one_wrong & in_use == {code}
        swapped = code[0] + code[2] + code[1]
        assert swapped == code or swapped not in in_use


@pytest.mark.parametrize("n", [0, 201])
def test_codes_out_of_range_are_refused(n):
    with pytest.raises(ValueError, match=f"between 1 and 200 vessels; got {n}"):
        vessel_codes(n, seed=1)


def test_reading_order_holds_each_vessel_once_a_session_and_rater():
    vessels = pd.DataFrame({"vessel": list("ABCDEF"), "block": [1, 1, 1, 2, 2, 2]})
    order = reading_order(vessels, 7, ["R01", "R02"], seed=4)
    assert (order.groupby(["session", "rater"])["vessel"].nunique() == 6).all()
    # Blocks are read one after another.
    assert (
        order.groupby(["session", "rater"])["block"]
        .apply(lambda b: b.is_monotonic_increasing)
        .all()
    )
    assert order.groupby(["rater", "turn"])["vessel"].nunique().gt(1).all()


def test_reading_turns_are_uniform():
    # Every vessel at every turn equally often over sessions and readers: as above, n = 5.
    vessels = pd.DataFrame({"vessel": list("ABCDE"), "block": 1})
    order = reading_order(vessels, 1000, ["R01", "R02"], seed=6)
    counts = pd.crosstab(order["vessel"], order["turn"]).to_numpy()
    statistic = ((counts - 400) ** 2 / 400).sum() * 4 / 5
    assert 3.9 < statistic < 39.3  # 0.001 and 0.999 quantiles of chi-square on 16
    # The two readers' orders have nothing to do with each other.
    turns = order.pivot_table(index=["session", "vessel"], columns="rater", values="turn")
    correlation = turns["R01"].corr(turns["R02"])
    assert abs(correlation) < 4 / np.sqrt(len(turns))


def test_mixes_must_be_distinct():
    with pytest.raises(ValueError, match="each once"):
        randomise_blocks(["M01", "M01"], 2, seed=1)
