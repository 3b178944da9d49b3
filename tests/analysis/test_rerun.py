"""Pooling of many trials: who joins, what comes out, in which order it does not matter."""

import json
import os
import shutil
from dataclasses import replace
from pathlib import Path

import joblib
import numpy as np
import pandas as pd
import pytest
from click.testing import CliRunner
from scipy import stats

import trialkit as tk
from trialkit.analysis.rerun_copies import Sheet, filled_down, repeated
from trialkit.analysis.rerun_digits import last_digit_p_value
from trialkit.analysis.rerun_flags import CLOSE, close_agreement, trial_flags
from trialkit.analysis.rerun_influence import leave_one_out
from trialkit.analysis.rerun_join import join_trials
from trialkit.analysis.rerun_pairs import pooled_pairs
from trialkit.analysis.rerun_patterns import reading_patterns
from trialkit.cli import cli
from trialkit.pool import read_records
from trialkit.stats.mixed_aft import fit_mixed_aft

DEMO = [f"data/demo/{name}" for name in ("harbour", "rerun", "single")]
FIT = ["left_h", "right_h", "mix", "trial"]


@pytest.fixture(scope="module")
def records():
    found, skipped = read_records(DEMO)
    assert skipped == []
    return found


@pytest.fixture(scope="module")
def results(records):
    return tk.pool_trials(records)


def test_mixes_join_by_name_with_lot(results):
    times = results["pooled_times"]
    typical = times[times["term"] == "typical time"].set_index("mix")
    # Alder with the same lot is in all three trials: 4 + 3 + 1 vessels; Hazel in one.
    assert typical.loc["Alder, lot A-117", ["n", "n_trials"]].tolist() == [8, 3]
    assert typical.loc["Hazel, lot H-331", "n_trials"] == 1


def test_another_lot_is_another_mix_unless_asked(records):
    other = replace(records[1], mixes=records[1].mixes.assign(lot="NEW"))
    changed = [records[0], other, records[2]]
    assert "Alder, lot NEW" in set(join_trials(changed).vessels["mix"])
    names = set(join_trials(changed, tk.PoolingRules(by_lot=False)).vessels["mix"])
    assert "Alder" in names
    assert not any("lot" in name for name in names)


def test_spaces_and_forms_of_letters_do_not_part_a_mix(tmp_path):
    folder = tmp_path / "single"
    shutil.copytree("data/demo/single", folder)
    path = folder / "mixes.csv"
    text = path.read_text(encoding="utf-8")
    assert "M01,Alder,A-117" in text
    path.write_text(text.replace("M01,Alder,", "M01, \uff21lder ,"), encoding="utf-8")
    found, skipped = read_records([folder])
    assert skipped == []
    assert found[0].mixes["name"][0] == "Alder"


def test_capital_letters_do_not_part_a_mix(records):
    shouted = records[1].mixes.assign(name=records[1].mixes["name"].str.upper(),
                                      lot=records[1].mixes["lot"].str.lower())  # fmt: skip
    joined = join_trials([records[0], replace(records[1], mixes=shouted), records[2]])
    assert joined.mixes.set_index("mix").loc["Alder, lot A-117", "n_trials"] == 3
    assert not joined.mixes["name"].str.isupper().any()


def test_a_lot_that_is_not_known_is_not_taken_for_another(records):
    bare = replace(records[1], mixes=records[1].mixes.assign(lot=""))
    joined = join_trials([records[0], bare, records[2]])
    counts = joined.mixes.set_index("mix")["n_trials"]
    assert (counts["Alder, lot A-117"], counts["Alder"]) == (2, 1)


def test_what_is_known_of_the_demo_comes_out(results):
    """The vessels of one mix lie around its pooled time, and Linden never clears."""
    times = results["pooled_times"].set_index(["mix", "term"])
    own = results["pooled_vessels"]
    alder = own[own["mix"] == "Alder, lot A-117"]
    typical = times.loc[("Alder, lot A-117", "typical time")]
    assert alder["left_h"].min() < typical["estimate"] < alder["right_h"].max()
    linden = times.loc[("Linden, lot L-58", "typical time")]
    assert linden["estimate"] == linden["conf_high"] == np.inf
    assert 10 < linden["conf_low"] < 40


