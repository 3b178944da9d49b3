"""Mishaps of a logger and of its files, by seed."""

import random

VESSEL, HOURS, VALUE = 0, 2, 4
Cells = list[list[str]]


def _part(rows: Cells, rng: random.Random, most: float = 0.5) -> tuple[int, int]:
    """First and last row (excluded) of a part of the file."""
    length = int(len(rows) * rng.uniform(0.05, most))
    start = rng.randrange(len(rows) - length)
    return start, start + length


def _value(row: list[str], text: str) -> None:
    row[VALUE] = text


def clock_set_to_zero_midway(rows, rng):
    start, _ = _part(rows, rng)
    first = float(rows[start][HOURS])
    for row in rows[start:]:
        row[HOURS] = f"{float(row[HOURS]) - first:.6f}"


def clock_put_forward_midway(rows, rng):
    start, _ = _part(rows, rng)
    for row in rows[start:]:
        row[HOURS] = f"{float(row[HOURS]) + 1:.6f}"


def minutes_for_hours_midway(rows, rng):
    start, _ = _part(rows, rng)
    for row in rows[start:]:
        row[HOURS] = f"{float(row[HOURS]) * 60:.4f}"


def hours_lost_from_all(rows, rng):
    start, end = _part(rows, rng)
    del rows[start:end]


def one_vessel_lost_from_some_time_on(rows, rng):
    start, _ = _part(rows, rng)
    code = rng.choice(rows)[VESSEL]
    rows[start:] = [row for row in rows[start:] if row[VESSEL] != code]


def probe_stuck(rows, rng):
    start, end = _part(rows, rng)
    code = rng.choice(rows)[VESSEL]
    last = next(row[VALUE] for row in rows[start:] if row[VESSEL] == code)
    for row in rows[start:end]:
        if row[VESSEL] == code:
            _value(row, last)


def probe_out_of_the_water(rows, rng):
    start, end = _part(rows, rng)
    code = rng.choice(rows)[VESSEL]
    for row in rows[start:end]:
        if row[VESSEL] == code:
            _value(row, rng.choice(["0.00", "999.99"]))


def spikes(rows, rng):
    for row in rng.sample(rows, 5):
        _value(row, f"{float(row[VALUE]) + rng.uniform(100, 500):.2f}")


def gain_switched_midway(rows, rng):
    start, _ = _part(rows, rng)
    factor = rng.choice([10, 0.1, 1000, 0.001])
    for row in rows[start:]:
        _value(row, f"{float(row[VALUE]) * factor:.2f}")


def probes_exchanged_midway(rows, rng):
    start, _ = _part(rows, rng)
    one, two = rng.sample(sorted({row[VESSEL] for row in rows}), 2)
    for row in rows[start:]:
        row[VESSEL] = {one: two, two: one}.get(row[VESSEL], row[VESSEL])


def values_sorted_alone(rows, rng):
    cells = sorted(row[VALUE] for row in rows)
    for row, cell in zip(rows, cells, strict=True):
        _value(row, cell)


def values_one_row_lower(rows, rng):
    start, end = _part(rows, rng)
    cells = [row[VALUE] for row in rows]
    for i in range(start + 1, end):
        _value(rows[i], cells[i - 1])


def part_repeated(rows, rng):
    start, end = _part(rows, rng, 0.1)
    rows[end:end] = [list(row) for row in rows[start:end]]


def comma_from_some_row_on(rows, rng):
    start, _ = _part(rows, rng)
    for row in rows[start:]:
        _value(row, row[VALUE].replace(".", ","))


def word_for_a_reading(rows, rng):
    for row in rng.sample(rows, 3):
        _value(row, rng.choice(["NaN", "---", "OVER", "null", "", "-999", "1E+03"]))


def rows_lost_at_random(rows, rng):
    rows[:] = [row for row in rows if rng.random() > 0.3]


def rows_cut_short(rows, rng):
    del rows[rng.randrange(len(rows) // 3, len(rows)) :]
    rows[-1] = rows[-1][: rng.randrange(1, len(rows[-1]) + 1)]


def second_file_of_another_day(rows, rng):
    rows += [[*row[:VALUE], f"{float(row[VALUE]) * 0.9:.2f}", *row[VALUE + 1 :]] for row in rows]


def rounded_by_another_export(rows, rng):
    start, _ = _part(rows, rng)
    for row in rows[start:]:
        _value(row, f"{float(row[VALUE]):.0f}")


def unit_switched_midway(rows, rng):
    start, _ = _part(rows, rng)
    for row in rows[start:]:
        row[5] = "FNU"


LOGGER_MISHAPS = tuple(
    kind
    for name, kind in list(globals().items())
    if callable(kind) and getattr(kind, "__module__", "") == __name__ and name[0] != "_"
)
