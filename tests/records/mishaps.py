"""Mishaps of a spreadsheet and its owner, by seed: a third generator, for readings.csv.

Beside single cells (damage.py) and slips of a hand (slips.py): what copying, pasting, sorting,
filling, replacing, exporting and merging do to blocks, columns and rounds.
"""

import csv
import io
import random
import re
from datetime import datetime, timedelta

from tests.records.damage import Grid, write

_TIMES = ("time", "elapsed_min", "elapsed_h")


def column(grid: Grid, *names: str) -> int:
    """The place of the first of some headings that is there."""
    return next(grid[0].index(name) for name in names if name in grid[0])


def _block(grid: Grid, rng: random.Random, least: int = 6, most: int = 30) -> tuple[int, int]:
    """First and last row (excluded) of a block below the headings."""
    length = min(rng.randrange(least, most), len(grid) - 2)
    start = rng.randrange(1, len(grid) - length)
    return start, start + length


def _moment(grid: Grid, row: list[str]) -> float:
    """A row's time in minutes, from any origin."""
    text = row[column(grid, *_TIMES)]
    if "T" in text:
        return datetime.fromisoformat(text).timestamp() / 60
    return float(text) * (1 if "elapsed_min" in grid[0] else 60)


def _shifted_time(text: str, minutes: float, in_hours: bool) -> str:
    if "T" in text:
        return (datetime.fromisoformat(text) + timedelta(minutes=minutes)).isoformat()
    return f"{float(text) + minutes / (60 if in_hours else 1):.10g}"


def _rounds(grid: Grid) -> list[list[int]]:
    """Rows of each round: times that lie within a quarter of what went before them."""
    order = sorted(range(1, len(grid)), key=lambda i: _moment(grid, grid[i]))
    first = _moment(grid, grid[order[0]])
    rounds: list[list[int]] = [[]]
    last = None
    for i in order:
        now = _moment(grid, grid[i])
        if last is not None and now - last > max(4, 0.12 * (now - first)):
            rounds.append([])
        rounds[-1].append(i)
        last = now
    return [r for r in rounds if len(r) > 2]


# Pasting


def values_pasted_one_row_off(grid, rng):
    start, end = _block(grid, rng)
    place, step = column(grid, "value"), rng.choice([-1, 1])
    cells = [row[place] for row in grid]
    for i in range(start, end):
        grid[i][place] = cells[min(max(i + step, 1), len(grid) - 1)]


def block_pasted_one_column_off(grid, rng):
    start, end = _block(grid, rng)
    left = rng.randrange(len(grid[0]) - 2)
    for row in grid[start:end]:
        row[left + 1 :] = row[left:-1]


def rows_pasted_over_others(grid, rng):
    start, end = _block(grid, rng)
    to = rng.randrange(1, len(grid) - (end - start))
    grid[to : to + end - start] = [list(row) for row in grid[start:end]]


def block_turned_upside_down(grid, rng):
    start, end = _block(grid, rng)
    place = rng.randrange(len(grid[0]))
    cells = [row[place] for row in grid[start:end]]
    for row, cell in zip(grid[start:end], reversed(cells), strict=True):
        row[place] = cell


def a_table_of_averages_pasted_below(grid, rng):
    blank = [""] * (len(grid[0]) - 2)
    grid += [["", "", *blank], ["mean", "12.5", *blank], ["sd", "3.1", *blank]]


def a_row_of_units_put_below_the_headings(grid, rng):
    units = {"value": "NTU", "elapsed_h": "h", "elapsed_min": "min", "time": "UTC"}
    grid.insert(1, [units.get(name, "") for name in grid[0]])


# Sorting and filtering


def one_column_sorted(grid, rng):
    place = rng.choice([i for i, name in enumerate(grid[0]) if name != "note"])
    start, end = (1, len(grid)) if rng.random() < 0.5 else _block(grid, rng, 12, 60)
    cells = sorted((row[place] for row in grid[start:end]), reverse=rng.random() < 0.5)
    for row, cell in zip(grid[start:end], cells, strict=True):
        row[place] = cell


