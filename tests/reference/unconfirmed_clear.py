"""What a clear reading that ends the record unconfirmed should count as.

Two readings of the rule "a vessel is clear when `hold` successive readings are":

* "not clear": the vessel is taken as not clear at that reading, left_h = its time;
* "open": the vessel stays not clear at the last reading that was not clear; right_h is inf.

2,000 simulated trials of 6 mixes x 4 vessels, log-normal times with a spread of 0.25 on the log
scale; readings without error on an uneven schedule to 30 h, hold 2. One mix has its median at 27 h,
between the last two readings; what is recorded is its median's calibrated 95% interval and the
estimate. Run: python tests/reference/unconfirmed_clear.py

Result (seed 20310402):

not clear  intervals that hold the true time 0.665  coverage 0.773  median of the estimates 31.2 h
open       intervals that hold the true time 1.000  coverage 0.823  median of the estimates 28.8 h

So "open" is the rule. Neither reaches 95% for this mix, because which vessels stay unconfirmed
depends on their times: read twice at the end of the window, and this is no matter.
"""

import numpy as np

from trialkit.stats.aft import fit_aft

SCHEDULE = np.array([0.25, 0.5, 1, 1.5, 2, 3, 4, 6, 8, 10, 12, 16, 20, 24, 30])
MEDIANS = np.array([1.5, 2.5, 4, 7, 11, 27.0])
VESSELS, SPREAD, TRIALS, SEED = 4, 0.25, 2000, 20310402


def intervals(times: np.ndarray, rule: str) -> tuple[np.ndarray, np.ndarray]:
    """Half-open intervals under hold 2, without reader's error."""
    first = np.searchsorted(SCHEDULE, times)
    padded = np.concatenate([[0.0], SCHEDULE])
    confirmed = first < len(SCHEDULE) - 1
    left = padded[first]
    if rule == "not clear":
        left = np.where(first == len(SCHEDULE) - 1, SCHEDULE[-1], left)
    right = np.where(confirmed, SCHEDULE[np.minimum(first, len(SCHEDULE) - 1)], np.inf)
    return left, right


def main() -> None:
    """Print the share of true statements, the coverage and the estimate under both rules."""
    rng = np.random.default_rng(SEED)
    mix = np.repeat(np.arange(len(MEDIANS)), VESSELS)
    times = MEDIANS[mix] * np.exp(SPREAD * rng.standard_normal((TRIALS, len(mix))))
    for rule in ("not clear", "open"):
        true, covered, estimate = [], 0, []
        for row in times:
            left, right = intervals(row, rule)
            true.append(((left < row) & (row <= right))[mix == 5].mean())
            answer = fit_aft(left, right, mix).quantile(0.5).iloc[5]
            covered += answer["conf_low"] <= MEDIANS[5] <= answer["conf_high"]
            estimate.append(answer["estimate"])
        print(
            f"{rule:9s}  intervals that hold the true time {np.mean(true):.3f}  "
            f"coverage {covered / TRIALS:.3f}  median of the estimates {np.median(estimate):.1f} h"
        )


if __name__ == "__main__":
    main()
