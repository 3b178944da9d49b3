"""What of a cell is ever printed: little of it, and nothing that a terminal obeys."""

import csv
import io
import re

import pytest

from tests.records import conftest as base
from trialkit.cli import run
from trialkit.records.problems import show

LONG = "Q" * 300
OBEYED = "\x1b[31mQ\u202eQ\x07"
TABLES = {
    "mixes": base.MIXES,
    "vessels": base.VESSELS,
    "raters": base.RATERS,
    "readings": base.readings_text(),
}
CELLS = [
    (name, column, row)
    for name, text in TABLES.items()
    for column in range(text.splitlines()[0].count(",") + 1)
    for row in (0, 2)
]


@pytest.mark.parametrize(("name", "column", "row"), CELLS)
def test_no_cell_floods_or_steers_the_terminal(make_folder, capsys, name, column, row):
    for cell in (LONG, OBEYED):
        rows = list(csv.reader(TABLES[name].splitlines()))
        rows[row][column] = cell
        out = io.StringIO()
        csv.writer(out, lineterminator="\n").writerows(rows)
        folder = make_folder(**{name: out.getvalue()})
        for options in ((), ("--json",)):
            run(["check", *options, str(folder)])
            told = "".join(capsys.readouterr())
            assert not re.search("Q{41}", told)
            assert not re.search("[\x1b\x07\u202e]", told)
            assert "fault of trialkit" not in told


@pytest.mark.parametrize(
    ("cell", "shown"),
    [
        (r"$\frac{$", r"$\frac{$"),
        (r"a\u202eb", r"a\\u202eb"),
        ("a\u202eb", r"a\u202eb"),
        ("a\\\u202eb", r"a\\\u202eb"),
        (r"\\server", r"\\\server"),
        ("end\\", "end\\"),
        ("", ""),
    ],
)
def test_an_escape_cannot_be_forged_and_a_plain_backslash_stays(cell, shown):
    assert show(cell) == shown
