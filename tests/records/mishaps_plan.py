"""Mishaps in what was planned, by seed: trial.toml, mixes, vessels, key, raters, intervals."""

import csv
import io
import random
import re

from tests.records.damage import Grid, write
from tests.records.mishaps import column


def _two(grid: Grid, rng: random.Random, place: int) -> tuple[list, list] | None:
    """Two rows that differ in a column."""
    rows = grid[1:]
    rng.shuffle(rows)
    for other in rows[1:]:
        if other[place] != rows[0][place]:
            return rows[0], other
    return None


def _some_column(grid: Grid, rng: random.Random) -> int:
    return rng.randrange(len(grid[0]))


def cells_of_two_rows_exchanged(grid, rng):
    place = _some_column(grid, rng)
    pair = _two(grid, rng, place)
    if pair:
        pair[0][place], pair[1][place] = pair[1][place], pair[0][place]


def column_pasted_one_row_lower(grid, rng):
    place, step = _some_column(grid, rng), rng.choice([1, -1])
    cells = [row[place] for row in grid[1:]]
    moved = cells[-step:] + cells[:-step] if rng.random() < 0.5 else (
        ["", *cells[:-1]] if step > 0 else [*cells[1:], ""]
    )  # fmt: skip
    for row, cell in zip(grid[1:], moved, strict=True):
        row[place] = cell


def column_sorted_alone(grid, rng):
    place = _some_column(grid, rng)
    cells = sorted((row[place] for row in grid[1:]), reverse=rng.random() < 0.5)
    for row, cell in zip(grid[1:], cells, strict=True):
        row[place] = cell


def cell_filled_down(grid, rng):
    place = _some_column(grid, rng)
    start = rng.randrange(1, len(grid))
    for row in grid[start:]:
        row[place] = grid[start][place]


def series_filled(grid, rng):
    place = _some_column(grid, rng)
    start = rng.randrange(1, len(grid))
    for step, row in enumerate(grid[start:]):
        row[place] = re.sub(
            r"(\d+)(?=\D*$)",
            lambda m, s=step: str(int(m[1]) + s).zfill(len(m[1])),
            grid[start][place],
        )


def columns_exchanged(grid, rng):
    one, two = rng.sample(range(len(grid[0])), 2)
    for row in grid[1:]:
        row[one], row[two] = row[two], row[one]


def cell_deleted(grid, rng):
    rng.choice(grid[1:])[_some_column(grid, rng)] = ""


def column_deleted(grid, rng):
    place = _some_column(grid, rng)
    for row in grid:
        del row[place]


def column_emptied(grid, rng):
    place = _some_column(grid, rng)
    for row in grid[1:]:
        row[place] = ""


def row_deleted(grid, rng):
    del grid[rng.randrange(1, len(grid))]


def rows_cut_off(grid, rng):
    del grid[rng.randrange(1, len(grid)) :]


def row_repeated(grid, rng):
    row = list(rng.choice(grid[1:]))
    if rng.random() < 0.5:
        other = rng.choice(grid[1:])
        place = _some_column(grid, rng)
        row[place] = other[place]
    grid.append(row)


def row_added(grid, rng):
    row = list(rng.choice(grid[1:]))
    row[0] = rng.choice(["Z99", "M09", "R09", "total", ""])
    grid.append(row)


def code_changed(grid, rng):
    row = rng.choice(grid[1:])
    places = [i for i, cell in enumerate(row) if re.fullmatch("[A-Z][0-9]{2}", cell)]
    place = rng.choice(places)
    other = rng.choice(sorted({r[place] for r in grid[1:]} | {"K99", row[place].lower()}))
    row[place] = other


def replaced_everywhere(grid, rng):
    old, new = rng.choice([("0", "O"), ("1", "2"), (".", ","), (".", ""), ("0", ""), ("a", "e"),
                           ("trial", "reference"), ("M0", "M"), ("2031", "2013"), ("T", " "),
                           ("08:", "20:"), ("60", "6"), ("K", "k"), ("-04-", "-05-")])  # fmt: skip
    for row in grid[1:]:
        row[:] = [cell.replace(old, new) for cell in row]


def number_in_another_unit(grid, rng):
    places = [i for i, name in enumerate(grid[0]) if re.search("_(g|l|h|kg|per_l)$", name)]
    place = rng.choice(places)
    factor = rng.choice([1000, 0.001, 60, 1 / 60, 0.264, 3.785, 10, 0.1])
    rows = grid[1:] if rng.random() < 0.5 else [rng.choice(grid[1:])]
    for row in rows:
        if re.fullmatch(r"[0-9.]+", row[place]):
            row[place] = f"{float(row[place]) * factor:.6g}"


