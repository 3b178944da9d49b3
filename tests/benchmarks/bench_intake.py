"""How long intake takes: hand readings, a logger's file, and a file that is too large.

Run: python tests/benchmarks/bench_intake.py
Prints seconds, the ratio of the logger path to a bare `pandas.read_csv` of the same file in
the same run, and the peak memory beside the size of the file.
"""

import resource
import tempfile
import time
from pathlib import Path

import numpy as np
import pandas as pd

from trialkit.records.check import check_trial
from trialkit.records.read import read_trial

SCHEDULE_H = (0.25, 0.5, 1, 1.5, 2, 3, 4, 6, 8, 10, 12, 16, 20, 24, 30)
VESSELS = [f"K{number:02d}" for number in range(1, 25)]


def folder(path: Path, schedule=SCHEDULE_H) -> Path:
    """A sound folder of 24 vessels without readings."""
    path.mkdir(parents=True)
    (path / "trial.toml").write_text(
        'title = "Bench"\nstart = 2031-04-02T08:00:00\ntimezone = "UTC"\nwindow_h = 30\n'
        f"schedule_h = {list(schedule)}\n"
        'target_salinity = 33\nseed = 1\nlicence = "CC-BY-4.0"\n[criteria.haze]\n'
        'quantity = "haze"\nunit = "NTU"\n[instruments.T01]\nquantity = "haze"\nunit = "NTU"\n',
        encoding="utf-8",
    )
    (path / "mixes.csv").write_text("mix,name\nM01,Alder\nM02,Birch\n", encoding="utf-8")
    (path / "raters.csv").write_text("rater,name\nR01,Ada\n", encoding="utf-8")
    rows = [f"{v},{'reference' if v == 'K24' else 'trial'}" for v in VESSELS]
    mixes = ["" if v == "K24" else f"M0{1 + n % 2}" for n, v in enumerate(VESSELS)]
    lines = [f"{row},{mix}" for row, mix in zip(rows, mixes, strict=True)]
    (path / "vessels.csv").write_text("vessel,role,mix\n" + "\n".join(lines) + "\n")
    return path


def write_readings(path: Path, hours: np.ndarray, seed: int) -> int:
    """Haze of every vessel at every time, as a logger writes it; the file's bytes."""
    rng = np.random.default_rng(seed)
    count = len(hours) * len(VESSELS)
    frame = pd.DataFrame(
        {
            "vessel": np.tile(VESSELS, len(hours)),
            "elapsed_h": np.repeat(hours, len(VESSELS)).round(6),
            "quantity": "haze",
            "value": (20 * np.exp(-np.repeat(hours, len(VESSELS)) / 3) + rng.random(count)).round(
                2
            ),
            "unit": "NTU",
            "instrument": "T01",
        }
    )
    frame.to_csv(path / "readings.csv", index=False)
    return (path / "readings.csv").stat().st_size


def seconds(call, *args, **options) -> float:
    """Wall time of one call."""
    start = time.perf_counter()
    call(*args, **options)
    return time.perf_counter() - start


def main() -> None:
    """Print the measurements."""
    with tempfile.TemporaryDirectory() as scratch:
        root = Path(scratch)
        hand = folder(root / "hand", [round(0.016 * k, 3) for k in range(1, 1876)])
        size = write_readings(hand, np.arange(1, 1876) * 0.016, seed=1)
        print(
            f"check of {1875 * 24} rows ({size / 1e6:.1f} MB): {seconds(check_trial, hand):.2f} s"
        )

        large = folder(root / "large")
        with (large / "readings.csv").open("wb") as stream:
            stream.truncate(100_000_000)
        print(f"100 MB refused in {seconds(check_trial, large):.3f} s")

        logged = folder(root / "logged")
        size = write_readings(logged, np.arange(1, 30 * 3600 + 1) / 3600, seed=2)
        bare = min(seconds(pd.read_csv, logged / "readings.csv") for _ in range(3))
        ours = min(seconds(read_trial, logged, max_mb=500) for _ in range(3))
        rows = 30 * 3600 * len(VESSELS)
        print(f"logger, {rows} rows ({size / 1e6:.0f} MB): pandas.read_csv {bare:.2f} s,", end=" ")
        print(f"read_trial {ours:.2f} s, ratio {ours / bare:.2f}")
        print(f"peak memory {_peak_mb():.0f} MB, {_peak_mb() / (size / 1e6):.1f} times the file")
        rows_of_text = (logged / "readings.csv").read_bytes().split(b"\n")
        middle = rows // 2
        rows_of_text[middle] = rows_of_text[middle].replace(b"haze,", b"haze,<")
        (logged / "readings.csv").write_bytes(b"\n".join(rows_of_text))
        del rows_of_text
        print(
            f"the same with one limit sign: {seconds(read_trial, logged, max_mb=500):.1f} s,",
            end=" ",
        )
        print(f"peak memory {_peak_mb():.0f} MB")


def _peak_mb() -> float:
    """Most memory that this process ever held, in MB."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e3


if __name__ == "__main__":
    main()
