"""Storage findings on a trial written by hand, where every number can be worked out."""

from dataclasses import replace
from datetime import datetime

import numpy as np
import pandas as pd
import pytest

from trialkit.analysis.before_after import quantity_changes
from trialkit.analysis.clarity_kept import clarity_kept
from trialkit.analysis.cleaning import cleaning_interval
from trialkit.analysis.homogeneity import salinity_homogeneity
from trialkit.analysis.residue import residue_summary
from trialkit.analysis.residue_amounts import residue_amounts
from trialkit.analysis.residue_scores import residue_scores
from trialkit.analysis.results import read_results, write_results
from trialkit.analysis.storage import storage_change
from trialkit.analysis.storage_results import storage_results, storage_tables
from trialkit.analysis.water_samples import mass_lost, salinity_samples
from trialkit.records.trial import Criterion, DetectionLimit, Instrument, Protocol, Trial

HAZE = Criterion("haze", "free of haze", "haze", "NTU", 0.3, 1, "majority", "low")
MIXES = {"K10": "M01", "K11": "M01", "K12": "M01", "K13": "M02", "K14": "M02", "K15": "M02"}
UNITS = {"salinity": "PSU", "haze": "NTU", "mass": "kg", "residue": "mg", "alkalinity": "meq/L",
         "film": "score", "pH": ""}  # fmt: skip
COLUMNS = ["vessel", "phase", "session", "quantity", "value", "position", "limit", "unit", "repeat"]


def vessels():
    rows = [(v, "trial", m, str(i % 3), 10.0, 380.0) for i, (v, m) in enumerate(MIXES.items())]
    rows += [(f"W0{i}", "reference", "", str(i), 10.0, 0.0) for i in range(2)]
    frame = pd.DataFrame(rows, columns=["vessel", "role", "mix", "block", "volume_l", "dose_g"])
    return frame.assign(place="1", start_h=0.0, lost_h=np.inf)


def protocol(**changes):
    given = {
        "title": "Hand-made", "start": datetime(2031, 1, 1), "timezone": "UTC", "window_h": 24.0,
        "schedule_h": (1.0, 4.0, 24.0), "storage_days": (14.0, 28.0), "target_salinity": 33.0,
        "criteria": {"haze": HAZE}, "seed": 1, "licence": "CC0-1.0",
        "instruments": {"C01": Instrument("C01", "salinity", "PSU", 0.1)},
        "detection_limits": {"residue": DetectionLimit(10.0, "mg")},
    }  # fmt: skip
    return Protocol(**(given | changes))


def reading(vessel, phase, session, quantity, value, position="", limit="", repeat=1):
    unit = UNITS[quantity]
    return (vessel, phase, session, quantity, value, position, limit, unit, repeat)


def make(rows, **changes):
    """A Trial of readings as `reading` makes them."""
    frame = pd.DataFrame(rows, columns=COLUMNS)
    known = vessels()
    frame = frame.merge(known[["vessel", "role", "mix", "block"]], on="vessel")
    rule = protocol(**changes)
    hours = {"mixing": rule.schedule_h, "storage": [d * 24 for d in rule.storage_days]}
    elapsed = [hours[p][s] for p, s in zip(frame["phase"], frame["session"], strict=True)]
    instrument = np.where(frame["quantity"] == "salinity", "C01", "")
    frame = frame.assign(elapsed_h=elapsed, rater="R01", instrument=instrument, note="", row=2)
    mixes = pd.DataFrame({"mix": ["M01", "M02"], "name": ["A", "B"], "price_per_kg": [4.0, None]})
    return Trial(
        rule, mixes.assign(label_dose_g_per_l=38.0), known, pd.DataFrame({"rater": ["R01"]}),
        frame, None, pd.DataFrame(), pd.DataFrame(columns=["file", "sha256", "bytes"]),
    )  # fmt: skip


def heights(vessel, phase, session, top, bottom):
    return [
        reading(vessel, phase, session, "salinity", top, "top"),
        reading(vessel, phase, session, "salinity", bottom, "bottom"),
    ]


