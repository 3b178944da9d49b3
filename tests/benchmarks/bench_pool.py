"""Time to read and pool many trials, printed per 1,000; linear in their number, memory bounded.

Run: python tests/benchmarks/bench_pool.py [largest number] [processes]. Trials are copies of one
simulated trial of 24 vessels with its title, start and readings changed, in a temporary folder.
"""

import resource
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from trialkit.analysis.rerun import pool_trials
from trialkit.pool import read_records

HOURS = [0.25, 0.5, 1, 1.5, 2, 3, 4, 6, 8, 10, 12, 16, 20, 24]
MIXES, VESSELS = 8, 24
REFERENCES = ("R08", "S08", "T08")


def write_trial(folder: Path, number: int) -> None:
    """A trial of 24 vessels of 8 mixes and a reference, clarity only."""
    rng = np.random.default_rng([515, number])
    folder.mkdir()
    toml = (
        f'title = "Bench {number}"\nstart = 2031-01-01T08:00:00\ntimezone = "UTC"\nwindow_h = 24\n'
        f'schedule_h = {HOURS}\ntarget_salinity = 33\nseed = {number}\nlicence = "CC-BY-4.0"\n'
        '[criteria.clarity]\nlabel = "clear"\nquantity = "clarity"\nunit = "lines"\ntolerance = 1\n'
    )
    (folder / "trial.toml").write_text(toml)
    codes = [
        f"{letter}{digit:02}" for letter in "ABC" for digit in (13, 25, 37, 49, 51, 62, 74, 86)
    ]
    mix = [f"M{1 + k % MIXES:02}" for k in range(VESSELS)]
    (folder / "mixes.csv").write_text(
        "mix,name,lot,label_dose_g_per_l,price_per_kg\n"
        + "".join(f"M{k:02},Blend {k},L-{k},36,4\n" for k in range(1, MIXES + 1))
    )
    rows = ["vessel,role,block,place,volume_l,dose_g,start,mix"]
    start = "2031-01-01T08:00:00"
    rows += [
        f"{code},trial,{1 + k // 8},{1 + k % 8},20,720,{start},{mix[k]}"
        for k, code in enumerate(codes)
    ]
    rows += [
        f"{code},reference,{b},9,20,0,{start}," for b, code in ((1, "R08"), (2, "S08"), (3, "T08"))
    ]
    (folder / "vessels.csv").write_text("\n".join(rows) + "\n")
    (folder / "raters.csv").write_text("rater,name\nR01,A\n")
    place = 0.3 * rng.normal()
    log_time = np.linspace(0, 1.8, MIXES)[np.arange(VESSELS) % MIXES] + place
    times = np.exp(log_time + 0.3 * rng.normal(size=VESSELS))
    lines = ["vessel,rater,elapsed_h,quantity,value,unit"]
    for hour in HOURS:
        lines += [f"{r},R01,{hour},clarity,12,lines" for r in REFERENCES]
        for code, cleared in zip(codes, times, strict=True):
            value = 12 if hour >= cleared else int(rng.integers(2, 10))
            lines.append(f"{code},R01,{hour},clarity,{value},lines")
    (folder / "readings.csv").write_text("\n".join(lines) + "\n")


def main(largest: int = 1000, n_jobs: int = 2) -> None:
    print("trials  read s  per 1000  pool s  per 1000  memory MB (this process, at most)")
    with tempfile.TemporaryDirectory() as made:
        folders = [Path(made) / f"trial-{k:05}" for k in range(largest)]
        for k, folder in enumerate(folders):
            write_trial(folder, k)
        for count in (largest // 4, largest // 2, largest):
            begun = time.perf_counter()
            records, skipped = read_records(folders[:count], n_jobs=n_jobs)
            read = time.perf_counter() - begun
            assert not skipped, skipped[:3]
            begun = time.perf_counter()
            found = pool_trials(records)
            pooled = time.perf_counter() - begun
            assert found.meta["n_trials"] == count
            memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
            shares = (1000 * read / count, 1000 * pooled / count)
            times = f"{read:7.1f} {shares[0]:9.1f} {pooled:7.1f} {shares[1]:9.1f}"
            print(f"{count:6} {times} {memory:9.0f}", flush=True)


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
