"""The entry workbook: one sheet a quantity, planned times by vessels, to type in or to print."""

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from openpyxl import Workbook
from openpyxl.styles import Alignment, Border, Font, PatternFill, Protection, Side
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.page import PageMargins
from openpyxl.worksheet.worksheet import Worksheet

from .assemble import read_setting
from .cells import defuse_text
from .kinds import POSITIONS
from .reading_cells import Setting
from .trial import Protocol, Trial
from .workbook_labels import NOTE_LABEL, ROW_LABELS, SHEET_LABELS, STORAGE_PREFIX

NAME = "readings.xlsx"
_THIN = Border(*(Side(style="thin", color="999999"),) * 4)
_GREY = PatternFill("solid", fgColor="EEEEEE")
_MARGIN_IN = 0.4
_MANY = 14
# Of a longer list some spreadsheets say that the file is damaged.
_LONGEST_LIST = 255
_CENTRE = Alignment(horizontal="center", vertical="center", shrink_to_fit=True)


@dataclass(frozen=True)
class Sheet:
    """What one sheet of the workbook asks for.

    Attributes
    ----------
    quantity, unit, rater, instrument : str
        Fixed for the sheet; rater "" where the reader writes a code.
    positions : tuple of str
        One row for each at every planned time; ("",) where the whole vessel is read.
    """

    quantity: str
    unit: str
    rater: str
    instrument: str
    positions: tuple[str, ...]

    @property
    def title(self) -> str:
        """Its tab, at most 31 characters as spreadsheets allow."""
        return " ".join(part for part in (self.quantity[:24], self.rater) if part)


def write_workbook(
    source: str | Path | Trial, path: str | Path | None = None, *, force: bool = False
) -> Path:
    """The path of a fresh entry workbook for a trial; printed empty it is the paper sheet.

    Each sheet holds planned times down and blind vessel codes across, in an order drawn from
    the trial's seed, and fits one A4 landscape page. Cells take numbers, ``<x`` and ``>x``
    within the quantity's bounds. It is read back by its labels, so rows and columns may be
    moved and hidden sheets added.

    Parameters
    ----------
    source : str, Path or Trial
        A trial folder (its readings may still be missing) or a trial that was read.
    path : str or Path, optional
        Where to write; readings.xlsx in the folder by default. Needed for a Trial.
    force : bool
        Whether an existing file is replaced.

    Returns
    -------
    Path

    Raises
    ------
    TrialDataError
        When trial.toml or one of the small tables cannot be read.
    FileExistsError
        When the file is there and `force` is not given: it may hold readings.
    ValueError
        When a Trial comes without a path.
    """
    if isinstance(source, Trial):
        if path is None:
            raise ValueError("path must be given for a Trial; it does not know its folder.")
        setting = Setting.of(source)
    else:
        setting = read_setting(source)
        path = Path(source) / NAME if path is None else path
    path = Path(path)
    if (path.exists() or path.is_symlink()) and not force:
        raise FileExistsError(f"{path.name} exists and may hold readings; nothing was written.")
    book = Workbook()
    book.remove(book.active)
    for number, sheet in enumerate(planned_sheets(setting)):
        _fill(book.create_sheet(sheet.title), sheet, setting, number)
    _save(book, path)
    return path


def _save(book: Workbook, path: Path) -> None:
    """Write the workbook whole or not at all."""
    partial = path.with_name(path.name + ".partial")
    partial.unlink(missing_ok=True)
    try:
        # Made anew ("x"), so that no link is followed, with the rights that new files have here.
        with partial.open("xb") as stream:
            book.save(stream)
        partial.replace(path)
    finally:
        partial.unlink(missing_ok=True)


def planned_sheets(setting: Setting) -> list[Sheet]:
    """The sheets that a trial needs: by-eye quantities once a rater, others once."""
    protocol = setting.protocol
    raters = list(setting.raters["rater"])
    sheets = []
    for quantity, unit in _quantities(protocol).items():
        tools = [t.name for t in protocol.instruments.values() if t.quantity == quantity]
        positions = POSITIONS if quantity == "salinity" else ("",)
        by_eye = not tools and any(r.quantity == quantity for r in protocol.criteria.values())
        readers = raters if by_eye else raters[:1] if len(raters) == 1 else [""]
        for rater in readers:
            tool = tools[0] if len(tools) == 1 else ""
            sheets.append(Sheet(quantity, unit, rater, tool, positions))
    return sheets


def _quantities(protocol: Protocol) -> dict[str, str]:
    """Quantities that the trial declares, with the unit that its sheets use."""
    units = {rule.quantity: rule.unit for rule in protocol.criteria.values()}
    for tool in protocol.instruments.values():
        units.setdefault(tool.quantity, tool.unit)
    for quantity, limit in protocol.detection_limits.items():
        units.setdefault(quantity, limit.unit)
    for name, kind in protocol.quantities.items():
        if kind.reference == "declared in trial.toml":
            units.setdefault(name, kind.unit)
    return units


