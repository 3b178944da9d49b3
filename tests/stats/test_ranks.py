"""Places and shares of first places against hand-made orders and closed forms."""

import numpy as np
import pytest
from scipy import stats

from trialkit.stats import ranks
from trialkit.stats.aft import fit_aft
from trialkit.stats.ranks import rank_sets, share_first

INF = np.inf


def first(left, right, group, *, scale=None, **options):
    return share_first(fit_aft(left, right, group, scale=scale), **options)


def shown(k, pairs):
    out = np.zeros((k, k), dtype=bool)
    for i, j in pairs:
        out[i, j] = True
    return out


@pytest.mark.parametrize(
    ("pairs", "low", "high"),
    [
        ([], [1, 1, 1, 1], [4, 4, 4, 4]),
        # Full order 0 < 1 < 2 < 3.
        ([(i, j) for i in range(4) for j in range(i + 1, 4)], [1, 2, 3, 4], [1, 2, 3, 4]),
        # Group 0 earlier than all, the rest open.
        ([(0, 1), (0, 2), (0, 3)], [1, 2, 2, 2], [1, 4, 4, 4]),
        # Two pairs of alike groups.
        ([(0, 2), (0, 3), (1, 2), (1, 3)], [1, 1, 3, 3], [2, 2, 4, 4]),
    ],
)
def test_rank_sets_by_hand(pairs, low, high):
    table = rank_sets(shown(4, pairs))
    assert table["rank_low"].tolist() == low
    assert table["rank_high"].tolist() == high


def test_an_impossible_order_is_refused():
    with pytest.raises(ValueError, match="no two groups"):
        rank_sets(shown(2, [(0, 1), (1, 0)]))


def test_rank_sets_hold_all_true_places_when_no_claim_is_false():
    # Normal means with known spread and Holm over all pairs: the chance that any true place lies
    # outside its set is at most the family error, 0.05.
    rng, truth = np.random.default_rng(12), np.array([0.0, 0.0, 1.0, 2.5, 4.0])
    places = [(1, 2), (1, 2), (3, 3), (4, 4), (5, 5)]
    i, j = np.triu_indices(5, 1)
    outside = 0
    for _ in range(1_000):
        mean = truth + rng.normal(size=5)
        p = 2 * stats.norm.sf(np.abs(mean[i] - mean[j]) / np.sqrt(2))
        order = np.argsort(p)
        limit = 0.05 / np.arange(len(p), 0, -1)
        passed = np.cumprod(p[order] <= limit).astype(bool)
        claims = [(a, b) if mean[a] < mean[b] else (b, a) for a, b in zip(i, j, strict=True)]
        table = rank_sets(shown(5, [claims[o] for o in order[passed]]))
        outside += any(
            table["rank_low"][g] > high or table["rank_high"][g] < low
            for g, (low, high) in enumerate(places)
        )
    assert outside <= 50 + 3 * np.sqrt(1_000 * 0.05 * 0.95)


def test_two_alike_groups_come_first_equally_often():
    left = [1, 2, 3, 1, 2, 3]
    right = [2, 3, 4, 2, 3, 4]
    shares = first(left, right, list("aaabbb"), n_random=4_000)
    # Binomial error of 4,000 repeats: 0.008.
    assert shares.tolist() == pytest.approx([0.5, 0.5], abs=0.03)
    assert shares.sum() == pytest.approx(1)


def test_share_of_two_groups_with_fine_looks_is_that_of_students_t():
    # With (almost) exact log-normal times a repeat differs by location difference + s* sqrt(2/n) z
    # with s*^2 = N s^2 / chi2(df): b is first with chance P(T_df > difference / standard error).
    log_a, log_b = np.array([0.0, 0.3, 0.7, 0.9]), np.array([0.5, 0.6, 1.0, 1.5])
    times = np.exp(np.concatenate([log_a, log_b]))
    shares = first(times * 0.999, times, np.repeat(["a", "b"], 4), n_random=8_000)
    pooled = (log_a.var(ddof=1) + log_b.var(ddof=1)) / 2
    t = (log_b.mean() - log_a.mean()) / np.sqrt(pooled * 2 / 4)
    # The looks are as coarse as the 8 ends themselves, which adds a little noise: 0.03.
    assert shares["b"] == pytest.approx(stats.t.sf(t, 6), abs=0.03)


