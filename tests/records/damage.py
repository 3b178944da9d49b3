"""Damage as hands, spreadsheets and disks do it to a CSV file, by seed."""

import contextlib
import csv
import io
import random

Grid = list[list[str]]

_GARBAGE = [
    "abc",
    "n/a",
    "NA",
    "nan",
    "-",
    "?",
    "TRUE",
    "false",
    "#REF!",
    "=A1+1",
    "inf",
    "1e5",
    "3E5",
    "0x1F",
    "1_0",
    "١٢",
    "１２",
    "½",
    "O.5",
    "l2",
    "0,5",
    "1,234",
    "1.234,5",
    "1'234",
    "12:30",
    "2-Apr",
    "02/04/2031",
    "2031-04-02",
    "<5",
    ">5",
    "~5",
    "5?",
    "5..",
    ".5.",
    "-5",
    "999999",
    "1e-400",
    "K99",
    "M99",
    "К17",
    "NTU",
    "haze",
    "top",
]
_GARBAGE += ["", " ", "1 234", "5 6", "<", "5 NTU", '"', "'", "\u200b", "\u202e5", "5\u00a0"]


def write(grid: Grid, delimiter: str = ",", end: str = "\n") -> str:
    """The grid as CSV text."""
    out = io.StringIO()
    csv.writer(out, delimiter=delimiter, lineterminator=end).writerows(grid)
    return out.getvalue()


def _cell(grid: Grid, rng: random.Random) -> tuple[int, int]:
    return rng.randrange(1, len(grid)), rng.randrange(len(grid[0]))


def garbage_cell(grid: Grid, rng: random.Random) -> Grid:
    row, column = _cell(grid, rng)
    grid[row][column] = rng.choice(_GARBAGE)
    return grid


def emptied_cell(grid: Grid, rng: random.Random) -> Grid:
    row, column = _cell(grid, rng)
    grid[row][column] = ""
    return grid


def spaced_cell(grid: Grid, rng: random.Random) -> Grid:
    row, column = _cell(grid, rng)
    space = rng.choice([" ", "\u00a0", "  ", "\t"])
    grid[row][column] = rng.choice([space + grid[row][column], grid[row][column] + space])
    return grid


def recased_cell(grid: Grid, rng: random.Random) -> Grid:
    row, column = _cell(grid, rng)
    grid[row][column] = rng.choice([str.upper, str.lower])(grid[row][column])
    return grid


def copied_cell(grid: Grid, rng: random.Random) -> Grid:
    row, column = _cell(grid, rng)
    if column == _column(grid, "value"):
        return grid
    grid[row][column] = grid[rng.randrange(1, len(grid))][column]
    return grid


def exchanged_cells(grid: Grid, rng: random.Random) -> Grid:
    (row, column), (other, second) = _cell(grid, rng), _cell(grid, rng)
    if column == second == _column(grid, "value"):
        return grid
    grid[row][column], grid[other][second] = grid[other][second], grid[row][column]
    return grid


def commaed_number(grid: Grid, rng: random.Random) -> Grid:
    row, column = _cell(grid, rng)
    grid[row][column] = grid[row][column].replace(".", ",")
    return grid


def lost_point(grid: Grid, rng: random.Random) -> Grid:
    row, column = _cell(grid, rng)
    grid[row][column] = grid[row][column].replace(".", "")
    return grid


def scaled_number(grid: Grid, rng: random.Random) -> Grid:
    row = rng.randrange(1, len(grid))
    column = _column(grid, "value")
    with contextlib.suppress(ValueError):
        grid[row][column] = repr(float(grid[row][column]) * rng.choice([10, 100, 1000, 0.001]))
    return grid


def typo_in_cell(grid: Grid, rng: random.Random) -> Grid:
    row, column = _cell(grid, rng)
    text = grid[row][column]
    if text and column != _column(grid, "value"):
        place = rng.randrange(len(text))
        grid[row][column] = text[:place] + rng.choice("x9 .Ж") + text[place + 1 :]
    return grid