def test_a_new_batch_is_less_certain_than_the_mean(results):
    times = results["pooled_times"]
    wide = times[times["term"] == "new batch"].set_index("mix")
    narrow = times[times["term"] == "typical time"].set_index("mix")
    placed = narrow.index[np.isfinite(narrow["estimate"])]
    assert (wide.loc[placed, "conf_high"] > narrow.loc[placed, "conf_high"]).all()
    assert (wide.loc[placed, "conf_low"] < narrow.loc[placed, "conf_low"]).all()


def test_both_roads_lead_to_about_the_same_place(results):
    times = results["pooled_times"]
    vessels = times[times["term"] == "typical time"].set_index("mix")["estimate"]
    summary = results["summary_pool"].set_index("mix")["estimate"]
    assert len(summary)
    assert summary.to_dict() == pytest.approx(vessels[summary.index].to_dict(), rel=0.25)


def test_order_of_inputs_changes_no_byte(records, tmp_path):
    for name, order in (("a", records), ("b", records[::-1])):
        (tmp_path / name).mkdir()
        skipped = [("x", "bad"), ("w", "worse")]
        found = tk.pool_trials(order, skipped=skipped if name == "a" else skipped[::-1])
        tk.write_results(found, tmp_path / name)
    texts = [(tmp_path / name / "results.json").read_bytes() for name in "ab"]
    assert texts[0] == texts[1]


def test_the_same_trial_twice_counts_once(records):
    joined = join_trials([*records, replace(records[0], source="copy")])
    assert len(joined.trials) == 3
    out = joined.left_out.iloc[0]
    assert (out["source"], out["message"]) == ("harbour", "the same files as copy")


def test_a_trial_whose_readings_were_changed_is_not_counted_twice(records):
    """A folder that was corrected after its bundle was made is still the same trial."""
    changed = replace(records[1], source="rerun.zip", digest="other")
    for order in ([*records, changed], [changed, *records]):
        joined = join_trials(order)
        assert len(joined.trials) == 3
        assert (
            "Only rerun counts" in joined.left_out.set_index("source").loc["rerun.zip", "message"]
        )


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"blinded": True}, "still blind"),
        ({"criteria": {}}, "no criterion 'clarity'"),
        ({"target_salinity": 20.0}, "aimed at salinity 20"),
        ({"temperature_c": 5.0}, "water had 5 degrees"),
        ({"volume_l": 1.0}, "vessels of 1 L"),
    ],
)
def test_what_cannot_be_compared_is_left_out_with_a_reason(records, change, words):
    odd = replace(records[1], source="odd", **change)
    if "volume_l" in change:
        records = [replace(r, volume_l=60.0) for r in records]
    if "temperature_c" in change:
        records = [replace(r, digest=str(k), temperature_c=21.0) for k, r in enumerate(records)]
    joined = join_trials([records[0], odd, records[2]])
    assert words in joined.left_out.set_index("source").loc["odd", "message"]
    assert "odd" not in set(joined.trials["source"])


def test_another_unit_is_not_compared(records):
    rule = replace(records[1].criteria["clarity"], unit="score")
    odd = replace(records[1], criteria={"clarity": rule})
    left_out = join_trials([records[0], odd, records[2]]).left_out
    assert "by clarity in score, most others by clarity in lines" in left_out["message"][0]


def test_one_definition_of_clear_is_applied_to_all(records):
    strict = replace(records[2].criteria["clarity"], tolerance=0.0, hold=3)
    mixed = [*records[:2], replace(records[2], criteria={"clarity": strict})]
    joined = join_trials(mixed)
    assert joined.definition.startswith("one for all trials: clarity: within 1 ")
    same = join_trials(records).vessels
    pd.testing.assert_frame_equal(joined.vessels, same)
    own = join_trials(mixed, tk.PoolingRules(common=False))
    assert own.definition == "each trial's own"
    # A smaller tolerance held for longer: no vessel clears earlier, some later.
    alike = same["trial"] != "T0003"
    pd.testing.assert_frame_equal(own.vessels[alike], same[alike])
    assert (own.vessels["right_h"] >= same["right_h"]).all()
    assert (own.vessels["right_h"] > same["right_h"]).any()