def salinity_rows(after=34.0):
    """Three sessions of mixing, apart at first, and one of storage at `after`."""
    rows = []
    for i, vessel in enumerate(MIXES):
        off = 0.1 * (i % 3)
        rows += heights(vessel, "mixing", 0, 30.0, 33.0)
        rows += heights(vessel, "mixing", 1, 32.9 if i else 31.0, 33.0)
        rows += heights(vessel, "mixing", 2, 33.0 + off, 33.1)
        rows += heights(vessel, "storage", 1, after + off, after)
    return rows


def mass_rows(share=0.03):
    every = [*MIXES, "W00", "W01"]
    return [reading(v, "mixing", 2, "mass", 10.0) for v in every] + [
        reading(v, "storage", 1, "mass", 10.0 * (1 - share)) for v in every
    ]


def residue_rows(amounts=(20.0, 30.0, "<10", 60.0, 90.0, 45.0)):
    rows = [reading(f"W0{i}", "storage", 1, "residue", v) for i, v in ((0, 2.0), (1, 4.0))]
    for vessel, amount in zip(MIXES, amounts, strict=True):
        limit = "<" if isinstance(amount, str) else ""
        value = float(str(amount).lstrip("<"))
        rows.append(reading(vessel, "storage", 1, "residue", value, limit=limit))
    return rows


def haze_rows(last=("clear",) * 5 + ("cloudy",)):
    rows = []
    for phase, session in (("mixing", 2), ("storage", 0), ("storage", 1)):
        rows += [reading(f"W0{i}", phase, session, "haze", 0.1) for i in range(2)]
        for vessel, word in zip(MIXES, last, strict=True):
            cloudy = word == "cloudy" and session == 1 and phase == "storage"
            rows.append(reading(vessel, phase, session, "haze", 1.4 if cloudy else 0.2))
    return rows


ALL = [*salinity_rows(), *mass_rows(), *residue_rows(), *haze_rows()]


def test_top_minus_bottom_at_the_end_of_mixing():
    # Differences -0.1, 0.0, 0.1 in each mix: mean 0, SD 0.1.
    table = salinity_homogeneity(make(ALL)).equivalence
    row = table[(table["mix"] == "M01") & (table["stage"] == "end of mixing")].iloc[0]
    assert row.estimate == pytest.approx(0.0, abs=1e-12)
    # t .975 on 2 df is 4.302653 (tables).
    assert row.conf_high == pytest.approx(4.302653 * 0.1 / np.sqrt(3), abs=1e-5)
    assert row.decision == "equivalent"
    assert row.resolution == pytest.approx(0.1)


def test_a_margin_below_the_step_of_the_instrument_is_said():
    table = salinity_homogeneity(make(ALL), margin=0.05).equivalence
    assert set(table["decision"]) == {"this instrument can't show it"}


def test_heights_agree_between_two_readings():
    found = salinity_homogeneity(make(ALL)).intervals.set_index("vessel")
    assert tuple(found.loc["K10", ["left_h", "right_h"]]) == (4.0, 24.0)
    assert tuple(found.loc["K11", ["left_h", "right_h"]]) == (1.0, 4.0)


def test_a_vessel_apart_at_the_last_reading_is_never_seen_to_agree():
    rows = [*ALL, *heights("K11", "mixing", 2, 30.0, 36.0)]
    found = salinity_homogeneity(make(rows))
    assert found.intervals.set_index("vessel").right_h["K11"] == np.inf
    assert "In 1 vessel the heights were not seen to agree" in str(found)


def test_water_lost_raises_salinity_by_first_mass_over_mass():
    # 33.1 mean at 10 kg; 3% of the mass lost makes 33.1 / 0.97 of it (mass balance).
    after = 33.1 / 0.97
    rows = [r for v in MIXES for r in heights(v, "mixing", 2, 33.1, 33.1)]
    rows += [r for v in MIXES for r in heights(v, "storage", 1, after, after)]
    found = storage_change(make([*rows, *mass_rows(0.03)])).drift.set_index(["mix", "term"])
    assert found.estimate["M01", "the rest"] == pytest.approx(0.0, abs=1e-9)
    assert found.estimate["M01", "by water lost"] == pytest.approx(after - 33.1)
    assert found.estimate["M01", "change in all"] == pytest.approx(after - 33.1)


