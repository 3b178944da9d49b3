"""How often calibrated limits of medians and ratios hold the truth when results lie below a limit.

Four mixes with lognormal residues (log SD 0.5) of median 5, 12, 30 and 60 mg, detection limit
10 mg: the first is nearly all below, the second partly. Run this file:
python tests/reference/coverage_nondetect.py
"""

import warnings

import numpy as np
from scipy.stats import t

from trialkit.stats.nondetect import fit_nondetects

MEDIANS = np.array([5.0, 12.0, 30.0, 60.0])
LIMIT, SPREAD, REPEATS = 10.0, 0.5, 1000


def study(n_vessel, seed=31):
    rng = np.random.default_rng(seed)
    mix = np.repeat(np.arange(4), n_vessel)
    hits = np.zeros((REPEATS, 7))
    for i in range(REPEATS):
        amount = MEDIANS[mix] * np.exp(SPREAD * rng.normal(size=mix.size))
        below = amount < LIMIT
        values = np.where(below, LIMIT, amount)
        fit = fit_nondetects(values, below, mix)
        table = fit.medians().set_index("group").loc[range(4)]
        hits[i, :4] = (table.conf_low <= MEDIANS) & (table.conf_high >= MEDIANS)
        row = fit.ratio(1, 3).iloc[0]
        hits[i, 4] = row.conf_low <= MEDIANS[1] / MEDIANS[3] <= row.conf_high
        row = fit.ratio(0, 2).iloc[0]
        hits[i, 5] = row.conf_low <= MEDIANS[0] / MEDIANS[2] <= row.conf_high
        hits[i, 6] = half_limit_holds(np.where(below, LIMIT / 2, amount), mix, n_vessel)
    shares = " ".join(f"{share:.3f}" for share in hits.mean(axis=0))
    print(f"{n_vessel} vessels: medians 5, 12, 30, 60; ratio 12:60, 5:30; half limit {shares}")


def half_limit_holds(amount, mix, n_vessel):
    """The customary t interval of the second mix's log mean with half the limit put in."""
    logs = np.log(amount).reshape(4, n_vessel)
    sd = np.sqrt(logs.var(axis=1, ddof=1).mean() / n_vessel)
    reach = t.ppf(0.975, 4 * (n_vessel - 1)) * sd
    return abs(logs[1].mean() - np.log(MEDIANS[1])) <= reach


if __name__ == "__main__":
    warnings.simplefilter("error")
    for vessels in (2, 3, 4, 6):
        study(vessels)