def test_intervals_without_readings_keep_their_own_definition(records):
    judged = join_trials([records[2]]).vessels
    given = judged.assign(block="", reclouded_h=np.inf, n_readings=0)
    codes = dict(zip(records[2].mixes["name"], records[2].mixes["mix"], strict=True))
    given["mix"] = given["mix"].str.split(",").str[0].map(codes)
    bare = replace(records[2], gaps={}, given={"clarity": given})
    joined = join_trials([*records[:2], bare])
    assert joined.definition == "each trial's own"
    assert (joined.vessels["trial"] == "T0003").sum() == len(judged)


def test_nothing_left_is_said(records):
    with pytest.raises(ValueError, match=r"no trial is left.*First: harbour: its mixes are still"):
        join_trials([replace(records[0], blinded=True)])


def test_a_trial_with_one_vessel_a_mix_gets_labelled_limits_by_a_borrowed_scale(results, tmp_path):
    folder = tmp_path / "single"
    shutil.copytree("data/demo/single", folder, ignore=shutil.ignore_patterns("out"))
    toml = folder / "trial.toml"
    text = toml.read_text(encoding="utf-8") + "\n" + tk.scale_toml(results)
    toml.write_text(text, encoding="utf-8")
    trial = tk.read_trial(folder)
    assert trial.problems["level"].ne("warn").all()
    row = results["spreads"].set_index("term").loc["within a trial"]
    wider = stats.t.ppf(0.975, row["df"]) / stats.norm.ppf(0.975)
    assert trial.protocol.declared_scale == pytest.approx(row["estimate"] * wider, rel=1e-3)
    told = CliRunner().invoke(cli, ["report", str(folder)])
    assert told.exit_code == 0, told.output
    found = tk.read_results(folder / "out")
    times = found["times"]
    own = times[(times["mix"] == "M01") & times["term"].eq("typical time")].iloc[0]
    # One vessel seen clear in (left, right]: limits lie outside it by about z times the scale.
    assert 0 < own["conf_low"] < own["estimate"] < own["conf_high"] < np.inf
    assert found.meta["declared_scale"] == trial.protocol.declared_scale
    page = (folder / "out" / "report.html").read_text(encoding="utf-8")
    assert "declared, not measured by this trial" in " ".join(page.split())
    assert trial.protocol.scale_source in " ".join(page.split())


@pytest.mark.parametrize("df", [3, 8, 30])
def test_limits_by_a_borrowed_scale_hold_as_often_as_said(df):
    """Estimates of a scale of 1 with their error; exact times of one vessel, simulated."""
    rng = np.random.default_rng(77)
    estimate, time = np.sqrt(rng.chisquare(df, 20_000) / df), rng.normal(size=20_000)
    table = pd.DataFrame({"term": ["within a trial"], "estimate": 1.0, "conf_low": 0.5,
                          "conf_high": 2.0, "conf_level": 0.95, "df": df})  # fmt: skip
    meta = {"n_trials": 1, "n_vessels": 1, "scale_known": True, "criterion": "clarity"}
    value = estimate * tk.borrowed_scale(tk.Results(meta, {"spreads": table}))["value"]
    inside = np.abs(time) <= stats.norm.ppf(0.975) * value
    assert inside.mean() == pytest.approx(0.95, abs=0.006)
    bound = time + (stats.norm.ppf(0.9) + stats.norm.ppf(0.95)) * value
    assert np.mean(bound >= stats.norm.ppf(0.9)) == pytest.approx(0.945, abs=0.01)


def test_the_scale_is_not_made_up(records):
    single = [replace(records[2], digest=str(k), title=f"s{k}") for k in range(3)]
    pooled = tk.pool_trials(single)
    assert pooled.meta["note"].startswith("how much batches of a mix differ from place to place")
    assert "cluster" not in pooled.meta["note"]
    with pytest.raises(ValueError, match="two vessels of one mix"):
        tk.borrowed_scale(pooled)


