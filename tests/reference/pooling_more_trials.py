"""How often a pair is settled after as many more trials as the pooled report asks for.

Run: python tests/reference/pooling_more_trials.py [sets a row]; the table is
pooling_more_trials.txt. A small set of trials is drawn and pooled. For an open pair, drawn by lot
among those of the set with an answer up to 400, as many trials as `more_trials` says are added,
whose mixes differ by what that set showed; all are pooled, and it is counted whether the pair is
settled. Asked for: 0.80. Two mixes in a row, and three, whose other pairs take part in Holm's
correction.
"""

import sys

import numpy as np
import pandas as pd

from trialkit.analysis.rerun_pairs import pooled_pairs
from trialkit.stats.mixed_aft import fit_mixed_aft

HOURS = np.array([0, 0.25, 0.5, 1, 1.5, 2, 3, 4, 6, 8, 10, 12, 16, 20, 24, np.inf])
#: Log medians, vessels a mix in each trial of the small set, spreads within, of batches, of places.
SETTINGS = {
    "2 mixes, 6 trials of 1 vessel": ([0.5, 0.8], [1] * 6, (0.3, 0.0, 0.3)),
    "2 mixes, 6 trials of 1, batches vary": ([0.5, 0.8], [1] * 6, (0.3, 0.2, 0.3)),
    "2 mixes, 5 trials of 2 vessels": ([0.5, 0.75], [2] * 5, (0.3, 0.15, 0.3)),
    "3 mixes, 5 trials of 2 vessels": ([0.5, 0.75, 0.9], [2] * 5, (0.3, 0.15, 0.3)),
    "3 mixes, 10 trials, most of 1": ([0.5, 0.65, 0.8], [1, 1, 1, 1, 3] * 2, (0.3, 0.15, 0.3)),
    "4 mixes, 20 trials of 1 vessel": ([0.5, 0.6, 0.7, 0.8], [1] * 20, (0.3, 0.15, 0.3)),
    "4 mixes, 20 trials of 2 of them": ([0.5, 0.6, 0.7, 0.8], [1] * 20, (0.3, 0.15, 0.3)),
}
TWO_EACH = "4 mixes, 20 trials of 2 of them"  # drawn by lot: few trials hold both of a pair
MOST = 400


def draw(rng, location, vessels, spread, first=0) -> pd.DataFrame:
    """left_h, right_h, mix, trial of a set."""
    location, count = np.asarray(location), len(vessels)
    sigma, omega, tau = spread
    trial = np.repeat(np.arange(count), np.asarray(vessels) * len(location))
    mix = np.concatenate([np.repeat(np.arange(len(location)), n) for n in vessels])
    time = location[mix] + (tau * rng.normal(size=count))[trial]
    time = time + (omega * rng.normal(size=(count, len(location))))[trial, mix]
    at = np.searchsorted(HOURS, np.exp(time + sigma * rng.normal(size=len(trial))))
    return pd.DataFrame(
        {"left_h": HOURS[at - 1], "right_h": HOURS[at], "mix": mix, "trial": first + trial}
    )


def pairs_of(vessels: pd.DataFrame) -> pd.DataFrame:
    """The pairs of a pooled set."""
    fit = fit_mixed_aft(*(vessels[c] for c in ("left_h", "right_h", "mix", "trial")))
    return pooled_pairs(fit, vessels)


def one(rng, location, vessels, spread, two_each=False):
    """Trials asked for, whether the pair was settled; None without an open pair to ask about."""
    small = draw(rng, location, vessels, spread)
    if two_each:
        pairs = np.array([rng.permutation(len(location))[:2] for _ in vessels])
        small = small[(pairs[small["trial"]] == small["mix"].to_numpy()[:, None]).any(axis=1)]
    pairs = pairs_of(small)
    pairs = pairs[(pairs["decision"] == "open") & (pairs["more_trials"] <= MOST)]
    if pairs.empty:
        return None
    row = pairs.iloc[rng.integers(len(pairs))]
    a, b, more = int(row["mix_a"]), int(row["mix_b"]), int(row["more_trials"])
    shown = np.array(location, float)
    middle = (shown[a] + shown[b]) / 2
    shown[[a, b]] = middle + np.array([0.5, -0.5]) * np.log(row["ratio"])
    again = np.resize(vessels, more)
    new = draw(rng, shown, again, spread, first=len(vessels))
    whole = pd.concat([small, new[new["mix"].isin([a, b])] if two_each else new])
    after = pairs_of(whole).set_index(["mix_a", "mix_b"]).loc[(a, b), "decision"]
    return more, after == "settled"


def main(count: int = 300) -> None:
    print(f"{'small set':38} {'sets':>5} {'asked':>5} settled     se  trials asked for (quartiles)")
    for number, (name, setting) in enumerate(SETTINGS.items()):
        rng = np.random.default_rng([808, number])
        found = [one(rng, *setting, two_each=name == TWO_EACH) for _ in range(count)]
        asked = np.array([pair for pair in found if pair is not None], float)
        share = asked[:, 1].mean()
        error = np.sqrt(share * (1 - share) / len(asked))
        quartiles = " ".join(f"{q:.0f}" for q in np.percentile(asked[:, 0], [25, 50, 75]))
        print(
            f"{name:38} {count:5} {len(asked):5} {share:7.3f} {error:6.3f}  {quartiles}", flush=True
        )


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
