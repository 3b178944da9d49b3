"""The document as one page for browsers, with all that it needs inside."""

import re
from base64 import b64encode
from functools import cache
from html import escape
from pathlib import Path
from typing import Any

from .canvas import INK, RULE, SHADE, SOFT
from .fonts import FAMILY, font_folder
from .html import block_html, inline_html
from .web_letters import letter_styles

_WEB_FAMILY = "Trialkit Sans"
_FACES = (("regular", 400, "normal"), ("semibold", 600, "normal"), ("it", 400, "italic"))

# Colours of the drawings that follow the reader's choice of light or dark.
_VARIABLES = {
    INK: "var(--ink)",
    SOFT: "var(--soft)",
    RULE: "var(--rule)",
    SHADE: "var(--rule)",
    "#ffffff": "var(--paper)",
    "#000000": "var(--black)",
}


def document_html(document: dict[str, Any]) -> str:
    """
    A document as one HTML page that needs no other file.

    Parameters
    ----------
    document : dict
        What `read_document` returned.

    Returns
    -------
    str
        For any width, light or dark, with or without eyes, with the letters of any script that
        the report can print.
    """
    title = escape(document["title"])
    head = _head(document)
    body = "\n".join(map(block_html, document["blocks"]))
    letters = letter_styles(head + body, _WEB_FAMILY)
    page = (
        '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{title}</title>\n<style>\n{_faces()}{_style()}{letters}</style>\n</head>\n<body>\n"
        '<a class="skip" href="#main">Skip to the evidence</a>\n'
        f"<header>\n{head}</header>\n{_contents(document)}"
        f'<main id="main" tabindex="-1">\n{body}\n</main>\n'
        "<footer><p>This page and report.pdf are made from the same document.</p></footer>\n"
        "</body>\n</html>\n"
    )
    return _colored(page)


def _head(document: dict[str, Any]) -> str:
    question = escape(document["question"])
    lead = f'<p class="question">{question}</p>\n' if question else ""
    cover = block_html(document["cover"]) if document["cover"] else ""
    return f"{lead}<h1><bdi>{escape(document['title'])}</bdi></h1>\n{cover}\n"


def _contents(document: dict[str, Any]) -> str:
    heads = [b for b in document["blocks"] if b["kind"] == "heading" and b["level"] == 2]
    if len(heads) < 3:
        return ""
    lines = "".join(
        f'<li><span class="number">{b["number"]}</span> '
        f'<a href="#section-{b["number"]}">{inline_html(b["body"])}</a></li>'
        for b in heads
    )
    return (
        f'<nav aria-labelledby="contents"><h2 id="contents">Contents</h2><ol>{lines}</ol></nav>\n'
    )


def _colored(page: str) -> str:
    """The drawings without their own style sheet, in colours and letters of the page."""
    page = re.sub(r"<defs>\s*<style[^>]*>.*?</style>\s*</defs>", "", page, flags=re.DOTALL)
    page = page.replace(f"'{FAMILY}'", f"'{_WEB_FAMILY}'")

    def within(match: re.Match) -> str:
        style = match.group(0)
        for color, variable in _VARIABLES.items():
            style = re.sub(color, variable, style, flags=re.IGNORECASE)
        return style

    return re.sub(r'style="[^"]*"', within, page)


@cache
def _style() -> str:
    return Path(__file__).with_name("page.css").read_text(encoding="utf-8")


@cache
def _faces() -> str:
    return "".join(_face(*face) for face in _FACES)


def _face(name: str, weight: int, style: str) -> str:
    data = (font_folder() / f"trialkit-sans-{name}.woff2").read_bytes()
    packed = b64encode(data).decode("ascii")
    return (
        f'@font-face {{ font-family: "{_WEB_FAMILY}"; font-weight: {weight}; font-style: {style}; '
        f'src: url(data:font/woff2;base64,{packed}) format("woff2"); }}\n'
    )
