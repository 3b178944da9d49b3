"""Comparisons of mixes: what is claimed, what is refused, and how each is said."""

from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from trialkit.analysis.comparison import compare_mixes
from trialkit.analysis.comparison_plan import ComparisonPlan
from trialkit.analysis.overall import overall_difference
from trialkit.analysis.ranking import rank_mixes
from trialkit.records.read import read_trial
from trialkit.stats.multiplicity import adjust_p_values

INF = np.inf
DEMO = Path(__file__).parents[2] / "data" / "demo"
LOOKS = np.array([0, 0.25, 0.5, 1, 1.5, 2, 3, 4, 6, 8, 10, 12, 16, 20, 24, 30, INF])


def frame(ends, blocks=True):
    """Intervals from {mix: [(left, right), ...]}, vessel i of a mix in block i."""
    rows = [
        {"mix": mix, "block": str(i + 1) if blocks else "1", "left_h": left, "right_h": right}
        for mix, pairs in ends.items()
        for i, (left, right) in enumerate(pairs)
    ]
    return pd.DataFrame(rows).assign(vessel=[f"K{i:02d}" for i in range(len(rows))])


def drawn(medians, spread, vessels, seed):
    rng = np.random.default_rng(seed)
    ends = {}
    for m, median in enumerate(medians):
        hours = median * np.exp(spread * rng.normal(size=vessels))
        at = np.searchsorted(LOOKS, hours)
        ends[f"M{m + 1:02d}"] = list(zip(LOOKS[at - 1], LOOKS[at], strict=True))
    return frame(ends)


FAST, SLOW = [(1, 1.5), (1.5, 2), (1, 1.5), (2, 3)], [(6, 8), (8, 10), (4, 6), (6, 8)]
NEVER, AT_FIRST = [(30, INF)] * 4, [(0, 0.25)] * 4


def test_two_mixes_with_exact_times_are_students_t_test():
    # With exact log-normal times the calibrated likelihood ratio is the t test of the logs
    # (deviance = n log(1 + t^2 / df)), and its interval is that of the ratio of geometric means.
    a, b = np.array([0.1, 0.5, 0.2, 0.4]), np.array([0.6, 0.9, 1.4, 0.8])
    data = frame({"M01": [(x, x) for x in np.exp(a)], "M02": [(x, x) for x in np.exp(b)]})
    row = compare_mixes(data).iloc[0]
    t = stats.ttest_ind(a, b)
    low, high = t.confidence_interval(0.95)
    assert row["estimate"] == pytest.approx(np.exp(a.mean() - b.mean()), rel=1e-6)
    assert (row["conf_low"], row["conf_high"]) == pytest.approx(np.exp([low, high]), rel=1e-4)
    assert row["p_value"] == pytest.approx(t.pvalue, rel=1e-5)
    assert row["p_adjusted"] == row["p_value"]  # a family of one


def test_a_faster_mix_is_said_to_clear_sooner_from_either_side():
    table = compare_mixes(frame({"M01": FAST, "M02": SLOW}))
    row = table.iloc[0]
    assert len(table) == 1
    assert row["verdict"] == "M01 clears sooner"
    assert row["conf_high"] < 1
    turned = compare_mixes(frame({"M01": SLOW, "M02": FAST})).iloc[0]
    assert turned["verdict"] == "M01 clears later"
    assert turned["estimate"] == pytest.approx(1 / row["estimate"], rel=1e-5)
    assert turned["conf_low"] == pytest.approx(1 / row["conf_high"], rel=1e-4)


def test_like_mixes_are_not_called_the_same():
    row = compare_mixes(frame({"M01": FAST, "M02": FAST})).iloc[0]
    assert row["verdict"] == "not shown different"
    assert row["estimate"] == pytest.approx(1, abs=1e-6)
    assert row["p_value"] == pytest.approx(1, abs=1e-3)


def test_holm_is_over_the_declared_family():
    data = drawn([2, 3, 4, 8], 0.3, 4, seed=9)
    everything = compare_mixes(data)
    assert len(everything) == 6
    assert everything["p_adjusted"].tolist() == adjust_p_values(everything["p_value"]).tolist()
    control = compare_mixes(data, plan=ComparisonPlan(control="M02"))
    assert control[["mix_a", "mix_b"]].to_numpy().tolist() == [
        ["M01", "M02"],
        ["M03", "M02"],
        ["M04", "M02"],
    ]
    assert control["p_adjusted"].tolist() == adjust_p_values(control["p_value"]).tolist()


