"""Study: the wider limits of one spread and of own spreads, taken when spreads look unequal.

The trials, the patterns of spreads and the columns are those of coverage_spread.py. Limits:
"pooled"; "wider, p at most 0.5" and "wider, p at most 0.05": of the pooled ones and those by own
scales each limit that lies further out, where the test of equal spreads has at most that p, else
the pooled ones; "always wider". Run from the top of the checkout:

    python -m tests.reference.coverage_wider > tests/reference/coverage_wider.csv
"""

import csv
import sys

import numpy as np

from tests.reference.coverage_spread import (
    COLUMNS,
    LOCATION,
    N_TRIAL,
    PATTERNS,
    Z90,
    own_bounds,
    pooled_bounds,
    summary,
)
from trialkit.stats._batch import fit_aft_batch
from trialkit.stats._limits import limits_for, quantile_limits
from trialkit.stats._own_scale import WEIGHT, own_quantile_limits, spread_deviance
from trialkit.stats._trials import simulate_intervals

RULES = {"wider, p at most 0.05": 0.95, "wider, p at most 0.5": 0.5, "always wider": 0.0}


def wider(pooled, own):
    """Of each pair of limits the one further out."""
    low, high = np.minimum(pooled[..., 0], own[..., 0]), np.maximum(pooled[..., 1], own[..., 1])
    return np.stack([low, high], axis=-1)


def study(fit, scale, equal_deviance):
    """Yield the name of the time, of the limits, and their three numbers."""
    deviance = spread_deviance(fit)
    pairs = {
        "median": (
            quantile_limits(fit, 0.5, limits_for(fit, 0.95)),
            own_quantile_limits(fit, 0.5, 0.95, WEIGHT),
            LOCATION,
        ),
        "90% time": (pooled_bounds(fit), own_bounds(fit, WEIGHT), LOCATION + Z90 * scale),
    }
    for time, (pooled, own, truth) in pairs.items():
        yield time, "pooled", summary(pooled, pooled, truth)
        both = wider(pooled, own)
        for rule, share in RULES.items():
            uneven = deviance >= np.quantile(equal_deviance, share)
            told = np.where(uneven[:, None, None], both, pooled)
            yield time, rule, summary(told, pooled, truth)


def main():
    out = csv.writer(sys.stdout, lineterminator="\n")
    out.writerow(COLUMNS)
    for n_vessel in (2, 3, 4, 6):
        equal_deviance = None
        for name, pattern in PATTERNS.items():
            left, right, codes = simulate_intervals(LOCATION, 0.25 * pattern, n_vessel, N_TRIAL, 17)
            fit = fit_aft_batch(left, right, codes)
            # The first pattern has equal scales.
            equal_deviance = spread_deviance(fit) if equal_deviance is None else equal_deviance
            for time, method, numbers in study(fit, 0.25 * pattern, equal_deviance):
                out.writerow([n_vessel, name, time, method, *(f"{x:.3f}" for x in numbers)])


if __name__ == "__main__":
    main()