def number_mistyped(grid, rng):
    cells = [(r, i) for r in grid[1:] for i, c in enumerate(r) if re.fullmatch(r"[0-9.]{2,}", c)]
    row, place = rng.choice(cells)
    text = row[place]
    at = rng.choice([i for i, char in enumerate(text) if char.isdigit()])
    row[place] = text[:at] + rng.choice("0123456789") + text[at + 1 :]


def time_mistyped(grid, rng):
    place = column(grid, "start")
    rows = grid[1:] if rng.random() < 0.3 else [rng.choice(grid[1:])]
    old, new = rng.choice([("08:", "20:"), ("T", " "), (":00", ""), ("2031-", "2032-"),
                           ("04-0", "05-0"), ("02T", "03T"), ("00", "30"), ("$", "Z"),
                           ("$", "+02:00"), ("$", " PM"), ("08T", "09T"), ("16T", "17T"),
                           ("10:", "11:"), ("09:", "08:")])  # fmt: skip
    for row in rows:
        row[place] = row[place] + new if old == "$" else row[place].replace(old, new, 1)


def vessel_lost_or_found(grid, rng):
    place = column(grid, "lost_h")
    row = rng.choice(grid[1:])
    row[place] = rng.choice(["", "1", "6", "26", "900", "4,5", "day 2"])


TABLE_MISHAPS = tuple(
    kind
    for name, kind in list(globals().items())
    if callable(kind) and getattr(kind, "__module__", "") == __name__ and name[0] != "_"
)


def of_table(kind, text: str, rng: random.Random) -> bytes:
    """A small table after one mishap."""
    grid = [list(row) for row in csv.reader(io.StringIO(text))]
    kind(grid, rng)
    return write(grid).encode()


# trial.toml


def _line(text: str, rng: random.Random, pattern: str) -> tuple[list[str], int]:
    lines = text.splitlines()
    return lines, rng.choice([i for i, line in enumerate(lines) if re.match(pattern, line)])


def key_misspelt(text, rng):
    lines, i = _line(text, rng, r"[a-z_]+ =")
    key, rest = lines[i].split(" =", 1)
    at = rng.randrange(len(key))
    lines[i] = (
        rng.choice([key[:at] + key[at + 1 :], key[:at] + "x" + key[at:], key.upper()]) + " =" + rest
    )
    return "\n".join(lines) + "\n"


def table_misspelt(text, rng):
    lines, i = _line(text, rng, r"\[[a-z]+")
    at = rng.randrange(1, len(lines[i]) - 1)
    lines[i] = lines[i][:at] + lines[i][at + 1 :]
    return "\n".join(lines) + "\n"


def line_deleted(text, rng):
    lines, i = _line(text, rng, r"[a-z_]+ =|\[")
    del lines[i]
    return "\n".join(lines) + "\n"


def line_moved(text, rng):
    lines, i = _line(text, rng, r"[a-z_]+ =")
    lines.insert(rng.randrange(len(lines)), lines.pop(i))
    return "\n".join(lines) + "\n"


def line_repeated(text, rng):
    lines, i = _line(text, rng, r"[a-z_]+ =")
    lines.insert(rng.randrange(len(lines)), lines[i])
    return "\n".join(lines) + "\n"


def number_as_text(text, rng):
    lines, i = _line(text, rng, r"[a-z_]+ = [0-9.]+$")
    lines[i] = re.sub(r"= (.*)", r'= "\1"', lines[i])
    return "\n".join(lines) + "\n"


def text_as_number(text, rng):
    lines, i = _line(text, rng, r'[a-z_]+ = "')
    lines[i] = re.sub(r'= ".*"', lambda m: rng.choice(["= 5", "= true", '= ""', "= []"]), lines[i])
    return "\n".join(lines) + "\n"


def number_with_a_comma(text, rng):
    lines, i = _line(text, rng, r"[a-z_]+ = .*[0-9]")
    lines[i] = lines[i].replace(".", ",", 1)
    return "\n".join(lines) + "\n"


def number_off_by_a_place(text, rng):
    # A bound of one's own quantity that is wider than need be changes nothing.
    lines, i = _line(text, rng, r"(?!high|low)[a-z_]+ = [0-9.]+$")
    key, value = lines[i].split(" = ")
    number = float(value) * rng.choice([10, 100, 0.1, -1, 60, 1 / 60])
    lines[i] = f"{key} = {number:.10g}"
    return "\n".join(lines) + "\n"


