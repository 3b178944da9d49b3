"""All shuffles of labels within blocks, counted in full or drawn at random."""

from __future__ import annotations

from math import factorial, prod

import numpy as np

# Scores are counted on a grid of so many steps over their range, so that equal sums are equal.
GRID = 2**30


def arrangements(sizes: np.ndarray) -> int:
    """Ways to hand out the labels; sizes has shape (block, group)."""
    return prod(factorial(int(row.sum())) // prod(factorial(int(n)) for n in row) for row in sizes)


def group_sums(centred, labels, n_group: int) -> np.ndarray:
    """Sum of scores a group, shape (shuffle, group)."""
    return np.stack([(labels == g) @ centred for g in range(n_group)], axis=1)


def draw_sums(centred, group, block, random) -> np.ndarray:
    """Group sums of random shuffles within blocks."""
    n_random, seed = random
    keys = np.random.default_rng(seed).random((n_random, len(group))) + block
    by_block = np.argsort(block, kind="stable")
    labels = np.empty(keys.shape, dtype=group.dtype)
    np.put_along_axis(labels, np.argsort(keys, axis=1), group[by_block][None], axis=1)
    return group_sums(centred, labels, len(np.unique(group)))


def count_sums(centred, block, sizes, max_states: int):
    """Distinct group sums over all shuffles with their counts; None when beyond the limit.

    Values are handed out one by one; a state is what each group but the last has so far.
    """
    step = np.ptp(centred) / GRID or 1.0
    units = np.rint(centred / step).astype(np.int64)
    k = sizes.shape[1] - 1
    states, weights = np.zeros((1, 2 * k), dtype=np.int64), np.ones(1)
    for b, row in enumerate(sizes):
        states[:, :k] = 0
        values = np.sort(units[block == b])
        if row.max() == 1 and _partly_dealt(values) * k > max_states:
            return None
        for given, value in enumerate(values):
            # With many groups a state is a long row: the limit is on numbers held.
            if len(states) * k > max_states:
                return None
            states, weights = _hand_out(states, weights, value, (row, given, k))
    sums = states[:, k:] * step
    return np.column_stack([sums, -sums.sum(axis=1)]), weights


def _partly_dealt(values) -> int:
    """Ways to deal all values but the last, one to a group, equal ones not told apart.

    So many states are certain to arise where each group has one vessel a block, as in most trials:
    it is known before any is made that they are too many.
    """
    repeated = np.unique(values[:-1], return_counts=True)[1]
    return factorial(len(values)) // prod(factorial(int(n)) for n in repeated)


def _hand_out(states, weights, value, place) -> tuple[np.ndarray, np.ndarray]:
    """The states after one more value went to each of the groups that still had room."""
    row, given, k = place
    new, new_weights = [], []
    for g in range(k):
        room = states[:, g] < row[g]
        taken = states[room]
        taken[:, g] += 1
        taken[:, k + g] += value
        new.append(taken)
        new_weights.append(weights[room])
    last = given - states[:, :k].sum(axis=1) < row[k]
    new.append(states[last])
    new_weights.append(weights[last])
    return _merge(np.concatenate(new), np.concatenate(new_weights))


def _merge(states, weights) -> tuple[np.ndarray, np.ndarray]:
    """Equal states as one, their counts added."""
    order = np.lexsort(states.T)
    states, weights = states[order], weights[order]
    first = np.append(True, (states[1:] != states[:-1]).any(axis=1))
    return states[first], np.add.reduceat(weights, np.flatnonzero(first))