def simulated(trials, vessels, seed, ratio=1.8):
    rng = np.random.default_rng(seed)
    hours = np.array([0, 0.25, 0.5, 1, 1.5, 2, 3, 4, 6, 8, 12, 24, np.inf])
    trial = np.repeat(range(trials), 2 * vessels)
    mix = np.tile(np.repeat(["a", "b"], vessels), trials)
    log_time = np.where(mix == "a", 0.5, 0.5 + np.log(ratio)) + 0.3 * rng.normal(size=trials)[trial]
    at = np.searchsorted(hours, np.exp(log_time + 0.3 * rng.normal(size=len(trial))))
    codes = [f"T{k:04}" for k in trial]
    return pd.DataFrame({"left_h": hours[at - 1], "right_h": hours[at], "mix": mix, "trial": codes})


def test_one_step_without_a_trial_agrees_with_fitting_again():
    vessels = simulated(14, 2, 5)
    fit = fit_mixed_aft(*(vessels[c] for c in FIT))
    step = leave_one_out(fit, vessels, refit_up_to=0)
    again = leave_one_out(fit, vessels, refit_up_to=99)
    assert step[["trial", "mix"]].equals(again[["trial", "mix"]])
    assert np.log(step["ratio"] / again["ratio"]).abs().max() < 0.02
    assert np.log(again["ratio"]).abs().max() > 0.02  # so that the agreement says something


def test_so_many_more_trials_do_settle_an_open_pair():
    """With the number of trials that the table asks for, about 80% of new sets settle the pair."""
    vessels = simulated(6, 1, 3, ratio=1.3)
    row = pooled_pairs(fit_mixed_aft(*(vessels[c] for c in FIT)), vessels).iloc[0]
    assert row["decision"] == "open"
    total = int(6 + row["more_trials"])
    settled = []
    for seed in range(40):
        again = simulated(total, 1, 900 + seed, ratio=1 / row["ratio"])
        pairs = pooled_pairs(fit_mixed_aft(*(again[c] for c in FIT)), again)
        settled.append(pairs["decision"][0] == "settled")
    # The plan rests on one small set's own standard error: 80%, give or take a good deal.
    assert 0.5 <= np.mean(settled) <= 1.0


def test_too_close_agreement_is_rare_by_chance_and_found_when_invented():
    schedule = [0.25 * k for k in range(1, 97)]
    rng = np.random.default_rng(17)

    def trial(sigma):
        time = np.exp(np.repeat([0.5, 1.0, 1.5, 2.0], 4) + sigma * rng.normal(size=16))
        right = np.ceil(time / 0.25) * 0.25
        frame = {"mix": np.repeat(list("abcd"), 4), "left_h": right - 0.25, "right_h": right}
        return pd.DataFrame(frame)

    honest = [close_agreement(trial(0.3), schedule, 0.3) for _ in range(60)]
    assert np.mean(np.array(honest) < 0.05) < 0.15
    assert close_agreement(trial(0.02), schedule, 0.3) < 1e-3


def test_an_invented_trial_is_named_in_neutral_words(records):
    assert tk.pool_trials(records)["flags"].empty  # the demo trials were simulated with noise
    fine = tuple(np.round(np.geomspace(0.1, 24, 60), 3))
    close = pd.DataFrame({"mix": np.repeat(list("abcd"), 4), "left_h": 2.0, "right_h": 2.1})
    own = close.assign(trial="T0001")
    fit = fit_mixed_aft(*(simulated(8, 2, 4)[c] for c in FIT))
    record = replace(records[1], source="odd", schedule_h=fine, patterns=("a pattern",))
    flags = trial_flags(fit, own, {"T0001": record})
    assert flags["message"].tolist() == [CLOSE, "a pattern"]
    assert flags["p_value"][0] < 1e-3


def _dragged(values):
    return [f"{10 - 0.25 * k:.2f}" for k in range(len(values))]


def _filled_down(values):
    return [values[0]] * len(values)


def _another_vessel(values):
    return [f"{20 * 0.8**k:.2f}" for k in range(len(values))]


