"""Intraclass correlations against the table of Shrout and Fleiss."""

import warnings

import numpy as np
import pandas as pd
import pytest

from trialkit.stats.intraclass import intraclass_correlation, intraclass_correlations

# Shrout & Fleiss 1979, Psychological Bulletin 86, table 2: four judges, six targets.
JUDGES = np.array(
    [[9, 2, 5, 8], [6, 1, 3, 2], [8, 4, 6, 8], [7, 1, 2, 6], [10, 5, 6, 9], [6, 2, 4, 7]]
)


def test_the_six_forms():
    # Shrout & Fleiss 1979, table 4: .17 .29 .71 .44 .62 .91; more digits from R's psych.
    expected = [0.1657, 0.2898, 0.7148, 0.4428, 0.6201, 0.9093]
    assert intraclass_correlations(JUDGES).estimate.to_list() == pytest.approx(expected, abs=1e-4)


def test_limits_of_absolute_agreement():
    # R psych::ICC on the same table; Shrout & Fleiss give the formula on p. 424.
    found = intraclass_correlation(JUDGES)
    assert (found.conf_low, found.conf_high) == pytest.approx((0.0188, 0.7611), abs=1e-4)


def test_estimate_and_limits_agree_with_a_library():
    pingouin = pytest.importorskip("pingouin")
    rng = np.random.default_rng(5)
    ratings = rng.normal(size=(9, 1)) + rng.normal(scale=0.4, size=(9, 3)) + [0, 0.3, -0.2]
    vessel, rater = np.indices(ratings.shape)
    long = pd.DataFrame(
        {"vessel": vessel.ravel(), "rater": rater.ravel(), "score": ratings.ravel()}
    )
    with warnings.catch_warnings():
        # pingouin 0.7 uses a pandas argument that pandas 3.1 announces to drop.
        warnings.simplefilter("ignore")
        table = pingouin.intraclass_corr(long, "vessel", "rater", "score")
    theirs = table.iloc[1]
    ours = intraclass_correlation(ratings)
    assert ours.estimate == pytest.approx(theirs["ICC"], abs=1e-6)
    limits = next(theirs[name] for name in theirs.index if str(name).startswith("CI95"))
    assert (ours.conf_low, ours.conf_high) == pytest.approx(tuple(limits), abs=6e-3)


def test_perfect_agreement_is_one():
    found = intraclass_correlation([[1, 1], [2, 2], [5, 5]])
    assert (found.estimate, found.conf_low, found.conf_high) == (1, 1, 1)


@pytest.mark.parametrize("ratings", [[[1, 2]], [[1], [2]], [[1, np.nan], [2, 3]]])
def test_a_table_with_gaps_or_one_row_is_refused(ratings):
    with pytest.raises(ValueError, match="full table"):
        intraclass_correlation(ratings)


def test_subjects_that_do_not_differ_are_refused():
    with pytest.raises(ValueError, match="same mean rating"):
        intraclass_correlation([[1, 2], [2, 1]])
