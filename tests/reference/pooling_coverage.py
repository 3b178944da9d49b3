"""Coverage of the limits of `fit_mixed_aft`, simulated; the table is pooling_coverage.txt.

Run: python tests/reference/pooling_coverage.py [sets at 5 trials [row ...]]; with 10 and 30 trials
the shares vary less and a half and a quarter are enough. Nominal 95% throughout. A new batch's
coverage is its exact probability between the limits, averaged over the sets of trials drawn
(`sets`), which needs no draw of the batch itself; `se` is the standard error of that average.
`mean`: limits of the typical time hold it. `assured`: the one-sided bound for 90% of new batches
holds their true 90% point. `upper`: one-sided 95% bound for the new batch. 800 sets take an hour on
one processor.
"""

import itertools
import sys

import numpy as np
from scipy import stats

from trialkit.stats.mixed_aft import fit_mixed_aft

HOURS = np.array([0, 0.25, 0.5, 1, 1.5, 2, 3, 4, 6, 8, 10, 12, 16, 20, 24, np.inf])
PATTERNS = {
    "2 vessels a mix": lambda rng, trials: np.full(trials, 2),
    "most trials 1 vessel a mix": lambda rng, trials: np.where(np.arange(trials) % 5, 1, 3),
    "all trials 1 vessel a mix": lambda rng, trials: np.full(trials, 1),
}
LOCATIONS = {
    "3 mixes": np.log([1.2, 2.0, 3.5]),
    "1 mix": np.log([2.0]),
    "3 mixes, one seen clear by half": np.log([1.2, 4.0, 24.0]),
}
SPREADS = {
    "usual": (0.3, 0.15, 0.3),
    "places alike": (0.4, 0.0, 0.0),
    "places apart": (0.2, 0.2, 0.6),
}


def draw(rng, locations, vessels, spread):
    """left, right, group, cluster of one set of trials; `vessels` a mix in each trial."""
    sigma, omega, tau = spread
    trials, groups = len(vessels), len(locations)
    place = tau * rng.normal(size=trials)
    cell = omega * rng.normal(size=(trials, groups))
    trial = np.repeat(np.arange(trials), vessels * groups)
    group = np.concatenate([np.repeat(np.arange(groups), n) for n in vessels])
    log_time = locations[group] + place[trial] + cell[trial, group]
    log_time += sigma * rng.normal(size=len(trial))
    at = np.searchsorted(HOURS, np.exp(log_time))
    return HOURS[at - 1], HOURS[at], group, trial


def coverage(locations, pattern, spread, trials, replicates, seed):
    """Shares held (new batch two-sided, upper, mean, assured), the first's error, failures."""
    rng = np.random.default_rng(seed)
    total = np.sqrt(np.square(spread).sum())
    held, failed = [], 0
    for _ in range(replicates):
        data = draw(rng, locations, pattern(rng, trials), spread)
        try:
            fit = fit_mixed_aft(*data)
        except (ValueError, RuntimeError):
            failed += 1
            continue
        held.append(_held(fit, locations, total))
    held = np.array(held)
    return held.mean(axis=0), held[:, 0].std() / np.sqrt(len(held)), failed


def _held(fit, locations, total):
    true = locations[list(fit.groups)]
    batch, upper, mean = fit.new_batch(), fit.new_batch(0.9), fit.typical_time()
    assured = fit.upper_bound(0.9)
    with np.errstate(divide="ignore"):
        low, high = (stats.norm.cdf((np.log(batch[c]) - true) / total) for c in LIMITS)
        above = stats.norm.cdf((np.log(upper["conf_high"]) - true) / total)
        inside = (np.log(mean["conf_low"]) <= true) & (true <= np.log(mean["conf_high"]))
        ninety = np.log(assured["conf_high"]) >= true + stats.norm.ppf(0.9) * total
    return [np.mean(high - low), np.mean(above), np.mean(inside), np.mean(ninety)]


SHARE = {5: 1.0, 10: 0.5, 30: 0.25}  # of the replicates, by number of trials
LIMITS = ("conf_low", "conf_high")


def main(replicates=800, *rows):
    heads = f"{'mixes':32} {'vessels':27} {'spreads':13} trials"
    print(f"row {heads}  sets  batch     se  upper   mean assured failed")
    settings = list(itertools.product(LOCATIONS, PATTERNS, SPREADS, SHARE))
    for row in rows or range(1, len(settings) + 1):
        mixes, vessels, name, trials = settings[row - 1]
        count = int(replicates * SHARE[trials])
        rest = (LOCATIONS[mixes], PATTERNS[vessels], SPREADS[name], trials, count)
        # A seed a row, so that chance errors of the rows are independent.
        found, error, failed = coverage(*rest, 1000 + row)
        first, *others = (f"{share:6.3f}" for share in found)
        shares = f"{first} {error:6.4f} {' '.join(others)}"
        print(
            f"{row:3} {mixes:32} {vessels:27} {name:13} {trials:6} {count:5} {shares} {failed:7}",
            flush=True,
        )


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
