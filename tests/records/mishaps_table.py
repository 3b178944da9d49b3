"""Mishaps of whole columns, vessels and conversions in readings.csv, by seed.

Beside mishaps.py: what sorting without a column, shifting cells, converting by a formula, copying
vessels or raters, and analysing before typing do to readings.
"""

import csv
import io
import math
import random
import re

from tests.records.damage import Grid, write
from tests.records.mishaps import _TIMES, _rounds, column

_NUMBER = re.compile(r"-?\d+(\.\d+)?")


def _of(grid: Grid, name: str, word: str) -> list[list[str]]:
    place = column(grid, name)
    return [row for row in grid[1:] if row[place] == word]


def _kind(grid: Grid, rng: random.Random, *words: str) -> list[list[str]]:
    """The rows of one quantity, of those given or of any."""
    place = column(grid, "quantity")
    there = sorted({row[place] for row in grid[1:]} & set(words or {r[place] for r in grid[1:]}))
    if not there:
        raise ValueError("no such quantity")
    return _of(grid, "quantity", rng.choice(there))


def _vessel(grid: Grid, rows: list[list[str]], rng: random.Random) -> list[list[str]]:
    place = column(grid, "vessel")
    code = rng.choice(sorted({row[place] for row in rows}))
    return [row for row in rows if row[place] == code]


def _convert(grid: Grid, rows: list[list[str]], formula) -> None:
    place = column(grid, "value")
    for row in rows:
        if _NUMBER.fullmatch(row[place]):
            row[place] = formula(float(row[place]))


# Sorting and shifting


def sorted_all_but_the_values(grid, rng):
    place = column(grid, "value")
    values = [row[place] for row in grid[1:]]
    rest = sorted((list(row) for row in grid[1:]), key=lambda row: row[:place] + row[place + 1 :])
    for row, value in zip(rest, values, strict=True):
        row[place] = value
    grid[1:] = rest


def sorted_all_but_the_vessels(grid, rng):
    place = column(grid, "vessel")
    codes = [row[place] for row in grid[1:]]
    rest = sorted((list(row) for row in grid[1:]), key=lambda row: row[place + 1 :])
    for row, code in zip(rest, codes, strict=True):
        row[place] = code
    grid[1:] = rest


def values_of_a_quantity_sorted(grid, rng):
    place, rows = column(grid, "value"), _kind(grid, rng, "clarity", "haze", "salinity")
    ordered = sorted((row[place] for row in rows), key=lambda text: float(text.lstrip("<>") or 0))
    for row, value in zip(rows, ordered, strict=True):
        row[place] = value


def a_column_turned_round_by_some_rows(grid, rng):
    place = rng.choice([column(grid, "value"), column(grid, "vessel"), column(grid, *_TIMES)])
    by = rng.choice([1, -1, 3, 7])
    cells = [row[place] for row in grid[1:]]
    for row, cell in zip(grid[1:], cells[by:] + cells[:by], strict=True):
        row[place] = cell


def cells_deleted_and_those_below_moved_up(grid, rng):
    place, count = (
        rng.choice([column(grid, "value"), column(grid, "vessel")]),
        rng.choice([1, 2, 9]),
    )
    start = rng.randrange(1, len(grid) - count - 10)
    cells = [row[place] for row in grid[start + count :]] + [""] * count
    for row, cell in zip(grid[start:], cells, strict=True):
        row[place] = cell


# Converting


def lines_as_shares(grid, rng):
    _convert(grid, _of(grid, "quantity", "clarity"), lambda value: f"{value / 12:.2f}")


def lines_as_logarithms(grid, rng):
    _convert(grid, _of(grid, "quantity", "clarity"), lambda value: f"{math.log10(value + 1):.2f}")


def ranks_for_values(grid, rng):
    place, rows = column(grid, "value"), _kind(grid, rng, "clarity", "haze", "salinity")
    order = sorted(range(len(rows)), key=lambda i: float(rows[i][place].lstrip("<>") or 0))
    for rank, i in enumerate(order, 1):
        rows[i][place] = str(rank)


def numbers_of_rows_for_values(grid, rng):
    place = column(grid, "value")
    for number, row in enumerate(grid[1:]):
        row[place] = str(number)


