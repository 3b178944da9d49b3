"""How a declared value shows itself in a notebook: its entries, one a row."""

from collections.abc import Iterable
from dataclasses import fields
from html import escape


class Declared:
    """Gives a frozen value a table of its entries; what is empty is left out."""

    def _repr_html_(self) -> str:
        found = {field.name: getattr(self, field.name) for field in fields(self)}
        rows = [(name, _told(value)) for name, value in found.items() if _is_said(value)]
        return rows_html(type(self).__name__, rows)


def rows_html(caption: str, rows: Iterable[tuple[str, str]]) -> str:
    """
    A small table of names with what stands under them.

    Parameters
    ----------
    caption : str
    rows : iterable of (str, str)

    Returns
    -------
    str

    Examples
    --------
    >>> rows_html("Claim", [("text", "a < b")])
    '<table><caption>Claim</caption><tr><th>text</th><td>a &lt; b</td></tr></table>'
    """
    body = "".join(f"<tr><th>{escape(name)}</th><td>{escape(v)}</td></tr>" for name, v in rows)
    return f"<table><caption>{escape(caption)}</caption>{body}</table>"


def _is_said(value: object) -> bool:
    return value is not None and value != "" and value != () and value != {}


def _told(value: object) -> str:
    """A value in words; of many, their names."""
    if isinstance(value, dict):
        return ", ".join(map(str, value))
    if isinstance(value, tuple):
        return ", ".join(str(getattr(part, "name", getattr(part, "unit", part))) for part in value)
    return str(value)
