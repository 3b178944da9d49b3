"""Whether raters agree, drift, or would have judged otherwise, on trials made by hand."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from trialkit.analysis.rater_alone import claims_by_rater, times_by_rater
from trialkit.analysis.rater_coefficients import joint_looks
from trialkit.analysis.rater_drift import rater_drift
from trialkit.analysis.rater_intervals import intervals_by_rater
from trialkit.analysis.raters import rater_agreement
from trialkit.records.trial import Claim
from trialkit.stats.agreement import (
    category_counts,
    fleiss_agreement,
    gwet_agreement,
    weighted_kappa,
)

FIRST = [5, 7, 9, 10, 10, 10]


def looks(second, n=4):
    """The same readings of rater R01 in n vessels, those of R02 as given by vessel number."""
    return {f"K1{i}": {"R01": FIRST, "R02": list(second(i))} for i in range(n)}


@pytest.fixture
def slower(hand_trial):
    """R02 sees every vessel clear one session later, in four vessels of two mixes."""
    second = [5, 6, 8, 9, 10, 10]
    mixes = {f"K1{i}": f"M0{1 + i // 2}" for i in range(4)}
    return hand_trial(looks(lambda i: second), mixes=mixes, hold=1)


def coefficients(trial):
    return rater_agreement(trial).coefficients.set_index("term")


def test_same_calls_are_counted(slower):
    # Each vessel: R01 clear at sessions 3, 4, 5, R02 at 4, 5: one look of six is another call.
    table = coefficients(slower)
    assert table.estimate["same call"] == pytest.approx(5 / 6)
    assert table.n["same call"] == 4
    assert table.n_readings["same call"] == 24


def test_kappa_by_hand(slower):
    # A vessel's table is [[3, 0], [1, 2]]: agreement 5/6, chance (3 x 4 + 3 x 2)/36 = 1/2.
    assert coefficients(slower).estimate["call, beyond chance (kappa)"] == pytest.approx(2 / 3)


def test_coefficients_are_those_of_the_published_formulas(hand_trial):
    # Second road: the functions that are held to Fleiss 1971, Cohen 1968 and Gwet's values.
    rng = np.random.default_rng(9)
    for n_rater in (2, 3):
        raters = {f"R0{r + 1}" for r in range(n_rater)}
        values = {
            f"K1{i}": {r: [int(v) for v in rng.integers(8, 12, 6)] for r in sorted(raters)}
            for i in range(5)
        }
        trial = hand_trial(values)
        table, calls = coefficients(trial), joint_looks(trial, "clarity")[0].to_numpy()
        counts = category_counts(calls, [0, 1])
        cross = np.zeros((2, 2))
        np.add.at(cross, tuple(calls[:, :2].astype(int).T), 1)
        kappa = fleiss_agreement(counts)[0] if n_rater > 2 else weighted_kappa(cross, None).estimate
        assert table.estimate["call, beyond chance (kappa)"] == pytest.approx(kappa)
        ac1 = table.estimate["call, beyond chance (AC1)"]
        assert ac1 == pytest.approx(gwet_agreement(counts))


def test_mean_difference_is_first_minus_second(slower):
    # R01 reads 0, 1, 1, 1, 0, 0 lines more.
    row = coefficients(slower).loc["mean difference"]
    assert row.estimate == pytest.approx(0.5)
    assert row.unit == "lines"


def test_another_verdict_by_one_rater_alone(slower):
    claim = Claim("early", "clear within 4 h", "M01", "clarity", within_h=4.0)
    trial = replace(slower, protocol=replace(slower.protocol, claims={"early": claim}))
    found = claims_by_rater(trial).set_index("rater")
    # By R01 both vessels of the mix came clear in (3, 4]; by R02 in (4, 5].
    assert found.alone["R01"] != "contradicted"
    assert found.alone["R02"] != "supported"


def test_intervals_that_one_rater_alone_would_change(slower):
    # Majority is strictly more than half: both must call it clear, which R02 decides.
    found = times_by_rater(slower).groupby("rater").n_changed.sum()
    assert found.to_dict() == {"R01": 4, "R02": 0}


def test_intervals_by_one_rater_alone(slower):
    # R01 calls M01 clear in (3, 4], R02 in (4, 5]: the looks of the fixture, read off by eye.
    found = intervals_by_rater(slower, ["clarity"])
    own = found[found["mix"] == "M01"].groupby("rater")[["left_h", "right_h"]].first()
    assert own.loc["R01"].tolist() == [3.0, 4.0]
    assert own.loc["R02"].tolist() == [4.0, 5.0]
    changed = times_by_rater(slower)[["criterion", "rater", "n"]].groupby("rater")["n"].sum()
    assert found.groupby("rater").size().to_dict() == changed.to_dict()


def test_drift_of_a_line_is_found_to_the_digit(hand_trial):
    # R02 falls behind by a fifth of a line a session, exactly: one line over five steps.
    trial = hand_trial(looks(lambda i: np.subtract(FIRST, 0.2 * np.arange(6)) + 0.1 * i))
    found = rater_drift(trial).set_index(["rater", "term"])
    row = found.loc[("R02", "against the other raters")]
    assert row.estimate == pytest.approx(-1.0)
    assert row.conf_high < 0
    assert found.loc[("R01", "against the other raters")].estimate == pytest.approx(1.0)
    water = found.loc[("R02", "on purified water")]
    assert (water.estimate, water.conf_low, water.conf_high) == (0, -np.inf, np.inf)  # one vessel


def test_drift_reaches_the_sentence(hand_trial):
    trial = hand_trial(looks(lambda i: np.subtract(FIRST, 0.2 * np.arange(6)) + 0.1 * i))
    assert "Drift from the first session to the last: R01 by +1 lines" in str(
        rater_agreement(trial)
    )


def test_readings_of_every_vessel_repeated_tenfold_narrow_nothing(hand_trial):
    rng = np.random.default_rng(6)
    trial = hand_trial(looks(lambda i: np.clip(FIRST + rng.integers(-1, 2, 6), 0, 10), n=6))
    tenfold = replace(trial, readings=pd.concat([trial.readings] * 10, ignore_index=True))
    once, again = coefficients(trial), coefficients(tenfold)
    width = once.conf_high - once.conf_low
    assert ((again.conf_high - again.conf_low) >= width - 1e-9).all()


def test_one_rater_is_said_in_a_sentence(hand_trial):
    trial = hand_trial({"K10": {"R01": FIRST}, "K11": {"R01": FIRST}})
    found = rater_agreement(trial)
    assert len(found.coefficients) == len(found.claims) == len(found.alone) == 0
    assert str(found).startswith("One rater judged")
    assert list(found.coefficients.columns)[:3] == ["criterion", "rater", "term"]


def test_three_raters(hand_trial):
    values = {v: {**r, "R03": FIRST} for v, r in looks(lambda i: [5, 6, 8, 9, 10, 10]).items()}
    table = rater_agreement(hand_trial(values)).coefficients
    assert set(table.rater) == {"R01, R02, R03", "R01, R02", "R01, R03", "R02, R03"}
    pair = table[(table.rater == "R01, R03") & (table.term == "mean difference")].iloc[0]
    # Four vessels alike to the line still leave the spread of rounding: a sixth of a squared line
    # for one difference, a sixth of that for a mean of six. t .975 on 3 df is 3.182446.
    assert pair.estimate == 0
    assert pair.conf_high == pytest.approx(3.182446 / 6 / 2, abs=1e-6)


def test_calls_all_alike_leave_out_what_cannot_be_measured(hand_trial):
    values = {f"K1{i}": {"R01": [3, 4], "R02": [3, 4]} for i in range(3)}
    table = coefficients(hand_trial(values))
    assert table.estimate["same call"] == 1
    # Clopper & Pearson 1934 for 3 of 3 vessels alike: 0.025 ** (1/3).
    assert table.conf_low["same call"] == pytest.approx(0.025 ** (1 / 3))
    assert table.conf_low["shortfall, all raters (alpha)"] == -1
    assert "call, beyond chance (kappa)" not in table.index
    assert table[["estimate", "conf_low", "conf_high"]].notna().to_numpy().all()


def test_looks_of_one_rater_only_are_not_compared(hand_trial):
    values = looks(lambda i: [5, None, 8, 9, None, 10])
    calls, _ = joint_looks(hand_trial(values), "clarity")
    assert len(calls) == 16
