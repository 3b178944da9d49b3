"""results.json: what is written is what is read, and nothing but JSON."""

import json
import math

import numpy as np
import pandas as pd
import pytest

from trialkit.analysis.results import Results, read_results, write_results


@pytest.fixture
def results() -> Results:
    times = pd.DataFrame(
        {
            "mix": ["M01", "M02"],
            "estimate": [1.5, math.inf],
            "n": np.array([3, 4]),
            "note": ["", "не «ясно» 水 \U0001f41f"],
        }
    )
    empty = pd.DataFrame(columns=["mix", "estimate"])
    return Results({"title": "α $_x", "level": np.float64(0.95)}, {"times": times, "none": empty})


def test_round_trip(results, tmp_path):
    write_results(results, tmp_path)
    back = read_results(tmp_path)
    pd.testing.assert_frame_equal(back["times"], results["times"], check_dtype=False)
    assert back["times"]["estimate"].dtype == float
    assert back["none"].empty
    assert list(back["none"].columns) == ["mix", "estimate"]
    assert back.meta == {"title": "α $_x", "level": 0.95}
    assert "times" in back
    assert "nothing" not in back


def test_the_file_is_strict_json_with_inf_as_a_string(results, tmp_path):
    def refuse(name):
        raise AssertionError(f"{name} is no JSON")

    text = write_results(results, tmp_path).read_text(encoding="utf-8")
    held = json.loads(text, parse_constant=refuse)
    assert held["tables"]["times"]["rows"][1][1] == "inf"


def test_the_same_results_give_the_same_bytes(results, tmp_path):
    first = write_results(results, tmp_path).read_bytes()
    assert write_results(read_results(tmp_path), tmp_path).read_bytes() == first


def test_nan_is_refused_by_name(results, tmp_path):
    broken = Results({}, {"times": results["times"].assign(estimate=[1.0, math.nan])})
    with pytest.raises(ValueError, match="table 'times' holds nan"):
        write_results(broken, tmp_path)


def test_last_bits_do_not_make_two_files(results, tmp_path):
    nudged = results["times"].assign(estimate=[np.nextafter(1.5, 2), math.inf])
    first = write_results(results, tmp_path).read_bytes()
    second = write_results(Results(results.meta, {**results.tables, "times": nudged}), tmp_path)
    assert second.read_bytes() == first
