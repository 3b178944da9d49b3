"""The blocks of a document as HTML, for notebooks, for the page that browsers show."""

import re
from collections.abc import Callable
from html import escape
from typing import Any

from .fonts import FALLBACK

Block = dict[str, Any]

# Points of each mark in a square of 12 by 12.
_POLYGONS = {
    "square": "2,2 10,2 10,10 2,10",
    "triangle": "6,1 11,10.5 1,10.5",
    "triangle-down": "1,1.5 11,1.5 6,11",
    "diamond": "6,0.5 11.5,6 6,11.5 0.5,6",
    "pentagon": "6,0.8 11.3,4.7 9.3,11 2.7,11 0.7,4.7",
    "plus": "4,1 8,1 8,4 11,4 11,8 8,8 8,11 4,11 4,8 1,8 1,4 4,4",
    "cross": "3.2,0.7 6,3.5 8.8,0.7 11.3,3.2 8.5,6 11.3,8.8 8.8,11.3 6,8.5 3.2,11.3 0.7,8.8 3.5,6 "
    "0.7,3.2",
}


def block_html(block: Block) -> str:
    """
    One block as HTML.

    Parameters
    ----------
    block : dict
        A block of the document, or what a piece of a notebook says of itself.

    Returns
    -------
    str

    Raises
    ------
    KeyError
        For an unknown kind of block.

    Examples
    --------
    >>> block_html({"kind": "paragraph", "body": [{"kind": "text", "text": "1 < 2"}]})
    '<p>1 &lt; 2</p>'
    """
    return _BLOCKS[block["kind"]](block)


def inline_html(body: list[dict[str, Any]]) -> str:
    """
    A run of text as HTML.

    Parameters
    ----------
    body : list of dict

    Returns
    -------
    str
    """
    return "".join(_INLINES[part["kind"]](part) for part in body)


def mark_html(mark: dict[str, str] | None) -> str:
    """
    The mark of a mix, small enough for a line of text.

    Parameters
    ----------
    mark : dict or None
        Colour with shape.

    Returns
    -------
    str
        An empty text for no mark.
    """
    if mark is None:
        return ""
    shape = (
        '<circle cx="6" cy="6" r="4.8"/>'
        if mark["shape"] == "circle"
        else f'<polygon points="{_POLYGONS[mark["shape"]]}"/>'
    )
    return (
        '<svg class="mark" width="10" height="10" viewBox="0 0 12 12" aria-hidden="true" '
        f'style="fill:{escape(mark["color"])}">{shape}</svg> '
    )


def _heading(block: Block) -> str:
    level, number = block["level"], block.get("number", "")
    name = f' id="section-{number}"' if number else ""
    lead = f'<span class="number">{number}</span> ' if number else ""
    return f"<h{level}{name}>{lead}{inline_html(block['body'])}</h{level}>"


def _list(block: Block) -> str:
    tag = "ol" if block["ordered"] else "ul"
    start = f' start="{block["start"]}"' if block["ordered"] and block["start"] != 1 else ""
    items = "".join(f"<li>{''.join(map(_item, item))}</li>" for item in block["items"])
    return f"<{tag}{start}>{items}</{tag}>"


def _item(block: Block) -> str:
    return inline_html(block["body"]) if block["kind"] == "paragraph" else block_html(block)


_WHOLE = 16  # letters


def _caption(block: Block) -> str:
    number = block.get("number")
    lead = f"<strong>{number}.</strong> " if number else ""
    return lead + escape(block["caption"])


def _note(block: Block) -> str:
    note = block.get("note")
    return f'<p class="note">{escape(note)}</p>' if note else ""


def _table(block: Block) -> str:
    name = f' id="{escape(block["label"])}"' if block["label"] else ""
    caption = f"<caption>{_caption(block)}</caption>" if block["caption"] else ""
    heads = "".join(
        f'<th scope="col" class="{c["align"]}">{escape(c["header"])}</th>' for c in block["columns"]
    )
    marks = block.get("marks") or [None] * len(block["rows"])
    rows = "".join(_row(block, row, mark) for row, mark in zip(block["rows"], marks, strict=True))
    words = escape(block["caption"] or "Table")
    return (
        f'<div class="block"{name}><div class="scroll" role="group" tabindex="0" '
        f'aria-label="{words}"><table>{caption}<thead><tr>{heads}</tr></thead>'
        f"<tbody>{rows}</tbody></table></div>{_note(block)}</div>"
    )