def test_permutation_within_blocks_stands_beside_with_its_smallest_p():
    blocked = compare_mixes(frame({"M01": FAST, "M02": SLOW})).iloc[0]
    # Four blocks of one pair: 2 / 2^4.
    assert (blocked["p_permutation"], blocked["p_smallest"]) == (0.125, 0.125)
    free = compare_mixes(frame({"M01": FAST, "M02": SLOW}, blocks=False)).iloc[0]
    assert free["p_permutation"] == pytest.approx(2 / 70)
    assert free["p_smallest"] == pytest.approx(2 / 70)


def test_a_mix_that_never_cleared_has_a_limit_on_one_side():
    table = compare_mixes(frame({"M01": FAST, "M02": NEVER}))
    row = table.iloc[0]
    assert row["verdict"] == "M01 clears sooner"
    assert (row["estimate"], row["conf_low"]) == (0, 0)
    assert 0 < row["conf_high"] < 0.5
    assert "M02 never cleared in the window" in row["note"]
    # The latest of M01 cleared at 3 h, the earliest of M02 after 30 h: the limit respects both.
    assert row["conf_high"] > 1.25 / 30


def test_two_mixes_that_never_cleared_are_not_compared():
    table = compare_mixes(frame({"M01": FAST, "M02": NEVER, "M03": NEVER}))
    row = table.set_index(["mix_a", "mix_b"]).loc[("M02", "M03")]
    assert row["verdict"] == "no comparison"
    assert row["note"] == "neither cleared in the window: nothing to compare"
    assert (row["conf_low"], row["conf_high"], row["p_value"]) == (0, INF, 1)


@pytest.mark.parametrize(
    ("ends", "words"),
    [(NEVER, "neither cleared in the window"), (AT_FIRST, "clear at its first reading")],
)
def test_no_event_or_all_at_the_first_reading_anywhere(ends, words):
    table = compare_mixes(frame({"M01": ends, "M02": ends, "M03": ends}))
    assert set(table["verdict"]) == {"no comparison"}
    assert table["note"].str.contains(words).all()
    assert table["p_adjusted"].tolist() == [1.0] * 3
    assert overall_difference(frame({"M01": ends, "M02": ends}))["verdict"].item() == "not shown"


def test_all_at_first_against_never_is_left_to_the_permutation():
    # No vessel cleared between two readings, so no spread and no likelihood ratio; yet the labels
    # are split as clearly as can be: p = 2 / C(8, 4).
    row = compare_mixes(frame({"M01": AT_FIRST, "M02": NEVER}, blocks=False)).iloc[0]
    assert row["p_value"] == pytest.approx(2 / 70)
    assert row["verdict"] == "M01 clears sooner"
    assert row["method"] == "permutation within blocks"
    assert "p-value is that of the permutation" in row["note"]


def test_one_vessel_a_mix_gives_no_inference_in_words():
    data = frame({"M01": [(1, 2)], "M02": [(10, 12)], "M03": [(30, INF)]})
    table = compare_mixes(data)
    assert set(table["verdict"]) == {"no comparison"}
    assert table["note"].str.startswith("one vessel a mix").all()
    assert table["p_adjusted"].tolist() == [1.0] * 3
    assert (table["conf_low"] == 0).all()
    assert np.isinf(table["conf_high"]).all()
    assert not table.isna().any(axis=None)


def test_a_declared_scale_lifts_that_and_is_named():
    data = frame({"M01": [(1.99, 2.01)], "M02": [(9.99, 10.01)]})
    plan = ComparisonPlan(scale=0.3, scale_source="three earlier trials")
    row = compare_mixes(data, plan=plan).iloc[0]
    # One value each: z = log ratio / (scale sqrt 2).
    z = np.log(5) / (0.3 * np.sqrt(2))
    assert row["p_value"] == pytest.approx(2 * stats.norm.sf(z), rel=1e-2)
    assert row["conf_low"] == pytest.approx(0.2 * np.exp(-1.96 * 0.3 * np.sqrt(2)), rel=1e-2)
    assert row["verdict"] == "M01 clears sooner"
    assert "scale 0.3 declared from other trials (three earlier trials)" in row["method"]
    assert "rests wholly on the declared scale" in row["note"]


def test_a_declared_scale_is_left_alone_where_vessels_tell_their_own():
    data = frame({"M01": FAST, "M02": SLOW})
    own = compare_mixes(data)
    assert compare_mixes(data, plan=ComparisonPlan(scale=0.01)).equals(own)


def test_one_mix_with_a_single_vessel_borrows_the_spread_and_says_so():
    row = compare_mixes(frame({"M01": FAST, "M02": [(20, 24)]})).iloc[0]
    assert row["note"].startswith("M02 has one vessel")
    assert row["verdict"] == "M01 clears sooner"


