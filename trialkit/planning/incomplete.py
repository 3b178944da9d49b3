"""A layout whose blocks hold fewer vessels than there are mixes."""

import numpy as np
import pandas as pd

from .layout import randomise_blocks, shuffled

_STARTS = 20  # random starts of the exchange search
_SWEEPS = 60  # passes over all exchanges in one start


def lay_out_blocks(mixes, n_blocks, *, places, seed, reference=True):
    """Complete blocks when each has a place for every mix, incomplete ones else.

    Parameters
    ----------
    mixes : sequence of str
        Mix codes, each once.
    n_blocks : int
        Blocks: bench rows, days, rooms.
    places : int
        Vessels of salt water that a block holds; the reference vessel comes on top.
    seed : int or sequence of int
        Seed of the random numbers.
    reference : bool
        Whether each block also holds one vessel of purified water.

    Returns
    -------
    pandas.DataFrame
        Columns block, place, mix, as from `randomise_blocks`.

    Raises
    ------
    ValueError
        More places than mixes, fewer than two, or too few blocks for every mix to be seen.

    Notes
    -----
    Incomplete blocks are drawn so that every mix has the same number of vessels, or one more, and
    every pair of mixes meets in as equal a number of blocks as an exchange search finds; where a
    balanced incomplete block design exists for small numbers it finds one. Mix names, blocks and
    places are then randomised.

    Examples
    --------
    >>> layout = lay_out_blocks(list("ABCDEFG"), 7, places=3, seed=2, reference=False)
    >>> pair_counts(layout).to_numpy()[np.triu_indices(7, 1)].tolist() == [1] * 21
    True
    """
    mixes = list(mixes)
    if places == len(mixes):
        return randomise_blocks(mixes, n_blocks, seed=seed, reference=reference)
    if not 2 <= places <= len(mixes):
        raise ValueError(
            f"places must lie between 2 and the number of mixes, {len(mixes)}; got {places}."
        )
    if n_blocks * places < len(mixes):
        raise ValueError(
            f"n_blocks must be at least {-(-len(mixes) // places)} for {len(mixes)} mixes at "
            f"{places} places a block; got {n_blocks}."
        )
    rng = np.random.default_rng(seed)
    design = _most_even(len(mixes), n_blocks, places, rng)
    names = shuffled(mixes, rng)
    rows = []
    for block, row in enumerate(shuffled(list(design), rng), start=1):
        contents = [names[i] for i in np.flatnonzero(row)] + ([""] if reference else [])
        rows += [(block, place, m) for place, m in enumerate(shuffled(contents, rng), start=1)]
    return pd.DataFrame(rows, columns=["block", "place", "mix"])


def _most_even(n_mixes, n_blocks, places, rng):
    """Incidence (block, mix) with the smallest spread of pair counts over several starts."""
    best, best_unevenness = None, np.inf
    floor = _least_unevenness(n_mixes, n_blocks, places)
    for _ in range(_STARTS if n_mixes * n_blocks <= 200 else 3):
        if best_unevenness == floor:
            break
        design = _exchange(_equal_share(n_mixes, n_blocks, places, rng), rng)
        unevenness = _unevenness(design.T @ design)
        if unevenness < best_unevenness:
            best, best_unevenness = design, unevenness
    return best


def _least_unevenness(n_mixes, n_blocks, places):
    """What it would be if all pairs met equally often, or once more: no design has less."""
    pairs = n_mixes * (n_mixes - 1) // 2
    often, more = divmod(n_blocks * places * (places - 1) // 2, pairs)
    return (pairs - more) * often**2 + more * (often + 1) ** 2


def _equal_share(n_mixes, n_blocks, places, rng):
    """Fill each block with the mixes used least so far, ties broken at random."""
    design = np.zeros((n_blocks, n_mixes), dtype=int)
    for block in range(n_blocks):
        used = design.sum(axis=0) + rng.random(n_mixes) * 0.5
        design[block, np.argsort(used, kind="stable")[:places]] = 1
    return design


def _exchange(design, rng):
    """Swap a mix of one block for a mix of another while pair counts become more even."""
    n_blocks = len(design)
    for _ in range(_SWEEPS):
        before = _unevenness(design.T @ design)
        pairs = [(i, j) for i in range(n_blocks) for j in range(i + 1, n_blocks)]
        for i, j in shuffled(pairs, rng):
            design = _best_swap(design, i, j)
        if _unevenness(design.T @ design) == before:
            return design
    return design


def _best_swap(design, i, j):
    best, unevenness = design, _unevenness(design.T @ design)
    for a in np.flatnonzero(design[i] & ~design[j]):
        for b in np.flatnonzero(design[j] & ~design[i]):
            trial = design.copy()
            trial[i, [a, b]], trial[j, [a, b]] = (0, 1), (1, 0)
            found = _unevenness(trial.T @ trial)
            if found < unevenness:
                best, unevenness = trial, found
    return best


def _unevenness(meetings):
    """Sum of squared pair counts: their sum is fixed, so the smallest is the most even."""
    return int((meetings[np.triu_indices_from(meetings, 1)] ** 2).sum())


def pair_counts(layout):
    """In how many blocks each pair of mixes meets.

    Parameters
    ----------
    layout : pandas.DataFrame
        Columns block, mix; the reference ("") is left out.

    Returns
    -------
    pandas.DataFrame
        Square, mixes by mixes; the diagonal is the number of vessels of each.
    """
    trial = layout[layout["mix"] != ""]
    incidence = pd.crosstab(trial["block"], trial["mix"])
    return incidence.T @ incidence


def efficiency_factor(layout):
    """Precision of comparing two mixes, relative to complete blocks with as many vessels.

    The harmonic mean of the canonical efficiency factors: the eigenvalues of the information
    matrix of the mix effects over the mean number of vessels of a mix. 1 for complete blocks; 0
    when blocks don't connect all mixes.

    Parameters
    ----------
    layout : pandas.DataFrame
        Columns block, mix.

    Returns
    -------
    float
        Between 0 and 1.

    References
    ----------
    John & Williams (1995), Cyclic and Computer Generated Designs, 2nd ed., chapter 2. For a
    balanced design it is v(k - 1) / (k(v - 1)): Yates (1936), Ann. Eugen. 7:121-140.

    Examples
    --------
    >>> round(efficiency_factor(lay_out_blocks(list("ABC"), 3, places=2, seed=1)), 4)
    0.75
    """
    trial = layout[layout["mix"] != ""]
    incidence = pd.crosstab(trial["mix"], trial["block"]).to_numpy(float)
    vessels = incidence.sum(axis=1)
    information = np.diag(vessels) - incidence / incidence.sum(axis=0) @ incidence.T
    factors = np.linalg.eigvalsh(information)[1:] / vessels.mean()
    return 0.0 if factors.min() < 1e-9 else float(len(factors) / (1 / factors).sum())