def two_columns_sorted_without_the_rest(grid, rng):
    pair = [column(grid, "vessel"), column(grid, *_TIMES)]
    cells = sorted([row[pair[0]], row[pair[1]]] for row in grid[1:])
    for row, (vessel, when) in zip(grid[1:], cells, strict=True):
        row[pair[0]], row[pair[1]] = vessel, when


def only_the_filtered_rows_copied(grid, rng):
    place = rng.choice([column(grid, n) for n in ("vessel", "quantity", "value", "rater")])
    chosen = rng.choice(grid[1:])[place]
    keep = [row for row in grid[1:] if row[place] != chosen]
    grid[1:] = keep or grid[1:2]


def duplicates_removed_by_value(grid, rng):
    places = [column(grid, "vessel"), column(grid, "quantity"), column(grid, "value")]
    seen: dict[tuple, list] = {}
    for row in grid[1:]:
        seen.setdefault(tuple(row[i] for i in places), row)
    grid[1:] = list(seen.values())


# Replacing


def replaced_everywhere(grid, rng):
    old, new = rng.choice(
        [("0", "O"), ("1", "7"), ("12", "21"), (".", ""), (".", ","), ("0.", "."), ("R0", "R"),
         ("0", ""), ("5", "6"), ("a", "e"), ("1", "1.1"), ("haze", "clarity"), ("2031", "2013"),
         ("T", " "), (":00", ""), ("R01", "R02"), ("N", "M"), ("11", "12"), ("3", "8"), (".5", "")]
    )  # fmt: skip
    for row in grid[1:]:
        row[:] = [cell.replace(old, new) for cell in row]


def replaced_in_one_column(grid, rng):
    place = rng.choice(
        [column(grid, n) for n in ("value", "vessel", "unit", *_TIMES) if n in grid[0]]
    )
    old, new = rng.choice([("0", ""), ("1", ""), (".", ""), ("1", "2"), ("9", "6"), ("12", "0")])
    for row in grid[1:]:
        row[place] = row[place].replace(old, new)


def zeros_and_blanks_exchanged(grid, rng):
    place = column(grid, "value")
    zeros = rng.random() < 0.6
    for row in grid[1:]:
        if zeros and re.fullmatch(r"0(\.0+)?", row[place]):
            row[place] = ""
        elif not zeros and row[place] == "":
            row[place] = "0"


# Filling


def series_filled_by_the_spreadsheet(grid, rng):
    """A code, time or number dragged down: 1, 2, 3 … where cells should repeat."""
    names = [
        n for n in ("vessel", "rater", "repeat", "instrument", "unit", *_TIMES) if n in grid[0]
    ]
    place = column(grid, rng.choice(names))
    start, end = _block(grid, rng)
    seed = grid[start][place]
    for step in range(1, end - start):
        if "T" in seed and ":" in seed:
            text = _shifted_time(seed, step * rng.choice([1, 60, 1440]), False)
        else:
            text = re.sub(
                r"(\d+)(?=\D*$)", lambda m, s=step: str(int(m[1]) + s).zfill(len(m[1])), seed
            )
        grid[start + step][place] = text


def first_cell_filled_down(grid, rng):
    place = rng.choice([i for i, name in enumerate(grid[0]) if name != "note"])
    start, end = _block(grid, rng)
    for row in grid[start:end]:
        row[place] = grid[start][place]


def numbers_rounded_by_a_cell_format(grid, rng):
    place, digits = column(grid, "value"), rng.choice([0, 0, 1])
    start = rng.choice([1, _block(grid, rng)[0]])
    for row in grid[start:]:
        if re.fullmatch(r"-?[0-9.]+", row[place]):
            row[place] = f"{float(row[place]):.{digits}f}"


# Times


def a_round_copied_under_another_time(grid, rng):
    rounds = _rounds(grid)
    a = rng.randrange(len(rounds) - 1)
    place = column(grid, "value")
    key = [column(grid, n) for n in ("vessel", "rater", "quantity")]
    first = {tuple(grid[i][k] for k in key): grid[i][place] for i in rounds[a]}
    for i in rounds[a + 1]:
        grid[i][place] = first.get(tuple(grid[i][k] for k in key), grid[i][place])


