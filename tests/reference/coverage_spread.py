"""Study: limits of times when mixes are unevenly uneven, by pooled and by own scales.

Eight mixes with medians of 2-20 h read hourly to 24 h; scales of log time equal, in a
geometric row 1 : 4, half of them 1 and half 4, or one of eight 4 times the rest. Two
limits: the two-sided 95% ones of the median and the upper 95% bound of the time by which
90% of batches are clear. Rows give the coverage of the mix covered least, of all mixes, and
the width (of the upper bound: its distance from time 1 h) on the log scale relative to the
pooled limits, finite ones. Weight: degrees of freedom that the pool counts for. "If uneven":
the pooled limits unless the gain of own scales is above its median in trials with equal
scales. Run from the top of the checkout:

    python -m tests.reference.coverage_spread > tests/reference/coverage_spread.csv
"""

import csv
import sys

import numpy as np

from trialkit.stats._batch import fit_aft_batch
from trialkit.stats._limits import limits_for, one_sided_limits_for, quantile_limits
from trialkit.stats._own_scale import own_quantile_limits, spread_deviance
from trialkit.stats._trials import simulate_intervals

N_TRIAL = 2000
LOCATION = np.log(np.geomspace(2, 20, 8))
Z90 = 1.2815515655446004  # standard normal quantile of 0.9
# Which mix is uneven must not follow which is slow.
SHUFFLE = np.array([3, 7, 0, 5, 1, 6, 2, 4])
PATTERNS = {
    "equal": np.ones(8),
    "geometric 1:4": np.geomspace(0.5, 2, 8)[SHUFFLE],
    "half 1, half 4": np.tile([0.5, 2.0], 4),
    "one of eight 4": np.where(np.arange(8) == 4, 2.0, 0.5),
}
WEIGHTS = (0.1, 0.25, 0.5, 1.0)
COLUMNS = (
    "n_vessel", "spread", "time", "limits", "least_coverage", "mean_coverage", "width_ratio",
)  # fmt: skip


def pooled_bounds(fit):
    """The upper bound of the 90% time by the pooled scale, no limit below."""
    limit = np.full((*fit.place.shape, 2), np.inf)
    limit[..., 1] = one_sided_limits_for(fit, 0.95, 0.9)
    return quantile_limits(fit, 0.9, limit)


def own_bounds(fit, weight):
    """The same by own scales."""
    found = own_quantile_limits(fit, 0.9, 0.9, weight)
    found[..., 0] = -np.inf
    return found


def summary(limits, pooled, truth):
    inside = (limits[..., 0] <= truth) & (limits[..., 1] >= truth)
    width = [array[..., 1] - np.maximum(array[..., 0], 0) for array in (limits, pooled)]
    finite = np.isfinite(width[0]) & np.isfinite(width[1]) & (np.minimum(*width) > 0)
    ratio = np.log(width[0][finite]).mean() - np.log(width[1][finite]).mean()
    return inside.mean(axis=0).min(), inside.mean(), np.exp(ratio)


def study(fit, scale, cut):
    """Yield the name of the time, of the limits, and their three numbers."""
    uneven = (spread_deviance(fit) > cut)[:, None, None]
    pooled = {"median": quantile_limits(fit, 0.5, limits_for(fit, 0.95))}
    pooled["90% time"] = pooled_bounds(fit)
    truth = {"median": LOCATION, "90% time": LOCATION + Z90 * scale}
    for time, limits in pooled.items():
        yield time, "pooled", summary(limits, limits, truth[time])
    for weight in WEIGHTS:
        own = {"median": own_quantile_limits(fit, 0.5, 0.95, weight)}
        own["90% time"] = own_bounds(fit, weight)
        for time, limits in own.items():
            told = np.where(uneven, limits, pooled[time])
            yield time, f"own, weight {weight}", summary(limits, pooled[time], truth[time])
            yield time, f"own if uneven, weight {weight}", summary(told, pooled[time], truth[time])


def main():
    out = csv.writer(sys.stdout, lineterminator="\n")
    out.writerow(COLUMNS)
    for n_vessel in (2, 3, 4, 6):
        cut = None
        for name, pattern in PATTERNS.items():
            left, right, codes = simulate_intervals(LOCATION, 0.25 * pattern, n_vessel, N_TRIAL, 17)
            fit = fit_aft_batch(left, right, codes)
            # The first pattern has equal scales.
            cut = np.median(spread_deviance(fit)) if cut is None else cut
            for time, method, numbers in study(fit, 0.25 * pattern, cut):
                out.writerow([n_vessel, name, time, method, *(f"{x:.3f}" for x in numbers)])


if __name__ == "__main__":
    main()