def test_rounding_keeps_a_drift_of_zero_spread_from_looking_certain():
    rows = [r for v in MIXES for r in heights(v, "mixing", 2, 33.0, 33.0)]
    rows += [r for v in MIXES for r in heights(v, "storage", 1, 33.0, 33.0)]
    row = storage_change(make(rows)).drift.set_index(["mix", "term"]).loc[("M01", "the rest")]
    assert row.conf_high == pytest.approx(4.302653 * 0.1 / np.sqrt(6) / np.sqrt(3), abs=1e-5)


def test_a_loss_of_more_than_two_percent_is_flagged():
    found = storage_change(make(ALL))
    assert (found.losses["flag"] == "more than 2% lost").all()
    assert "More than 2% of the mass" in str(found)
    dry = storage_change(make([*salinity_rows(), *mass_rows(0.019)]))
    assert (dry.losses["flag"] == "").all()


def test_dose_at_target_is_the_dose_scaled_by_the_salt_of_a_kg_of_water():
    # Reached 36.65 on average with 38 g/L: the dose at 33 is 38 x f(33)/f(S) of each vessel, f =
    # g/(1 - g/1000) of the reference salinity g = S 35.16504/35 (IOC et al. 2010).
    rows = [r for v in MIXES for r in heights(v, "mixing", 2, 36.6, 36.7)]
    row = storage_change(make(rows)).dose.set_index("mix").loc["M01"]
    grams = np.array([33.0, 36.65]) * 35.16504 / 35
    salt = grams / (1 - grams / 1000)
    assert row.estimate == pytest.approx(38.0 * salt[0] / salt[1], abs=1e-9)
    assert row.cost == pytest.approx(row.estimate * 100 / 1000 * 4.0)
    assert storage_change(make(rows)).dose.set_index("mix").cost["M02"] is None


def test_all_findings_can_be_written(tmp_path):
    write_results(storage_results(make(ALL), acceptable=50.0), tmp_path)
    assert len(read_results(tmp_path)["dose"]) == 2


def test_residue_below_the_limit_is_taken_as_such():
    found = residue_summary(make(ALL))
    table = found.summary.set_index("mix")
    assert (table.n_censored["M01"], table.n_event["M01"]) == (1, 2)
    assert table.estimate["M02"] == pytest.approx((60 * 90 * 45) ** (1 / 3), rel=1e-9)
    foil = found.means[found.means["term"] == "foil"].iloc[0]
    assert foil.estimate == pytest.approx((20 + 30 + 5) / 3)
    assert "half the limit" in foil.method


def test_mix_with_all_results_below_has_an_upper_bound():
    found = residue_summary(make(residue_rows(("<10", "<10", "<10", 60.0, 90.0, 45.0))))
    row = found.summary.set_index("mix").loc["M01"]
    assert row.estimate == 0
    assert 0 < row.conf_high < 60
    assert "under" in str(found)


def test_a_weight_below_the_declared_limit_counts_as_below():
    frame = residue_amounts(make(residue_rows((3.0, 30.0, 20.0, 60.0, 90.0, 45.0))))
    row = frame.set_index("vessel").loc["K10"]
    assert (row.value, bool(row.below)) == (10.0, True)
    assert row.note == "weighed below the detection limit"


def test_a_weight_of_nothing_without_a_declared_limit_is_below_the_smallest_weight():
    rows = residue_rows((0.0, 30.0, 20.0, 60.0, 90.0, 45.0))
    frame = residue_amounts(make(rows, detection_limits={})).set_index("vessel")
    assert (frame.value["K10"], bool(frame.below["K10"])) == (2.0, True)


def test_blanks_give_limits_of_their_own():
    # Blanks 2 and 4: SD sqrt 2; Currie 1968: detection 4.653 SD.
    table = residue_summary(make(ALL)).limits.set_index("term")
    assert table.estimate["detection limit"] == pytest.approx(4.653 * np.sqrt(2), abs=1e-3)
    assert table.n["detection limit"] == 2


def test_residue_a_litre_is_brought_back_to_the_first_mass():
    rows = [(*r[:7], "mg/L", r[8]) for r in residue_rows()]
    found = residue_amounts(make([*rows, *mass_rows(0.03)])).set_index("vessel")
    assert found.value["K10"] == pytest.approx(20.0 * 0.97)


