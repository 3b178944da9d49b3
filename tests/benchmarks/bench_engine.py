"""Speed of the engine as ratios within one run, so that they mean the same on any machine.

python -m tests.benchmarks.bench_engine
"""

import time

import numpy as np
import surpyval

from trialkit.stats._batch import fit_aft_batch
from trialkit.stats._limits import limits_for, quantile_limits
from trialkit.stats._trials import simulate_intervals
from trialkit.stats.aft import fit_aft
from trialkit.stats.turnbull import fit_turnbull

LOCATION = np.linspace(np.log(2), np.log(15), 8)


def seconds(task, repeat=3):
    """Best of a few runs."""
    times = []
    for _ in range(repeat):
        begin = time.perf_counter()
        task()
        times.append(time.perf_counter() - begin)
    return min(times)


def wide_intervals(n, seed=1):
    """Log-normal times known to intervals of their own, a fifth never seen."""
    rng = np.random.default_rng(seed)
    times, width = rng.lognormal(1.0, 0.6, n), rng.uniform(0.1, 3, n)
    left = np.maximum(times - rng.uniform(size=n) * width, 0.0)
    return left, np.where(rng.random(n) < 0.2, np.inf, left + width)


def refits():
    left, right, codes = simulate_intervals(LOCATION, 0.3, 4, 2000, 3)
    batch = seconds(lambda: fit_aft_batch(left, right, codes))
    some = range(100)
    single = seconds(lambda: [fit_aft(left[i], right[i], group=codes) for i in some]) * 20
    print(f"2,000 refits of 32 vessels: batch {batch:.3f} s, one by one {single:.2f} s")
    print(f"  one by one / batch = {single / batch:.0f} (asked: at least 30)")


def sort_floats():
    numbers = np.random.default_rng(2).random(10_000_000)
    return seconds(lambda: np.sort(numbers), repeat=2)


def one_large_fit(sort):
    left, right = wide_intervals(10_000)
    for name, task in (
        ("lognormal", lambda: fit_aft(left, right)),
        ("weibull", lambda: fit_aft(left, right, family="weibull")),
        ("shape-free curve", lambda: fit_turnbull(left, right)),
    ):
        spent = seconds(task)
        print(f"10,000 intervals, {name}: {1000 * spent:.0f} ms, {spent / sort:.3f} of a sort")


def against_surpyval():
    left, right = wide_intervals(10_000)
    tasks = (
        lambda: fit_turnbull(left, right),
        lambda: surpyval.Turnbull.fit(xl=left, xr=right, turnbull_estimator="Kaplan-Meier"),
    )
    # Turn about, so that what else the machine does falls on both.
    rounds = [[seconds(task, 1) for task in tasks] for _ in range(12)]
    ours, theirs = np.min(rounds, axis=0)
    print(f"shape-free curve on 10,000 intervals: ours / surpyval = {ours / theirs:.2f}")


def simulated_trials():
    left, right, codes = simulate_intervals(LOCATION, 0.3, 4, 10_000, 4)

    def study():
        fit = fit_aft_batch(left, right, codes)
        quantile_limits(fit, 0.5, limits_for(fit, 0.95))

    print(f"10,000 trials of 8 mixes x 4 vessels with limits: {seconds(study, 1):.1f} s")


def main():
    refits()
    sort = sort_floats()
    print(f"numpy sort of 10,000,000 floats: {1000 * sort:.0f} ms")
    one_large_fit(sort)
    simulated_trials()
    against_surpyval()


if __name__ == "__main__":
    main()
