"""Incomplete blocks are balanced where a balanced design exists."""

import numpy as np
import pytest

from trialkit.planning.incomplete import efficiency_factor, lay_out_blocks, pair_counts
from trialkit.planning.layout import randomise_blocks


def codes(n):
    return [f"M{i:02d}" for i in range(1, n + 1)]


# Parameters v, b, k, r, lambda of balanced incomplete block designs: Fisher & Yates (1963),
# Statistical Tables, table XVII (from memory, not verified). That v r = b k and
# lambda (v - 1) = r (k - 1) hold for each is checked below.
BALANCED = [(4, 4, 3, 3, 2), (5, 10, 3, 6, 3), (6, 10, 3, 5, 2), (7, 7, 3, 3, 1), (9, 12, 3, 4, 1)]


@pytest.mark.parametrize(("v", "b", "k", "r", "lam"), BALANCED)
def test_balanced_design_is_found(v, b, k, r, lam):
    assert v * r == b * k
    assert lam * (v - 1) == r * (k - 1)
    layout = lay_out_blocks(codes(v), b, places=k, seed=17, reference=False)
    counts = pair_counts(layout).to_numpy()
    assert set(counts.diagonal()) == {r}
    assert set(counts[np.triu_indices(v, 1)]) == {lam}
    # Yates (1936), Ann. Eugen. 7:121-140: efficiency of a balanced incomplete block design.
    assert efficiency_factor(layout) == pytest.approx(v * (k - 1) / (k * (v - 1)), abs=1e-12)


def test_unbalanced_numbers_of_vessels_differ_by_one_at_most():
    layout = lay_out_blocks(codes(8), 5, places=5, seed=3)
    counts = pair_counts(layout).to_numpy()
    assert np.ptp(counts.diagonal()) == 1
    assert (layout.groupby("block").size() == 6).all()
    # The efficiency of a balanced design with these numbers is the most that can be had.
    assert 0.85 < efficiency_factor(layout) < 8 * 4 / (5 * 7)


def test_places_for_all_means_complete_blocks():
    layout = lay_out_blocks(codes(4), 3, places=4, seed=6)
    assert layout.equals(randomise_blocks(codes(4), 3, seed=6))
    assert efficiency_factor(layout) == pytest.approx(1.0)


def test_separate_halves_are_not_connected():
    layout = lay_out_blocks(codes(4), 2, places=2, seed=6)
    assert efficiency_factor(layout) == 0.0


@pytest.mark.parametrize("places", [1, 5])
def test_places_out_of_range_are_refused(places):
    with pytest.raises(ValueError, match="between 2 and the number of mixes, 4"):
        lay_out_blocks(codes(4), 3, places=places, seed=1)


def test_which_mixes_meet_is_uniform_over_seeds():
    # Five mixes in four blocks of three: each layout has 12 meetings for 10 pairs. Over seeds
    # every pair must meet equally often, to within four standard errors of its mean.
    layouts = [lay_out_blocks(codes(5), 4, places=3, seed=s) for s in range(80)]
    upper = np.triu_indices(5, 1)
    meetings = np.array([pair_counts(layout).to_numpy()[upper] for layout in layouts])
    assert set(meetings.sum(axis=1)) == {12}
    error = meetings.std(axis=0) / np.sqrt(len(layouts))
    assert (np.abs(meetings.mean(axis=0) - 1.2) < 4 * error).all()


def test_too_few_blocks_to_hold_every_mix_are_refused():
    with pytest.raises(ValueError, match="n_blocks must be at least 3 for 7 mixes"):
        lay_out_blocks(codes(7), 2, places=3, seed=1)
