"""Many contrasts in one batch are the contrasts one by one."""

import math

import numpy as np
import pytest

from trialkit.stats.aft import fit_aft
from trialkit.stats.contrasts import pair_contrasts

INF = math.inf
LEFT = [1, 1, 2, 4, 4, 6, 9, 9, 24, 24, 0, 0, 0]
RIGHT = [2, 3, 3, 6, 8, 8, INF, 12, INF, INF, 1, 1, INF]
GROUP = [*"aaabbbccddeec"]
PAIRS = [(a, b) for a in "abcde" for b in "abcde" if a != b]


@pytest.mark.parametrize("family", ["lognormal", "weibull", "loglogistic"])
def test_a_batch_gives_the_single_answers(family):
    """Groups of 1 to 4 vessels, one never clear, one clear at the first look, one (0, inf]."""
    fit = fit_aft(LEFT, RIGHT, GROUP, family=family)
    found = pair_contrasts(fit, PAIRS, conf_level=0.9)
    for row, (a, b) in zip(found.itertuples(), PAIRS, strict=True):
        single = fit.contrast(a, b, conf_level=0.9).iloc[0]
        assert row.term == single["term"]
        for name in ("estimate", "conf_low", "conf_high", "p_value"):
            np.testing.assert_allclose(getattr(row, name), single[name], rtol=1e-5, atol=1e-12)


def test_a_known_scale_and_covariates_are_kept():
    fit = fit_aft(LEFT[:6], RIGHT[:6], GROUP[:6], scale=0.3)
    found = pair_contrasts(fit, [("a", "b"), ("b", "a")])
    assert found["method"].str.contains("scale given").all()
    assert found["estimate"].prod() == pytest.approx(1)
    warmth = np.array([[0.1, 0.0, -0.1, 0.1, 0.0, -0.1]]).T
    warm = fit_aft([1, 4, 1, 4, 12, 4], [2, 5, 2, 5, 14, 5], GROUP[:6], design=warmth)
    adjusted = pair_contrasts(warm, [("a", "b"), ("b", "a")])
    assert adjusted.loc[0, "estimate"] == warm.contrast("a", "b").loc[0, "estimate"]


def test_impossible_pairs_are_named():
    fit = fit_aft(LEFT, RIGHT, GROUP)
    for pairs in ([("a", "z"), ("a", "b")], [("a", "b"), ("a", "z")], [("a", "b"), ("a", "a")]):
        with pytest.raises(ValueError, match="group"):
            pair_contrasts(fit, pairs)


def test_a_search_that_newton_alone_would_never_end():
    """No finite scale, a split group against one that never cleared: steps went to and fro."""
    left = [4, 4, 4, 4, 4, 3, 4, 4, 3, 3, 4, 3, 4, 6, 4, 4, 4, 6] + [30] * 6
    right = [6, 6, 6, 6, 6, 4, 6, 6, 4, 4, 6, 4, 6, 8, 6, 6, 6, 8] + [INF] * 6
    fit = fit_aft(left, right, np.repeat(list("abcd"), 6))
    row = fit.contrast("b", "d").iloc[0]
    assert row["estimate"] == 0
    # One time suits all of b, 4 h; the vessels of d were watched to 30 h.
    assert row["conf_high"] == pytest.approx(4 / 30, rel=0.01)
