"""Where each vessel stands in a randomised block trial."""

import numpy as np
import pandas as pd

# Two alphabets of eleven letters; E is left out because a spreadsheet reads 3E5 as a number,
# M and R because mixes and raters carry them, O because it looks like a zero.
_LETTERS = ("ACFHKLNPVWX", "BDGIJQSTUYZ")
MAX_VESSELS = 200


def shuffled(items, rng):
    """Items in random order, every order equally likely.

    Sorts uniform numbers instead of calling ``Generator.permutation``: numpy keeps the stream of
    ``random`` but may change the other methods between versions (NEP 19), and a printed seed
    should give the same layout next year.

    Parameters
    ----------
    items : sequence
        What to put in order.
    rng : numpy.random.Generator
        Source of the random numbers.

    Returns
    -------
    list
        The same items.

    Examples
    --------
    >>> sorted(shuffled([3, 1, 2], np.random.default_rng(7)))
    [1, 2, 3]
    """
    return [items[i] for i in np.argsort(rng.random(len(items)), kind="stable")]


def randomise_blocks(mixes, n_blocks, *, seed, reference=True):
    """Every mix once in every block, at a random place of its own in each.

    Complete blocks remove what differs between benches, rows or days from every comparison of two
    mixes; the places within a block are drawn anew for each block.

    Parameters
    ----------
    mixes : sequence of str
        Mix codes, each once.
    n_blocks : int
        Blocks, which is also the number of vessels of each mix.
    seed : int or sequence of int
        Seed of the random numbers.
    reference : bool
        Whether each block also holds one vessel of purified water.

    Returns
    -------
    pandas.DataFrame
        Columns block (from 1), place (from 1 within the block), mix ("" for the reference vessel).

    Raises
    ------
    ValueError
        Fewer than one mix or block, or a mix named twice.

    Examples
    --------
    >>> layout = randomise_blocks(["M01", "M02"], 3, seed=11, reference=False)
    >>> layout.groupby("mix").size().to_dict()
    {'M01': 3, 'M02': 3}
    """
    mixes = _distinct(mixes)
    if n_blocks < 1:
        raise ValueError(f"n_blocks must be at least 1; got {n_blocks}.")
    rng = np.random.default_rng(seed)
    contents = [*mixes, ""] if reference else list(mixes)
    rows = [
        (block, place, mix)
        for block in range(1, n_blocks + 1)
        for place, mix in enumerate(shuffled(contents, rng), start=1)
    ]
    return pd.DataFrame(rows, columns=["block", "place", "mix"])


def _distinct(mixes):
    mixes = list(mixes)
    if not mixes or len(set(mixes)) != len(mixes):
        raise ValueError(f"mixes must name at least one mix, each once; got {mixes}.")
    return mixes


def vessel_codes(n, *, seed):
    """Random blind codes of which no two differ in one character or by a swap of the two digits.

    The letter is a check on the digits, ``(first + 2 * second) mod 11``: one misread character or
    two swapped digits give a code that is not in use, so a slip is refused at intake instead of
    landing on another vessel. (Across the two alphabets, used above 100 vessels, a misread letter
    can give a code in use.)

    Parameters
    ----------
    n : int
        How many codes, 1 to 200.
    seed : int or sequence of int
        Seed of the random numbers.

    Returns
    -------
    list of str
        Letter and two digits, in random order.

    Raises
    ------
    ValueError
        n outside 1 to 200.

    Examples
    --------
    >>> codes = vessel_codes(24, seed=3)
    >>> len(set(codes)), len(codes[0])
    (24, 3)
    """
    if not 1 <= n <= MAX_VESSELS:
        raise ValueError(f"n must lie between 1 and {MAX_VESSELS} vessels; got {n}.")
    rng = np.random.default_rng(seed)
    codes = [
        f"{letters[(first + 2 * second) % 11]}{first}{second}"
        for letters in _LETTERS[: 1 + (n > 100)]
        for first in range(10)
        for second in range(10)
    ]
    return shuffled(codes, rng)[:n]


def reading_order(vessels, n_sessions, raters, *, seed):
    """The order in which each rater reads the vessels of each block, drawn anew for each session.

    A fixed order would confound the vessel with the rater's tiredness, the settling of the eye
    and the minutes since the first reading.

    Parameters
    ----------
    vessels : pandas.DataFrame
        With columns vessel and block.
    n_sessions : int
        Reading sessions.
    raters : sequence of str
        Rater codes.
    seed : int or sequence of int
        Seed of the random numbers.

    Returns
    -------
    pandas.DataFrame
        Columns session (from 0), rater, block, turn (from 1 within the block), vessel.

    Examples
    --------
    >>> vessels = pd.DataFrame({"vessel": ["A00", "C10"], "block": 1})
    >>> reading_order(vessels, 2, ["R01"], seed=5).shape
    (4, 5)
    """
    rng = np.random.default_rng(seed)
    blocks = {block: list(part["vessel"]) for block, part in vessels.groupby("block", sort=True)}
    rows = [
        (session, rater, block, turn, vessel)
        for session in range(n_sessions)
        for rater in raters
        for block, members in blocks.items()
        for turn, vessel in enumerate(shuffled(members, rng), start=1)
    ]
    return pd.DataFrame(rows, columns=["session", "rater", "block", "turn", "vessel"])