def a_round_entered_again_at_another_time(grid, rng):
    rounds = _rounds(grid)
    when = column(grid, *_TIMES)
    minutes = rng.choice([1, 5, 30, 60, 1440])
    for i in rng.choice(rounds):
        row = list(grid[i])
        row[when] = _shifted_time(row[when], minutes, "elapsed_h" in grid[0])
        grid.append(row)


def two_rounds_exchanged(grid, rng):
    rounds = _rounds(grid)
    a = rng.randrange(len(rounds) - 1)
    when = column(grid, *_TIMES)
    gap = _moment(grid, grid[rounds[a + 1][0]]) - _moment(grid, grid[rounds[a][0]])
    for rows, sign in ((rounds[a], 1), (rounds[a + 1], -1)):
        for i in rows:
            grid[i][when] = _shifted_time(grid[i][when], sign * gap, "elapsed_h" in grid[0])


def clock_an_hour_off_from_a_round_on(grid, rng):
    rounds = _rounds(grid)
    when = column(grid, *_TIMES)
    minutes = rng.choice([60, -60, 1440, -1440, 720, 10])
    for rows in rounds[rng.randrange(1, len(rounds)) :]:
        for i in rows:
            grid[i][when] = _shifted_time(grid[i][when], minutes, "elapsed_h" in grid[0])


def a_round_under_the_next_planned_time(grid, rng):
    """All later rounds, or one, get the time of their neighbour, as when a line was skipped."""
    rounds = _rounds(grid)
    a = rng.randrange(len(rounds) - 1)
    when = column(grid, *_TIMES)
    gap = _moment(grid, grid[rounds[a + 1][0]]) - _moment(grid, grid[rounds[a][0]])
    for i in rounds[a]:
        grid[i][when] = _shifted_time(grid[i][when], gap, "elapsed_h" in grid[0])


# Vessels, quantities and units


def values_of_two_vessels_exchanged_in_a_round(grid, rng):
    rows = rng.choice(_rounds(grid))
    vessel, value, quantity = (column(grid, n) for n in ("vessel", "value", "quantity"))
    one, two = rng.sample(sorted({grid[i][vessel] for i in rows}), 2)
    kind = grid[rows[0]][quantity]
    pair = [
        [i for i in rows if grid[i][vessel] == v and grid[i][quantity] == kind] for v in (one, two)
    ]
    for a, b in zip(*pair, strict=False):
        grid[a][value], grid[b][value] = grid[b][value], grid[a][value]


def codes_of_two_vessels_exchanged_from_a_round_on(grid, rng):
    rounds = _rounds(grid)
    vessel = column(grid, "vessel")
    one, two = rng.sample(sorted({row[vessel] for row in grid[1:]}), 2)
    turn = {one: two, two: one}
    for rows in rounds[rng.randrange(1, len(rounds)) :]:
        for i in rows:
            grid[i][vessel] = turn.get(grid[i][vessel], grid[i][vessel])


def codes_of_reference_and_vessel_exchanged(grid, rng):
    """Throughout: the purified water is taken for a mix."""
    vessel, value, quantity = (column(grid, n) for n in ("vessel", "value", "quantity"))
    best = max(
        (row for row in grid[1:] if row[quantity] == "clarity" and row[value].isdigit()),
        key=lambda row: int(row[value]),
    )[vessel]
    other = rng.choice(sorted({row[vessel] for row in grid[1:]} - {best}))
    turn = {best: other, other: best}
    for row in grid[1:]:
        row[vessel] = turn.get(row[vessel], row[vessel])