def test_share_still_clear_is_exact():
    found = clarity_kept(make(ALL))
    table = found.shares[found.shares["day"] == 28.0].set_index("mix")
    assert (table.n_clear["M02"], table.n["M02"]) == (2, 3)
    assert table.estimate["M01"] == 1
    # Clopper & Pearson 1934: the lower limit of 3 of 3 is 0.025 ** (1/3).
    assert table.conf_low["M01"] == pytest.approx(0.025 ** (1 / 3))
    row = found.intervals.set_index("vessel").loc["K15"]
    assert (row.left_day, row.right_day) == (13.0, 27.0)
    assert "clouded again: K15 (M02)" in str(found)


def test_haze_gained_is_against_purified_water():
    table = clarity_kept(make(ALL)).change.set_index("mix")
    assert table.estimate["M01"] == pytest.approx(0.0, abs=1e-12)
    assert table.estimate["M02"] == pytest.approx(1.2 / 3)


def test_vessels_never_clear_are_not_counted():
    rows = [r if r[:4] != ("K10", "mixing", 2, "haze") else (*r[:4], 9.0, *r[5:]) for r in ALL]
    table = clarity_kept(make(rows)).shares
    assert (table.loc[table["mix"] == "M01", "n"] == 2).all()


def test_another_quantity_before_and_after():
    rows = [reading(v, "mixing", 2, "alkalinity", 3.0) for v in MIXES]
    rows += [reading(v, "storage", 1, "alkalinity", 2.5) for v in MIXES]
    rows += [reading(v, "mixing", 2, "pH", 8.0 + 0.1 * i) for i, v in enumerate(MIXES)]
    rows += [reading(v, "storage", 1, "pH", 8.2 + 0.1 * i) for i, v in enumerate(MIXES)]
    table = quantity_changes(make([*rows, *mass_rows(0.04)])).set_index(["quantity", "mix"])
    assert table.estimate["alkalinity", "M01"] == pytest.approx(2.5 * 0.96 - 3.0)
    assert table.estimate["pH", "M02"] == pytest.approx(0.2)
    assert table.conf_low["pH", "M02"] < 0.2 < table.conf_high["pH", "M02"]


def test_scores_of_residue_go_through_the_ordinal_model():
    rows = [reading(v, "storage", 1, "film", s) for v, s in zip(MIXES, (1, 1, 2, 3, 4, 3))]  # noqa: B905
    row = residue_scores(make(rows)).iloc[0]
    assert (row.mix_a, row.mix_b, row.n) == ("M02", "M01", 6)
    # Without overlap the odds are infinite; 3 against 3 give p = 2/20 at best and bound nothing.
    assert (row.estimate, row.conf_low, row.conf_high) == (np.inf, 0, np.inf)
    assert row.p_value == pytest.approx(0.1)


def test_weeks_between_cleanings():
    residue = residue_summary(make(ALL))
    table = cleaning_interval(residue, 120.0).set_index("mix")
    # A rate of 62.4 mg in 4 weeks.
    rate = (60 * 90 * 45) ** (1 / 3) / 4
    assert table.estimate["M02"] == pytest.approx(120 / rate)
    assert "Taken for granted" in table.note["M02"]
    with pytest.raises(ValueError, match="above 0"):
        cleaning_interval(residue, 0.0)


LIMITS = ["conf_low", "conf_high"]


def tenfold(trial: Trial, vessel: str) -> Trial:
    own = trial.readings[trial.readings["vessel"] == vessel]
    more = [own.assign(repeat=n) for n in range(2, 11)]
    return replace(trial, readings=pd.concat([trial.readings, *more], ignore_index=True))


def test_readings_of_one_vessel_repeated_tenfold_narrow_no_interval():
    # Hurlbert 1984: sub-samples are not replicates.
    rng = np.random.default_rng(8)
    rows = [reading(v, p, s, "alkalinity", 3 + rng.normal() / 9) for v in MIXES
            for p, s in (("mixing", 2), ("storage", 1))]  # fmt: skip
    trial = make([*ALL, *rows])
    once, again = storage_tables(trial), storage_tables(tenfold(trial, "K11"))
    compared = 0
    for name, table in once.items():
        if set(LIMITS) <= set(table.columns) and len(table):
            before, after = table[LIMITS].astype(float), again[name][LIMITS].astype(float)
            width = [b["conf_high"] - b["conf_low"] for b in (before, after)]
            both = np.isfinite(width[0])
            assert (width[1][both] >= width[0][both] - 1e-9).all(), name
            compared += int(both.sum())
    assert compared > 20


