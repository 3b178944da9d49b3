"""The committed demo trials are what their seeds say, and tell the story that they should."""

import tomllib
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from trialkit.analysis.clearing import clearing_intervals
from trialkit.planning.demo import write_demo
from trialkit.planning.seal_check import check_seal
from trialkit.records.check import check_trial
from trialkit.records.read import read_trial

DEMO = Path(__file__).parents[2] / "data" / "demo"
TRIALS = ("harbour", "rerun", "single")


def read(trial, name):
    return pd.read_csv(DEMO / trial / f"{name}.csv", dtype={"value": str}, keep_default_na=False)


def test_demo_is_regenerated_byte_for_byte(tmp_path):
    write_demo(tmp_path)
    committed = sorted(p.relative_to(DEMO) for t in TRIALS for p in (DEMO / t).glob("*.*"))
    written = sorted(p.relative_to(tmp_path) for p in tmp_path.rglob("*.*"))
    assert written == committed
    assert len(written) >= 18
    for path in written:
        assert (tmp_path / path).read_bytes() == (DEMO / path).read_bytes(), path


def test_harbour_has_every_blend_once_a_block():
    vessels = read("harbour", "vessels").merge(read("harbour", "key"), how="left")
    trial = vessels[vessels["role"] == "trial"]
    assert len(trial) == 24
    assert set(trial["volume_l"]) == {60.0}
    assert (pd.crosstab(trial["mix"], trial["block"]).to_numpy() == 1).all()
    assert vessels[vessels["role"] == "reference"]["block"].tolist() == [1, 2, 3, 4]


def test_harbour_story():
    lines = _majority_lines()
    # Linden never reads within one line of purified water, in any of its four vessels.
    assert (lines.loc["M05"].to_numpy() < 11).all()
    # Cedar: unclear in every vessel at 4 h, clear in every vessel from 6 h.
    cedar = lines.loc["M03"]
    assert (cedar[4.0] < 11).all()
    assert (cedar.loc[:, 6.0:] >= 11).all(axis=None)
    # Rowan clouds again in block 3 only.
    rowan = lines.loc["M06"]
    late = rowan.loc[:, 12.0:20.0]
    assert (late.loc[3] < 11).all()
    assert (late.drop(index=3) >= 11).all(axis=None)
    # Hazel in block 2 has no reading after it was lost at 4.5 h.
    hazel = lines.loc["M04"]
    assert hazel.loc[2, 6.0:].isna().all()
    assert hazel.drop(index=2).notna().all(axis=None)


def _majority_lines():
    """Lines that both raters read (strictly more than half of two), by mix, block and time."""
    config = tomllib.loads((DEMO / "harbour" / "trial.toml").read_text(encoding="utf-8"))
    frame = read("harbour", "readings").merge(read("harbour", "vessels"), on="vessel")
    frame = frame.merge(read("harbour", "key"), on="vessel")
    frame = frame[(frame["quantity"] == "clarity") & (frame["value"] != "")]
    hours = (pd.to_datetime(frame["time"]) - pd.to_datetime(frame["start"])).dt.total_seconds()
    frame = frame.assign(hours=hours / 3600, value=frame["value"].astype(int))
    frame = frame[frame["hours"] <= config["window_h"]]
    schedule = np.array(config["schedule_h"], float)
    frame["session"] = [schedule[np.abs(schedule - h).argmin()] for h in frame["hours"]]
    return frame.pivot_table(
        index=["mix", "block"], columns="session", values="value", aggfunc="min"
    )


def test_residue_has_values_below_the_limit_and_blanks():
    residue = read("harbour", "readings").query("quantity == 'residue'")
    merged = residue.merge(read("harbour", "vessels"), on="vessel")
    censored = merged["value"].str.startswith("<")
    assert censored.sum() >= 2
    assert (merged.loc[censored, "value"] == "<10").all()
    assert merged["role"].eq("reference").sum() == 8


@pytest.mark.parametrize("trial", TRIALS)
def test_no_reading_after_the_window_or_a_day_off_storage(trial):
    config = tomllib.loads((DEMO / trial / "trial.toml").read_text(encoding="utf-8"))
    frame = read(trial, "readings").merge(read(trial, "vessels"), on="vessel")
    if "time" in frame:
        elapsed = pd.to_datetime(frame["time"]) - pd.to_datetime(frame["start"])
        hours = elapsed.dt.total_seconds() / 3600
    elif "elapsed_min" in frame:
        hours = frame["elapsed_min"] / 60
    else:
        hours = frame["elapsed_h"]
    late = hours[hours > config["window_h"]]
    days = np.array(config.get("storage", {}).get("days", [np.inf]))
    assert (hours > 0).all()
    assert all(np.abs(days * 24 - h).min() <= 24 for h in late)


def test_harbour_is_as_it_was_sealed():
    check = check_seal(DEMO / "harbour")
    assert (check.status, check.key) == ("yes", "yes")
    assert check_seal(DEMO / "rerun").status == "no seal"


@pytest.mark.parametrize("trial", TRIALS)
def test_demo_reads_with_no_word_but_on_its_story(trial):
    problems = check_trial(DEMO / trial)
    if trial == "harbour":
        # The skipped reading, the lost vessel, the loose lid (mass) and the haze that came back.
        assert set(problems["level"]) == {"warn", "note"}
        assert set(problems["column"]) == {"value", "note", "lost_h"}
    else:
        assert problems.empty
    assert not read_trial(DEMO / trial).blinded


def test_harbour_claims_have_one_of_each_verdict():
    # Read off the intervals by eye: Alder is clear by 2 h in all four vessels, Birch hazy at 1 h
    # in all four, and Rowan loses its haze before 8 h in some vessels and after it in others.
    trial = read_trial(DEMO / "harbour")
    clarity, haze = (clearing_intervals(trial, c).set_index("mix") for c in ("clarity", "haze"))
    assert (clarity.loc["M01", "right_h"] <= 2).all()
    assert (clarity.loc["M02", "left_h"] >= 1).all()
    assert (haze.loc["M06", "right_h"] < 8).any()
    assert (haze.loc["M06", "left_h"] > 7.9).any()
