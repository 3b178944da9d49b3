"""Time of 10,000 simulated trials of 8 mixes x 4 vessels; run it as a script.

Prints seconds on one process and on two, and the same work in units of a numpy sort of ten
million numbers on this machine.
"""

import time

import numpy as np

from trialkit.planning.power import PowerQuestion, simulate_power
from trialkit.planning.schedule import propose_schedule

TIMES = (0.8, 1.7, 2.6, 3.0, 4.0, 5.0, 7.0, 12.0)


def seconds(work):
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def main():
    schedule = propose_schedule(TIMES, 0.3, n_readings=15, window_h=30, gap_h=0.25)
    question = PowerQuestion(TIMES, schedule, vessels=(4,))
    unit = seconds(lambda: np.sort(np.random.default_rng(1).random(10_000_000)))
    for jobs in (1, 2):
        took = seconds(lambda jobs=jobs: simulate_power(question, n_trials=10_000, n_jobs=jobs))
        print(f"{jobs} process(es): {took:.2f} s, {took / unit:.1f} sorts")


if __name__ == "__main__":
    main()
