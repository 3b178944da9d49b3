"""Where a table goes on to the next page: never with a row or two left alone."""

import re
import subprocess
from shutil import which

import pytest

from tests.report.notebooks import executed
from trialkit.report.blocks import Column, Table
from trialkit.report.document import read_document
from trialkit.report.render import document_pdf

# Lengths that leave every remainder of a page before the next table begins.
LENGTHS = [
    5,
    7,
    9,
    12,
    15,
    *range(18, 27),
    8,
    11,
    6,
    14,
    40,
    3,
    13,
    16,
    *range(30, 18, -1),
    60,
    17,
    20,
]
NOTE = "This note belongs below the last row of its table, or above the first. " * 3


def table(number, rows):
    columns = [Column("Vessel", "left"), Column("Hours", "right")]
    cells = [[f"T{number:02}R{row:02}", f"{row} h"] for row in range(rows)]
    return Table(f"t{number}", f"Caption {number}", columns, cells, note=f"N{number:02} {NOTE}")


@pytest.fixture(scope="module", params=["a4", "us-letter"])
def pages(request, tmp_path_factory):
    if not which("pdftotext"):
        pytest.skip("pdftotext of Poppler is not installed")
    tables = [table(number, rows) for number, rows in enumerate(LENGTHS)]
    folder = tmp_path_factory.mktemp("tables")
    document = read_document(executed(["# Which?", "## One", *tables], folder / "n.ipynb"))
    read = subprocess.run(
        ["pdftotext", "-layout", "-", "-"],
        input=document_pdf(document, paper=request.param),
        capture_output=True,
        check=True,
    )
    return read.stdout.decode("utf-8").split("\f")


def rows_on(page, number):
    return len(re.findall(rf"T{number:02}R\d\d", page))


@pytest.mark.parametrize("number", range(len(LENGTHS)))
def test_three_rows_at_least_stand_on_each_page_of_a_table(number, pages):
    found = [rows for page in pages if (rows := rows_on(page, number))]
    assert sum(found) == LENGTHS[number]
    assert min(found) >= 3
    # A page holds 40 rows and more.
    assert len(found) <= 2 + LENGTHS[number] // 40
    if LENGTHS[number] < 9:
        assert len(found) == 1


@pytest.mark.parametrize("number", range(len(LENGTHS)))
def test_caption_and_note_stand_with_rows_of_their_table(number, pages):
    for words in (f"Caption {number}\\b", f"N{number:02} "):
        (page,) = [page for page in pages if re.search(words, page)]
        assert rows_on(page, number) >= 3


def test_a_page_that_a_table_goes_on_to_says_which_table_that_is(pages):
    on = [number for page in pages[1:] for number in re.findall(r"Table (\d+), continued", page)]
    counts = [sum(rows_on(page, number) > 0 for page in pages) for number in range(len(LENGTHS))]
    assert [int(number) - 1 for number in on] == [
        number for number, count in enumerate(counts) for _ in range(count - 1)
    ]
    assert len(on) > 5
