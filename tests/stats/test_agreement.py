"""Agreement coefficients against published tables."""

import numpy as np
import pytest

from trialkit.stats.agreement import (
    category_counts,
    fleiss_agreement,
    fleiss_by_category,
    gwet_agreement,
    krippendorff_alpha,
    weighted_kappa,
)
from trialkit.stats.jackknife import unit_jackknife

# Fleiss 1971, Psychological Bulletin 76, p. 379: six psychiatrists, 30 patients, 5 diagnoses.
DIAGNOSES = np.array([[int(digit) for digit in row] for row in [
    "00060", "03003", "01401", "00006", "03030", "20400", "00402", "20310", "20040", "00006",
    "10050", "11040", "03300", "10050", "02031", "00501", "30012", "51000", "02040", "10203",
    "00006", "01050", "02013", "20040", "10041", "05010", "40002", "02040", "10500", "00006",
]])  # fmt: skip

# Fourteen raters, ten subjects, five categories: the textbook example (e.g. Sim & Wright 2005).
TEXTBOOK = np.array([
    [0, 0, 0, 0, 14], [0, 2, 6, 4, 2], [0, 0, 3, 5, 6], [0, 3, 9, 2, 0], [2, 2, 8, 1, 1],
    [7, 7, 0, 0, 0], [3, 2, 6, 3, 0], [2, 5, 3, 2, 2], [6, 5, 2, 1, 0], [0, 2, 2, 3, 7],
])  # fmt: skip

# Krippendorff 2011, Computing Krippendorff's alpha-reliability, p. 1: four observers, 12 units.
GAP = np.nan
OBSERVERS = np.array([
    [1, 2, 3, 3, 2, 1, 4, 1, 2, GAP, GAP, GAP],
    [1, 2, 3, 3, 2, 2, 4, 1, 2, 5, GAP, 3],
    [GAP, 3, 3, 3, 2, 3, 4, 2, 2, 5, 1, GAP],
    [1, 2, 3, 3, 2, 4, 4, 1, 2, 5, 1, GAP],
]).T  # fmt: skip

COHEN = [[88, 14, 18], [10, 40, 10], [2, 6, 12]]  # Cohen 1968, Psychological Bulletin 70, p. 215.


def test_fleiss_kappa_and_its_z():
    # Fleiss 1971, p. 380-381: kappa .430, z 17.65.
    kappa, z = fleiss_agreement(DIAGNOSES)
    assert kappa == pytest.approx(0.4302, abs=5e-5)
    assert z == pytest.approx(17.65, abs=5e-3)


def test_fleiss_kappa_of_each_category():
    # Fleiss 1971, p. 381.
    expected = [0.245, 0.245, 0.520, 0.471, 0.566]
    assert fleiss_by_category(DIAGNOSES) == pytest.approx(expected, abs=5e-4)


def test_fleiss_kappa_of_the_textbook_example():
    assert fleiss_agreement(TEXTBOOK)[0] == pytest.approx(0.20993, abs=1e-5)


def test_cohen_weighted_and_unweighted():
    # Cohen 1968, p. 216: weighted .348.
    weighted = weighted_kappa(COHEN, [[0, 1, 3], [1, 0, 6], [3, 6, 0]])
    assert weighted.estimate == pytest.approx(0.3478, abs=1e-4)
    assert weighted_kappa(COHEN, None).estimate == pytest.approx(0.4915, abs=1e-4)


def test_weights_of_any_scale_give_the_same_limits():
    small = weighted_kappa(COHEN, [[0, 1, 3], [1, 0, 6], [3, 6, 0]])
    large = weighted_kappa(COHEN, np.array([[0, 1, 3], [1, 0, 6], [3, 6, 0]]) * 7)
    assert (small.conf_low, small.conf_high) == pytest.approx((large.conf_low, large.conf_high))


@pytest.mark.parametrize(
    ("level", "expected"),
    [("nominal", 0.743421), ("ordinal", 0.815388), ("interval", 0.849107), ("ratio", 0.797403)],
)
def test_krippendorff_alpha(level, expected):
    # Krippendorff 2011, p. 3-8 (.743, .815, .849, .797).
    assert krippendorff_alpha(OBSERVERS, level) == pytest.approx(expected, abs=1e-6)


def test_gwet_agreement_with_gaps():
    # Gwet 2014, Handbook of Inter-Rater Reliability, 4th ed. (recomputed with irrCAC in R).
    assert gwet_agreement(category_counts(OBSERVERS)) == pytest.approx(0.77544, abs=1e-5)


def test_gwet_agreement_of_two_raters_by_hand():
    # 9 of 10 both "no", one split: agreement .9, share yes .05, chance 2(.05)(.95) = .095.
    counts = [[2, 0]] * 9 + [[1, 1]]
    assert gwet_agreement(counts) == pytest.approx((0.9 - 0.095) / (1 - 0.095), abs=1e-12)


def test_nothing_to_agree_about_is_refused():
    with pytest.raises(ValueError, match="one category"):
        krippendorff_alpha([[1, 1], [1, 1]])
    with pytest.raises(ValueError, match="one category"):
        fleiss_agreement([[3, 0], [3, 0]])
    with pytest.raises(ValueError, match="one category"):
        weighted_kappa([[5, 0], [0, 0]])
    with pytest.raises(ValueError, match="rated twice"):
        krippendorff_alpha([[1, GAP], [GAP, 2]])


def test_tenfold_reading_of_every_vessel_narrows_no_agreement_limit():
    vessel = np.arange(12)
    once = unit_jackknife(krippendorff_alpha, OBSERVERS, vessel)
    rows = np.repeat(OBSERVERS, 10, axis=0)
    tenfold = unit_jackknife(krippendorff_alpha, rows, np.repeat(vessel, 10))
    width = once.conf_high - once.conf_low
    assert tenfold.conf_high - tenfold.conf_low == pytest.approx(width, rel=0.05)
