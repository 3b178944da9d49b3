"""One cell, one number or one reason."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trialkit.records.export import number_text
from trialkit.records.numbers import Number, decimal_mark, parse_number
from trialkit.records.problems import Fault


@pytest.mark.parametrize(
    ("cell", "value", "limit", "decimals"),
    [
        ("5", 5, "", 0),
        (" 5.20 ", 5.2, "", 2),
        ("\u00a05.2\u202f", 5.2, "", 1),
        (".5", 0.5, "", 1),
        ("+5", 5, "", 0),
        ("-1.5", -1.5, "", 1),
        ("\u22121.5", -1.5, "", 1),
        ("'12", 12, "", 0),
        ("<0.1", 0.1, "<", 1),
        ("> 99", 99, ">", 0),
        ("0", 0, "", 0),
        ("0.0", 0, "", 1),
        ("1.2E-05", 1.2e-5, "", 1),
    ],
)
def test_what_has_one_reading_is_taken(cell, value, limit, decimals):
    number = parse_number(cell)
    assert isinstance(number, Number)
    assert (number.value, number.limit, number.decimals) == (value, limit, decimals)


NO_NUMBERS = """1,5|1,234|1.234,5|1'234|05|00.5|5.|5..|1.2.3|1e5|3E5|1_0|0x1F|nan|inf|-inf|Infinity
None|TRUE|½|²|٣|１２|5-|--5|+-5|<>5|<<5|≤5|5<|~5|5?|5±1|5-6|5/6|#N/A|=5|$5|€5|O.5|l5|5O|1 234|5 6||
5 5 NTU|5 NTU 6|\u200b5|5\u200b|5\x00|1\u066b5"""


@pytest.mark.parametrize("cell", [c for line in NO_NUMBERS.splitlines() for c in line.split("|")])
def test_everything_else_has_a_reason(cell):
    outcome = parse_number(cell)
    assert isinstance(outcome, Fault), outcome
    assert outcome.message
    assert outcome.fix


def test_decimal_commas_belong_to_the_whole_file():
    assert parse_number("0,52", ",").value == 0.52
    assert isinstance(parse_number("0.52", ","), Fault)
    assert decimal_mark(["0,5", "12", ""]) == (",", True)
    assert decimal_mark(["0,5", "1.5"]) == (".", True)
    assert decimal_mark(["0,5", "2,5", "1.5"]) == (",", True)
    assert decimal_mark(["1,234", "2,500", "1.5"]) == (".", True)
    assert decimal_mark(["1,234", "2,500"]) == (",", False)
    assert decimal_mark(["0,234", "2,500"]) == (",", True)


@given(st.text(max_size=12))
def test_any_text_gives_a_number_or_a_fault(cell):
    for decimal in ".,":
        outcome = parse_number(cell, decimal)
        assert isinstance(outcome, Number | Fault)
        if isinstance(outcome, Number):
            assert math.isfinite(outcome.value)


@given(st.floats(-1e9, 1e9, allow_subnormal=False).filter(lambda x: x == 0 or abs(x) > 1e-12))
def test_written_numbers_are_read_back(value):
    number = parse_number(number_text(value))
    assert isinstance(number, Number)
    assert math.isclose(number.value, value, rel_tol=1e-7)
    if "e" not in repr(value):
        assert number.value == value
