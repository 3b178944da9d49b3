"""Mishaps in an entry workbook, by seed, as a person and a spreadsheet make them."""

import random
from datetime import datetime, time

from openpyxl.utils import get_column_letter
from openpyxl.workbook import Workbook
from openpyxl.worksheet.worksheet import Worksheet

from trialkit.records.trial import Trial

LABELS = ("planned", "read at", "position")


def layout(page: Worksheet) -> tuple[int, dict[str, int]]:
    """Row of the headings, and column of each."""
    head = next(row for row in page.iter_rows() if row[0].value == "planned")
    return head[0].row, {str(cell.value): cell.column for cell in head if cell.value}


def fill(book: Workbook, trial: Trial) -> None:
    """Type a trial's readings into its empty workbook, times under 'read at'."""
    lead = {"quantity": "B2", "unit": "B3", "rater": "B4"}
    planned = trial.protocol.schedule_h
    for page in book:
        quantity, rater = page[lead["quantity"]].value, page[lead["rater"]].value
        head, columns = layout(page)
        own = trial.readings[trial.readings["quantity"] == quantity]
        own = own[own["rater"] == rater] if rater else own
        if not rater and len(own):
            page[lead["rater"]] = own["rater"].iloc[0]
        for reading in own[own["phase"] == "mixing"].to_dict("records"):
            row = next(
                r for r in range(head + 1, page.max_row + 1)
                if page.cell(r, 1).value == planned[reading["session"]]
                and (page.cell(r, columns["position"]).value or "") == reading["position"]
            )  # fmt: skip
            page.cell(row, columns[reading["vessel"]], reading["limit"] + f"{reading['value']:g}"
                      if reading["limit"] else reading["value"])  # fmt: skip


def _page(book: Workbook, rng: random.Random) -> tuple[Worksheet, int, dict[str, int], list[int]]:
    """A filled sheet with its headings' row, columns, and rows with readings."""
    pages = []
    for page in book:
        head, columns = layout(page)
        vessels = [c for name, c in columns.items() if name not in (*LABELS, "note")]
        rows = [
            r
            for r in range(head + 1, page.max_row + 1)
            if any(page.cell(r, c).value is not None for c in vessels)
        ]
        if rows:
            pages.append((page, head, {n: c for n, c in columns.items() if c in vessels}, rows))
    return rng.choice(pages)


def _spot(book, rng):
    page, _, vessels, rows = _page(book, rng)
    return page.cell(rng.choice(rows), rng.choice(sorted(vessels.values())))


def cells_merged(book, rng):
    page, _, vessels, rows = _page(book, rng)
    row, column = rng.choice(rows), rng.choice(sorted(vessels.values())[:-1])
    page.merge_cells(start_row=row, end_row=row, start_column=column, end_column=column + 1)


def labels_of_two_sheets_exchanged(book, rng):
    pages = list(book)
    one, two = rng.sample(pages, 2) if len(pages) > 1 else (pages[0], pages[0])
    one["B2"].value, two["B2"].value = two["B2"].value, one["B2"].value


def tabs_of_two_sheets_exchanged(book, rng):
    pages = list(book)
    if len(pages) < 2:
        return
    one, two = rng.sample(pages, 2)
    first, second = one.title, two.title
    one.title = "x"
    two.title, one.title = first, second


def values_pasted_one_row_lower(book, rng):
    page, _, vessels, rows = _page(book, rng)
    start = rng.randrange(len(rows) - 1)
    for column in vessels.values():
        cells = [page.cell(r, column).value for r in rows]
        for i in range(len(rows) - 1, start, -1):
            page.cell(rows[i], column).value = cells[i - 1]


def values_pasted_one_column_right(book, rng):
    page, _, vessels, rows = _page(book, rng)
    columns = sorted(vessels.values())
    for row in rows[rng.randrange(len(rows)) :]:
        cells = [page.cell(row, c).value for c in columns]
        for c, value in zip(columns, [cells[-1], *cells[:-1]], strict=True):
            page.cell(row, c).value = value


def headings_of_two_vessels_exchanged(book, rng):
    page, head, vessels, _ = _page(book, rng)
    one, two = rng.sample(sorted(vessels.values()), 2)
    a, b = page.cell(head, one), page.cell(head, two)
    a.value, b.value = b.value, a.value


def headings_sorted_alone(book, rng):
    page, head, vessels, _ = _page(book, rng)
    for column, name in zip(sorted(vessels.values()), sorted(vessels), strict=True):
        page.cell(head, column).value = name


def heading_filled_on(book, rng):
    page, head, vessels, _ = _page(book, rng)
    column = rng.choice(sorted(vessels.values()))
    code = page.cell(head, column).value
    page.cell(head, column + 1).value = f"{code[0]}{int(code[1:]) + 1:02d}"


def times_sorted_alone(book, rng):
    page, _head, _, rows = _page(book, rng)
    cells = [page.cell(r, 2).value for r in rows]
    for row, value in zip(rows, sorted(cells, reverse=True), strict=True):
        page.cell(row, 2).value = value