def values_cut_off_at_the_top(grid, rng):
    rows = _kind(grid, rng, "haze", "salinity")
    place = column(grid, "value")
    most = sorted(float(row[place]) for row in rows if _NUMBER.fullmatch(row[place]))
    limit = most[int(0.85 * len(most))] if rows[0][column(grid, "quantity")] == "haze" else most[-1]
    _convert(grid, rows, lambda value: f"{min(value, limit):.2f}")


def a_sign_before_every_number(grid, rng):
    rows, sign = _kind(grid, rng), rng.choice("<>")
    place = column(grid, "value")
    for row in rows:
        row[place] = sign + row[place].lstrip("<>") if row[place] else ""


def numbers_with_exponents(grid, rng):
    _convert(grid, _kind(grid, rng), lambda value: f"{value:.1E}")


def a_vessel_in_another_unit(grid, rng):
    rows = _vessel(grid, _kind(grid, rng, "temperature", "salinity", "clarity"), rng)
    factor = {"temperature": (1.8, 32), "salinity": (1.53, 0), "clarity": (100 / 12, 0)}
    times, plus = factor[rows[0][column(grid, "quantity")]]
    _convert(grid, rows, lambda value: f"{times * value + plus:.4g}")


def a_vessel_with_another_zero(grid, rng):
    rows = _vessel(grid, _kind(grid, rng, "temperature"), rng)
    shift = rng.choice([-6, 6, 9])
    _convert(grid, rows, lambda value: f"{value + shift:.1f}")


def blanks_and_skips_as_codes(grid, rng):
    place, code = column(grid, "value"), rng.choice(["-", "999", "-99", "NA", "nan", "?", "#N/A"])
    for row in rng.sample(grid[1:], 3):
        row[place] = code


# Times


def hours_and_minutes_as_a_decimal(grid, rng):
    place = grid[0].index("elapsed_h")
    for row in grid[1:]:
        hours, rest = divmod(float(row[place]), 1)
        row[place] = f"{int(hours)}.{round(60 * rest):02d}"


def a_clock_that_runs_fast(grid, rng):
    place, factor = column(grid, "elapsed_h", "elapsed_min"), rng.choice([1.1, 0.9, 1.5, 24])
    for row in grid[1:]:
        row[place] = f"{float(row[place]) * factor:.3f}"


def one_round_with_one_time(grid, rng):
    rows, place = rng.choice(_rounds(grid)), column(grid, *_TIMES)
    for i in rows:
        grid[i][place] = grid[rows[0]][place]


# Vessels, raters and quantities under other names


def two_quantities_exchanged_in_a_round(grid, rng):
    places = [column(grid, name) for name in ("quantity", "unit", "instrument")]
    facts = {row[places[0]]: [row[i] for i in places] for row in grid[1:]}
    if len(facts) < 2:
        raise ValueError("one quantity")
    one, two = rng.sample(sorted(facts), 2)
    for i in rng.choice(_rounds(grid)):
        other = {one: two, two: one}.get(grid[i][places[0]])
        for place, fact in zip(places, facts[other] if other else (), strict=bool(other)):
            grid[i][place] = fact


def haze_of_a_vessel_copied_to_another(grid, rng):
    rows = _kind(grid, rng, "haze")
    place, value = column(grid, "vessel"), column(grid, "value")
    turbid = sorted({row[place] for row in rows if float(row[value].lstrip("<>") or 0) > 5})
    one, two = rng.sample(turbid, 2)
    first = [row[value] for row in rows if row[place] == one]
    for row, cell in zip([row for row in rows if row[place] == two], first, strict=False):
        row[value] = cell


def a_vessel_backwards(grid, rng):
    rows = _kind(grid, rng, "clarity")
    value = column(grid, "value")
    own = _vessel(grid, [row for row in rows if row[value]], rng)
    if int(own[-1][value]) - int(own[0][value]) < 5:
        raise ValueError("the vessel was clear from the first")
    for row, cell in zip(own, [row[value] for row in own][::-1], strict=True):
        row[value] = cell


TABLE_OF_READINGS = tuple(
    kind
    for name, kind in list(globals().items())
    if callable(kind) and getattr(kind, "__module__", "") == __name__ and name[0] != "_"
)


def of_readings(kind, text: str, rng: random.Random) -> bytes:
    """readings.csv after one mishap."""
    grid = [list(row) for row in csv.reader(io.StringIO(text))]
    kind(grid, rng)
    return write(grid).encode()
