"""How long `trialkit report` takes on the demo, against the floor of one bare kernel.

The floor: start one kernel that imports pandas, seaborn and statsmodels, and stop it. The report
may take three times as long. Both run once before they are timed, and Python keeps the bytecode of
what it imports, as it does for people who don't forbid it. Run it on a machine with nothing else
to do:

    python tests/benchmarks/bench_report.py [ROUNDS]
"""

import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from statistics import median

HARBOUR = Path(__file__).parents[2] / "data" / "demo" / "harbour"
ALLOWED = 3.0

# Nothing of ours: the plain manager of kernels, told to start this very interpreter.
FLOOR = """
import sys
from jupyter_client.kernelspec import KernelSpec
from jupyter_client.manager import KernelManager
manager = KernelManager(kernel_name="python3")
manager._kernel_spec = KernelSpec(
    argv=[sys.executable, "-m", "ipykernel_launcher", "-f", "{connection_file}"],
    display_name="Python 3", language="python",
)
manager.start_kernel()
client = manager.client()
client.start_channels()
client.wait_for_ready(timeout=60)
reply = client.execute_interactive("import pandas, seaborn, statsmodels.api", timeout=60)
assert reply["content"]["status"] == "ok", reply
client.stop_channels()
manager.shutdown_kernel(now=True)
"""


def seconds(command, environment):
    """Wall time of a command that must succeed."""
    quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
    start = time.perf_counter()
    subprocess.run(command, check=True, env=environment, **quiet)
    return time.perf_counter() - start


def main():
    """Print the floor, the report and their ratio; fail when the ratio is above what is allowed."""
    rounds = int(sys.argv[1]) if len(sys.argv) > 1 else 3
    floors, reports = [], []
    with tempfile.TemporaryDirectory() as scratch:
        kept = {**os.environ, "PYTHONPYCACHEPREFIX": str(Path(scratch) / "bytecode")}
        kept.pop("PYTHONDONTWRITEBYTECODE", None)
        for number in range(rounds + 1):
            out = str(Path(scratch) / f"out{number}")
            floors.append(seconds([sys.executable, "-c", FLOOR], kept))
            command = [sys.executable, "-m", "trialkit", "report", str(HARBOUR), "--out", out]
            reports.append(seconds(command, kept))
    floors, reports = floors[1:], reports[1:]
    ratio = median(reports) / median(floors)
    print(f"floor  {median(floors):.2f} s  (kernel with pandas, seaborn, statsmodels)")
    print(f"report {median(reports):.2f} s  (trialkit report, demo trial)")
    print(f"ratio  {ratio:.2f}  (allowed {ALLOWED:g})")
    return 0 if ratio <= ALLOWED else 1


if __name__ == "__main__":
    sys.exit(main())