def times_filled_as_a_series(book, rng):
    page, _, _, rows = _page(book, rng)
    for step, row in enumerate(rows):
        page.cell(row, 2).value = 1 + step


def times_as_clock(book, rng):
    page, _, _, rows = _page(book, rng)
    for row in rows[: rng.choice([1, len(rows)])]:
        page.cell(row, 2).value = rng.choice([time(9, 30), datetime(2031, 4, 2, 9, 30), "9:30"])


def times_emptied(book, rng):
    page, _, _, rows = _page(book, rng)
    for row in rows[: rng.choice([1, len(rows)])]:
        page.cell(row, 2).value = None


def rows_hidden_by_a_filter(book, rng):
    page, _, _, rows = _page(book, rng)
    for row in rng.sample(rows, 2):
        page.row_dimensions[row].hidden = True
    page.cell(rows[0], 4).value = page.cell(rows[0], 4).value or 0


def column_hidden_and_forgotten(book, rng):
    page, _, vessels, rows = _page(book, rng)
    column = rng.choice(sorted(vessels.values()))
    page.column_dimensions[get_column_letter(column)].hidden = True
    for row in rows:
        page.cell(row, column).value = None


def row_deleted(book, rng):
    page, _, _, rows = _page(book, rng)
    page.delete_rows(rng.choice(rows))


def column_deleted(book, rng):
    page, _, vessels, _ = _page(book, rng)
    page.delete_cols(rng.choice(sorted(vessels.values())))


def sheet_deleted(book, rng):
    if len(book.sheetnames) > 1:
        book.remove(_page(book, rng)[0])


def sheet_copied(book, rng):
    page = _page(book, rng)[0]
    book.copy_worksheet(page)


def row_copied_to_the_end(book, rng):
    page, _, vessels, rows = _page(book, rng)
    row, to = rng.choice(rows), page.max_row + 1
    for column in range(1, max(vessels.values()) + 2):
        page.cell(to, column).value = page.cell(row, column).value


def unit_changed(book, rng):
    page = _page(book, rng)[0]
    page["B3"] = rng.choice(["FNU", "NTU", "score", "lines", "%", None])


def rater_changed(book, rng):
    page = _page(book, rng)[0]
    page["B4"] = rng.choice(["R01", "R02", "R9", None])


def formula_typed(book, rng):
    _spot(book, rng).value = rng.choice(["=1+1", "=AVERAGE(D9:D10)", "=D9"])


def number_as_odd_text(book, rng):
    cell = _spot(book, rng)
    cell.value = rng.choice([
        "{:g} lines", "'{:g}", "~{:g}", "{:g}?", " {:g}", "{:g},0", "{:g} ", "{:g}.", "1.{:g}.0",
    ]).format(float(cell.value or 0) if not isinstance(cell.value, str) else 0)  # fmt: skip


def number_as_date(book, rng):
    _spot(book, rng).value = rng.choice(
        [datetime(2031, 3, 12), time(12, 0), True, "#N/A", "12.3.31"]
    )


def number_as_per_cent(book, rng):
    _spot(book, rng).number_format = rng.choice(["0%", "0.0%", "d-mmm", "0", "@"])


def value_in_another_vessel(book, rng):
    page, _, vessels, rows = _page(book, rng)
    row = rng.choice(rows)
    one, two = rng.sample(sorted(vessels.values()), 2)
    page.cell(row, two).value, page.cell(row, one).value = page.cell(row, one).value, None


def numbers_typed_beside_the_table(book, rng):
    page, _, vessels, rows = _page(book, rng)
    page.cell(rng.choice(rows), max(vessels.values()) + rng.choice([1, 2, 3])).value = 7


def totals_below(book, rng):
    page, _, vessels, _ = _page(book, rng)
    row = page.max_row + rng.choice([1, 2])
    page.cell(row, 1).value = rng.choice(["mean", None, "sum"])
    for column in vessels.values():
        page.cell(row, column).value = 6.5


def note_column_used_for_a_reading(book, rng):
    page, _, _vessels, rows = _page(book, rng)
    column = layout(page)[1]["note"]
    page.cell(rng.choice(rows), column).value = rng.choice([12, "12", "was 11", "K02 looks odd"])


def header_row_frozen_twice(book, rng):
    page, head, _, _ = _page(book, rng)
    at = head + rng.randrange(1, 4)
    values = [cell.value for cell in page[head]]
    page.insert_rows(at)
    for i, value in enumerate(values, 1):
        page.cell(at, i).value = value


def sheet_turned(book, rng):
    """Rows for columns, as 'paste special, transposed' makes it."""
    page, head, _vessels, _rows = _page(book, rng)
    block = [[c.value for c in row] for row in page.iter_rows(min_row=head, max_row=page.max_row)]
    page.delete_rows(head, page.max_row)
    for i, cells in enumerate(zip(*block, strict=True)):
        for j, value in enumerate(cells):
            page.cell(head + i, j + 1).value = value


BOOK_MISHAPS = tuple(
    kind
    for name, kind in list(globals().items())
    if callable(kind) and getattr(kind, "__module__", "") == __name__
    and name[0] != "_" and name not in ("fill", "layout")
)  # fmt: skip