def number_plausibly_changed(text, rng):
    lines, i = _line(text, rng, r"(tolerance|hold|window_h|target_salinity|within_h|share|seed) = ")
    key, value = lines[i].split(" = ")
    lines[i] = f"{key} = {float(value) + rng.choice([1, 2]):.10g}"
    return "\n".join(lines) + "\n"


def schedule_spoilt(text, rng):
    lines, i = _line(text, rng, r"schedule_h|days")
    key, value = lines[i].split(" = ")
    times = [t.strip() for t in value.strip("[]").split(",")]
    at = rng.randrange(len(times))
    kind = rng.randrange(7)
    if kind == 0:
        rng.shuffle(times)
    elif kind == 1:
        del times[at]
    elif kind == 2:
        times[at] = times[at].replace(".", "") + "0"
    elif kind == 3:
        times[at] = "-" + times[at]
    elif kind == 4:
        times = [str(round(float(t) * 60)) for t in times]
    elif kind == 5:
        times.insert(at, times[at])
    else:
        times[at] = f"{float(times[at]) + 0.1:g}"
    lines[i] = f"{key} = [{', '.join(times)}]"
    return "\n".join(lines) + "\n"


def start_changed(text, rng):
    old = re.search(r"start = (\S+)", text)[1]
    new = rng.choice([
        old[:10], f'"{old}"', old.replace("T", " "), old + "Z", old + "+02:00",
        old.replace("2031-0", "2031-1"), old.replace(":00:00", ":30:00"), old.replace("T0", "T1"),
        old[8:10] + "/" + old[5:7] + "/" + old[:4], old.replace("2031", "2013"),
    ])  # fmt: skip
    return text.replace(f"start = {old}", f"start = {new}")


def zone_changed(text, rng):
    new = rng.choice(["Europe/Berlin", "America/New_York", "CET", "utc", "GMT+2", "UTC+1", "local"])
    return re.sub(r'timezone = ".*"', f'timezone = "{new}"', text)


def choice_changed(text, rng):
    lines, i = _line(text, rng, r"(quantity|unit|rater_rule|criterion|mix|before) = ")
    key = lines[i].split(" = ")[0]
    others = {
        "quantity": ["haze", "clarity", "salinity", "residue"],
        "unit": ["NTU", "FNU", "lines", "score", "mg", "C"],
        "rater_rule": ["all", "any", "majority", "R01", "most"],
        "criterion": ["haze", "clarity", "fully clear"],
        "mix": ["M01", "M02", "M05", "M06", "Alder"],
        "before": ["M01", "M05", "M06"],
    }[key]
    lines[i] = f'{key} = "{rng.choice(others)}"'
    return "\n".join(lines) + "\n"


def file_cut_off(text, rng):
    return text[: rng.randrange(len(text) // 4, len(text))]


def quotation_marks_curled(text, rng):
    return text.replace('"', rng.choice("“”'`"), rng.choice([1, 2, 100]))


def table_pasted_twice(text, rng):
    blocks = text.split("\n\n")
    block = rng.choice(blocks[1:])
    if rng.random() < 0.5:
        block = re.sub(r"\[(\w+)\.\w+\]", r"[\1.copy]", block)
    return text.rstrip("\n") + "\n\n" + block.rstrip("\n") + "\n"


def block_deleted(text, rng):
    blocks = text.split("\n\n")
    del blocks[rng.randrange(1, len(blocks))]
    return "\n\n".join(blocks).rstrip("\n") + "\n"


def saved_by_a_word_processor(text, rng):
    made = (
        text.encode("utf-16"),
        ("\ufeff" + text).encode(),
        text.replace("\n", "\r\n").encode(),
        b"{\\rtf1 " + text.encode(),
        text.replace("-", "–").encode(),
        text.replace("=", ":").encode(),
        text.replace(" = ", "=").encode(),
    )
    return rng.choice(made)


TOML_MISHAPS = (
    key_misspelt, table_misspelt, line_deleted, line_moved, line_repeated, number_as_text,
    text_as_number, number_with_a_comma, number_off_by_a_place, number_plausibly_changed,
    schedule_spoilt, start_changed, zone_changed, choice_changed, file_cut_off,
    quotation_marks_curled, table_pasted_twice, block_deleted, saved_by_a_word_processor,
)  # fmt: skip


def of_toml(kind, text: str, rng: random.Random) -> bytes:
    """trial.toml after one mishap."""
    out = kind(text, rng)
    return out if isinstance(out, bytes) else out.encode()
