"""Slips of a person at a keyboard, by seed: a second generator beside damage.py.

Kinds whose result may be as sound as the original are in `PLAUSIBLE`: they can be found only by
what they contradict, so tests ask for a share of them.
"""

import csv
import io
import random
import re
from datetime import datetime, timedelta

from tests.records.damage import Grid, write

_NUMBER = re.compile(r"[<>]?[0-9]+(\.[0-9]+)?")
_TWINS = {"0": "O", "1": "l", "5": "S", "A": "А", "K": "К", "-": "\u2212", "2": "２", "3": "٣"}


def _numbers(grid: Grid) -> list[tuple[int, int]]:
    return [
        (i, j) for i, row in enumerate(grid) if i for j, c in enumerate(row) if _NUMBER.fullmatch(c)
    ]


def _cell(grid: Grid, rng: random.Random) -> tuple[int, int]:
    return rng.randrange(1, len(grid)), rng.randrange(len(grid[0]))


def _column(grid: Grid, *names: str) -> int:
    return next(grid[0].index(name) for name in names if name in grid[0])


def cells_of_a_row_exchanged(grid, rng):
    row, _ = _cell(grid, rng)
    a, b = rng.sample(range(len(grid[0])), 2)
    grid[row][a], grid[row][b] = grid[row][b], grid[row][a]


def digits_transposed(grid, rng):
    row, column = rng.choice(_numbers(grid))
    text = grid[row][column]
    place = rng.randrange(max(1, len(text) - 1))
    grid[row][column] = text[:place] + text[place : place + 2][::-1] + text[place + 2 :]


def character_deleted(grid, rng):
    row, column = rng.choice(_numbers(grid))
    place = rng.randrange(len(grid[row][column]))
    grid[row][column] = grid[row][column][:place] + grid[row][column][place + 1 :]


def digit_replaced(grid, rng):
    row, column = rng.choice(_numbers(grid))
    text = grid[row][column]
    place = rng.choice([i for i, char in enumerate(text) if char.isdigit()])
    grid[row][column] = text[:place] + rng.choice("0123456789") + text[place + 1 :]


def point_moved(grid, rng):
    row, column = rng.choice(_numbers(grid))
    number = float(grid[row][column].lstrip("<>"))
    grid[row][column] = f"{number * rng.choice([100, 10, 0.1, 0.01]):.10g}"


def sign_added(grid, rng):
    row, column = rng.choice(_numbers(grid))
    grid[row][column] = rng.choice("-<>") + grid[row][column].lstrip("<>")


def character_doubled(grid, rng):
    row, column = rng.choice(_numbers(grid))
    text = grid[row][column]
    place = rng.randrange(len(text))
    grid[row][column] = text[:place] + text[place] + text[place:]


def look_alike_typed(grid, rng):
    cells = [
        (i, j) for i, row in enumerate(grid) if i for j, c in enumerate(row) if _TWINS.keys() & {*c}
    ]
    row, column = rng.choice(cells)
    text = grid[row][column]
    place = rng.choice([i for i, char in enumerate(text) if char in _TWINS])
    grid[row][column] = text[:place] + _TWINS[text[place]] + text[place + 1 :]


def hidden_space(grid, rng):
    row, column = _cell(grid, rng)
    text = grid[row][column]
    place = rng.randrange(len(text) + 1)
    space = rng.choice([" ", "\u00a0", "\u200b", "\ufeff", "\u2009", "\u00ad", "\u3000"])
    grid[row][column] = text[:place] + space + text[place:]


def heading_in_a_cell(grid, rng):
    row, column = _cell(grid, rng)
    grid[row][column] = grid[0][column]


def row_shifted(grid, rng):
    row, _ = _cell(grid, rng)
    cells = grid[row]
    grid[row] = rng.choice([[*cells[1:], ""], ["", *cells[:-1]]])


def row_split(grid, rng):
    row, column = _cell(grid, rng)
    cells = grid[row]
    grid[row : row + 1] = [cells[: column + 1], cells[column + 1 :]]


def rows_merged(grid, rng):
    row = rng.randrange(1, len(grid) - 1)
    grid[row : row + 2] = [grid[row] + grid[row + 1]]


def column_moved_by_a_row(grid, rng):
    start, column = _cell(grid, rng)
    cells = [row[column] for row in grid[start:]]
    moved = [*cells[1:], ""] if rng.random() < 0.5 else ["", *cells[:-1]]
    for row, cell in zip(grid[start:], moved, strict=True):
        row[column] = cell


def columns_exchanged_below_headings(grid, rng):
    a, b = rng.sample(range(len(grid[0])), 2)
    for row in grid[1:]:
        row[a], row[b] = row[b], row[a]


def heading_taken_out(grid, rng):
    del grid[0][rng.randrange(len(grid[0]))]


