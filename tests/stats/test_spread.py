"""The test of equal spread: it sees a plain case and keeps its level."""

import numpy as np
import pytest

from tests.stats.data_published import INF
from trialkit.stats._trials import simulate_intervals
from trialkit.stats.aft import fit_aft
from trialkit.stats.spread import equal_spread_test


def test_equal_spread_is_judged_by_simulation():
    uneven = np.exp(np.concatenate([[1, 1.01, 0.99, 1.005], [2, 3, 1, 2.5]]))
    fit = fit_aft(uneven, uneven, group=list("aaaabbbb"))
    found = equal_spread_test(fit, n_simulated=199)
    assert found.p_value == 1 / 200
    assert "simulated" in str(found)
    assert equal_spread_test(fit_aft([1, 4], [2, 6], group=list("ab"))).p_value == 1


def test_equal_spread_rejects_as_often_as_it_says():
    # 120 trials of three equal mixes with one lost vessel: p <= 0.1 in 10%, three standard
    # errors are 0.082.
    left, right, codes = simulate_intervals(np.log([3, 6, 20]), 0.3, 4, 120, 21)
    left[:, 0], right[:, 0] = 1.0, INF
    p = [
        equal_spread_test(fit_aft(low, high, group=codes), n_simulated=39).p_value
        for low, high in zip(left, right, strict=True)
    ]
    assert 0.018 <= np.mean(np.array(p) <= 0.1) <= 0.182


@pytest.mark.parametrize(
    ("call", "match"),
    [
        (lambda: equal_spread_test(fit_aft([1, 2], [2, 3]), n_simulated=0), "n_simulated"),
        (
            lambda: equal_spread_test(fit_aft([1, 2, 3], [1, 2, 3], design=[1, 0, 3])),
            "covariates",
        ),
    ],
)
def test_impossible_arguments_are_refused(call, match):
    with pytest.raises(ValueError, match=match):
        call()
