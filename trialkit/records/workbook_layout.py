"""Where the labels and headings of an entry sheet stand."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from .cells import parse_text
from .numbers import tidy
from .problems import Problem, file_problem, show
from .workbook_labels import ROW_LABELS, SHEET_LABELS

if TYPE_CHECKING:
    from openpyxl.worksheet.worksheet import Worksheet


@dataclass(frozen=True)
class Layout:
    """What an entry sheet says of itself, wherever it stands.

    Attributes
    ----------
    labels : dict
        What stands beside each label: "" where nothing does.
    head : int
        The row of headings; 0 where there is none.
    columns : dict
        The heading of each column by its number.
    twice : tuple of str
        Labels that stand more than once, beside different words.
    """

    labels: dict[str, str]
    head: int
    columns: dict[int, str]
    twice: tuple[str, ...]

    @property
    def whole(self) -> bool:
        """Whether it is an entry sheet that can be read."""
        return bool(self.head and "quantity" in self.labels)

    @property
    def in_part(self) -> bool:
        """Whether it looks like an entry sheet that has lost labels or headings."""
        return bool(self.head) or sum(map(bool, self.labels.values())) > 1


def find_layout(page: Worksheet) -> Layout:
    """Labels and headings of a sheet, by what they say and never by their place."""
    told: list[tuple[str, int, dict[int, str]]] = []
    head, columns = 0, {}
    for number, values in enumerate(page.iter_rows(values_only=True), 1):
        texts = {c: _text(v) for c, v in enumerate(values, 1) if v is not None}
        told += [(_key(text), c, texts) for c, text in texts.items() if _key(text) in SHEET_LABELS]
        if not head and set(ROW_LABELS[:2]) <= set(map(_key, texts.values())):
            head, columns = number, texts
    # A column may have been put between the labels and what they say.
    gaps = [c - at for _, at, texts in told for c in texts if c > at]
    found: dict[str, list[str]] = {}
    for label, at, texts in told:
        beside = texts.get(at + min(gaps, default=1), "")
        found.setdefault(label, []).append("" if _key(beside) in SHEET_LABELS else beside)
    twice = tuple(k for k, v in found.items() if len({x.casefold() for x in v if x}) > 1)
    labels = {k: parse_text(next(filter(None, texts), "")) for k, texts in found.items()}
    return Layout(labels, head, columns, twice)


def layout_problems(label: str, page: Worksheet, layout: Layout) -> list[Problem]:
    """Why the sheet cannot be read, or that it is another one and was passed over."""
    if not layout.whole:
        return _not_whole(label, page, layout)
    found = []
    for name in layout.twice:
        message, fix = "this label stands twice, beside different words", "Delete one of them."
        found.append(Problem(label, None, name, "", "refuse", message, fix, 0))
    if any(area.max_row >= layout.head for area in page.merged_cells.ranges):
        message = "the sheet has merged cells, which hide what belongs to which vessel"
        found.append(file_problem(label, message, "Split them."))
    return found


def _not_whole(label: str, page: Worksheet, layout: Layout) -> list[Problem]:
    """A sheet without labels: a person's own, or an entry sheet that lost them."""
    if layout.in_part:
        lacks = "label quantity" if layout.head else "headings planned and read at"
        message = f"the entry sheet has lost its {lacks}"
        fix = "Write it back, as `trialkit sheets` had written it."
        return [file_problem(label, message, fix)]
    if not any(value is not None for row in page.iter_rows(values_only=True) for value in row):
        return []
    message = "the sheet has no labels of an entry sheet and was passed over"
    return [file_problem(label, message, "Nothing, unless readings stand in it.", level="warn")]


def hidden_problems(label: str, page: Worksheet, layout: Layout) -> list[Problem]:
    """Warnings that what a person may not have seen was read all the same."""
    rows = [n for n, row in page.row_dimensions.items() if row.hidden and n > layout.head]
    spans = [d for d in page.column_dimensions.values() if d.hidden]
    columns = [c for c in layout.columns if any(d.min <= c <= d.max for d in spans)]
    found = []
    for what, there in (("rows", rows), ("columns", columns)):
        if there:
            message = f"the sheet has hidden {what}; they were read all the same"
            found.append(file_problem(label, message, "Show them and look.", level="warn"))
    if page.sheet_state != "visible":
        message = "the sheet is hidden; it was read all the same"
        found.append(file_problem(label, message, "Show it and look.", level="warn"))
    return found


def heading_problems(label: str, page: Worksheet, layout: Layout) -> list[Problem]:
    """Headings that stand twice, and values that stand under none."""
    names = [name.casefold() for name in layout.columns.values()]
    found = []
    for name in sorted({name for name in names if names.count(name) > 1}):
        message, fix = "two columns have this heading", "Correct one of them."
        place = show(name.upper())
        found.append(Problem(label, layout.head, place, "", "refuse", message, fix, 0))
    for row in page.iter_rows(min_row=layout.head + 1):
        for cell in row:
            if cell.value is not None and cell.column not in layout.columns:
                message, fix = (
                    "a value stands under no heading",
                    "Write the vessel's code above it.",
                )
                place, value = cell.column_letter, show(_text(cell.value))
                found.append(Problem(label, cell.row, place, value, "refuse", message, fix))
    return found


def _text(value: object) -> str:
    """A label or heading in one line; a formula as it is written."""
    return tidy(" ".join(str(getattr(value, "text", value)).split()))


def _key(text: str) -> str:
    """A label without capitals or a colon."""
    return tidy(text.rstrip(":")).casefold()
