"""Readings that repeat others, stand still, lie apart or were made coarser, and honest ones."""

import numpy as np
import pytest

from trialkit.records.apart import apart_problems
from trialkit.records.grids import grids_of
from trialkit.records.keyed import keyed_problems
from trialkit.records.limits import limit_problems
from trialkit.records.plan import plan_problems
from trialkit.records.read import read_trial
from trialkit.records.reading_cells import Setting
from trialkit.records.reference import reference_problems
from trialkit.records.repeats import repeat_problems
from trialkit.records.rounding import rounding_problems
from trialkit.records.rows import Rows

from .test_damage import DEMO


@pytest.fixture(scope="module", params=["rerun", "harbour"])
def trial(request):
    """A sound demo trial."""
    return read_trial(DEMO / request.param)


def _rows(trial, quantity="", **changes):
    """The readings in the order of their rows; `changes` puts other columns in."""
    frame = trial.readings[trial.readings["value"].notna()].sort_values("row")
    frame = frame[frame["quantity"] == quantity] if quantity else frame
    return Rows.of(frame.assign(**changes))


def _changed(rows, where, values):
    column = rows["value"].copy()
    column[where] = values
    return Rows({**rows.columns, "value": column})


def _messages(problems):
    return " ".join(problem.message for problem in problems)


def _values(rows, **where):
    chosen = np.ones(len(rows), bool)
    for name, wanted in where.items():
        chosen &= rows[name] == wanted
    return chosen


def test_sound_readings_are_left_alone(trial):
    setting = Setting.of(trial)
    rows = _rows(trial)
    for group in rows.split("quantity", "unit"):
        assert not repeat_problems("f", group)
        assert not rounding_problems("f", group, trial.protocol)
        assert not limit_problems("f", group, trial.protocol)
    assert not apart_problems("f", rows, setting)
    assert not keyed_problems("f", rows, trial.protocol)


def test_a_table_of_a_series_holds_every_reading_once(trial):
    group = _rows(trial, "salinity")
    grids = grids_of(group)
    assert sum((~np.isnan(grid.values)).sum() for grid in grids) == len(group)
    assert all((grid.rows[~np.isnan(grid.values)] > 0).all() for grid in grids)


def test_a_vessel_whose_haze_is_that_of_another_is_named(trial):
    rows = _rows(trial, "haze")
    one, two = (trial.vessels.query("mix == @mix")["vessel"].iloc[0] for mix in ("M01", "M03"))
    first = _values(rows, vessel=one)
    values = dict(zip(zip(rows["phase"][first], rows["session"][first], strict=True),
                      rows["value"][first], strict=True))  # fmt: skip
    other = _values(rows, vessel=two)
    keys = zip(rows["phase"][other], rows["session"][other], strict=True)
    found = repeat_problems("f", _changed(rows, other, [values[key] for key in keys]))
    assert [problem.value for problem in found] in ([f"{one} and {two}"], [f"{two} and {one}"])


def test_a_round_copied_from_one_further_off_is_named(trial):
    rows = _rows(trial, "haze")
    early, late = (_values(rows, phase="mixing", session=s) for s in (3, 6))
    values = dict(zip(rows["vessel"][early], rows["value"][early], strict=True))
    found = repeat_problems(
        "f", _changed(rows, late, [values[vessel] for vessel in rows["vessel"][late]])
    )
    assert "repeats an earlier one in every vessel" in _messages(found)


def test_a_scale_that_stands_still_is_named():
    trial = read_trial(DEMO / "harbour")
    rows = _rows(trial, "mass")
    vessel = trial.vessels.query("mix == 'M01'")["vessel"].iloc[0]
    own = np.flatnonzero(_values(rows, vessel=vessel))
    own = own[np.argsort(rows["elapsed_h"][own])]
    found = repeat_problems("f", _changed(rows, own[2:], rows["value"][own[2]]))
    assert "stays the same over several rounds" in _messages(found)


def test_one_raters_round_that_is_the_others_is_named():
    rows = _rows(read_trial(DEMO / "harbour"), "clarity")
    one, two = (_values(rows, phase="mixing", session=4, rater=r) for r in ("R01", "R02"))
    values = dict(zip(rows["vessel"][one], rows["value"][one], strict=True))
    copied = _changed(rows, two, [values[vessel] for vessel in rows["vessel"][two]])
    assert "agree in every single clarity of a round" in _messages(repeat_problems("f", copied))


def test_repeats_that_copy_the_first_reading_are_named(trial):
    rows = _rows(trial, "haze")
    some = rows.take(np.flatnonzero(_values(rows, phase="mixing", session=2)))
    both = Rows({
        name: np.concatenate([rows[name], some[name] if name != "repeat" else some[name] + 1])
        for name in rows.columns
    })  # fmt: skip
    assert "were rows copied" in _messages(repeat_problems("f", both))
    read_anew = _changed(both, both["repeat"] == 2, some["value"] * 1.02)
    assert "were rows copied" not in _messages(repeat_problems("f", read_anew))


