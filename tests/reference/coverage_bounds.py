"""Study: which upper bound of the 90% time covers 95% at few vessels, partly censored too?

Eight mixes, hourly readings to 24 h: four with medians of 3-12 h, four of which 10, 25, 50
and 75% of batches are not clear at 24 h. Coverage is over all trials; a bound of inf covers.
Compared: the deviance limits of chi-square, of Student's t (that serve the median), and of
the noncentral-t tolerance factor with the group's size counted as its events or as its
vessels. Run from the top of the checkout:

    python -m tests.reference.coverage_bounds > tests/reference/coverage_bounds.csv
"""

import csv
import sys

import numpy as np
from scipy import stats
from scipy.special import ndtri

from trialkit.stats._batch import fit_aft_batch
from trialkit.stats._calibration import deviance_limit, one_sided_limit
from trialkit.stats._families import FAMILIES
from trialkit.stats._limits import one_sided_limits_for, quantile_limits
from trialkit.stats._trials import simulate_intervals

N_TRIAL = 2000
LATE = (0, 0, 0, 0, 0.1, 0.25, 0.5, 0.75)
COLUMNS = (
    *("family", "n_vessel", "scale", "mix", "share_late"),
    *("method", "coverage", "share_inf", "median_ratio"),
)
NOISE = {
    "lognormal": lambda rng, shape: rng.standard_normal(shape),
    "loglogistic": lambda rng, shape: rng.logistic(size=shape),
    "weibull": lambda rng, shape: -rng.gumbel(size=shape),
}


def locations(family, scale):
    late = np.array(LATE)
    past = np.log(24) - scale * FAMILIES[family].ppf(1 - np.clip(late, 0.01, 0.99))
    return np.where(late > 0, past, np.linspace(np.log(3), np.log(12), len(late)))


def limits(fit):
    """Deviance limit of an upper 95% bound of the 90% time, by method; shape (r, groups)."""
    events = np.stack(
        [np.isfinite(fit.right[:, fit.codes == g]).sum(1) for g in range(fit.n_group)], axis=1
    )
    counts = fit.n_event[:, None], fit.lost_freedom[:, None]
    student = np.broadcast_to(deviance_limit(0.9, *counts), events.shape)
    own = np.maximum(events, 0.5)
    return {
        "chi-square": np.full(events.shape, stats.chi2.ppf(0.9, 1)),
        "student": student,
        "noncentral t, own events": one_sided_limit(ndtri(0.9), own, *counts, 0.95),
        "noncentral t, own vessels": one_sided_limits_for(fit, 0.95, 0.9),
    }


def study(family, n_vessel, scale):
    mu = locations(family, scale)
    left, right, codes = simulate_intervals(mu, scale, n_vessel, N_TRIAL, 11, noise=NOISE[family])
    fit = fit_aft_batch(left, right, codes, family)
    truth = mu + scale * FAMILIES[family].ppf(0.9)
    for method, limit in limits(fit).items():
        both = np.full((*limit.shape, 2), np.inf)
        both[:, :, 1] = limit
        upper = quantile_limits(fit, 0.9, both)[:, :, 1]
        ratio = np.exp(np.median(upper - truth, axis=0))
        covered = (truth <= upper).mean(axis=0)
        for mix, late in enumerate(LATE):
            yield mix + 1, late, method, covered[mix], np.isinf(upper[:, mix]).mean(), ratio[mix]


def main():
    out = csv.writer(sys.stdout, lineterminator="\n")
    out.writerow(COLUMNS)
    for family in FAMILIES:
        for n_vessel in (2, 3, 4, 6):
            for scale in (0.15, 0.3) if family == "lognormal" else (0.15,):
                for mix, late, method, *numbers in study(family, n_vessel, scale):
                    rounded = [f"{number:.4f}" for number in numbers]
                    out.writerow([family, n_vessel, scale, mix, late, method, *rounded])


if __name__ == "__main__":
    main()
