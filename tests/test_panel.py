"""What moves when the definition of clear is moved; the panel is used without a browser here."""

import dataclasses
import re
import shutil
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pandas as pd
import pytest

import trialkit
from trialkit.analysis.clearing import clearing_intervals
from trialkit.panel import clearing_panel
from trialkit.records.read import read_trial
from trialkit.redefine import (
    Definition,
    declared_definition,
    judge_by,
    judged_gaps,
    share_curves,
)
from trialkit.stats.aft import fit_aft

DEMO = Path(trialkit.__file__).parents[1] / "data" / "demo"


@pytest.fixture(scope="module")
def trial():
    return read_trial(DEMO / "harbour")


@pytest.fixture
def panel(trial):
    return clearing_panel(trial)


def controls(panel, criterion):
    """Tolerance, hold and rater rule of a criterion."""
    row = next(r for r in panel.children[1:-1] if r.children[0].value.startswith(criterion))
    return row.children[1:]


def sentence(panel):
    return re.search(r'<p role="status"[^>]*>(.*?)</p>', panel.children[-1].value)[1]


def table_rows(panel):
    body = re.search(r"<tbody>(.*)</tbody>", panel.children[-1].value, re.DOTALL)[1]
    cells = [re.findall(r"<td>(.*?)</td>", row) for row in re.findall(r"<tr>(.*?)</tr>", body)]
    return [[re.sub(r"<svg.*?</svg>", "", cell).strip() for cell in row] for row in cells]


def test_at_first_it_shows_the_declared_definition(panel, trial):
    assert sentence(panel).startswith("As declared.")
    intervals = clearing_intervals(trial)
    fit = fit_aft(intervals["left_h"], intervals["right_h"], intervals["mix"])
    order = fit.quantile(0.5).sort_values("estimate")["group"]
    named = trial.mixes.set_index("mix")["name"]
    assert [row[1] for row in table_rows(panel)] == named[order].tolist()
    assert [row[0] for row in table_rows(panel)] == [row[5] for row in table_rows(panel)]


def test_a_move_changes_sentence_table_and_pictures(panel):
    before = panel.children[-1].value
    tolerance, _, _ = controls(panel, "haze")
    tolerance.value = 0.0
    assert sentence(panel).startswith("Another definition")
    after = panel.children[-1].value
    for picture in ("Interval of each vessel", "Share of batches"):
        drawn = re.compile(f'<svg[^>]*aria-label="{picture}.*?</svg>', re.DOTALL)
        assert drawn.search(before)[0] != drawn.search(after)[0]


def test_a_laxer_definition_never_clears_a_vessel_later(panel, trial):
    gaps = judged_gaps(trial)
    tight = {name: declared_definition(gaps[name]) for name in gaps}
    lax = {
        name: dataclasses.replace(tight[name], tolerance=10 * tight[name].tolerance + 1, hold=1)
        for name in gaps
    }
    late, early = (judge_by(trial, gaps, which, "fully clear").intervals for which in (tight, lax))
    assert (early["right_h"] <= late["right_h"]).all()
    assert (early["right_h"] < late["right_h"]).any()


@pytest.mark.parametrize(
    ("criterion", "control", "value"),
    [("clarity", 0, 4.0), ("haze", 1, 5), ("clarity", 2, "R02")],
)
def test_each_control_matters(panel, criterion, control, value):
    panel.children[0].children[0].value = criterion
    before = panel.children[-1].value
    controls(panel, criterion)[control].value = value
    assert panel.children[-1].value.split("</p>")[1] != before.split("</p>")[1]


def test_back_to_what_was_declared(panel):
    before = panel.children[-1].value
    tolerance, hold, rule = controls(panel, "haze")
    tolerance.value, hold.value, rule.value = 1.0, 4, "all"
    assert panel.children[-1].value != before
    panel.children[0].children[1].click()
    assert panel.children[-1].value == before


def test_every_slider_can_stand_at_the_declared_value(panel, trial):
    for name, rule in trial.protocol.criteria.items():
        tolerance, hold, chosen = controls(panel, name)
        assert tolerance.value == rule.tolerance
        steps = rule.tolerance / tolerance.step
        assert steps == pytest.approx(round(steps))
        assert tolerance.max >= 2 * rule.tolerance
        assert (hold.value, chosen.value) == (rule.hold, rule.rater_rule)


def test_every_vessel_is_drawn_once_and_never_cleared_ones_have_an_arrow(panel, trial):
    picture = re.search(r'<svg[^>]*aria-label="Interval.*?</svg>', panel.children[-1].value)[0]
    lines = [e for e in ElementTree.fromstring(picture).iter() if e.get("stroke")]
    intervals = clearing_intervals(trial)
    assert len(lines) == len(intervals)
    arrows = [line for line in lines if "l5 4l-5 4" in line.get("d")]
    assert len(arrows) == int(np.isinf(intervals["right_h"]).sum()) > 0


def test_curves_pass_the_typical_time_at_one_half(trial):
    for family in ("lognormal", "weibull", "loglogistic"):
        intervals = clearing_intervals(trial)
        fit = fit_aft(intervals["left_h"], intervals["right_h"], intervals["mix"], family=family)
        curves, times = share_curves(fit), fit.quantile(0.5)
        for row in times[np.isfinite(times["estimate"])].itertuples():
            share = curves[row.group](np.array([row.estimate]))[0]
            assert share == pytest.approx(0.5, abs=1e-6)
        by_six = fit.probability_by(6.0).set_index("group")["estimate"]
        for mix, curve in curves.items():
            assert curve(np.array([6.0]))[0] == pytest.approx(by_six[mix], abs=1e-6)


def test_a_curve_without_spread_is_a_step():
    fit = fit_aft([1, 1, 4, 4], [2, 2, 6, 6], list("aabb"))
    assert fit.scale == 0
    shares = share_curves(fit)["a"](np.array([0.5, 8.0]))
    assert shares.tolist() == [0.0, 1.0]


def test_intervals_that_were_given_have_no_sliders(tmp_path):
    folder = shutil.copytree(DEMO / "harbour", tmp_path / "t", ignore=shutil.ignore_patterns("out"))
    trial = read_trial(folder)
    given = clearing_intervals(trial, "haze")[["vessel", "left_h", "right_h"]]
    given.assign(criterion="haze", right_h=given["right_h"].replace(np.inf, np.nan))[
        ["vessel", "criterion", "left_h", "right_h"]
    ].to_csv(folder / "intervals.csv", index=False)
    panel = clearing_panel(read_trial(folder))
    assert len(panel.children) == 3
    assert panel.children[1].children[0].value.startswith("clarity")
    assert sentence(panel) == sentence(clearing_panel(trial))


def test_names_cannot_smuggle_markup(trial):
    mixes = trial.mixes.assign(name="<img src=x onerror=alert(1)>")
    html = clearing_panel(dataclasses.replace(trial, mixes=mixes)).children[-1].value
    assert "<img" not in html


def test_a_blind_trial_is_not_ranked(trial):
    vessels = trial.vessels.assign(mix="")
    blind = dataclasses.replace(trial, vessels=vessels)
    with pytest.raises(ValueError, match=r"key\.csv"):
        clearing_panel(blind)


def test_a_definition_can_be_given_in_words(trial):
    gaps = judged_gaps(trial)
    ranking = judge_by(
        trial, gaps, {name: Definition(0, 2, "majority") for name in gaps}, "clarity"
    ).ranking
    assert ranking["rank"].tolist() == sorted(ranking["rank"])
    assert isinstance(ranking, pd.DataFrame)
