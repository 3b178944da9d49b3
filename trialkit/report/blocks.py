"""The pieces of a report that a notebook cell can show."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

MIME = "application/vnd.trialkit.block+json"

# A notebook has no style sheet of ours, and the reader's own typefaces: cells stand to the right
# unless they say where, and wider letters would be cut off at the edge of a drawing.
_IN_NOTEBOOKS = {
    'class="left': 'style="text-align: left" class="left',
    '<svg role="img"': '<svg style="overflow: visible" role="img"',
}


class _Shown:
    """What notebooks ask of every piece: itself as HTML, as plain text, as a block."""

    def _repr_mimebundle_(self, include: Any = None, exclude: Any = None) -> dict[str, Any]:
        from .html import block_html

        block = self.to_json()
        page = block_html(block)
        for plain, styled in _IN_NOTEBOOKS.items():
            page = page.replace(plain, styled)
        return {MIME: block, "text/html": page, "text/plain": repr(self)}

    def to_json(self) -> dict[str, Any]:
        raise NotImplementedError


@dataclass(frozen=True)
class Column:
    """
    Head of a column.

    Attributes
    ----------
    header : str
        Words, with the unit after a comma.
    align : str
        ``"left"`` or ``"right"``.
    """

    header: str
    align: str = "left"


@dataclass(frozen=True, repr=False)
class Table(_Shown):
    """
    A table of printed cells.

    Attributes
    ----------
    label : str
        Name that cross-references use.
    caption : str
    columns : sequence of Column
    rows : sequence of sequence of str
        Printed text; the first cell of a row names the row.
    note : str
        Printed small under the table.
    marks : sequence of dict or None
        For each row, colour with shape of the mark before its first cell.
    wide : bool
        Whether the page should be turned.
    """

    label: str
    caption: str
    columns: Sequence[Column]
    rows: Sequence[Sequence[str]]
    note: str = ""
    marks: Sequence[dict[str, str] | None] | None = None
    wide: bool = False

    def to_json(self) -> dict[str, Any]:
        """The block of this table, plain lists with text."""
        return {
            "kind": "table",
            "label": self.label,
            "caption": self.caption,
            "note": self.note,
            "columns": [{"header": c.header, "align": c.align} for c in self.columns],
            "rows": [list(row) for row in self.rows],
            "marks": list(self.marks) if self.marks is not None else None,
            "wide": self.wide,
        }

    def __repr__(self) -> str:
        head = " | ".join(column.header for column in self.columns)
        return "\n".join([self.caption, head, *(" | ".join(row) for row in self.rows)])


@dataclass(frozen=True, repr=False)
class Figure(_Shown):
    """
    A drawing with the words that stand for it.

    Attributes
    ----------
    label : str
        Name that cross-references use.
    caption : str
    alt : str
        What a reader who can't see the drawing is told.
    svg : str
    note : str
        Printed small under the caption.
    """

    label: str
    caption: str
    alt: str
    svg: str
    note: str = ""

    def to_json(self) -> dict[str, Any]:
        """The block of this figure."""
        return {
            "kind": "figure",
            "label": self.label,
            "caption": self.caption,
            "alt": self.alt,
            "svg": self.svg,
            "note": self.note,
        }

    def __repr__(self) -> str:
        return f"{self.caption}\n{self.alt}"


@dataclass(frozen=True, repr=False)
class Prose(_Shown):
    """
    Sentences in markdown.

    Attributes
    ----------
    text : str
    label : str
        Label of the figure or table that they stand for; empty for none.
    told : bool
        Whether what stands for a figure or table is printed too, not only shown on a screen.
    """

    text: str
    label: str = ""
    told: bool = False

    def to_json(self) -> dict[str, Any]:
        """The block of these sentences."""
        return {"kind": "prose", "text": self.text, "label": self.label, "told": self.told}

    def __repr__(self) -> str:
        return self.text


@dataclass(frozen=True, repr=False)
class Answer(_Shown):
    """
    The cover: the answer in one sentence with one table.

    Attributes
    ----------
    title : str
    subtitle : str
        What was done, in a line.
    sentence : str
        Plain text.
    table : Table
    facts : sequence of (str, str)
        Small print, name with value.
    date : str
        Day of the trial, ISO 8601: the PDF bears it.
    """

    title: str
    subtitle: str
    sentence: str
    table: Table
    facts: Sequence[tuple[str, str]] = field(default_factory=tuple)
    date: str = ""

    def to_json(self) -> dict[str, Any]:
        """The block of this cover."""
        return {
            "kind": "answer",
            "title": self.title,
            "subtitle": self.subtitle,
            "sentence": self.sentence,
            "facts": [list(fact) for fact in self.facts],
            "table": self.table.to_json(),
            "date": self.date,
        }

    def __repr__(self) -> str:
        return f"{self.title}\n{self.sentence}\n{self.table!r}"
