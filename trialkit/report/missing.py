"""The note on characters that no typeface of a report holds."""

import json
import unicodedata
from typing import Any

from .fonts import unprintable


def with_missing_note(document: dict[str, Any]) -> dict[str, Any]:
    """
    The document, with a last paragraph that lists what could only be printed by name.

    Parameters
    ----------
    document : dict

    Returns
    -------
    dict
        The same document when every character can be printed.
    """
    lost = unprintable(json.dumps(document, ensure_ascii=False))
    if not lost:
        return document
    named = ", ".join(f"U+{ord(c):04X} {unicodedata.name(c, '').lower()}".strip() for c in lost)
    words = (
        "The typefaces of this report lack some characters of the trial folder; they are printed "
        f"in square brackets by name or code point: {named}."
    )
    note = {"kind": "paragraph", "body": [{"kind": "text", "text": words}]}
    return {**document, "blocks": [*document["blocks"], note]}
