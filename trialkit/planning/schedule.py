"""When to look: reading times that tell most about clearing times."""

from math import inf

import numpy as np
import pandas as pd
from scipy.special import ndtr

# Between-vessel standard deviation of the natural log of clearing time that the invented demo
# trials were given: a starting value only. Use the pooled scale of an earlier report.
DEFAULT_SPREAD = 0.3
# A guess of a clearing time is taken to be off by up to this factor either way.
GUESS_FACTOR = 2.0
_ROUND_H = (
    [m / 60 for m in (5, 10, 15, 20, 30, 45)]
    + [1, 1.25, 1.5, 1.75, 2, 2.5, 3, 3.5, 4, 4.5, 5, 6, 7, 8, 9, 10, 11]
    + list(range(12, 24, 2))
    + list(range(24, 49, 3))
    + list(range(54, 169, 6))
    + list(range(192, 2001, 24))
)


def information(schedule_h, times_h, spread, *, hold=2):
    """Information on each mix's typical log time, as a share of that of exact times.

    A vessel whose clearing time is only known to lie between two looks carries the Fisher
    information ``sum (phi(a) - phi(b))**2 / (Phi(b) - Phi(a))`` over the gaps (a, b] of the
    schedule, in units of 1 / spread**2, which is that of an exact time. The inverse is how many
    vessels read on this schedule are worth one that is watched without a break.

    Parameters
    ----------
    schedule_h : array_like, shape (s,)
        Reading times, hours.
    times_h : array_like, shape (m,)
        Typical clearing times, hours; inf for a mix thought never to clear.
    spread : float
        Standard deviation of the natural log of time between vessels of a mix.
    hold : int
        Successive clear readings that "clear" takes: the last ``hold - 1`` readings can only
        confirm.

    Returns
    -------
    numpy.ndarray, shape (m,)
        Shares between 0 and 1.

    References
    ----------
    Kulldorff (1961), Contributions to the Theory of Estimation from Grouped and Partially
    Grouped Samples, Stockholm.

    Examples
    --------
    A single look at the median leaves 2 / pi, the efficiency of the sign test:

    >>> information([4.0], [4.0], 0.3, hold=1).round(4).tolist()
    [0.6366]
    """
    cuts = np.log(_confirmed(schedule_h, hold))
    with np.errstate(divide="ignore"):
        z = (cuts[:, None] - np.log(np.asarray(times_h, float))) / spread
    edge = np.full((1, z.shape[1]), inf)
    z = np.concatenate([-edge, np.where(np.isneginf(z), -1e3, z), edge])
    density = np.exp(-0.5 * z**2) / np.sqrt(2 * np.pi)
    # The upper tail is mirrored, where differences of Phi would cancel.
    upper = z[:-1] > 0
    chance = np.where(upper, ndtr(-z[:-1]) - ndtr(-z[1:]), ndtr(z[1:]) - ndtr(z[:-1]))
    gain = np.diff(density, axis=0) ** 2
    return np.divide(gain, chance, out=np.zeros_like(gain), where=chance > 1e-290).sum(axis=0)


def _confirmed(schedule_h, hold):
    schedule = np.asarray(schedule_h, float)
    if schedule.ndim != 1 or len(schedule) < hold or hold < 1:
        raise ValueError(f"schedule_h needs at least hold = {hold} reading times; got {schedule}.")
    if (np.diff(schedule) <= 0).any() or schedule[0] <= 0:
        raise ValueError(f"schedule_h must be positive hours in rising order; got {schedule_h}.")
    return schedule[: len(schedule) - hold + 1]


def propose_schedule(times_h, spread=DEFAULT_SPREAD, *, n_readings, window_h, gap_h=0.0, hold=2):
    """Reading times, dense where clearing is expected, the last at the end of the window.

    Picks from round times (5 min to hours) those with the most information on the typical times,
    averaged over the mixes and over guesses that are off by up to a factor of two; first one at a
    time, then by exchanging single times while that helps.

    Parameters
    ----------
    times_h : array_like, shape (m,)
        Guessed typical clearing times, hours; inf for a mix thought never to clear.
    spread : float
        Standard deviation of the natural log of time between vessels of a mix.
    n_readings : int
        How many sessions; at least hold + 1.
    window_h : float
        Length of the trial, hours.
    gap_h : float
        Shortest time between sessions: what one round of readings takes.
    hold : int
        Successive clear readings that "clear" takes.

    Returns
    -------
    tuple of float
        Hours since the start.

    Raises
    ------
    ValueError
        Fewer readings than hold + 1, or more than round times in the window at that gap.

    Examples
    --------
    >>> propose_schedule([1, 2], n_readings=6, window_h=8)[-1]
    8.0
    """
    grid = round_times(window_h)
    if not hold + 1 <= n_readings:
        raise ValueError(f"n_readings must be at least hold + 1 = {hold + 1}; got {n_readings}.")
    packed = _packed(grid, gap_h)
    if n_readings > len(packed):
        raise ValueError(
            f"n_readings must be at most {len(packed)} in {window_h:g} h at {gap_h:g} h "
            f"between sessions; got {n_readings}."
        )
    guesses = _around(times_h)

    def score(schedule):
        # Shorter than hold: nothing is confirmed yet, the greedy steps start from there.
        confirm = min(hold, len(schedule))
        return float(information(schedule, guesses, spread, hold=confirm).mean())

    options = [grid, packed]  # good places can be used up early; those of the packing never are
    chosen = []
    while len(chosen) < n_readings:
        chosen = _greedy(options.pop(0), n_readings, gap_h, score)
    return tuple(_exchanged(chosen, grid, gap_h, score))


