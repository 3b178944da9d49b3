"""Names that read from right to left, kept whole within English sentences."""

import unicodedata

_FIRST_STRONG, _POP = "\u2068", "\u2069"
# Marks that set a direction (Unicode Annex 9, table 4): a name may not turn its neighbours.
_MARKS = dict.fromkeys([0x061C, 0x200E, 0x200F, *range(0x202A, 0x202F), *range(0x2066, 0x206A)])


def isolated(name: str) -> str:
    r"""
    A name that no neighbour can reorder, by marks that have no shape.

    Without them "ملح: 3 h" would show the number on the wrong side, and two such names in a list
    would change places.

    Parameters
    ----------
    name : str

    Returns
    -------
    str
        The name itself where all of it reads from left to right.

    Examples
    --------
    >>> isolated("Alder"), isolated("אב")
    ('Alder', '\u2068אב\u2069')
    """
    if name.isascii():
        return name
    plain = without_marks(name)
    turns = any(unicodedata.bidirectional(char) in ("R", "AL") for char in plain)
    return f"{_FIRST_STRONG}{plain}{_POP}" if turns else plain


def without_marks(text: str) -> str:
    """
    A text without the marks that set a direction.

    Parameters
    ----------
    text : str

    Returns
    -------
    str

    Examples
    --------
    >>> without_marks(isolated("אב")) == "אב"
    True
    """
    return text if text.isascii() else text.translate(_MARKS)