def time_moved(grid, rng):
    row, _ = _cell(grid, rng)
    column = _column(grid, "time", "elapsed_min", "elapsed_h")
    text, minutes = grid[row][column], rng.choice([1, -1, 5, 60, -60, 720])
    if "T" in text:
        grid[row][column] = (datetime.fromisoformat(text) + timedelta(minutes=minutes)).isoformat()
    else:
        grid[row][column] = f"{float(text) + minutes / 10:g}"


def rows_repeated(grid, rng):
    start = rng.randrange(1, len(grid))
    grid += [list(row) for row in grid[start : start + rng.choice([1, 5, 25])]]


def rows_dropped(grid, rng):
    start = rng.randrange(1, len(grid))
    del grid[start : start + rng.choice([1, 5, 25, 100])]


def code_merged_with_another(grid, rng):
    column = rng.choice([_column(grid, "vessel"), _column(grid, "quantity"), _column(grid, "unit")])
    codes = sorted({row[column] for row in grid[1:]})
    one, two = rng.choice(codes), rng.choice(codes)
    for row in grid[1:]:
        row[column] = two if row[column] == one else row[column]


def series_dragged(grid, rng):
    start = rng.randrange(1, len(grid) - 12)
    column = _column(grid, "value")
    first = float(grid[start][column].lstrip("<>") or 0)
    for step, row in enumerate(grid[start : start + 12]):
        row[column] = f"{first + step:g}"


def values_typed_twice(grid, rng):
    column, count = _column(grid, "value"), rng.choice([12, 20, 25])
    start = rng.randrange(1, len(grid) - 2 * count)
    for row, other in zip(grid[start + count : start + 2 * count], grid[start:], strict=False):
        row[column] = other[column]


def values_of_vessels_exchanged(grid, rng):
    vessel, value, quantity = (_column(grid, name) for name in ("vessel", "value", "quantity"))
    one, two = rng.sample(sorted({row[vessel] for row in grid[1:]}), 2)
    pairs = [
        [r for r in grid[1:] if r[vessel] == v and r[quantity] == "clarity"] for v in (one, two)
    ]
    start = rng.randrange(max(1, len(pairs[0]) - 2))
    for a, b in list(zip(*pairs, strict=False))[start : start + 2]:
        a[value], b[value] = b[value], a[value]


CERTAIN = (
    cells_of_a_row_exchanged,
    sign_added,
    look_alike_typed,
    hidden_space,
    heading_in_a_cell,
    row_shifted,
    row_split,
    rows_merged,
    column_moved_by_a_row,
    columns_exchanged_below_headings,
    heading_taken_out,
    rows_repeated,
    rows_dropped,
    code_merged_with_another,
    series_dragged,
)
PLAUSIBLE = (
    digits_transposed,
    character_deleted,
    character_doubled,
    digit_replaced,
    point_moved,
    time_moved,
    values_typed_twice,
    values_of_vessels_exchanged,
)


def _rows_shuffled(text, rng):
    head, *rows = text.splitlines(keepends=True)
    rng.shuffle(rows)
    return head + "".join(rows)


def _mixed_line_ends(text, rng):
    return "".join(line + rng.choice(["\n", "\r\n", "\r"]) for line in text.splitlines())


def _columns_in_another_order(text, rng):
    grid = list(csv.reader(io.StringIO(text)))
    order = rng.sample(range(len(grid[0])), len(grid[0]))
    return write([[row[i] for i in order] for row in grid])


def _all_quoted(text, rng):
    out = io.StringIO()
    csv.writer(out, quoting=csv.QUOTE_ALL, lineterminator="\n").writerows(
        csv.reader(io.StringIO(text))
    )
    return out.getvalue()


def _capitals(text, rng):
    head, body = text.split("\n", 1)
    return head.upper() + "\n" + body.replace(",lines,", ",Lines,").replace("clarity", "Clarity")


HARMLESS = (_rows_shuffled, _mixed_line_ends, _columns_in_another_order, _all_quoted, _capitals)


def slipped(kind, text: str, rng: random.Random) -> str:
    """The file after one slip of a kind."""
    grid = [list(row) for row in csv.reader(io.StringIO(text))]
    kind(grid, rng)
    return write(grid)


def forced(text: str, rng: random.Random) -> bytes:
    """The file after damage by a disk, an editor or a transfer."""
    data, place = text.encode(), rng.randrange(text.index("\n") + 1, len(text))
    kind = rng.randrange(6)
    if kind == 0:
        return data[:place] + bytes([data[place] ^ (1 << rng.randrange(5, 8))]) + data[place + 1 :]
    if kind == 1:
        return data[:place] + b"\0" * 16 + data[place + 16 :]
    if kind == 2:
        return data + rng.choice([b"\x1a", b"total\n", b"<html>\n", b"K17\n", b"mean,,,12\n"])
    if kind == 3:
        return rng.choice([b"sep=,\n", b"# exported\n", b"Table 1\n"]) + data
    if kind == 4:
        return text.encode(rng.choice(["utf-16-le", "utf-16-be", "utf-32", "cp500"]))
    return data[:place]