def unit_of_the_numbers_changed_midway(grid, rng):
    """The meter was switched; the column unit still says the old one."""
    quantity, value = column(grid, "quantity"), column(grid, "value")
    changes = {
        "temperature": lambda v: v * 1.8 + 32, "salinity": lambda v: 1 + v * 0.00076,
        "haze": lambda v: v * 1000, "residue": lambda v: v / 1000, "mass": lambda v: v * 1000,
        "clarity": lambda v: v * 100 / 12,
    }  # fmt: skip
    kind = rng.choice(sorted({row[quantity] for row in grid[1:]}))
    rows = [row for row in grid[1:] if row[quantity] == kind]
    for row in rows[rng.randrange(len(rows)) :]:
        if re.fullmatch(r"-?[0-9.]+", row[value]):
            row[value] = f"{changes[kind](float(row[value])):.4g}"


def unit_label_changed_midway(grid, rng):
    quantity, unit = column(grid, "quantity"), column(grid, "unit")
    turn = {"NTU": "FNU", "lines": "score", "PSU": "ppt", "C": "F", "mg": "g", "kg": "g"}
    kind = rng.choice(sorted({row[quantity] for row in grid[1:]}))
    rows = [row for row in grid[1:] if row[quantity] == kind]
    for row in rows[rng.randrange(len(rows)) :]:
        row[unit] = turn.get(row[unit], row[unit])


def raters_exchanged_midway(grid, rng):
    place = column(grid, "rater")
    start = rng.randrange(1, len(grid))
    for row in grid[start:]:
        row[place] = {"R01": "R02", "R02": "R01"}.get(row[place], row[place])


def top_and_bottom_exchanged(grid, rng):
    place = column(grid, "position")
    start, end = (1, len(grid)) if rng.random() < 0.3 else _block(grid, rng)
    for row in grid[start:end]:
        row[place] = {"top": "bottom", "bottom": "top"}.get(row[place], row[place])


def limit_signs_lost(grid, rng):
    place = column(grid, "value")
    for row in grid[1:]:
        row[place] = row[place].lstrip("<>")


def limit_signs_pasted_before_all(grid, rng):
    place = column(grid, "value")
    start, end = _block(grid, rng, 3, 20)
    for row in grid[start:end]:
        row[place] = rng.choice("<>") + row[place].lstrip("<>")


MISHAPS = tuple(
    kind
    for name, kind in list(globals().items())
    if callable(kind) and getattr(kind, "__module__", "") == __name__
    and name[0] != "_" and name != "column"
)  # fmt: skip


# The file as a whole


def _of_text(text: str) -> Grid:
    return [list(row) for row in csv.reader(io.StringIO(text))]


def commas_for_points_in_one_half(text, rng):
    grid = _of_text(text)
    half = len(grid) // 2
    for row in grid[half:]:
        row[:] = [re.sub(r"^(-?\d+)\.(\d+)$", r"\1,\2", cell) for cell in row]
    return write(grid, rng.choice(",;"))


def thousands_marked(text, rng):
    grid, mark = _of_text(text), rng.choice([",", " ", "'", "\u00a0", "."])
    for row in grid[1:]:
        row[:] = [re.sub(r"^(\d)(\d{3})(\.\d+)?$", rf"\1{mark}\2\3", cell) for cell in row]
    return write(grid)


