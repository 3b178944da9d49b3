"""Names short enough to stand in a figure; tables and words hold them whole."""

import textwrap
from collections.abc import Mapping

from .fonts import printable

MOST = 28  # longer names leave an axis too little of the paper
_LINE = 40  # of a claim beside its row


def shorten(name: str, most: int = MOST) -> str:
    """
    A name fit for a figure, what is too long left out in its middle.

    Names of one maker often differ only at their end, so both ends are kept.

    Parameters
    ----------
    name : str
    most : int
        How many characters may stand, the ellipsis among them.

    Returns
    -------
    str
        Characters that no typeface holds are spelled out, and never cut in two.

    Examples
    --------
    >>> shorten("Alder"), shorten("Harbour blend, coarse, second grade", 20)
    ('Alder', 'Harbour bl…ond grade')
    >>> shorten("水" * 9)
    '[U+6C34]…[U+6C34]'
    """
    signs = [printable(sign) for sign in name]
    if sum(map(len, signs)) <= most:
        return "".join(signs)
    tail_room = (most - 1) // 2
    head = _leading(signs, most - 1 - tail_room)
    tail = _leading(signs[::-1], tail_room)[::-1]
    return "".join(head).rstrip() + "…" + "".join(tail).lstrip()


def _leading(signs: list[str], room: int) -> list[str]:
    kept: list[str] = []
    for sign in signs:
        room -= len(sign)
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
    {'M01': 'Reef ble…e (M01)', 'M02': 'Reef ble…e (M02)'}
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
    return textwrap.fill(shorten(text, 2 * _LINE - 8), _LINE)
