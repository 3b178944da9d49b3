"""Differences between two results are named, with how far they are apart."""

import math

import pandas as pd
import pytest

from trialkit.analysis.results import Results
from trialkit.compare import TOLERANCE, compare_results, version_changes


def results(meta=None, **tables):
    return Results(meta or {}, {name: pd.DataFrame(rows) for name, rows in tables.items()})


TIMES = [
    {"criterion": "haze", "mix": "M01", "term": "typical time", "estimate": 2.0, "note": None},
    {"criterion": "haze", "mix": "M02", "term": "typical time", "estimate": math.inf, "note": "x"},
]


def test_the_same_differs_nowhere():
    assert compare_results(results(times=TIMES), results(times=TIMES)).empty


@pytest.mark.parametrize(
    ("factor", "found"), [(1 + TOLERANCE / 2, False), (1 + 2 * TOLERANCE, True), (0.99, True)]
)
def test_numbers_are_held_to_the_stated_tolerance(factor, found):
    now = [TIMES[0] | {"estimate": 2.0 * factor}, TIMES[1]]
    differences = compare_results(results(times=TIMES), results(times=now))
    assert len(differences) == found
    if found:
        assert differences["apart"].iloc[0] == pytest.approx(abs(factor - 1), rel=1e-6)
        assert differences["row"].iloc[0] == "haze, M01, typical time"


@pytest.mark.parametrize(
    ("old", "new", "apart"),
    [
        (math.inf, 24.0, math.inf),
        (math.inf, -math.inf, math.inf),
        (math.nan, math.nan, None),
        (0.0, 1e-10, None),
        (0.0, 0.1, math.inf),
        (1e-63, 1e-6, pytest.approx(1e-3)),
        (-1.0, 1.0, 2.0),
        (None, None, None),
        (None, 1.0, math.inf),
        ("clear", "not clear", math.inf),
        (True, False, 1.0),
    ],
)
def test_what_has_no_size_is_still_another(old, new, apart):
    found = compare_results(results(t=[{"value": old}]), results(t=[{"value": new}]))
    assert found["apart"].tolist() == ([] if apart is None else [apart])


def test_missing_tables_rows_and_columns_are_named():
    then = results(times=TIMES, ranks=[{"mix": "M01", "rank": 1}], fits=[{"scale": 1, "aic": 2}])
    now = results(times=TIMES[:1], fits=[{"scale": 1}])
    found = compare_results(then, now)
    assert set(zip(found["table"], found["column"], strict=True)) == {
        ("times", "number of rows"),
        ("ranks", "the table"),
        ("fits", "aic"),
    }


def test_a_newer_kit_may_know_more():
    now = results(times=[row | {"extra": 1} for row in TIMES], ranks=[{"mix": "M01"}])
    assert compare_results(results(times=TIMES), now).empty


def test_settings_are_compared_and_versions_are_told_apart():
    then = results({"conf_level": 0.95, "versions": {"numpy": "2.4.5"}, "python": "3.12.1"})
    now = results({"conf_level": 0.9, "versions": {"numpy": "2.4.6"}, "python": "3.12.1"})
    found = compare_results(then, now)
    assert found[["table", "column"]].values.tolist() == [["meta", "conf_level"]]
    assert version_changes(then, now) == ["numpy 2.4.6 (bundle: 2.4.5)"]


def test_the_largest_comes_first():
    now = [TIMES[0] | {"estimate": 2.2}, TIMES[1] | {"note": "y"}]
    found = compare_results(results(times=TIMES), results(times=now))
    assert found["column"].tolist() == ["note", "estimate"]


def test_what_is_printed_cannot_move_the_cursor():
    now = [TIMES[0], TIMES[1] | {"note": "\x1b[2J" * 40}]
    text = compare_results(results(times=TIMES), results(times=now))["here"].iloc[0]
    assert text.isprintable()
    assert len(text) <= 60