def test_thirty_mixes():
    table = compare_mixes(drawn(np.geomspace(1, 25, 30), 0.25, 3, seed=3))
    assert len(table) == 435
    assert not table.isna().any(axis=None)
    far = table[(table["mix_a"] == "M01") & (table["mix_b"] == "M30")]
    assert far["verdict"].item() == "M01 clears sooner"
    neighbours = table[(table["mix_a"] == "M14") & (table["mix_b"] == "M15")]
    assert neighbours["verdict"].item() == "not shown different"


def test_a_lost_vessel_leaves_its_block_uneven():
    ends = {"M01": FAST, "M02": [*SLOW[:3], (0.5, INF)]}
    row = compare_mixes(frame(ends)).iloc[0]
    # Lost after half an hour, the vessel says next to nothing.
    without = {"M01": FAST, "M02": SLOW[:3]}
    alone = compare_mixes(frame(without)).iloc[0]
    assert row["n_event_b"] == 3
    assert row["estimate"] == pytest.approx(alone["estimate"], rel=0.01)
    assert alone["p_smallest"] == pytest.approx(2 / 8)  # three whole blocks and one with one vessel


def test_a_vessel_never_judged_is_said():
    row = compare_mixes(frame({"M01": FAST, "M02": [(0, INF)] * 2})).iloc[0]
    assert row["verdict"] == "no comparison"
    assert row["note"] == "no vessel of M02 could be judged"


def test_a_claim_that_rests_on_equal_spread_says_so():
    # M05 and M06 alone cannot be told apart, but the tight others lend them a small scale.
    tight = {f"M0{i}": [(3, 4), (3, 4), (4, 6), (3, 4)] for i in range(1, 5)}
    wide = {
        "M05": [(2, 3), (8, 10), (3, 4), (16, 20)],
        "M06": [(10, 12), (24, 30), (16, 20), (30, INF)],
    }
    table = compare_mixes(frame(tight | wide)).set_index(["mix_a", "mix_b"])
    row = table.loc[("M05", "M06")]
    assert row["verdict"] == "M05 clears sooner"
    assert row["p_own_scale"] > 0.05
    assert "holds only if all mixes spread alike" in row["note"]
    assert "spread alike" not in compare_mixes(frame({"M01": FAST, "M02": SLOW}))["note"].item()


def test_adjusting_for_a_condition_takes_its_part_away():
    # Times follow temperature alone (twice as long for 3 C less), and the slow mix stood cold.
    rng = np.random.default_rng(14)
    celsius = np.concatenate([24 + rng.normal(0, 0.7, 6), 21.5 + rng.normal(0, 0.7, 6)])
    hours = 4 * 2 ** ((24 - celsius) / 3) * np.exp(0.05 * rng.normal(size=12))
    data = frame({"M01": [(0, 0)] * 6, "M02": [(0, 0)] * 6})
    data = data.assign(left_h=hours, right_h=hours, temperature=celsius)
    plain, adjusted = (
        compare_mixes(data).iloc[0],
        compare_mixes(data, adjust=["temperature"]).iloc[0],
    )
    assert plain["verdict"] == "M01 clears sooner"
    assert adjusted["verdict"] == "not shown different"
    assert adjusted["estimate"] == pytest.approx(1, abs=0.2)
    assert "p_permutation" not in adjusted
    # Least squares on the logs is the same estimate for exact log-normal times.
    design = np.column_stack([np.repeat([1, 0], 6), np.repeat([0, 1], 6), celsius - celsius.mean()])
    beta = np.linalg.lstsq(design, np.log(hours), rcond=None)[0]
    assert adjusted["estimate"] == pytest.approx(np.exp(beta[0] - beta[1]), rel=1e-5)


def test_adjusting_for_blocks_uses_one_column_a_further_block():
    rng = np.random.default_rng(15)
    block = np.tile(np.array([0.0, 0.5, 1.0, 1.5]), 2)
    logs = np.repeat([1.0, 1.4], 4) + block + 0.05 * rng.normal(size=8)
    data = frame({"M01": [(0, 0)] * 4, "M02": [(0, 0)] * 4})
    data = data.assign(left_h=np.exp(logs), right_h=np.exp(logs))
    assert compare_mixes(data)["verdict"].item() == "not shown different"
    row = compare_mixes(data, adjust=["block"]).iloc[0]
    assert row["verdict"] == "M01 clears sooner"
    # Complete blocks and exact log-normal times: the paired t test.
    assert row["p_value"] == pytest.approx(stats.ttest_rel(logs[:4], logs[4:]).pvalue, rel=1e-4)


