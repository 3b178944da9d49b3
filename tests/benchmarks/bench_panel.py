"""Time of one move on the panel, against judging the trial again from its readings.

Run: python tests/benchmarks/bench_panel.py. Prints medians, the ratio between the two roads, and
the share of the 0.3 s after which a move no longer feels like one.
"""

import statistics
import time
from pathlib import Path

from trialkit.panel import clearing_panel
from trialkit.records.read import read_trial
from trialkit.redefine import declared_definition, judge_by, judged_gaps

BUDGET_S = 0.3
HARBOUR = Path(__file__).parents[2] / "data" / "demo" / "harbour"


def seconds(run) -> float:
    start = time.perf_counter()
    run()
    return time.perf_counter() - start


def from_readings(trial) -> None:
    gaps = judged_gaps(trial)
    declared = {name: declared_definition(gaps[name]) for name in gaps}
    judge_by(trial, gaps, declared, "fully clear")


def list_moves(panel) -> list[tuple]:
    """Pairs of a control and a value that it does not stand at when its turn comes."""
    moves = []
    for row in panel.children[1:-1]:
        tolerance, hold, rule = row.children[1:]
        count = round(tolerance.max / tolerance.step)
        moves += [(tolerance, round(tolerance.step * k, 9)) for k in range(count)]
        moves += [(hold, value) for value in (1, 3, 4, 5, 2)]
        rules = [value for _, value in rule.options if value != rule.value]
        moves += [(rule, value) for value in [*rules, rule.value]]
    return moves


def main() -> None:
    trial = read_trial(HARBOUR)
    panel = clearing_panel(trial)
    times = [seconds(lambda m=m: setattr(m[0], "value", m[1])) for m in list_moves(panel)]
    again = [seconds(lambda: from_readings(trial)) for _ in range(10)]
    move, whole = statistics.median(times), statistics.median(again)
    print(f"{len(times)} moves: median {move:.3f} s, slowest {max(times):.3f} s")
    print(f"from the readings, without drawing: median {whole:.3f} s")
    print(f"ratio move / from readings: {move / whole:.2f}")
    print(f"of {BUDGET_S} s: median {move / BUDGET_S:.2f}, worst {max(times) / BUDGET_S:.2f}")


if __name__ == "__main__":
    main()
