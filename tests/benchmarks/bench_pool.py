"""Time and memory to read and pool many trials, per 1,000: linear in number, memory bounded.

Run: python tests/benchmarks/bench_pool.py [largest number] [processes] [command]. Each trial is a
simulated one of 24 vessels with title, start and readings of its own, in a temporary folder. Each
number of trials is pooled by a process of its own, so that memory is that of this number: the most
that the process and its workers held together, looked at ten times a second (pages that they share
count once in each). The ratios, of processor time and of memory, are against the smallest number:
processor time, because a machine that has other work lengthens the seconds of the clock. With
`command` the whole of `trialkit pool` is run, with its notebook and report.
"""

import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import psutil

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


SHARES = (0.1, 0.2, 0.4, 1.0)  # of the largest number


def pool(listed: str, n_jobs: int) -> None:
    """Read and pool the folders named in a file; print seconds of each."""
    folders = Path(listed).read_text().split()
    begun = time.perf_counter()
    records, skipped = read_records(folders, n_jobs=n_jobs)
    read = time.perf_counter() - begun
    assert not skipped, skipped[:3]
    begun = time.perf_counter()
    found = pool_trials(records)
    assert found.meta["n_trials"] == len(folders)
    print(read, time.perf_counter() - begun)


def watched(command: list[str]) -> tuple[dict, str]:
    """Seconds by the clock and of processors, most memory with all workers; what was printed."""
    begun, most, used = time.perf_counter(), 0, {}
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as run:
        top = psutil.Process(run.pid)
        while run.poll() is None:
            most = max(most, _look(top, used))
            time.sleep(0.1)
        told = run.stdout.read()
    assert run.returncode == 0, told
    seconds = time.perf_counter() - begun
    return {"clock": seconds, "cpu": sum(used.values()), "memory": most / 2**20}, told


def _look(top: psutil.Process, used: dict[int, float]) -> int:
    """Bytes held now; processor seconds so far go into `used`, by process."""
    held = 0
    try:
        for one in [top, *top.children(recursive=True)]:
            times = one.cpu_times()
            used[one.pid] = times.user + times.system
            held += one.memory_info().rss
    except psutil.Error:  # one of them has just ended
        pass
    return held


def main(largest: int, n_jobs: int, whole: bool) -> None:
    print("trials  read s  pool s  clock s   CPU s  per 1,000  ratio  memory MB  ratio")
    first = None
    with tempfile.TemporaryDirectory() as made:
        folders = [Path(made) / f"trial-{k:05}" for k in range(largest)]
        for k, folder in enumerate(folders):
            write_trial(folder, k)
        for count in (int(share * largest) for share in SHARES):
            listed = Path(made) / "listed.txt"
            listed.write_text("\n".join(map(str, folders[:count])))
            if whole:
                out = [str(Path(made) / f"out-{count}"), "--jobs", str(n_jobs)]
                command = [sys.executable, "-m", "trialkit", "pool", *map(str, folders[:count])]
                took, _ = watched([*command, "--out", *out])
                read = pooled = float("nan")
            else:
                command = [sys.executable, __file__, "--pool", str(listed), str(n_jobs)]
                took, told = watched(command)
                read, pooled = map(float, told.split())
            per = took["cpu"] / count
            first = first or (per, took["memory"])
            print(
                f"{count:6} {read:7.1f} {pooled:7.1f} {took['clock']:8.1f} {took['cpu']:7.1f} "
                f"{1000 * per:10.1f} {per / first[0]:6.2f} {took['memory']:10.0f} "
                f"{took['memory'] / first[1]:6.2f}",
                flush=True,
            )


if __name__ == "__main__":
    if sys.argv[1:2] == ["--pool"]:
        pool(sys.argv[2], int(sys.argv[3]))
    else:
        given = [int(word) for word in sys.argv[1:] if word.isdigit()]
        main(*[*given, *(1000, 2)[len(given) :]], "command" in sys.argv)