def test_a_trial_without_storage_has_all_columns_and_says_why():
    trial = make([r for r in ALL if r[1] == "mixing"])
    tables = storage_tables(trial)
    assert tables["storage_words"]["sentence"][0].startswith("No reading was made in storage")
    for name in ("storage", "residue", "residue_ratios", "clarity_kept", "mass_losses"):
        assert len(tables[name]) == 0, name
        assert len(tables[name].columns) > 3, name


def test_a_trial_with_storage_readings_only_works(tmp_path):
    trial = make([r for r in ALL if r[1] == "storage"])
    found = storage_results(trial)
    assert len(found["residue"]) == 2
    assert set(found["homogeneity"]["stage"]) == {"end of storage"}
    # Without mixing, vessels clear at the first storage reading are followed.
    assert found["clarity_kept"]["n"].tolist() == [3, 3, 3, 3]
    assert "no drift is known" in found["storage_words"]["sentence"][2]
    write_results(found, tmp_path)
    assert len(read_results(tmp_path)["residue_vessels"]) == 8


def test_a_vessel_never_clear_cannot_cloud_again():
    rows = [r for r in haze_rows() if r[1] == "storage"]
    rows = [r if r[0] != "K12" else (*r[:4], 9.0, *r[5:]) for r in rows]
    found = clarity_kept(make(rows))
    assert "K12" not in set(found.intervals["vessel"])
    assert found.shares.set_index(["mix", "day"]).n["M01", 28.0] == 2


def test_one_vessel_a_mix_is_said_and_placed_nowhere():
    trial = make([r for r in ALL if r[0] in ("K10", "K13", "W00", "W01")])
    tables = storage_tables(trial)
    words = tables["storage_words"].set_index("topic")["sentence"]
    assert "With one vessel a mix" in words["residue"]
    assert "With one vessel a mix" in words["salinity"]
    assert np.isinf(tables["storage"]["conf_high"]).all()
    assert set(tables["homogeneity"]["decision"][:2]) == {"not settled"}


def test_no_reading_at_all_works():
    tables = storage_tables(make([reading("K10", "mixing", 0, "haze", 1.0)]))
    assert all(len(tables[name]) == 0 for name in tables if name != "storage_words")


def test_a_blind_trial_is_refused_in_words():
    trial = make(ALL)
    blind = replace(trial, vessels=trial.vessels.assign(mix=""))
    with pytest.raises(ValueError, match="still blind"):
        storage_results(blind)


def test_specific_gravity_and_conductivity_become_practical_salinity():
    # Millero & Poisson 1981 with TEOS-10: SP 34.51 at SG 1.026 (25/25); 53.0 mS/cm at 25 C is
    # SP 34.947 (UNESCO 1983).
    trial = make([reading("K10", "storage", 1, "salinity", 1.026)])
    gravity = Instrument("C01", "salinity", "SG", 0.001, "25/25")
    rule = replace(trial.protocol, instruments={"C01": gravity})
    trial = replace(trial, protocol=rule, readings=trial.readings.assign(unit="SG"))
    row = salinity_samples(trial).iloc[0]
    assert row.value == pytest.approx(34.51, abs=0.03)
    assert row.resolution == pytest.approx(1.32, abs=0.02)
    warm = [reading("K10", "storage", 1, "salinity", 53.0),
            ("K10", "storage", 1, "temperature", 25.0, "", "", "C", 1)]  # fmt: skip
    trial = make(warm, instruments={})
    units = trial.readings["unit"].replace("PSU", "mS/cm")
    found = salinity_samples(replace(trial, readings=trial.readings.assign(unit=units)))
    assert found.value[0] == pytest.approx(34.947, abs=2e-3)


def test_level_stands_for_mass_where_a_vessel_was_not_weighed():
    rows = [("K10", "mixing", 2, "level", 300.0, "", "", "mm", 1),
            ("K10", "storage", 1, "level", 285.0, "", "", "mm", 1)]  # fmt: skip
    assert mass_lost(make(rows)).share_lost.to_list() == pytest.approx([0.0, 0.05])