def round_times(window_h):
    """Times that people read a clock at, up to and with the end of the window.

    Examples
    --------
    >>> round_times(1)[-3:]
    [0.5, 0.75, 1.0]
    """
    return sorted({float(t) for t in _ROUND_H if t < window_h} | {float(window_h)})


def _around(times_h):
    times = np.asarray(times_h, float)
    return np.concatenate([times * GUESS_FACTOR**e for e in (-1.0, -0.5, 0.0, 0.5, 1.0)])


def _allowed(grid, chosen, gap_h):
    # A hundredth of a second of slack: 0.1 h steps are no exact binary fractions.
    return [t for t in grid if min(abs(t - c) for c in chosen) >= max(gap_h - 1e-6, 1e-6)]


def _packed(grid, gap_h):
    """As many times as fit, from the end of the window backwards."""
    chosen = []
    for time in reversed(grid):
        if not chosen or time in _allowed([time], chosen, gap_h):
            chosen.append(time)
    return sorted(chosen)


def _greedy(grid, n_readings, gap_h, score):
    """The end of the window, then the best time to add until enough or none is left."""
    chosen = [grid[-1]]
    while len(chosen) < n_readings:
        options = [sorted([*chosen, t]) for t in _allowed(grid, chosen, gap_h)]
        if not options:
            break
        chosen = max(options, key=score)
    return chosen


def _exchanged(chosen, grid, gap_h, score):
    """Move single times while the score rises; the end of the window stays."""
    best, before = score(chosen), -inf
    while best > before + 1e-9:
        before = best
        for time in chosen[:-1]:
            rest = [t for t in chosen if t != time]
            options = [sorted([*rest, t]) for t in _allowed(grid, rest, gap_h)]
            winner = max(options, key=score)
            if score(winner) > best + 1e-9:
                chosen, best = winner, score(winner)
                break
    return chosen


def schedule_table(schedule_h, times_h, spread=DEFAULT_SPREAD, *, hold=2):
    """What a schedule keeps of the information that the densest practical one would give.

    Parameters
    ----------
    schedule_h : array_like, shape (s,)
        Reading times, hours.
    times_h : array_like, shape (m,)
        Guessed typical clearing times, hours.
    spread : float
        Standard deviation of the natural log of time between vessels of a mix.
    hold : int
        Successive clear readings that "clear" takes.

    Returns
    -------
    pandas.DataFrame
        A row per mix: time_h, share_of_exact (information relative to exact clearing times),
        share_of_dense (relative to reading at every round time), vessels_worth (how many vessels
        here carry what one would with exact times; inf when nothing is learned), left_of_first,
        never_in_window (chances that a vessel clears before the first, after the last look).

    Examples
    --------
    >>> schedule_table([1, 2, 3, 4], [2.0]).columns.tolist()[:3]
    ['time_h', 'share_of_exact', 'share_of_dense']
    """
    times = np.asarray(times_h, float)
    cuts = _confirmed(schedule_h, hold)
    exact = information(schedule_h, times, spread, hold=hold)
    dense = information(round_times(schedule_h[-1]), times, spread, hold=hold)
    first, last = (ndtr((np.log(cut) - np.log(times)) / spread) for cut in (cuts[0], cuts[-1]))
    columns = {
        "time_h": times,
        "share_of_exact": exact,
        "share_of_dense": np.divide(exact, dense, out=np.zeros_like(exact), where=dense > 0),
        "vessels_worth": np.divide(1, exact, out=np.full_like(exact, inf), where=exact > 0),
        "left_of_first": first,
        "never_in_window": 1 - last,
    }
    return pd.DataFrame(columns)
