"""How often the limits of the vessel-robust logistic model hold the truth at few vessels.

Three mixes, vessels that clear once at a log-logistic time and are read on a grid of ten
times, so every vessel's readings are fully dependent. Run this file:
python tests/reference/coverage_logistic.py
"""

import warnings

import numpy as np

from trialkit.stats.inverse_prediction import inverse_prediction
from trialkit.stats.logistic import fit_logistic

HOURS = np.array([0.5, 1, 1.5, 2, 3, 4, 6, 8, 12, 16])
MEDIANS = np.log([2.0, 3.0, 5.0])
TERMS = ["A", "B", "C", "log time"]
REPEATS = 300


def readings(rng, n_vessel, spread):
    mix = np.repeat(np.arange(3), n_vessel)
    clears = MEDIANS[mix] + spread * rng.logistic(size=mix.size)
    clear = (np.log(HOURS) >= clears[:, None]).astype(float).ravel()
    vessel = np.repeat(np.arange(mix.size), HOURS.size)
    level = np.eye(3)[mix[vessel]]
    return np.column_stack([level, np.tile(np.log(HOURS), mix.size)]), clear, vessel


def holds(fit, p, truth):
    name = "fieller" if fit.method == "cluster-robust" else "profile"
    row = inverse_prediction(fit, p, slope="log time", at={"B": 1}, interval=name).iloc[0]
    return row.conf_low <= truth <= row.conf_high, row.conf_high - row.conf_low


def study(n_vessel, spread, seed=20):
    rng = np.random.default_rng(seed)
    hits, separated, widths = [], 0, []
    for _ in range(REPEATS):
        design, clear, vessel = readings(rng, n_vessel, spread)
        robust = fit_logistic(design, clear, terms=TERMS, cluster=vessel)
        naive = fit_logistic(design, clear, terms=TERMS)
        separated += robust.method == "Firth"
        truth = [MEDIANS[1], MEDIANS[1] + spread * np.log(9)]
        found = [holds(robust, p, t) for p, t in zip((0.5, 0.9), truth, strict=True)]
        hits.append([found[0][0], found[1][0], holds_naive(naive, truth[0])])
        widths.append(found[0][1])
    share = np.mean(hits, axis=0)
    print(
        f"{n_vessel} vessels, spread {spread}: t50 {share[0]:.3f}, t90 {share[1]:.3f}, "
        f"readings taken for independent, t50 {share[2]:.3f}; separated {separated / REPEATS:.2f}, "
        f"median width of log t50 {np.median(widths):.2f}",
        flush=True,
    )


def holds_naive(fit, truth):
    row = inverse_prediction(fit, 0.5, slope="log time", at={"B": 1}, interval="profile").iloc[0]
    return row.conf_low <= truth <= row.conf_high


if __name__ == "__main__":
    warnings.simplefilter("error")
    for vessels in (2, 3, 4, 6):
        for scale in (0.15, 0.4):
            study(vessels, scale)