@pytest.mark.parametrize(
    ("quantity", "vessels", "change", "words"),
    [
        ("haze", 1, _dragged, "readings of haze rise or fall in equal steps down the sheet"),
        ("haze", 1, _filled_down, "one value of haze stands in many cells in a row"),
        ("haze", 2, _another_vessel, "two vessels have the same readings of haze"),
        ("salinity", 99, lambda values: ["33.17"] * len(values),
         "all readings of salinity are equal to the last of many digits"),
    ],
)  # fmt: skip
def test_readings_that_a_spreadsheet_made_are_named(tmp_path, quantity, vessels, change, words):
    folder = tmp_path / "rerun"
    shutil.copytree("data/demo/rerun", folder)
    assert reading_patterns(tk.read_trial(folder)) == ()
    path = folder / "readings.csv"
    frame = pd.read_csv(path, dtype=str, keep_default_na=False)
    frame = frame.sort_values(["vessel", "elapsed_min"], kind="stable", key=_number_or_text)
    own = frame[frame["quantity"] == quantity].groupby("vessel", sort=False)
    for _, rows in list(own)[:vessels]:
        frame.loc[rows.index[:8], "value"] = change(rows["value"].tolist()[:8])
        if vessels > 2:
            frame.loc[rows.index, "value"] = change(rows["value"].tolist())
    frame.to_csv(path, index=False, lineterminator="\n")
    assert reading_patterns(tk.read_trial(folder)) == (words,)


def _number_or_text(column):
    return pd.to_numeric(column) if column.name == "elapsed_min" else column


def test_a_round_that_stands_twice_is_named():
    later, other = [19.31, 14.02, 9.77, 12.5, 7.13], [21.04, 18.8, 16.2, 11.1, 9.3]
    assert repeated(np.array([other, later, later]), 0.01)
    # Of the same few values, as an eye reads them, repetition is no surprise.
    few = np.random.default_rng(6).integers(3, 5, (8, 5)).astype(float)
    assert not repeated(np.vstack([few, few[-1]]), 0.01)


def test_water_that_stands_still_is_not_named():
    """Clear water, a mix that never clears, a thermostat, a meter in steps of 0.05."""
    clear = Sheet.of([21.3, 12.7, 5.2, *[0.1] * 20], [1] * 23, range(23))
    stuck = Sheet.of([3.0] * 30 + [1, 4, 8, 12, 12], [1] * 30 + [2] * 5, range(35))
    assert not filled_down(clear)
    assert not filled_down(stuck)
    slow = np.round(0.1 + 20 * np.exp(-np.arange(3000) / 400), 2)  # a logger's, hardly any noise
    logged = Sheet.of(np.tile(slow, 8), np.repeat(range(8), 3000), np.tile(range(3000), 8))
    assert not filled_down(logged)
    assert not repeated(logged.table().T, 0.01)
    steps = np.round(np.random.default_rng(4).uniform(2, 15, 300) / 0.05) * 0.05
    assert last_digit_p_value(steps, np.zeros(300)) > 1e-3


def test_last_digits():
    rng = np.random.default_rng(3)
    free = np.round(rng.uniform(2, 15, 300), 2)
    assert last_digit_p_value(free, np.zeros(300)) > 1e-3
    rounded = np.round(free * 20) / 20  # to 0.05
    assert last_digit_p_value(np.r_[rounded, 3.01], np.zeros(301)) < 1e-6
    # Clear water all reads alike: no digit is free there.
    assert last_digit_p_value(np.full(300, 0.05), np.zeros(300)) == 1.0


def test_a_corrupt_folder_is_named_and_the_rest_pooled(tmp_path):
    bad = tmp_path / "broken"
    shutil.copytree("data/demo/rerun", bad)
    (bad / "readings.csv").write_bytes(b"\xff\xfe\x00nonsense")
    junk = tmp_path / "junk.zip"
    junk.write_bytes(b"no zip at all")
    found = tk.pool_folders([*DEMO, bad, junk, tmp_path / "nowhere"])
    assert found.meta["n_trials"] == 3
    assert found.meta["n_unread"] == 3
    out = found["left_out"].set_index("source")["message"]
    assert out["broken"].startswith("readings.csv")
    assert {"broken", "junk.zip", "nowhere"} == set(out.index)
    assert "Left out: broken" in tk.describe_pool(found)


