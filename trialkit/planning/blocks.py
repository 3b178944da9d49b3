"""Words and tables that notebooks show and the report prints."""

from dataclasses import dataclass
from html import escape

_MIME = "application/vnd.trialkit.block+json"


class Told:
    """Gives a result that prints as lines the same lines in a notebook."""

    def _repr_html_(self):
        return f"<pre>{escape(str(self))}</pre>"


@dataclass(frozen=True)
class Words:
    """A paragraph.

    Parameters
    ----------
    text : str
        Markdown.
    """

    text: str

    def __str__(self):
        return self.text

    def _repr_mimebundle_(self, include=None, exclude=None):
        block = {"kind": "prose", "text": self.text}
        return {"text/markdown": self.text, "text/plain": self.text, _MIME: block}


@dataclass(frozen=True)
class PlanTable:
    """A small table, its cells already rounded and in words.

    Parameters
    ----------
    label, caption, note : str
        Name for cross-references, heading, what to know while reading it.
    headers : tuple of str
        Column headings; the first column is text, the others numbers.
    rows : tuple of tuple of str
        Cells.
    """

    label: str
    caption: str
    note: str
    headers: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]

    def __str__(self):
        lines = [self.headers, *self.rows]
        widths = [max(map(len, column)) for column in zip(*lines, strict=True)]
        return "\n".join(
            "  ".join(cell.rjust(width) for cell, width in zip(line, widths, strict=True))
            for line in lines
        )

    def _repr_mimebundle_(self, include=None, exclude=None):
        columns = [
            {"header": header, "align": "left" if i == 0 else "right"}
            for i, header in enumerate(self.headers)
        ]
        block = {
            "kind": "table",
            "label": self.label,
            "caption": self.caption,
            "note": self.note,
            "columns": columns,
            "rows": [list(row) for row in self.rows],
        }
        return {"text/html": self._html(), "text/plain": str(self), _MIME: block}

    def _html(self):
        head = "".join(f"<th>{escape(header)}</th>" for header in self.headers)
        body = "".join(
            "<tr>" + "".join(f"<td>{escape(cell)}</td>" for cell in row) + "</tr>"
            for row in self.rows
        )
        return (
            f"<table><caption>{escape(self.caption)}</caption><thead><tr>{head}</tr></thead>"
            f"<tbody>{body}</tbody></table><p>{escape(self.note)}</p>"
        )