@pytest.mark.parametrize(
    ("quantity", "change", "words"),
    [
        ("haze", lambda v: np.minimum(v, np.quantile(v, 0.85)), "exactly the highest of all"),
        ("salinity", np.round, "rounded more than their instrument rounds"),
        ("clarity", lambda v: v / 12, "neither whole nor half numbers"),
        ("clarity", lambda v: np.log10(v + 1), "neither whole nor half numbers"),
    ],
)
def test_numbers_that_were_made_coarser_or_converted_are_named(trial, quantity, change, words):
    rows = _rows(trial, quantity)
    changed = _changed(rows, slice(None), change(rows["value"]))
    assert words in _messages(rounding_problems("f", changed, trial.protocol))


def test_a_sign_before_every_number_is_named(trial):
    rows = _rows(trial, "temperature", limit="<")
    assert "each another one" in _messages(limit_problems("f", rows, trial.protocol))


@pytest.mark.parametrize(("quantity", "shift"), [("temperature", 8.0), ("salinity", 4.0)])
def test_a_vessel_that_lies_apart_throughout_is_named(trial, quantity, shift):
    setting = Setting.of(trial)
    rows = _rows(trial, quantity)
    vessel = trial.vessels.query("mix == 'M01'")["vessel"].iloc[0]
    own = _values(rows, vessel=vessel)
    found = apart_problems("f", _changed(rows, own, rows["value"][own] + shift), setting)
    assert [problem.value[:3] for problem in found] == [vessel]


def test_a_mass_that_is_none_of_the_vessels_water_is_named():
    trial = read_trial(DEMO / "harbour")
    setting = Setting.of(trial)
    rows = _rows(trial, "mass")
    pounds = apart_problems("f", _changed(rows, slice(None), rows["value"] * 2.2046), setting)
    assert [problem.row for problem in pounds] == [None]
    one = apart_problems("f", _changed(rows, 5, rows["value"][5] / 10), setting)
    assert [problem.row for problem in one] == [rows["row"][5]]


def test_two_vessels_under_each_others_mixes_are_named(trial):
    rows = _rows(trial)
    one, two = (trial.vessels.query("mix == @mix")["vessel"].iloc[1] for mix in ("M01", "M03"))
    mixes = rows["mix"].copy()
    mixes[_values(rows, vessel=one)], mixes[_values(rows, vessel=two)] = "M03", "M01"
    found = keyed_problems("f", Rows({**rows.columns, "mix": mixes}), trial.protocol)
    assert [set(problem.value.split(" and ")) for problem in found] == [{one, two}]


def test_a_cell_that_was_dragged_down_a_vessels_rounds_is_named(trial):
    rows = _rows(trial, "haze")
    vessel = trial.vessels.query("mix == 'M03'")["vessel"].iloc[0]
    own = np.flatnonzero(_values(rows, vessel=vessel, phase="mixing"))
    own = own[np.argsort(rows["elapsed_h"][own])]
    dragged = rows["value"][own[2]] + np.arange(len(own) - 2)
    found = repeat_problems("f", _changed(rows, own[2:], dragged))
    assert "goes on in equal steps over several rounds" in _messages(found)


def test_a_vessel_without_any_reading_of_a_meter_is_missed(trial):
    setting = Setting.of(trial)
    rows = _rows(trial)
    vessel = trial.vessels.query("mix == 'M01'")["vessel"].iloc[0]
    gone = _values(rows, vessel=vessel, quantity="salinity")
    before, after = (plan_problems("f", r, setting) for r in (rows, rows.take(~gone)))
    missed = [problem.value for problem in after if problem not in before]
    assert missed
    assert all(value.startswith(vessel) for value in missed)


def test_a_round_in_which_purified_water_is_another_is_named(trial):
    rows = _rows(trial)
    where = _values(rows, quantity="clarity", phase="mixing", session=4)
    found = reference_problems("f", _changed(rows, where, rows["value"][where] + 8), trial.protocol)
    assert "quite another clarity than in other rounds" in _messages(found)
    assert "quite another" not in _messages(reference_problems("f", rows, trial.protocol))


def test_less_than_nothing_is_no_limit():
    trial = read_trial(DEMO / "harbour")
    rows = _rows(trial, "residue")
    limit = rows["limit"].copy()
    limit[0] = "<"
    signed = Rows({**_changed(rows, 0, 0.0).columns, "limit": limit})
    assert signed["row"][0] in [p.row for p in limit_problems("f", signed, trial.protocol)]


def test_purified_water_that_was_taken_off_is_noted():
    rows = _rows(read_trial(DEMO / "rerun"))
    haze = _values(rows, quantity="haze")
    taken = _changed(rows, haze, np.maximum(rows["value"][haze] - 0.12, 0).round(2))
    found = reference_problems("f", taken, read_trial(DEMO / "rerun").protocol)
    assert [problem.level for problem in found] == ["note"]
    assert "next to nothing" in found[0].message