def cut_cell(grid: Grid, rng: random.Random) -> Grid:
    row, column = _cell(grid, rng)
    # A time cut by seconds, as a value cut to another, is as plausible as before.
    if grid[0][column] not in ("value", "elapsed_h", "elapsed_min", "time"):
        grid[row][column] = grid[row][column][:-1]
    return grid


def deleted_row(grid: Grid, rng: random.Random) -> Grid:
    del grid[rng.randrange(1, len(grid))]
    return grid


def doubled_row(grid: Grid, rng: random.Random) -> Grid:
    row = rng.randrange(1, len(grid))
    grid.insert(rng.randrange(1, len(grid)), list(grid[row]))
    return grid


def blank_row(grid: Grid, rng: random.Random) -> Grid:
    grid.insert(rng.randrange(1, len(grid)), [""] * len(grid[0]))
    return grid


def moved_row(grid: Grid, rng: random.Random) -> Grid:
    grid.insert(rng.randrange(1, len(grid)), grid.pop(rng.randrange(1, len(grid))))
    return grid


def repeated_headings(grid: Grid, rng: random.Random) -> Grid:
    grid.insert(rng.randrange(1, len(grid) + 1), list(grid[0]))
    return grid


def shortened_row(grid: Grid, rng: random.Random) -> Grid:
    row, column = _cell(grid, rng)
    del grid[row][column]
    return grid


def lengthened_row(grid: Grid, rng: random.Random) -> Grid:
    row, column = _cell(grid, rng)
    grid[row].insert(column, rng.choice(["", "1", "x"]))
    return grid