def _planned(protocol: Protocol) -> list[tuple[str, float]]:
    """Planned times as they are labelled, and in hours."""
    times = [(f"{hours:g}", hours) for hours in protocol.schedule_h]
    return times + [(f"{STORAGE_PREFIX}{day:g}", day * 24) for day in protocol.storage_days]


def _fill(page: Worksheet, sheet: Sheet, setting: Setting, number: int) -> None:
    """Write labels, times and empty cells of one sheet."""
    protocol = setting.protocol
    rng = np.random.default_rng([protocol.seed, number])
    vessels = [str(vessel) for vessel in rng.permutation(setting.vessels["vessel"])]
    values = (sheet.quantity, sheet.unit, sheet.rater, sheet.instrument)
    page.append([defuse_text(protocol.title)])
    for label, value in zip(SHEET_LABELS, values, strict=True):
        page.append([label, defuse_text(value) or None])
    page.append([_hint(sheet)])
    page.append([*ROW_LABELS, *vessels, NOTE_LABEL])
    head = page.max_row
    for label, hours in _planned(protocol):
        for position in sheet.positions:
            planned = hours if not label.startswith(STORAGE_PREFIX) else label
            page.append([planned, hours, position or None])
    _style(page, head, len(vessels))
    _validate(page, head, len(vessels), sheet, setting)


def _hint(sheet: Sheet) -> str:
    """One line of instructions."""
    return (
        f"Write {sheet.quantity} in {sheet.unit} below each vessel; <x or >x for a limit; empty "
        "for not read. Correct 'read at' (hours since the vessel's start) if it was another."
    )


def _style(page: Worksheet, head: int, vessels: int) -> None:
    """Borders, widths and one A4 landscape page."""
    last = len(ROW_LABELS) + vessels + 1
    page["A1"].font = Font(bold=True, size=14)
    for row in page.iter_rows(min_row=head, max_row=page.max_row, max_col=last):
        for cell in row:
            cell.border, cell.alignment = _THIN, _CENTRE
            cell.protection = Protection(locked=False)
            if cell.row == head or cell.column == 1:
                cell.fill, cell.font = _GREY, Font(bold=True)
    widths = [10, 9, 9, *[7 if vessels > _MANY else 9] * vessels, 24]
    for column, width in enumerate(widths, 1):
        page.column_dimensions[get_column_letter(column)].width = width
    height = _row_height(widths, page.max_row - head, head)
    for row in range(head, page.max_row + 1):
        page.row_dimensions[row].height = height
    page.freeze_panes = page.cell(head + 1, len(ROW_LABELS) + 1)
    page.page_setup.orientation = "landscape"
    page.page_setup.paperSize = page.PAPERSIZE_A4
    page.page_setup.fitToWidth = page.page_setup.fitToHeight = 1
    page.sheet_properties.pageSetUpPr.fitToPage = True
    page.page_margins = PageMargins(*[_MARGIN_IN] * 4, header=0.2, footer=0.2)
    page.print_area = f"A1:{get_column_letter(last)}{page.max_row}"


def _row_height(widths: list[int], rows: int, head: int) -> float:
    """The height in points at which the rows fill the page that the columns are fitted to."""
    # w digits are 7 w + 5 pixels wide, at 0.75 points each (ECMA-376, part 1, 18.3.1.13).
    across = sum(0.75 * (7 * width + 5) for width in widths)
    inches = [297 / 25.4 - 2 * _MARGIN_IN, 210 / 25.4 - 2 * _MARGIN_IN]
    down = across * inches[1] / inches[0] - 16 * head
    return round(min(max(1.1 * down / (rows + 1), 16), 56), 1)


def _validate(page: Worksheet, head: int, vessels: int, sheet: Sheet, setting: Setting) -> None:
    """Refuse in the spreadsheet what would be refused on reading."""
    first, last = len(ROW_LABELS) + 1, len(ROW_LABELS) + vessels
    area = f"{get_column_letter(first)}{head + 1}:{get_column_letter(last)}{page.max_row}"
    entry = setting.protocol.quantities[sheet.quantity].range_of(sheet.unit)
    corner = area.partition(":")[0]
    within = f"AND(ISNUMBER({corner}),{corner}>={entry.low:g},{corner}<={entry.high:g})"
    limit = f'OR(LEFT({corner},1)="<",LEFT({corner},1)=">")'
    rule = DataValidation(type="custom", formula1=f"=OR({within},{limit})", allow_blank=True)
    rule.errorTitle = sheet.quantity[:30]
    rule.error = f"Write a number from {entry.low:g} to {entry.high:g}, <x or >x."
    rule.showErrorMessage = True
    rule.add(area)
    page.add_data_validation(rule)
    times = DataValidation(type="decimal", operator="greaterThanOrEqual", formula1="0")
    times.add(f"B{head + 1}:B{page.max_row}")
    page.add_data_validation(times)
    codes = f'"{",".join(setting.raters["rater"])}"'
    if len(codes) <= _LONGEST_LIST:
        raters = DataValidation(type="list", formula1=codes, allow_blank=True)
        raters.add("B4")
        page.add_data_validation(raters)
