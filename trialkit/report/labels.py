"""Labels of drawings that the typesetter sets itself, since it reads them wrongly inside an SVG."""

import re
from html import unescape
from typing import Any

from .fonts import is_plain

_TEXT = re.compile(r"<text\s([^>]*)>([^<]*)</text>\s*")
_PAIR = re.compile(r'([\w-]+)="([^"]*)"')


def with_own_labels(document: dict[str, Any]) -> dict[str, Any]:
    """
    A document whose drawings leave out what their own reader would lose.

    A joined or combined letter takes several shapes. The typesetter's reader of SVG keeps the
    letter with the first of them only, and then refuses the page, since PDF/A and PDF/UA want a
    letter behind every shape. Set as text over the drawing, the same label is right.

    Parameters
    ----------
    document : dict

    Returns
    -------
    dict
        Figures with such labels have ``labels`` beside their ``svg``, and their ``size``.
    """
    blocks = [_apart(block) if block["kind"] == "figure" else block for block in document["blocks"]]
    return {**document, "blocks": blocks}


def _apart(block: dict[str, Any]) -> dict[str, Any]:
    if is_plain(block["svg"]):
        return block
    labels: list[dict[str, Any]] = []

    def take(found: re.Match) -> str:
        words = unescape(found[2])
        if is_plain(words):
            return found[0]
        labels.append(_label(dict(_PAIR.findall(found[1])), words))
        return ""

    svg = _TEXT.sub(take, block["svg"])
    wide = float(re.search(r'viewBox="[\d.]+ [\d.]+ ([\d.]+)', svg)[1])
    return {**block, "svg": svg, "labels": labels, "width": wide}


def _label(given: dict[str, str], words: str) -> dict[str, Any]:
    """Where a text stands and how it looks, of what it says of itself in either way of saying."""
    style = dict(part.split(": ", 1) for part in given.get("style", "").split("; ") if part)
    look = {**given, **style}
    moved = re.search(r"translate\(([-\d.]+)[ ,]([-\d.]+)\)", given.get("transform", ""))
    turned = re.search(r"rotate\(([-\d.]+)", given.get("transform", ""))
    x, y = moved.groups() if moved else (look["x"], look["y"])
    return {
        "text": words,
        "x": float(x),
        "y": float(y),
        "turn": float(turned[1]) if turned else 0.0,
        "size": float(look["font-size"].removesuffix("px")),
        "weight": int(look.get("font-weight", 400)),
        "fill": look.get("fill", "#000000"),
        "anchor": look.get("text-anchor", "start"),
    }