def deleted_block(grid: Grid, rng: random.Random) -> Grid:
    start = rng.randrange(1, len(grid))
    del grid[start : start + rng.randrange(2, max(3, len(grid) // 2))]
    return grid


def cut_off(grid: Grid, rng: random.Random) -> Grid:
    return grid[: rng.randrange(1, len(grid))]


def column_shifted_down(grid: Grid, rng: random.Random) -> Grid:
    start, column = _cell(grid, rng)
    cells = [row[column] for row in grid[start:]]
    for row, cell in zip(grid[start:], ["", *cells], strict=False):
        row[column] = cell
    return grid


def filled_down(grid: Grid, rng: random.Random) -> Grid:
    start, column = _cell(grid, rng)
    rows = grid[start : start + rng.randrange(8, 20)]
    changed = sum(row[column] != grid[start][column] for row in rows)
    # A few equal values in place of others are as plausible as the others were.
    if column == _column(grid, "value") and changed < 5:
        return grid
    for row in rows:
        row[column] = grid[start][column]
    return grid


def sorted_column(grid: Grid, rng: random.Random) -> Grid:
    column = rng.randrange(len(grid[0]))
    for row, cell in zip(grid[1:], sorted(row[column] for row in grid[1:]), strict=True):
        row[column] = cell
    return grid


def deleted_column(grid: Grid, rng: random.Random) -> Grid:
    column = rng.randrange(len(grid[0]))
    if grid[0][column] == "note":
        return grid
    return [row[:column] + row[column + 1 :] for row in grid]


def swapped_columns(grid: Grid, rng: random.Random) -> Grid:
    one, two = rng.sample(range(len(grid[0])), 2)
    for row in grid:
        row[one], row[two] = row[two], row[one]
    return grid


def swapped_headings(grid: Grid, rng: random.Random) -> Grid:
    one, two = rng.sample(range(len(grid[0])), 2)
    grid[0][one], grid[0][two] = grid[0][two], grid[0][one]
    return grid


def renamed_heading(grid: Grid, rng: random.Random) -> Grid:
    column = rng.randrange(len(grid[0]))
    grid[0][column] = rng.choice(["", "x", grid[0][column].upper(), grid[0][column] + "s", "value"])
    return grid


def doubled_column(grid: Grid, rng: random.Random) -> Grid:
    column = rng.randrange(len(grid[0]))
    return [[*row, row[column]] for row in grid]


GRID_DAMAGE = (
    garbage_cell,
    emptied_cell,
    spaced_cell,
    recased_cell,
    copied_cell,
    exchanged_cells,
    commaed_number,
    lost_point,
    scaled_number,
    typo_in_cell,
    cut_cell,
    deleted_row,
    doubled_row,
    blank_row,
    moved_row,
    repeated_headings,
    shortened_row,
    lengthened_row,
    deleted_block,
    cut_off,
    column_shifted_down,
    filled_down,
    sorted_column,
    deleted_column,
    swapped_columns,
    swapped_headings,
    renamed_heading,
    doubled_column,
)


def _column(grid: Grid, name: str) -> int:
    return grid[0].index(name) if name in grid[0] else 0


def _text_place(text: str, marks: str, rng: random.Random) -> int:
    return rng.choice([i for i, char in enumerate(text) if char in marks])


def lost_separator(text: str, rng: random.Random) -> str:
    place = _text_place(text, ",", rng)
    return text[:place] + text[place + 1 :]


def changed_separator(text: str, rng: random.Random) -> str:
    place = _text_place(text, ",", rng)
    return text[:place] + rng.choice(";\t|. ") + text[place + 1 :]


def moved_separator(text: str, rng: random.Random) -> str:
    place = _text_place(text, ",", rng)
    return text[:place] + text[place + 1 : place + 2] + "," + text[place + 2 :]


def stray_quote(text: str, rng: random.Random) -> str:
    place = rng.randrange(len(text))
    return text[:place] + rng.choice(["'", '"', '""', "“"]) + text[place:]


def lost_line_end(text: str, rng: random.Random) -> str:
    place = _text_place(text, "\n", rng)
    return text[:place] + text[place + 1 :]


def surplus_line_end(text: str, rng: random.Random) -> str:
    place = rng.randrange(len(text))
    return text[:place] + rng.choice(["\n", "\r\n", "\r"]) + text[place:]


def cut_text(text: str, rng: random.Random) -> str:
    return text[: rng.randrange(len(text))]


def doubled_text(text: str, rng: random.Random) -> str:
    return text + text


def odd_byte(text: str, rng: random.Random) -> bytes:
    data = text.encode()
    place = rng.randrange(len(data))
    return data[:place] + bytes([rng.choice([0, 0xE9, 0x81, 0xFF, 0x1B, 0xA0])]) + data[place:]


def other_delimiter(text: str, rng: random.Random) -> str:
    return text.replace(",", rng.choice([";", "\t", "|"]))


def other_dialect(text: str, rng: random.Random) -> str:
    grid = list(csv.reader(io.StringIO(text)))
    grid = [grid[0], *([cell.replace(".", ",") for cell in row] for row in grid[1:])]
    return write(grid, ";", "\r\n")


def other_encoding(text: str, rng: random.Random) -> bytes:
    return text.encode(rng.choice(["utf-8-sig", "utf-16", "utf-16-be", "utf-32"]))


TEXT_DAMAGE = (
    lost_separator,
    changed_separator,
    moved_separator,
    stray_quote,
    lost_line_end,
    surplus_line_end,
    cut_text,
    doubled_text,
    odd_byte,
    other_delimiter,
    other_dialect,
    other_encoding,
)


def damaged(text: str, rng: random.Random) -> tuple[str, bytes]:
    """A name and the bytes of the file after one piece of damage."""
    damage = rng.choice([*GRID_DAMAGE, *TEXT_DAMAGE])
    if damage in GRID_DAMAGE:
        out = write(damage([list(row) for row in csv.reader(io.StringIO(text))], rng))
    else:
        out = damage(text, rng)
    return damage.__name__, out if isinstance(out, bytes) else out.encode()
