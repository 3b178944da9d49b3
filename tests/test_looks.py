"""What a person sees who ends a cell, or a line at the prompt, with an object of the kit."""

import dataclasses
import inspect
import re
from datetime import datetime
from functools import cache
from math import inf

import pytest

import trialkit as tk

HOSTILE = "<img src=x onerror=alert(1)>"


@cache
def harbour():
    return tk.read_trial("data/demo/harbour")


@cache
def fit():
    return tk.fit_aft([1, 2, 3, 24, 24], [2, 3, 4, inf, inf], [HOSTILE, HOSTILE, "a", "b", "b"])


@cache
def three():
    return tk.fit_aft([1, 2, 3, 4, 5, 9], [2, 3, 4, 5, 6, 10], list("aaabbb"))


def _fitted():
    results = tk.trial_results(harbour())
    return {
        "AftFit": fit(),
        "TurnbullFit": tk.fit_turnbull([0, 1, 2], [1, 2, inf]),
        "OwnScaleFit": tk.fit_own_scales([1, 2, 3, 4, 5, 9], [2, 3, 4, 5, 6, 10], list("aaabbb")),
        "MixedAftFit": tk.fit_mixed_aft(
            [1, 2, 4, 8, 5], [2, 3, 6, 9, 6], list("ababb"), [1, 1, 2, 2, 3]
        ),
        "PooledFit": tk.pool_estimates([1.0, 2.0, 4.0], [0.1, 0.2, 0.1]),
        "PermutationTest": tk.permutation_test([1, 2, 3, 7, 8, 9], list("aaabbb")),
        "SpreadTest": tk.equal_spread_test(three(), n_simulated=99),
        "Estimate": tk.proportion_exact(4, 4),
        "Results": results,
        "Trial": harbour(),
        "Protocol": harbour().protocol,
        "Criterion": harbour().protocol.criteria["clarity"],
        "Claim": next(iter(harbour().protocol.claims.values())),
        "ReadingKind": tk.KINDS["haze"],
        "VarianceComponents": tk.variance_components([1, 2, 5, 6], list("aabb")),
        "DetectionLimits": tk.detection_limits([2.0, 4.0, 6.0]),
        "Equivalence": tk.equivalence_paired([0.1, -0.1, 0.0, 0.1], 0.5),
        "LimitsOfAgreement": tk.limits_of_agreement([1.0, 2.0, 3.0]),
        "OrdinalContrast": tk.ordinal_contrast([1, 1, 2, 1], [3, 4, 3, 3]),
        "SealCheck": tk.check_seal("data/demo/harbour"),
        "RaterAgreement": tk.rater_agreement(harbour()),
        "StorageChange": tk.storage_change(harbour()),
        "Homogeneity": tk.salinity_homogeneity(harbour()),
        "ResidueSummary": tk.residue_summary(harbour()),
        "ClarityKept": tk.clarity_kept(harbour()),
        "UnevenSpread": tk.uneven_spread(tk.clearing_intervals(harbour())),
        "ClearReadings": tk.clear_readings(harbour(), "clarity"),
    }


@pytest.fixture(scope="module")
def shown():
    return _fitted()


def words(markup):
    return re.sub(r"\s+", " ", re.sub("<[^>]+>", " ", markup)).strip()


def test_every_public_result_has_a_look(shown):
    classes = {
        name: value
        for name in tk.__all__
        if inspect.isclass(value := getattr(tk, name)) and dataclasses.is_dataclass(value)
    }
    # Settings that a person writes out in full stand as they were written.
    plain = {"ComparisonPlan", "PoolingRules", "PowerQuestion"}
    assert [n for n, c in classes.items() if not hasattr(c, "_repr_html_")] == sorted(plain)


def test_looks_are_short_and_say_something(shown):
    for name, value in shown.items():
        assert type(value).__name__ == name
        text = words(value._repr_html_())
        assert 15 < len(text) < 8000, name
        # A protocol is a value that was declared: it prints as it would be written.
        assert name == "Protocol" or len(repr(value)) < 2500, name
        assert "nan" not in text.casefold().split(), name


def test_names_are_escaped(shown):
    assert "<img" not in shown["AftFit"]._repr_html_()
    assert "&lt;img" in shown["AftFit"]._repr_html_()
    claim = dataclasses.replace(shown["Claim"], text=HOSTILE)
    assert "<img" not in claim._repr_html_()
    protocol = dataclasses.replace(harbour().protocol, title=HOSTILE)
    assert "<img" not in dataclasses.replace(harbour(), protocol=protocol)._repr_html_()


def test_a_trial_says_what_it_holds(shown):
    text = words(shown["Trial"]._repr_html_())
    assert "6 mixes in 24 vessels" in text
    assert "Alder, 4 vessels" in text
    warned = (harbour().problems["level"] == "warn").sum()
    assert f"{warned} warnings, 2 notes" in text


def test_a_blind_trial_gives_nothing_away():
    vessels = harbour().vessels.assign(mix="")
    text = words(dataclasses.replace(harbour(), vessels=vessels)._repr_html_())
    assert "blinded" in text
    assert "M01 Alder M02 Birch" in text


def test_results_name_their_tables(shown):
    text = words(shown["Results"]._repr_html_())
    rows = len(shown["Results"]["times"])
    assert f"times {rows} rows: criterion, mix" in text


def test_an_imported_table_shows_its_lines(tmp_path):
    path = tmp_path / "b.csv"
    path.write_text("hours,A & B,reference\n1,3,12\n2,12,12\n")
    found = tk.import_table(path, tmp_path / "t", start=datetime(2031, 3, 1, 9))
    assert "A &amp; B: column 2" in found._repr_html_()