def test_a_group_that_never_cleared_can_only_share_the_place():
    # One degree of freedom allows wide scales, so that in few repeats nothing clears at all.
    shares = first([1, 2, 24, 24], [2, 4, INF, INF], list("aabb"))
    assert 0.98 < shares["a"] < 1
    # With the scale known to be small there is no such repeat.
    assert first([1, 24], [2, INF], ["a", "b"], scale=0.2).tolist() == [1.0, 0.0]


def test_nothing_cleared_or_all_at_the_first_look_share_the_place():
    assert first([24, 24], [INF, INF], ["a", "b"]).tolist() == [0.5, 0.5]
    assert first([0, 0, 0], [1, 1, 1], ["a", "b", "c"]).tolist() == pytest.approx([1 / 3] * 3)


def test_a_group_clear_at_each_first_look_comes_before_one_that_was_not():
    shares = first([0, 0, 2, 3], [1, 1, 3, 4], list("aabb"))
    assert shares["a"] > 0.98
    assert first([0, 2], [1, 3], ["a", "b"], scale=0.1).tolist() == [1.0, 0.0]


def test_data_without_a_scale_give_shares_all_the_same():
    # Each group's vessels fit one time: the widths of the intervals stand in for the spread.
    shares = first([2, 2, 3, 3], [3, 3, 4, 4], list("aabb"))
    assert 0.5 < shares["a"] < 1


def test_a_lost_vessel_stays_lost_and_repeats_obey_the_seed():
    left, right = [1, 2, 0.5, 3, 4, 3], [2, 3, INF, 4, 6, 4]
    shares = first(left, right, list("aaabbb"), seed=5)
    assert shares.equals(first(left, right, list("aaabbb"), seed=5))
    assert not shares.equals(first(left, right, list("aaabbb"), seed=6))


def test_one_vessel_a_group_with_a_known_scale_in_closed_form():
    # Both vessels are looked at near 1 and 1.5 h, so a repeat has three outcomes a vessel: clear by
    # the first look, by the second, not. The earlier outcome is first, equal ones share.
    left, right = np.array([0.9999, 1.4999]), np.array([1.0, 1.5])
    by_look = stats.norm.cdf((np.log(right)[None] - np.log((left + right) / 2)[:, None]) / 0.3)
    a, b = np.diff(by_look, axis=1, prepend=0, append=1)
    expected = a[0] * (b[1] + b[2]) + a[1] * b[2] + (a @ b) / 2
    shares = share_first(fit_aft(left, right, ["a", "b"], scale=0.3), n_random=8_000)
    # Three binomial standard errors of 8,000 repeats.
    assert shares["a"] == pytest.approx(expected, abs=0.015)


def test_looks_of_one_round_are_one():
    left, right = np.array([0, 1.00, 1.02, 2.0]), np.array([1.01, 2.01, 2.05, INF])
    assert ranks._looks(left, right).tolist() == [1.02, 2.05]


def test_thirty_groups():
    rng = np.random.default_rng(3)
    time = np.exp(np.repeat(np.linspace(0, 3, 30), 3) + rng.normal(0, 0.2, 90))
    looks = np.array([0, 0.5, 1, 2, 3, 4, 6, 8, 12, 16, 24, INF])
    at = np.searchsorted(looks, time)
    shares = first(looks[at - 1], looks[at], np.repeat(np.arange(30), 3), n_random=300)
    assert shares.sum() == pytest.approx(1)
    assert shares.iloc[:5].sum() > 0.9
