"""Adjusted p-values, Tukey intervals and letters against published and hand-made answers."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats
from statsmodels.stats.multitest import multipletests

from trialkit.stats.multiplicity import adjust_p_values, compact_letters, tukey_pairs

# Dobson (1983), An Introduction to Statistical Modelling, plant weights under three conditions.
PLANTS = {
    "ctrl": [4.17, 5.58, 5.18, 6.11, 4.50, 4.61, 5.17, 4.53, 5.33, 5.14],
    "trt1": [4.81, 4.17, 4.41, 3.59, 5.87, 3.83, 6.03, 4.89, 4.32, 4.69],
    "trt2": [6.31, 5.12, 5.54, 5.50, 5.37, 5.29, 4.92, 6.15, 5.80, 5.26],
}
# Benjamini & Hochberg (1995), J. R. Stat. Soc. B 57, 289-300: the 15 p-values of their example.
BH_1995 = np.array([1, 4, 19, 95, 201, 278, 298, 344, 459, 3240, 4262, 5719, 6528, 7590, 10000])
BH_1995 = BH_1995 / 10_000


@pytest.mark.parametrize(
    ("method", "expected"),
    [
        # By hand: sorted .005 .01 .03 .04 times 4 3 2 1, then the running maximum.
        ("holm", [0.03, 0.06, 0.06, 0.02]),
        ("hochberg", [0.03, 0.04, 0.04, 0.02]),
        ("hommel", [0.03, 0.04, 0.04, 0.02]),
        ("benjamini-hochberg", [0.02, 0.04, 0.04, 0.02]),
        ("bonferroni", [0.04, 0.16, 0.12, 0.02]),
    ],
)
def test_adjusted_p_values_by_hand(method, expected):
    assert adjust_p_values([0.01, 0.04, 0.03, 0.005], method=method) == pytest.approx(
        expected, abs=1e-12
    )


@pytest.mark.parametrize(
    ("method", "rejected"),
    [("bonferroni", 3), ("holm", 3), ("hochberg", 3), ("benjamini-hochberg", 4)],
)
def test_number_of_rejections_in_benjamini_hochberg_1995(method, rejected):
    assert (adjust_p_values(BH_1995, method=method) <= 0.05).sum() == rejected


@pytest.mark.parametrize("bad", [[0.1, np.nan], [1.2], [-0.1]])
def test_a_missing_or_impossible_p_value_is_refused(bad):
    with pytest.raises(ValueError, match="between 0 and 1"):
        adjust_p_values(bad)
    with pytest.raises(ValueError, match="one of bonferroni"):
        adjust_p_values([0.1], method="none")


def test_nothing_to_adjust():
    assert adjust_p_values([]).size == 0


def plant_table():
    group = np.repeat(list(PLANTS), 10)
    return tukey_pairs(np.concatenate(list(PLANTS.values())), group)


def test_tukey_on_plant_weights():
    # R 4.2.2, TukeyHSD(aov(weight ~ group, PlantGrowth)); estimates there are later minus earlier.
    table = plant_table().set_index(["group", "other"])
    assert table.loc[("ctrl", "trt1"), "p_adjusted"] == pytest.approx(0.39087, abs=1e-4)
    assert table.loc[("ctrl", "trt2"), "p_adjusted"] == pytest.approx(0.19800, abs=1e-4)
    assert table.loc[("trt1", "trt2"), "p_adjusted"] == pytest.approx(0.01201, abs=1e-4)
    low, high = table.loc[("trt1", "trt2"), ["conf_low", "conf_high"]]
    assert (-high, -low) == pytest.approx((0.17378, 1.55622), abs=1e-4)


def test_tukey_agrees_with_scipy_when_groups_differ_in_size():
    x = [PLANTS["ctrl"], PLANTS["trt1"][:4], PLANTS["trt2"][:6]]
    ours = tukey_pairs(np.concatenate(x), np.repeat(["a", "b", "c"], [10, 4, 6]))
    theirs = stats.tukey_hsd(*x)
    upper = np.triu_indices(3, 1)
    assert ours["p_adjusted"].to_numpy() == pytest.approx(theirs.pvalue[upper], abs=1e-8)
    interval = theirs.confidence_interval()
    assert ours["conf_low"].to_numpy() == pytest.approx(interval.low[upper], abs=1e-8)


@pytest.mark.parametrize(("k", "df", "value"), [(3, 10, 3.8768), (4, 20, 3.9583), (3, 20, 3.5779)])
def test_margin_is_the_tabled_studentised_range(k, df, value):
    # Upper 5% points of the studentised range (tables of Harter 1960, as in R qtukey).
    # Constructed so that the pooled variance is known: margin = q * sqrt(variance / n).
    n = df // k + 1
    sizes = [n] * (k - 1) + [df + k - n * (k - 1)]
    rng = np.random.default_rng(11)
    values, group = rng.normal(size=sum(sizes)), np.repeat(np.arange(k), sizes)
    pooled = sum(((values[group == g] - values[group == g].mean()) ** 2).sum() for g in range(k))
    row = tukey_pairs(values, group).iloc[0]
    se = np.sqrt(pooled / df / n)
    assert (row["conf_high"] - row["estimate"]) / se == pytest.approx(value, abs=1e-3)


def test_tukey_refuses_what_it_cannot_do():
    with pytest.raises(ValueError, match="more values than groups"):
        tukey_pairs([1, 2], ["a", "b"])


def test_tukey_without_any_spread_says_one_or_nought():
    table = tukey_pairs([1, 1, 1, 1, 2, 2], list("aabbcc"))
    assert table["p_adjusted"].tolist() == [1.0, 0.0, 0.0]


def matrix(pairs, k):
    out = np.zeros((k, k), dtype=bool)
    for i, j in pairs:
        out[i, j] = out[j, i] = True
    return out


def test_letters_of_plant_weights():
    # Piepho (2004); R multcompView gives ctrl ab, trt1 a, trt2 b.
    p = plant_table()
    pairs = [(0, 1), (0, 2), (1, 2)]
    shown = [pair for pair, value in zip(pairs, p["p_adjusted"], strict=True) if value < 0.05]
    ctrl, trt1, trt2 = compact_letters(matrix(shown, 3))
    assert len(ctrl) == 2
    assert set(ctrl) == {trt1, trt2}
    # In the order of the means the letters read from the top.
    assert compact_letters(matrix([(0, 2)], 3)) == ["a", "ab", "b"]


def test_letters_when_all_or_none_differ():
    assert compact_letters(matrix([], 4)) == ["a"] * 4
    assert compact_letters(~np.eye(3, dtype=bool)) == ["a", "b", "c"]
    assert compact_letters(np.zeros((0, 0))) == []
    assert len(set(compact_letters(~np.eye(60, dtype=bool)))) == 60


def test_letters_refuse_a_lopsided_matrix():
    with pytest.raises(ValueError, match="symmetric"):
        compact_letters([[False, True], [False, False]])


@settings(max_examples=60, deadline=None)
@given(st.integers(2, 8), st.randoms(use_true_random=False))
def test_two_groups_share_a_letter_exactly_when_not_shown_different(k, random):
    pairs = [(i, j) for i in range(k) for j in range(i) if random.random() < 0.4]
    different = matrix(pairs, k)
    letters = [set(text) for text in compact_letters(different)]
    for i in range(k):
        assert letters[i]
        for j in range(i):
            assert bool(letters[i] & letters[j]) != different[i, j]


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_holm_is_the_library_s(seed):
    p = np.random.default_rng(seed).choice([0, 1e-9, 0.01, 0.03, 0.2, 0.2, 1], size=12)
    np.testing.assert_allclose(adjust_p_values(p), multipletests(p, method="holm")[1], rtol=1e-12)
