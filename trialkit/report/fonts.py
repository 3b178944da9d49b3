"""The typefaces of a report: where their files are, and which characters they hold."""

import unicodedata
from functools import cache
from pathlib import Path

from .letters import characters, letters_for, letters_of

FAMILY = "Source Sans 3"
FALLBACK = "DejaVu Sans"

_FOLDER = Path(__file__).parent / "fonts"

# They have no shape but give one to their neighbours, or keep them in order: joiners, direction
# marks, isolates, and the choice between a sign as text or as a picture.
_SHAPELESS = frozenset("\u200c\u200d\u200e\u200f\u2068\u2069\ufe0e\ufe0f")


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
    Folder of the typeface of last resort, for signs that no other one has.

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


def font_families(text: str) -> list[str]:
    """
    Names of the typefaces that a text needs, the report's own first.

    Parameters
    ----------
    text : str

    Returns
    -------
    list of str

    Examples
    --------
    >>> font_families("Alder ≤ 3 h"), font_families("אלון ⇋")
    (['Source Sans 3'], ['Source Sans 3', 'Trialkit Hebrew', 'DejaVu Sans'])
    """
    if is_plain(text):
        return [FAMILY]
    last = [FALLBACK] if needs_fallback(text) else []
    return [FAMILY, *(letters.family for letters in letters_for(text)), *last]


def font_folders(text: str) -> list[Path]:
    """
    Folders of the typefaces that a text needs.

    Parameters
    ----------
    text : str

    Returns
    -------
    list of Path

    Examples
    --------
    >>> [folder.name for folder in font_folders("Alder 海")]
    ['fonts', 'han']
    """
    if is_plain(text):
        return [font_folder()]
    last = [fallback_folder()] if needs_fallback(text) else []
    return [font_folder(), *(letters.folder for letters in letters_for(text)), *last]


def is_plain(text: str) -> bool:
    """
    Whether the report's own typeface alone can show a text, letter by letter.

    Parameters
    ----------
    text : str

    Returns
    -------
    bool
        False also for a letter with a combining mark, which is set as one shape of two.

    Examples
    --------
    >>> is_plain("Żółw ≤ Δ"), is_plain("Z\u0308al"), is_plain("水")
    (True, False, False)
    """
    return all(map(_is_plain, set(text)))


def needs_fallback(text: str) -> bool:
    """
    Whether a text has a character that only the typeface of last resort holds.

    Parameters
    ----------
    text : str

    Returns
    -------
    bool

    Examples
    --------
    >>> needs_fallback("Alder ≤ 3 h"), needs_fallback("אלון"), needs_fallback("⇋")
    (False, False, True)
    """
    return any(map(_is_last, set(text)))


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
    >>> printable("Fir 🌲 水"), printable("ꦱ"), printable("Ωmega")
    ('Fir 🌲 水', '[U+A9B1]', 'Ωmega')
    """
    lost = {ord(char): _spelled(char) for char in set(text) if not _known(char)}
    return text.translate(lost) if lost else text


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
    >>> unprintable("ꦱ and 水 and ꦏ and ꦱ")
    ['ꦱ', 'ꦏ']
    """
    lost = {char for char in set(text) if not _known(char) and _spelled(char)}
    return sorted(lost, key=text.index)


@cache
def _is_plain(char: str) -> bool:
    # Latin-1 is wholly in the first typeface: most texts need no look at a font file.
    if " " <= char <= "~" or "\xa0" <= char <= "\xff" or char == "\n":
        return True
    return ord(char) in _own() and unicodedata.category(char) not in ("Mn", "Me", "Mc", "Cf")


def _is_last(char: str) -> bool:
    return not (_is_plain(char) or char in _SHAPELESS or ord(char) in _own() or letters_of(char))


@cache
def _known(char: str) -> bool:
    return char.isspace() or not _is_last(char) or ord(char) in _fallback()


def _spelled(char: str) -> str:
    # Marks and controls without a typeface have no shape to lose.
    if unicodedata.category(char) in ("Cf", "Mn"):
        return ""
    if unicodedata.category(char) in ("So", "Sk"):
        return f"[{unicodedata.name(char, f'U+{ord(char):04X}').lower()}]"
    return f"[U+{ord(char):04X}]"


def _own() -> frozenset[int]:
    return characters(_FOLDER / "SourceSans3-Regular.ttf")


def _fallback() -> frozenset[int]:
    return characters(fallback_folder() / "DejaVuSans.ttf")