@pytest.fixture(scope="module")
def among_bundles(tmp_path_factory):
    """Folders and bundles of them in one place, one bundle cut short."""
    place = tmp_path_factory.mktemp("many")
    for folder in map(Path, DEMO):
        ignored = shutil.ignore_patterns("out")
        shutil.copytree(folder, place / folder.name, ignore=ignored)
    tk.bundle_trial(place / "rerun", place / "rerun.zip")
    shutil.make_archive(place / "single", "zip", place / "single")  # zipped by hand
    shutil.rmtree(place / "single")
    whole = (place / "rerun.zip").read_bytes()
    (place / "cut.zip").write_bytes(whole[: len(whole) // 2])
    return place


def test_the_command_pools_folders_with_bundles(among_bundles, results, tmp_path):
    """One corrupt bundle is named, the trial given twice counts once, order changes no byte."""
    sources = sorted(map(str, among_bundles.iterdir()))
    told = []
    for name, order, jobs in (("a", sources, "1"), ("b", sources[::-1], "2")):
        out = tmp_path / name
        command = ["pool", *order, "--out", str(out), "--scale", "--jobs", jobs]
        told.append(CliRunner().invoke(cli, command))
        assert told[-1].exit_code == 1
    assert told[0].stdout.replace(str(tmp_path / "a"), "") == told[1].stdout.replace(
        str(tmp_path / "b"), ""
    )
    assert "Left out: cut.zip (trial): cut.zip is not a sound zip" in told[0].stdout
    assert "Left out: rerun.zip (trial): the same files as rerun" in told[0].stdout
    assert "5 sources in " in told[0].stderr
    files = sorted(path.name for path in (tmp_path / "a").iterdir())
    assert "scale.toml" in files
    assert "report.pdf" in files
    for file in files:
        assert (tmp_path / "a" / file).read_bytes() == (tmp_path / "b" / file).read_bytes(), file
    found = tk.read_results(tmp_path / "a")
    assert found.meta["n_unread"] == 1
    pd.testing.assert_frame_equal(
        found["pooled_times"], results["pooled_times"], check_dtype=False, rtol=1e-12
    )


def test_trials_of_one_name_are_told_apart(tmp_path):
    for place, demo in (("kitchen", DEMO[2]), ("school", DEMO[1])):
        shutil.copytree(demo, tmp_path / place / "trial", ignore=shutil.ignore_patterns("out"))
    found, _ = read_records([tmp_path / "kitchen" / "trial", tmp_path / "school" / "trial"])
    assert [record.source for record in found] == ["kitchen/trial", "school/trial"]


def test_none_readable_is_an_error(tmp_path):
    with pytest.raises(ValueError, match="none of 1 trials can be read"):
        tk.pool_folders([tmp_path])


def test_one_readable_among_others_names_what_was_left_out(tmp_path):
    empty = tmp_path / "empty"
    empty.mkdir()
    words = "a single trial can be pooled, and it takes two; left out: 1. First: empty: "
    with pytest.raises(ValueError, match=words):
        tk.pool_folders([DEMO[2], empty])


def test_a_local_cluster_gives_the_same(results):
    """Workers in processes of their own: the records travel, and the code stays as it is."""
    distributed = pytest.importorskip("distributed", reason="the package distributed is absent")
    with (
        distributed.LocalCluster(
            n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None
        ) as cluster,
        distributed.Client(cluster) as client,
        joblib.parallel_config("dask"),
        distributed.get_task_stream(client) as stream,
    ):
        found = tk.pool_folders(DEMO)
    assert stream.data  # the cluster did it
    for name in ("pooled_times", "trial_times", "pairs"):
        pd.testing.assert_frame_equal(found[name], results[name])


def test_the_notebook_runs_and_says_the_same(tmp_path, results):
    root = Path.cwd()
    where = " ".join(os.path.relpath(root / folder, tmp_path) for folder in DEMO)
    executed = tmp_path / "pooled.ipynb"
    parameters = {"folders": where}
    tk.run_notebook(root / "notebooks/pooled.ipynb", executed, parameters=parameters, cwd=tmp_path)
    found = tk.read_results(tmp_path)
    pd.testing.assert_frame_equal(
        found["pooled_times"], results["pooled_times"], check_dtype=False, rtol=1e-9
    )
    shown = executed.read_text(encoding="utf-8")
    for row in tk.pooled_times_table(found).rows:
        assert all(json.dumps(cell)[1:-1] in shown or cell in shown for cell in row)
    assert tk.render_report(executed, tmp_path)


def test_the_figure_shows_every_trial(results):
    svg = tk.pooled_figure(results).svg
    for trial in results["trial_times"].itertuples():
        assert f"{trial.trial}, {trial.n} vessel" in svg