def download_cut_short(text, rng):
    data = text.encode()
    return data[: rng.randrange(len(data) // 3, len(data))]


def download_cut_at_a_row(text, rng):
    rows = text.splitlines(keepends=True)
    return "".join(rows[: rng.randrange(len(rows) // 3, len(rows) - 1)])


def two_exports_joined(text, rng):
    head, *rows = text.splitlines(keepends=True)
    cut = rng.randrange(1, len(rows))
    overlap = rng.choice([0, 0, 3, 20])
    other = rows[max(0, cut - overlap) :]
    rng.shuffle(other)
    return head + "".join(rows[:cut]) + rng.choice(["", head, "\n", "\ufeff"]) + "".join(other)


def two_encodings_in_one_file(text, rng):
    half = text.index("\n", len(text) // 2) + 1
    note = text[:half].rstrip("\n") + "trüb\n"
    one, two = rng.choice([("utf-8", "cp1252"), ("cp1252", "utf-8"), ("utf-8", "utf-16")])
    return note.encode(one) + (text[half:].rstrip("\n") + "klärt sich\n").encode(two)


def rows_quoted_as_one_cell(text, rng):
    head, *rows = text.splitlines()
    start = rng.randrange(len(rows))
    some = [f'"{row}"' if i >= start else row for i, row in enumerate(rows)]
    return "\n".join([head, *some]) + "\n"


def smart_quotes(text, rng):
    grid = _of_text(text)
    return "\n".join(",".join(f"“{cell}”" for cell in row) for row in grid) + "\n"


def quotes_doubled_by_a_second_export(text, rng):
    grid = _of_text(text)
    return write([grid[0], *([f'"{cell}"' for cell in row] for row in grid[1:])])


def separators_changed_midway(text, rng):
    half = text.index("\n", len(text) // 2) + 1
    return text[:half] + text[half:].replace(",", rng.choice([";", "\t"]))


def zone_suffix_added(text, rng):
    """Times with an offset, on every row or on some; where times are elapsed, the same."""
    grid = _of_text(text)
    when, suffix = column(grid, *_TIMES), rng.choice(["Z", "+00:00", "+02:00", "-05:00", " UTC"])
    share = rng.choice([1, 1, 0.5, 0.02])
    for row in grid[1:]:
        if rng.random() < share:
            row[when] += suffix
    return write(grid)


def page_of_a_server_instead(text, rng):
    return "<!DOCTYPE html><html><body>Sign in</body></html>\n"


def pasted_with_line_numbers(text, rng):
    head, *rows = text.splitlines()
    return "\n".join([head, *(f"{i},{row}" for i, row in enumerate(rows, 1))]) + "\n"


def indexed_by_an_export(text, rng):
    head, *rows = text.splitlines()
    return "\n".join([f",{head}", *(f"{i},{row}" for i, row in enumerate(rows))]) + "\n"


TEXT_MISHAPS = (
    commas_for_points_in_one_half, thousands_marked, download_cut_short, download_cut_at_a_row,
    two_exports_joined, two_encodings_in_one_file, rows_quoted_as_one_cell, smart_quotes,
    quotes_doubled_by_a_second_export, separators_changed_midway, zone_suffix_added,
    page_of_a_server_instead, pasted_with_line_numbers, indexed_by_an_export,
)  # fmt: skip


def with_clock(text: str, start: datetime) -> str:
    """Readings whose elapsed times are written as day and clock time."""
    grid = _of_text(text)
    when, per_hour = column(grid, "elapsed_h", "elapsed_min"), 60 if "elapsed_min" in grid[0] else 1
    for row in grid[1:]:
        moment = start + timedelta(hours=float(row[when]) / per_hour)
        day = (moment.date() - start.date()).days + 1
        row[when : when + 1] = [str(day), moment.strftime("%H:%M:%S")]
    grid[0][when : when + 1] = ["day", "clock"]
    return write(grid)


def midnight_forgotten(text, rng):
    """The day stays what it was after midnight, from some row on or for a while."""
    grid = _of_text(text)
    day = column(grid, "day")
    late = [row for row in grid[1:] if row[day] != "1"]
    for row in late[: rng.choice([1, 5, len(late)])]:
        row[day] = str(int(row[day]) - 1)
    return write(grid)


def half_day_clock(text, rng):
    """Afternoon hours written as 1:30 for 13:30."""
    grid = _of_text(text)
    clock = column(grid, "clock")
    chosen = [row for row in grid[1:] if int(row[clock][:2]) > 12]
    for row in chosen[: rng.choice([1, 6, len(chosen)])]:
        row[clock] = f"{int(row[clock][:2]) - 12}{row[clock][2:]}"
    return write(grid)


CLOCK_MISHAPS = (midnight_forgotten, half_day_clock)


def mishap(kind, text: str, rng: random.Random) -> bytes:
    """The file's bytes after one mishap."""
    if kind in MISHAPS:
        grid = _of_text(text)
        kind(grid, rng)
        out = write(grid)
    else:
        out = kind(text, rng)
    return out if isinstance(out, bytes) else out.encode()
