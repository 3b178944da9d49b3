"""Study: limits of the median and bounds of the 90% time when vessels tie for want of looks.

Eight mixes, log-normal, with a spread that is small beside the gaps between looks, so that
most vessels of a mix come clear in the same gap. Medians are drawn anew in each trial,
log-uniform over 2-20 h, or lie on a look each, where a tie is decided by a hair. Looks are
hourly to 24 h, or those of an unhurried day. Rows give the coverage of all mixes and the share
of trials without any estimate of the spread. Run from the top of the checkout:

    python -m tests.reference.coverage_ties > tests/reference/coverage_ties.csv
"""

import csv
import sys

import numpy as np

from trialkit.stats._batch import fit_aft_batch
from trialkit.stats._limits import limits_for, one_sided_limits_for, quantile_limits
from trialkit.stats._trials import read_on_schedule

N_TRIAL = 2000
N_MIX = 8
Z90 = 1.2815515655446004  # standard normal quantile of 0.9
LOOKS = {
    "hourly": np.arange(1.0, 25.0),
    "unhurried": np.array([0.25, 0.5, 1, 1.5, 2, 3, 4, 6, 8, 10, 12, 16, 20, 24]),
}
COLUMNS = ("looks", "medians", "n_vessel", "scale", "median", "time_90", "share_no_scale")


def locations(medians: str, looks: np.ndarray, rng) -> np.ndarray:
    """Log medians, shape (N_TRIAL, N_MIX)."""
    if medians == "anywhere":
        return rng.uniform(np.log(2), np.log(20), size=(N_TRIAL, N_MIX))
    between = looks[(looks >= 2) & (looks <= 20)]
    places = np.linspace(0, len(between) - 1, N_MIX).round().astype(int)
    return np.tile(np.log(between[places]), (N_TRIAL, 1))


def coverage(fit, location, scale: float) -> tuple[float, float, float]:
    limits = quantile_limits(fit, 0.5, limits_for(fit, 0.95))
    inside = (limits[..., 0] <= location) & (location <= limits[..., 1])
    sides = np.full(limits.shape, np.inf)
    sides[..., 1] = one_sided_limits_for(fit, 0.95, 0.9)
    upper = quantile_limits(fit, 0.9, sides)[..., 1]
    return inside.mean(), (upper >= location + Z90 * scale).mean(), fit.no_scale.mean()


def main():
    out = csv.writer(sys.stdout, lineterminator="\n")
    out.writerow(COLUMNS)
    for name, looks in LOOKS.items():
        for medians in ("anywhere", "on a look"):
            for n_vessel in (2, 3, 4, 6):
                for scale in (0.05, 0.1, 0.2):
                    rng = np.random.default_rng(29)
                    location = locations(medians, looks, rng)
                    codes = np.repeat(np.arange(N_MIX), n_vessel)
                    noise = rng.standard_normal((N_TRIAL, len(codes)))
                    times = np.exp(location[:, codes] + scale * noise)
                    fit = fit_aft_batch(*read_on_schedule(times, looks), codes)
                    found = coverage(fit, location, scale)
                    row = [name, medians, n_vessel, scale, *(f"{value:.3f}" for value in found)]
                    out.writerow(row)
                    sys.stdout.flush()


if __name__ == "__main__":
    main()
