"""How many vessels of each mix: what trials of each size would show."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from ._backends import backend_named
from ._simulated_fits import chunk
from .closed_forms import smallest_p
from .schedule import DEFAULT_SPREAD

_CHUNK = 500  # trials fitted at once: a few MB, and enough pieces to spread
_READING_MIN = 0.5


@dataclass(frozen=True)
class PowerQuestion:
    """What a trial is to find out, and how it is read.

    Parameters
    ----------
    times_h : tuple of float
        Expected typical clearing times of the mixes, hours; inf for never.
    schedule_h : tuple of float
        Reading times, hours.
    spread : float
        Standard deviation of the natural log of time between vessels of a mix.
    ratio : float
        Two mixes whose times differ by this factor should be told apart.
    hold : int
        Successive clear readings that "clear" takes.
    n_raters : int
        Readers who look at every vessel in every session.
    vessels : tuple of int
        Numbers of vessels of each mix to try, each at least 2.
    """

    times_h: tuple[float, ...]
    schedule_h: tuple[float, ...]
    spread: float = DEFAULT_SPREAD
    ratio: float = 2.0
    hold: int = 2
    n_raters: int = 1
    vessels: tuple[int, ...] = (2, 3, 4, 5, 6, 7, 8)

    def __post_init__(self):
        """Refuse what can't be simulated, with the allowed range."""
        if not self.times_h or not all(t > 0 for t in self.times_h):
            raise ValueError(f"times_h must be hours above 0, one per mix; got {self.times_h}.")
        if not np.isfinite(self.times_h).any():
            raise ValueError("times_h must hold at least one mix that is expected to clear.")
        if not 0.001 <= self.spread <= 3:
            raise ValueError(f"spread must lie between 0.001 and 3; got {self.spread}.")
        if not 1 < self.ratio <= 1000:
            raise ValueError(f"ratio must lie above 1, up to 1000; got {self.ratio}.")
        if not 1 <= self.hold < len(self.schedule_h):
            raise ValueError(f"hold must be 1 to {len(self.schedule_h) - 1}; got {self.hold}.")
        if not self.vessels or min(self.vessels) < 2:
            raise ValueError(f"vessels must be whole numbers of at least 2; got {self.vessels}.")

    def cuts(self):
        """Readings that later ones can confirm, as an array."""
        return np.asarray(self.schedule_h, float)[: len(self.schedule_h) - self.hold + 1]

    def pair(self):
        """Positions of the two mixes that are compared: the middle ones of those expected."""
        order = [i for i in np.argsort(self.times_h, kind="stable") if self.times_h[i] < np.inf]
        if len(order) < 2:
            order += [i for i in range(len(self.times_h)) if i not in order]
        middle = max(1, len(order) // 2)
        return int(order[middle - 1]), int(order[middle])

    def pair_times(self):
        """Times to simulate: as expected, but for the pair, a factor `ratio` apart."""
        times = np.asarray(self.times_h, float).copy()
        if len(times) > 1:
            first, second = self.pair()
            found = times[[first, second]]
            middle = np.exp(np.log(found[np.isfinite(found)]).mean())
            times[first], times[second] = middle / self.ratio**0.5, middle * self.ratio**0.5
        return times


def simulate_power(question, *, n_trials=2000, seed=1, n_jobs=1, backend=None, progress=None):
    """What trials of different sizes would show, by simulating and fitting many of each.

    Each simulated trial is read and fitted as a real one: log-normal times, intervals between
    confirmed looks, one pooled scale, a likelihood-ratio test with the small-sample limit.
    Blocks are taken to cost nothing. Chunks have seeds of their own, so the answer does not
    depend on how they are spread.

    Parameters
    ----------
    question : PowerQuestion
        The plan.
    n_trials : int
        Simulated trials of each size; the Monte Carlo error of a chance is at most
        ``0.5 / sqrt(n_trials)``.
    seed : int
        Seed of the random numbers.
    n_jobs : int
        Processes; -1 for all.
    backend : str, optional
        A joblib backend: "loky", "threading", or "dask" or "ray" on a running cluster.
    progress : callable, optional
        Called with trials done and trials in all.

    Returns
    -------
    pandas.DataFrame
        A row per size: vessels_per_mix, n_vessels and n_readings (one purified-water vessel a
        block counted), reading_h (at half a minute a look), power (chance that the pair is told
        apart at the 5% level), power_all_pairs (the same at 5% over the number of pairs: Holm's
        first step), assured_factor (median over trials and mixes of the assured time's upper
        bound over the true 90% time), some_mix_censored (chance that a mix expected to clear is
        not seen clear in any vessel), no_scale (chance that readings are too sparse for a
        spread), smallest_p (of the permutation test of two mixes within blocks), n_trials.

    Examples
    --------
    >>> question = PowerQuestion((1.0, 3.0), (0.5, 1, 2, 3, 4, 6, 8), vessels=(4,))
    >>> simulate_power(question, n_trials=100)["n_readings"].tolist()
    [84]
    """
    if n_trials < 1:
        raise ValueError(f"n_trials must be at least 1; got {n_trials}.")
    vessels = question.vessels
    tasks = _tasks(vessels, n_trials, seed)
    results, done = [], 0
    with backend_named(backend, n_jobs) as run:
        for task, result in zip(tasks, run(chunk, [(question, *t) for t in tasks]), strict=True):
            results.append(result)
            done += task[1]
            if progress is not None:
                progress(done, n_trials * len(vessels))
    each = len(tasks) // len(vessels)  # every size has as many chunks
    rows = [_row(question, n, results[i * each : (i + 1) * each]) for i, n in enumerate(vessels)]
    return pd.DataFrame(rows)


def _tasks(vessels, n_trials, seed):
    sizes = [_CHUNK] * (n_trials // _CHUNK) + ([n_trials % _CHUNK] if n_trials % _CHUNK else [])
    return [
        (n, size, np.random.SeedSequence([seed, n, number]))
        for n in vessels
        for number, size in enumerate(sizes)
    ]


def _row(question, n, parts):
    found = {name: np.concatenate([part[name] for part in parts]) for name in parts[0]}
    n_mixes = len(question.times_h)
    n_pairs = max(1, n_mixes * (n_mixes - 1) // 2)
    n_vessels = n * (n_mixes + 1)
    n_readings = n_vessels * len(question.schedule_h) * question.n_raters
    # Medians of logs: an interpolation between two infinite bounds must stay infinite.
    bound = np.quantile(found["bound"], 0.5, method="inverted_cdf")
    return {
        "vessels_per_mix": n,
        "n_vessels": n_vessels,
        "n_readings": n_readings,
        "reading_h": n_readings * _READING_MIN / 60,
        "power": float((found["p"] < 0.05).mean()),
        "power_all_pairs": float((found["p"] < 0.05 / n_pairs).mean()),
        "assured_factor": float(np.exp(bound)),
        "some_mix_censored": float(found["censored"].mean()),
        "no_scale": float(found["no_scale"].mean()),
        "smallest_p": smallest_p(n),
        "n_trials": len(found["p"]),
    }
