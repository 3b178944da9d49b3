"""How often the limits of the vessel-robust logistic model hold the truth at few vessels.

Five mixes, vessels that clear once at a log-logistic time and are read on a grid of fifteen times,
so every vessel's readings are fully dependent. Run this file:
python tests/reference/coverage_logistic.py
"""

import warnings

import numpy as np
from scipy.special import logit

from trialkit.stats.inverse_prediction import inverse_prediction
from trialkit.stats.logistic import fit_logistic

HOURS = np.array([0.25, 0.5, 1, 1.5, 2, 3, 4, 6, 8, 10, 12, 16, 20, 24, 30])
MEDIANS = np.log([1.3, 2.7, 5.0, 9.0, 14.0])
MIXES = list("ABCDE")
SPREADS = {
    "equal, 0.15": [0.15] * 5,
    "equal, 0.30": [0.3] * 5,
    "0.04 to 0.30": [0.04, 0.04, 0.15, 0.3, 0.3],
}
REPEATS = 300


def readings(rng, n_vessel, spread):
    mix = np.repeat(np.arange(5), n_vessel)
    clears = MEDIANS[mix] + np.asarray(spread)[mix] * rng.logistic(size=mix.size)
    clear = (np.log(HOURS) >= clears[:, None]).astype(float).ravel()
    vessel = np.repeat(np.arange(mix.size), HOURS.size)
    level = np.eye(5)[mix[vessel]]
    return np.column_stack([level, np.tile(np.log(HOURS), mix.size)]), clear, vessel


def holds(fit, mix, p, truth):
    """Whether the limits of one mix's time hold it, and their width on the log scale."""
    interval = "profile" if fit.method == "Firth" else "fieller"
    row = inverse_prediction(fit, p, slope="log time", at={MIXES[mix]: 1}, interval=interval).iloc[
        0
    ]
    return row.conf_low <= truth[mix] <= row.conf_high, row.conf_high - row.conf_low


def study(p, n_vessel, name, seed=20):
    rng = np.random.default_rng(seed)
    truth = MEDIANS + np.asarray(SPREADS[name]) * logit(p)
    hits, naive, widths, separated = [], [], [], 0
    for _ in range(REPEATS):
        design, clear, vessel = readings(rng, n_vessel, SPREADS[name])
        terms = [*MIXES, "log time"]
        fit = fit_logistic(design, clear, terms=terms, cluster=vessel)
        separated += fit.method == "Firth"
        found = [holds(fit, mix, p, truth) for mix in range(5)]
        hits.append([f[0] for f in found])
        widths.append(np.median([f[1] for f in found]))
        single = fit_logistic(design, clear, terms=terms)
        naive.append(holds(single, 2, p, truth)[0])
    shares = " | ".join(f"{share:.3f}".lstrip("0") for share in np.mean(hits, axis=0))
    print(
        f"| {p} | {n_vessel} | {name} | {shares} | {np.mean(naive):.3f} "
        f"| {separated / REPEATS:.2f} | {np.median(widths):.2f} |",
        flush=True,
    )


if __name__ == "__main__":
    warnings.simplefilter("error")
    for chance in (0.5, 0.9):
        for vessels in (2, 3, 4, 6):
            for spreads in SPREADS:
                study(chance, vessels, spreads)
