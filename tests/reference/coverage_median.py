"""Study: limits of the median at few vessels a mix, by Wald, chi-square and calibrated limits.

Eight mixes with medians of 1.5-40 h, log-normal, read hourly to 24 h: the slowest is mostly
censored whole and is covered by its lower limit. One row a mix. Run from the top:

    python -m tests.reference.coverage_median > tests/reference/coverage_median.csv
"""

import csv
import sys

import numpy as np
from scipy import stats

from trialkit.stats._batch import PLACED, fit_aft_batch
from trialkit.stats._limits import limits_for, quantile_limits
from trialkit.stats._trials import simulate_intervals

N_TRIAL = 4000
LOCATION = np.log(np.geomspace(1.5, 40, 8))
COLUMNS = ("n_vessel", "scale", "mix", "limits", "coverage", "share_never", "share_no_scale")


def wald(fit):
    """Estimate and 1.96 standard errors; where there is no error there is no interval."""
    size = fit.n_group
    limits = np.stack([fit.location(), fit.location()], axis=2)
    for row in np.flatnonzero(~fit.no_scale & ~fit.wide):
        on = np.append(fit.place[row] == PLACED, True)
        variance = np.zeros((size + 1, size + 1))
        variance[np.ix_(on, on)] = np.linalg.inv(-fit.hessian[row][np.ix_(on, on)])
        tau, gamma = fit.theta[row, -1], fit.theta[row, :size]
        gradient = np.hstack([np.eye(size) / tau, -gamma[:, None] / tau**2])
        error = np.sqrt(np.einsum("ij,jk,ik->i", gradient, variance, gradient))
        limits[row] += 1.959964 * error[:, None] * np.array([-1, 1])
    return limits


def study(n_vessel, scale):
    left, right, codes = simulate_intervals(LOCATION, scale, n_vessel, N_TRIAL, 23)
    fit = fit_aft_batch(left, right, codes)
    chi = np.full((*fit.place.shape, 2), stats.chi2.ppf(0.95, 1))
    found = {
        "Wald": wald(fit),
        "profile, chi-square": quantile_limits(fit, 0.5, chi),
        "profile, calibrated": quantile_limits(fit, 0.5, limits_for(fit, 0.95)),
    }
    never = (fit.place != PLACED).mean(axis=0)
    for name, limits in found.items():
        inside = ((limits[..., 0] <= LOCATION) & (limits[..., 1] >= LOCATION)).mean(axis=0)
        for mix in range(fit.n_group):
            yield mix + 1, name, inside[mix], never[mix], fit.no_scale.mean()


def main():
    out = csv.writer(sys.stdout, lineterminator="\n")
    out.writerow(COLUMNS)
    for n_vessel in (2, 3, 4, 6):
        for scale in (0.1, 0.3):
            for mix, name, *numbers in study(n_vessel, scale):
                rounded = [f"{number:.4f}" for number in numbers]
                out.writerow([n_vessel, scale, mix, name, *rounded])


if __name__ == "__main__":
    main()
