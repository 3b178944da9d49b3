"""Markdown as the nested lists that both printed forms of a report are made from."""

import html
import re
from collections.abc import Callable
from functools import cache
from typing import Any

_FORMULA = re.compile(r"\$[^$\n]*\\[A-Za-z]+[^$\n]*\$|\$\$")
_PAGE_BREAK = "<!-- pagebreak -->"
_SPECIAL = re.compile(r"([\\`*_{}\[\]()#+\-.!|<>$~^&])")


class MarkdownError(ValueError):
    """Markdown that the report does not print; the text says which and what to write instead."""


def escape(text: str) -> str:
    r"""
    Text that markdown prints as it stands.

    Parameters
    ----------
    text : str

    Returns
    -------
    str

    Examples
    --------
    >>> print(escape("Salt_5 $*"))
    Salt\_5 \$\*
    """
    return _SPECIAL.sub(r"\\\1", text)


def parse_markdown(text: str) -> list[dict[str, Any]]:
    """
    Blocks of a markdown text.

    Parameters
    ----------
    text : str
        Headings, paragraphs, lists, quotes, code, tables, footnotes, links, emphasis.

    Returns
    -------
    list of dict
        Each with its ``kind``; runs of text are lists of inline dicts under ``body``.

    Raises
    ------
    MarkdownError
        For images, HTML and formulas, which would otherwise be lost on paper.

    Examples
    --------
    >>> parse_markdown("So *it* is.")[0]["body"][1]
    {'kind': 'emph', 'body': [{'kind': 'text', 'text': 'it'}]}
    """
    if _FORMULA.search(re.sub(r"`[^`]*`|\\\$", "", text)):
        raise MarkdownError("formulas are not printed; say it in words, or put it in `code`.")
    tokens, _ = _parser().parse(text)
    return _blocks(_with_notes(tokens))


@cache
def _parser() -> Any:
    import mistune

    return mistune.create_markdown(renderer=None, plugins=["table", "footnotes", "strikethrough"])


def _with_notes(tokens: list[dict]) -> list[dict]:
    """The tokens, each reference to a footnote carrying the tokens of its text."""
    texts = {
        item["attrs"]["key"]: item["children"]
        for token in tokens
        if token["type"] == "footnotes"
        for item in token["children"]
    }
    kept = [token for token in tokens if token["type"] != "footnotes"]
    _fill_notes(kept, texts)
    return kept


def _fill_notes(tokens: list[dict], texts: dict[str, list[dict]]) -> None:
    for token in tokens:
        if token["type"] == "footnote_ref":
            token["children"] = texts[token["raw"]]
        else:
            _fill_notes(token.get("children") or [], texts)


def _blocks(tokens: list[dict]) -> list[dict[str, Any]]:
    made = (_block(token) for token in tokens if token["type"] != "blank_line")
    return [block for block in made if block is not None]


def _block(token: dict) -> dict[str, Any] | None:
    kind = token["type"]
    if kind not in _BLOCKS:
        raise MarkdownError(f"{kind.replace('_', ' ')} is not printed.")
    return _BLOCKS[kind](token)


def _heading(token: dict) -> dict[str, Any]:
    return {"kind": "heading", "level": token["attrs"]["level"], "body": _inlines(token)}


def _paragraph(token: dict) -> dict[str, Any]:
    return {"kind": "paragraph", "body": _inlines(token)}


def _list(token: dict) -> dict[str, Any]:
    items = [_blocks(item["children"]) for item in token["children"]]
    attrs = token["attrs"]
    start = attrs.get("start") or 1
    return {"kind": "list", "ordered": attrs["ordered"], "start": start, "items": items}


def _block_html(token: dict) -> dict[str, Any]:
    if token["raw"].strip() == _PAGE_BREAK:
        return {"kind": "pagebreak"}
    raise MarkdownError(f"HTML is not printed: {token['raw'].strip()[:60]}")


def _table(token: dict) -> dict[str, Any]:
    head, *bodies = token["children"]
    columns = [
        {"header": plain_text(_inlines(cell)), "align": cell["attrs"].get("align") or "left"}
        for cell in head["children"]
    ]
    rows = [[_inlines(cell) for cell in row["children"]] for b in bodies for row in b["children"]]
    return {
        "kind": "table",
        "label": "",
        "caption": "",
        "note": "",
        "columns": columns,
        "rows": rows,
        "marks": None,
        "wide": False,
    }


_BLOCKS: dict[str, Callable[[dict], dict[str, Any] | None]] = {
    "heading": _heading,
    "paragraph": _paragraph,
    "block_text": _paragraph,
    "list": _list,
    "block_quote": lambda token: {"kind": "quote", "blocks": _blocks(token["children"])},
    "block_code": lambda token: {"kind": "code", "text": token["raw"].rstrip("\n")},
    "thematic_break": lambda token: {"kind": "rule"},
    "block_html": _block_html,
    "table": _table,
}


def _inlines(token: dict) -> list[dict[str, Any]]:
    return [_inline(child) for child in token.get("children") or []]


def _inline(token: dict) -> dict[str, Any]:
    kind = token["type"]
    if kind not in _INLINES:
        raise MarkdownError(f"{kind.replace('_', ' ')} is not printed.")
    return _INLINES[kind](token)


def _nested(kind: str) -> Callable[[dict], dict[str, Any]]:
    return lambda token: {"kind": kind, "body": _inlines(token)}


def _text(token: dict) -> dict[str, Any]:
    return {"kind": "text", "text": html.unescape(token["raw"])}


def _link(token: dict) -> dict[str, Any]:
    url, body = token["attrs"]["url"], _inlines(token)
    if url.startswith("#"):
        return {"kind": "ref", "label": url[1:], "body": body}
    return {"kind": "link", "url": url, "body": body}


def _note(token: dict) -> dict[str, Any]:
    blocks = _blocks(token["children"])
    if any(block["kind"] != "paragraph" for block in blocks):
        raise MarkdownError("a footnote holds paragraphs only.")
    return {"kind": "footnote", "body": [part for block in blocks for part in block["body"]]}


_INLINES: dict[str, Callable[[dict], dict[str, Any]]] = {
    "text": _text,
    "softbreak": lambda token: {"kind": "text", "text": " "},
    "linebreak": lambda token: {"kind": "break"},
    "strong": _nested("strong"),
    "emphasis": _nested("emph"),
    "strikethrough": _nested("strike"),
    "codespan": lambda token: {"kind": "code", "text": token["raw"]},
    "link": _link,
    "footnote_ref": _note,
}


def plain_text(body: list[dict[str, Any]]) -> str:
    """
    The letters of a run of text without its dress.

    Parameters
    ----------
    body : list of dict
        Inline dicts.

    Returns
    -------
    str

    Examples
    --------
    >>> plain_text(parse_markdown("So *it* is.")[0]["body"])
    'So it is.'
    """
    return "".join(
        part.get("text", "") or plain_text(part.get("body", []))
        for part in body
        if part["kind"] != "footnote"
    )
