"""Which characters the sheets can print, and what stands in for the others."""

import unicodedata
from functools import cache
from pathlib import Path

_REPORT = Path(__file__).parents[1] / "report"
_OWN = _REPORT / "fonts" / "SourceSans3-Regular.ttf"


def faces(text):
    """The faces that a text needs: names, the own one first, with the folders of their files.

    Parameters
    ----------
    text : str

    Returns
    -------
    tuple of list

    Examples
    --------
    >>> faces("Alder ≤ 3 h")[0], faces("水")[0]
    (['Source Sans 3', 'DejaVu Sans'], ['Source Sans 3', 'Trialkit Han', 'DejaVu Sans'])
    """
    lacking = frozenset(map(ord, text)) - _characters(_OWN)
    # Most sheets lack nothing: no further file is read.
    files = [file for file in _letter_files() if lacking & _characters(file)] if lacking else []
    names = [f"Trialkit {file.parent.name.capitalize()}" for file in files]
    folders = [_OWN.parent, *(file.parent for file in files), _fallback().parent]
    return ["Source Sans 3", *names, "DejaVu Sans"], folders


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
    >>> printable(["Alder ≤ 3 h", "水", "ꦱ"])
    ['Alder ≤ 3 h', '水', '[U+A9B1]']
    """
    if isinstance(value, dict):
        return {key: printable(part) for key, part in value.items()}
    if isinstance(value, list):
        return [printable(part) for part in value]
    if not isinstance(value, str) or value.isascii():
        return value
    return "".join(c if c.isspace() or _known(ord(c)) else _spelled(c) for c in value)


def _spelled(c):
    if c in "\u200c\u200d\ufe0e\ufe0f":
        return c  # a joiner of letters, a choice between text and picture
    # Direction marks have no shape to lose.
    if unicodedata.category(c) in ("Cf", "Mn"):
        return ""
    if unicodedata.category(c) == "So":
        return f"[{unicodedata.name(c, f'U+{ord(c):04X}').lower()}]"
    return f"[U+{ord(c):04X}]"


@cache
def _known(code):
    if code in _characters(_OWN) or code in _characters(_fallback()):
        return True
    return any(code in _characters(file) for file in _letter_files())


@cache
def _letter_files():
    return sorted((_REPORT / "letters").glob("*/*.ttf"))


@cache
def _fallback():
    """DejaVu Sans, which comes with matplotlib, for signs that no other face has."""
    import matplotlib

    return Path(matplotlib.get_data_path()) / "fonts" / "ttf" / "DejaVuSans.ttf"


@cache
def _characters(file):
    from fontTools.ttLib import TTFont

    with TTFont(file, lazy=True) as font:
        return frozenset(font.getBestCmap())
