"""How often limits hold the true agreement of two raters: Korn-Graubard and the jackknife.

Two raters call each of fifteen looks at a vessel; they agree with a chance that differs between
vessels (beta distribution) and lean to "not clear" early. The truth is the share of 20,000
vessels. Run this file: python tests/reference/coverage_agreement.py
"""

import numpy as np

from trialkit.stats.clustered_share import clustered_share
from trialkit.stats.jackknife import unit_jackknife

LOOKS, REPEATS = 15, 1000


def calls(rng, n_vessel, shape):
    agree = rng.beta(*shape, size=n_vessel)
    clear = rng.random((n_vessel, LOOKS)) < np.linspace(0.02, 0.98, LOOKS)
    same = rng.random((n_vessel, LOOKS)) < agree[:, None]
    first = clear.astype(float).ravel()
    second = np.where(same.ravel(), first, 1 - first)
    return np.column_stack([first, second]), np.repeat(np.arange(n_vessel), LOOKS)


def same_call(rows):
    return float(np.mean(rows[:, 0] == rows[:, 1]))


def study(n_vessel, shape, seed=41):
    rng = np.random.default_rng(seed)
    truth = same_call(calls(rng, 20_000, shape)[0])
    hits, widths = np.zeros((REPEATS, 2)), []
    for i in range(REPEATS):
        rows, vessel = calls(rng, n_vessel, shape)
        alike = (rows[:, 0] == rows[:, 1]).astype(float)
        exact = clustered_share(alike, vessel)
        leave = unit_jackknife(np.mean, alike, vessel)
        hits[i] = [f.conf_low <= truth <= f.conf_high for f in (exact, leave)]
        widths.append(exact.conf_high - exact.conf_low)
    shares = " | ".join(f"{share:.3f}" for share in hits.mean(axis=0))
    print(f"| {n_vessel} | {truth:.2f} | {shares} | {np.median(widths):.2f} |", flush=True)


if __name__ == "__main__":
    for beta in ((3.0, 1.0), (9.0, 1.0), (40.0, 1.0)):
        for vessels in (3, 4, 6, 12, 24):
            study(vessels, beta)
