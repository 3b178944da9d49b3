"""Which characters the sheets can print, and what stands in for the others."""

import unicodedata
from functools import cache
from pathlib import Path

OWN_FONTS = Path(__file__).parents[1] / "report" / "fonts"


def fallback_fonts():
    """Folder of DejaVu Sans, which comes with matplotlib, for letters that the own face lacks."""
    import matplotlib

    return Path(matplotlib.get_data_path()) / "fonts" / "ttf"


def printable(value):
    """Text, or lists and dicts of it, with every character that no face holds spelled out.

    An empty box on a sheet would hide which mix is meant.

    Parameters
    ----------
    value : object
        Nested lists and dicts; what is not text comes back as it is.

    Returns
    -------
    object
        The same shape.

    Examples
    --------
    >>> printable(["Alder ≤ 3 h", "水"])
    ['Alder ≤ 3 h', '[U+6C34]']
    """
    if isinstance(value, dict):
        return {key: printable(part) for key, part in value.items()}
    if isinstance(value, list):
        return [printable(part) for part in value]
    if not isinstance(value, str) or value.isascii():
        return value
    return "".join(c if c.isspace() or ord(c) in _known() else _spelled(c) for c in value)


def _spelled(c):
    # Joiners and direction marks have no shape to lose.
    if unicodedata.category(c) in ("Cf", "Mn"):
        return ""
    if unicodedata.category(c) == "So":
        return f"[{unicodedata.name(c, f'U+{ord(c):04X}').lower()}]"
    return f"[U+{ord(c):04X}]"


@cache
def _known():
    from fontTools.ttLib import TTFont

    known = set()
    for path in (OWN_FONTS / "SourceSans3-Regular.ttf", fallback_fonts() / "DejaVuSans.ttf"):
        with TTFont(path, lazy=True) as font:
            known |= set(font.getBestCmap())
    return frozenset(known)