def test_a_condition_that_explains_every_vessel_leaves_wide_limits():
    """Times, temperatures and 4 vessels: some slope suits all, so the scale has no estimate."""
    data = frame({"M01": [(1, 1.5), (2, 3)], "M02": [(4, 6), (6, 8)]})
    data["temperature"] = [20.0, 22.0, 21.0, 25.0]
    row = compare_mixes(data, adjust=["temperature"]).iloc[0]
    assert row["verdict"] == "not shown different"
    assert row["conf_low"] < 0.1
    assert row["conf_high"] > 2


def test_a_condition_that_repeats_the_mixes_is_refused_in_words():
    data = frame({"M01": [(1, 1.5), (2, 3)], "M02": [(4, 6), (6, 8)]})
    data["block"] = ["1", "1", "2", "2"]
    table = compare_mixes(data, adjust=["block"])
    assert table["verdict"].tolist() == ["no comparison"]
    assert table["note"].str.startswith("too few vessels to hold block equal").all()


def test_refusals():
    data = frame({"M01": FAST, "M02": SLOW})
    with pytest.raises(ValueError, match="two mixes or more"):
        compare_mixes(frame({"M01": FAST}))
    with pytest.raises(ValueError, match="two mixes or more"):
        overall_difference(frame({"M01": FAST}))
    with pytest.raises(ValueError, match="no vessel holds the control mix M09"):
        compare_mixes(data, plan=ComparisonPlan(control="M09"))
    with pytest.raises(ValueError, match="adjust must name columns"):
        compare_mixes(data, adjust=["pressure"])


def test_the_plan_is_what_the_trial_declares():
    protocol = SimpleNamespace(
        family="weibull",
        conf_level=0.9,
        comparisons="control",
        control="M01",
        declared_scale=0.2,
        scale_source="elsewhere",
        seed=7,
    )
    assert ComparisonPlan.of(protocol) == ComparisonPlan("weibull", 0.9, "M01", 0.2, "elsewhere", 7)
    protocol.comparisons = "all pairs"
    assert ComparisonPlan.of(protocol).control is None


def test_any_difference_before_which():
    row = overall_difference(frame({"M01": FAST, "M02": SLOW, "M03": NEVER})).iloc[0]
    assert row["verdict"] == "shown"
    assert (row["n"], row["n_event"], row["n_censored"]) == (12, 8, 4)
    # Three mixes in four blocks: 3! names x 1 of 6^4 arrangements at best.
    assert row["p_smallest"] == pytest.approx(6 / 6**4)
    assert row["p_value"] == pytest.approx(row["p_smallest"])


@pytest.fixture(scope="module")
def harbour():
    return read_trial(DEMO / "harbour")


def test_the_demo_trial_from_folder_to_decision(harbour):
    # The invented trial was made with one blend that never clears.
    table = compare_mixes(harbour)
    assert len(table) == 15
    assert not table.isna().any(axis=None)
    never = table.loc[table["n_event_b"] == 0, "mix_b"].unique()
    assert len(never) == 1
    with_it = table[table["mix_b"] == never[0]]
    assert (with_it["verdict"] == with_it["mix_a"] + " clears sooner").all()
    ranks = rank_mixes(harbour)
    assert ranks["mix"].iloc[-1] == never[0]
    assert (ranks["rank_low"] <= ranks["rank"]).all()
    assert (ranks["rank"] <= ranks["rank_high"]).all()
    assert overall_difference(harbour)["verdict"].item() == "shown"


def test_conditions_of_a_trial_are_fetched_when_asked_for(harbour):
    plain, held = compare_mixes(harbour), compare_mixes(harbour, adjust=["temperature"])
    # All vessels stood at the same temperature within 0.1 C: nothing much to adjust.
    placed = np.isfinite(plain["estimate"]) & (plain["estimate"] > 0)
    ratio = held.loc[placed, "estimate"] / plain.loc[placed, "estimate"]
    assert ratio.to_numpy() == pytest.approx(np.ones(placed.sum()), abs=0.1)


def test_the_demo_trial_with_one_vessel_a_mix_and_a_blind_one(harbour):
    single = read_trial(DEMO / "single")
    table = compare_mixes(single, plan=ComparisonPlan())
    assert set(table["verdict"]) == {"no comparison"}
    lifted = compare_mixes(single, plan=ComparisonPlan(scale=0.2, scale_source="the harbour trial"))
    assert lifted["verdict"].str.contains("clears").any()
    blind = replace(harbour, vessels=harbour.vessels.assign(mix=""))
    with pytest.raises(ValueError, match="still blind"):
        compare_mixes(blind)