def _row(block: Block, row: list[Any], mark: dict[str, str] | None) -> str:
    cells = []
    for place, (cell, column) in enumerate(zip(row, block["columns"], strict=True)):
        text = escape(cell) if isinstance(cell, str) else inline_html(cell)
        # On a narrow screen numbers stay whole, and longer words go on over a second line.
        long = " long" if not isinstance(cell, str) or len(cell) > _WHOLE else ""
        kind = f'class="{column["align"]}{long}"'
        if place == 0:
            cells.append(f'<th scope="row" {kind}>{mark_html(mark)}{text}</th>')
        else:
            cells.append(f"<td {kind}>{text}</td>")
    return f"<tr>{''.join(cells)}</tr>"


def _figure(block: Block) -> str:
    label, alt = escape(block["label"]), escape(block["alt"])
    return (
        f'<figure class="block" id="{label}"><div class="scroll" role="group" tabindex="0" '
        f'aria-label="{escape(block["caption"])}">{_drawing(block)}</div>'
        f"<figcaption>{_caption(block)}. {escape(block.get('note', ''))}</figcaption>"
        f"<details><summary>This figure in words</summary><p>{alt}</p></details></figure>"
    )


def _drawing(block: Block) -> str:
    """The SVG with names of its own, scaled by the page, told as one picture."""
    prefix = re.sub(r"[^a-zA-Z0-9]", "-", block["label"]) + "-"
    svg = re.sub(r'\bid="', f'id="{prefix}', block["svg"])
    svg = re.sub(r"url\(#", f"url(#{prefix}", svg)
    svg = re.sub(r'href="#', f'href="#{prefix}', svg)
    # A notebook has the reader's typefaces only: rather one without serifs than any.
    svg = svg.replace(f"'{FALLBACK}'", f"'{FALLBACK}', sans-serif")
    head = f'<svg role="img" aria-label="{escape(block["alt"])}"'
    # Its size in points would keep it from growing with the page.
    first, rest = svg.split(">", 1)
    first = re.sub(r'\s(?:width|height)="[^"]*"', "", first)
    return head + first.removeprefix("<svg") + ">" + rest


def _answer(block: Block) -> str:
    facts = " · ".join(f"{escape(name)}: {escape(value)}" for name, value in block["facts"])
    return (
        f'<p class="subtitle">{escape(block["subtitle"])}</p>'
        f'<p class="answer">{escape(block["sentence"])}</p>'
        f'{_table({**block["table"], "caption": ""})}<p class="note">{facts}</p>'
    )


def _prose(block: Block) -> str:
    from .markdown import parse_markdown

    return "".join(map(block_html, parse_markdown(block["text"])))


def _tag(tag: str) -> Callable[[Block], str]:
    return lambda part: f"<{tag}>{inline_html(part['body'])}</{tag}>"


def _link(part: Block) -> str:
    return f'<a href="{escape(part["url"])}">{inline_html(part["body"])}</a>'


def _ref(part: Block) -> str:
    words = escape(part["text"]) if "text" in part else inline_html(part["body"])
    return f'<a href="#{escape(part["label"])}">{words}</a>'


_BLOCKS: dict[str, Callable[[Block], str]] = {
    "heading": _heading,
    "paragraph": _tag("p"),
    "list": _list,
    "quote": lambda b: f"<blockquote>{''.join(map(block_html, b['blocks']))}</blockquote>",
    "code": lambda b: f'<pre tabindex="0"><code>{escape(b["text"])}</code></pre>',
    "rule": lambda b: "<hr>",
    "pagebreak": lambda b: "",
    "table": _table,
    "figure": _figure,
    "answer": _answer,
    "prose": _prose,
}

_INLINES: dict[str, Callable[[Block], str]] = {
    "text": lambda part: escape(part["text"]),
    "strong": _tag("strong"),
    "emph": _tag("em"),
    "strike": _tag("s"),
    "code": lambda part: f"<code>{escape(part['text'])}</code>",
    "break": lambda part: "<br>",
    "link": _link,
    "ref": _ref,
    "footnote": lambda part: f'<small class="footnote">[{inline_html(part["body"])}]</small>',
}
