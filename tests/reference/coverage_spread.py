"""Study: limits of the median when mixes are unevenly uneven, by pooled and by own scales.

Eight mixes with medians of 2-20 h read hourly to 24 h; scales of log time equal, in a
geometric row 1 : 4, half of them 1 and half 4, or one of eight 4 times the rest. Rows
give the coverage of the mix covered least, of all mixes, and the width on the log scale
relative to the pooled limits (finite ones). Weight: degrees of freedom the pool counts for.
Run from the top of the checkout:

    python -m tests.reference.coverage_spread > tests/reference/coverage_spread.csv
"""

import csv
import sys

import numpy as np

from trialkit.stats._batch import fit_aft_batch
from trialkit.stats._limits import limits_for, quantile_limits
from trialkit.stats._own_scale import own_quantile_limits
from trialkit.stats._trials import simulate_intervals

N_TRIAL = 2000
LOCATION = np.log(np.geomspace(2, 20, 8))
# Which mix is uneven must not follow which is slow.
SHUFFLE = np.array([3, 7, 0, 5, 1, 6, 2, 4])
PATTERNS = {
    "equal": np.ones(8),
    "geometric 1:4": np.geomspace(0.5, 2, 8)[SHUFFLE],
    "half 1, half 4": np.tile([0.5, 2.0], 4),
    "one of eight 4": np.where(np.arange(8) == 4, 2.0, 0.5),
}
COLUMNS = ("n_vessel", "spread", "limits", "least_coverage", "mean_coverage", "width_ratio")


def summary(limits, pooled):
    inside = (limits[..., 0] <= LOCATION) & (limits[..., 1] >= LOCATION)
    finite = np.isfinite(limits).all(axis=2) & np.isfinite(pooled).all(axis=2)
    widths = [np.log(np.diff(array, axis=2)[..., 0][finite]).mean() for array in (limits, pooled)]
    return inside.mean(axis=0).min(), inside.mean(), np.exp(widths[0] - widths[1])


def study(n_vessel, scale):
    left, right, codes = simulate_intervals(LOCATION, scale, n_vessel, N_TRIAL, 17)
    fit = fit_aft_batch(left, right, codes)
    pooled = quantile_limits(fit, 0.5, limits_for(fit, 0.95))
    yield "pooled", summary(pooled, pooled)
    for weight in (0.25, 0.5, 1.0, 2.0):
        own = own_quantile_limits(fit, 0.5, 0.95, weight)
        yield f"own, weight {weight}", summary(own, pooled)


def main():
    out = csv.writer(sys.stdout, lineterminator="\n")
    out.writerow(COLUMNS)
    for n_vessel in (2, 3, 4, 6):
        for name, pattern in PATTERNS.items():
            for method, numbers in study(n_vessel, 0.25 * pattern):
                out.writerow([n_vessel, name, method, *(f"{number:.3f}" for number in numbers)])


if __name__ == "__main__":
    main()
