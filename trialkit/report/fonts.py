"""The typefaces of a report: where their files are, and which characters they hold."""

import unicodedata
from functools import cache
from pathlib import Path

FAMILY = "Source Sans 3"
FALLBACK = "DejaVu Sans"

_FOLDER = Path(__file__).parent / "fonts"


def font_folder() -> Path:
    """
    Folder with the four files of the report's own typeface.

    Returns
    -------
    Path

    Examples
    --------
    >>> sorted(path.stem for path in font_folder().glob("*.ttf"))[:2]
    ['SourceSans3-Bold', 'SourceSans3-It']
    """
    return _FOLDER


def fallback_folder() -> Path:
    """
    Folder of the typeface that stands in for letters that the first one lacks.

    It comes with matplotlib, so every installation holds the same files.

    Returns
    -------
    Path

    Examples
    --------
    >>> (fallback_folder() / "DejaVuSans.ttf").exists()
    True
    """
    import matplotlib

    return Path(matplotlib.get_data_path()) / "fonts" / "ttf"


def needs_fallback(text: str) -> bool:
    """
    Whether the report's own typeface lacks a character of a text.

    Parameters
    ----------
    text : str

    Returns
    -------
    bool

    Examples
    --------
    >>> needs_fallback("Alder ≤ 3 h"), needs_fallback("אלון")
    (False, True)
    """
    return not _plain(text) and any(ord(char) not in _own() for char in text)


def printable(text: str) -> str:
    """
    Text in which each character that no typeface of the report holds is spelled out.

    An empty box would hide which mix is meant. Pictures get their Unicode name,
    other characters their code point.

    Parameters
    ----------
    text : str

    Returns
    -------
    str

    Examples
    --------
    >>> printable("Fir 🌲"), printable("水"), printable("Ωmega")
    ('Fir [evergreen tree]', '[U+6C34]', 'Ωmega')
    """
    if _plain(text):
        return text
    return "".join(char if _known(char) else _spelled(char) for char in text)


def unprintable(text: str) -> list[str]:
    """
    Characters of a text that no typeface of the report holds, in order, once each.

    Parameters
    ----------
    text : str

    Returns
    -------
    list of str

    Examples
    --------
    >>> unprintable("水 and 木 and 水")
    ['水', '木']
    """
    if _plain(text):
        return []
    return [char for char in dict.fromkeys(text) if not _known(char) and _spelled(char)]


def _plain(text: str) -> bool:
    # Latin-1 is wholly in the first typeface: most texts need no look at a font file.
    return all(" " <= char <= "~" or "\xa0" <= char <= "\xff" or char == "\n" for char in text)


def _known(char: str) -> bool:
    return char.isspace() or ord(char) in _own() or ord(char) in _fallback()


def _spelled(char: str) -> str:
    # Joiners, direction marks and variation selectors have no shape to lose.
    if unicodedata.category(char) in ("Cf", "Mn"):
        return ""
    if unicodedata.category(char) in ("So", "Sk"):
        return f"[{unicodedata.name(char, f'U+{ord(char):04X}').lower()}]"
    return f"[U+{ord(char):04X}]"


@cache
def _own() -> frozenset[int]:
    return _characters(_FOLDER / "SourceSans3-Regular.ttf")


@cache
def _fallback() -> frozenset[int]:
    return _characters(fallback_folder() / "DejaVuSans.ttf")


def _characters(path: Path) -> frozenset[int]:
    from fontTools.ttLib import TTFont

    with TTFont(path, lazy=True) as font:
        return frozenset(font.getBestCmap())
