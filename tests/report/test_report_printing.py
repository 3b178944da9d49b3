from fractions import Fraction
from math import factorial

import pytest

from trialkit.report.printing import print_p, print_span


@pytest.mark.parametrize(
    ("p", "printed"),
    [
        (0.125, "0.125"),
        (0.25, "0.250"),
        (0.0625, "0.062"),
        (0.00996, "0.010"),
        (0.0099, "0.0099"),
        (0.00994, "0.0099"),
        (0.001, "0.0010"),
        (0.00099, "under 0.001"),
        (1.0, "1.000"),
    ],
)
def test_p_has_three_decimals_and_two_figures_below_a_hundredth(p, printed):
    assert print_p(p) == printed


def test_no_p_prints_below_the_least_that_it_can_be():
    # k of the n! orders, or of the 2^n signs, that a permutation test may find (Fisher 1935).
    for ways in (*(factorial(n) for n in range(2, 6)), *(2**n for n in range(2, 8))):
        least = float(print_p(1 / ways))
        told = [float(print_p(float(Fraction(k, ways)))) for k in range(1, ways + 1)]
        assert told == sorted(told)
        assert min(told) == least
        assert least == pytest.approx(1 / ways, abs=0.0005001)


def test_two_ends_that_print_alike_are_one():
    assert print_span(2, 5) == "2 to 5"
    assert print_span(float("inf"), float("inf"), lambda _: "not reached") == "not reached"
