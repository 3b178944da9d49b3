"""Names short enough to stand in a figure; tables and words hold them whole."""

import re
import unicodedata
from collections.abc import Iterable, Mapping

from .direction import without_marks
from .fonts import printable

MOST = 28  # longer names leave an axis too little of the paper
_LINE = 40  # of a claim beside its row
_BROAD = frozenset("MWmw@")
_JOINER = "\u200d"


def shorten(name: str, most: int = MOST) -> str:
    """
    A name fit for a figure, what is too long left out in its middle.

    Names of one maker often differ only at their end, so both ends are kept.

    Parameters
    ----------
    name : str
    most : int
        How many characters may stand, the ellipsis among them; one of East Asia, or a picture,
        takes the room of two.

    Returns
    -------
    str
        Characters that no typeface holds are spelled out; none is cut in two, nor parted from its
        marks.

    Examples
    --------
    >>> shorten("Alder"), shorten("Harbour blend, coarse, second grade", 20)
    ('Alder', 'Harbour bl…ond grade')
    >>> shorten("海" * 12, 20), shorten("ꦱ" * 9)
    ('海海海海海…海海海海', '[U+A9B1]…[U+A9B1]')
    """
    signs = [printable(sign) for sign in signs_of(without_marks(name))]
    if sum(map(_room, signs)) <= most:
        return "".join(signs)
    tail_room = (most - 1) // 2
    head = _leading(signs, most - 1 - tail_room)
    tail = _leading(signs[::-1], tail_room)[::-1]
    return "".join(head).rstrip() + "…" + "".join(tail).lstrip()


def signs_of(text: str) -> list[str]:
    """
    A text in pieces that a reader takes for one sign each: a letter with its marks, a picture.

    Parameters
    ----------
    text : str

    Returns
    -------
    list of str

    Examples
    --------
    >>> [len(sign) for sign in signs_of("e\u0301a👩\u200d🔬🇯🇵🇰🇷")]
    [2, 1, 3, 2, 2]
    """
    signs: list[str] = []
    for char in text:
        if signs and _goes_on(signs[-1], char):
            signs[-1] += char
        else:
            signs.append(char)
    return signs


def _goes_on(sign: str, char: str) -> bool:
    """Whether a character belongs to the sign before it (in the main, Unicode Annex 29)."""
    if unicodedata.category(char) in ("Mn", "Mc", "Me", "Cf") or sign.endswith(_JOINER):
        return True
    if char in "\u0e33\u0eb3":  # am of Thai and Lao, a mark and a vowel in one
        return True
    if "\U0001f3fb" <= char <= "\U0001f3ff":  # the shade of a skin
        return True
    # Two letters of a region make its flag; a virama joins two consonants of India.
    flag = _is_region(char) and len(sign) == 1 and _is_region(sign)
    return flag or (unicodedata.combining(sign[-1]) == 9 and char.isalpha())


def _is_region(char: str) -> bool:
    return "\U0001f1e6" <= char <= "\U0001f1ff"


def _room(sign: str) -> float:
    """Usual letters that take the room of a sign, or of what it is spelled as."""
    if len(sign) > 1 and sign.isascii():
        return len(sign)
    if sign in _BROAD:
        return 1.6
    return 2 if unicodedata.east_asian_width(sign[0]) in "WF" or _is_region(sign[0]) else 1


def _leading(signs: list[str], room: float) -> list[str]:
    kept: list[str] = []
    for sign in signs:
        room -= _room(sign)
        if room < 0:
            break
        kept.append(sign)
    return kept


def short_names(names: Mapping[str, str], most: int = MOST) -> dict[str, str]:
    """
    Each mix as a figure calls it; two that would look alike carry their codes.

    Parameters
    ----------
    names : mapping of str to str
        Names by code.
    most : int
        How many characters a name may have.

    Returns
    -------
    dict of str to str

    Examples
    --------
    >>> short_names({"M01": "Reef blend, batch of May, fine", "M02": "Fir"}, 16)
    {'M01': 'Reef ble…y, fine', 'M02': 'Fir'}
    >>> short_names({"M01": "Reef blend, May, fine", "M02": "Reef blend, July, fine"}, 16)
    {'M01': 'Reef ble…(M01)', 'M02': 'Reef ble…(M02)'}
    """
    short = {mix: shorten(name, most) for mix, name in names.items()}
    alike = [name for name in short.values() if list(short.values()).count(name) > 1]
    return {
        mix: shorten(f"{names[mix]} ({mix})", most) if name in alike else name
        for mix, name in short.items()
    }


def claim_lines(text: str) -> str:
    """
    A claim in one line or two, fit to stand beside its row.

    Parameters
    ----------
    text : str

    Returns
    -------
    str

    Examples
    --------
    >>> claim_lines("Clear within the hour")
    'Clear within the hour'
    """
    return "\n".join(_lines(_breakable(shorten(text, 2 * _LINE - 8))))


def _breakable(text: str) -> list[str]:
    """Words with the space after them, and the signs of scripts that part no words by spaces."""
    pieces: list[str] = []
    for word in re.findall(r"\S+\s*", text):
        signs = signs_of(word)
        alone = sum(map(_room, signs)) > _LINE or any(_room(sign) == 2 for sign in signs)
        pieces += signs if alone else [word]
    return pieces


def _lines(pieces: Iterable[str]) -> list[str]:
    lines = [""]
    for piece in pieces:
        if lines[-1] and sum(map(_room, signs_of(lines[-1] + piece.rstrip()))) > _LINE:
            lines.append("")
        lines[-1] += piece
    return [line.rstrip() for line in lines]
