"""The one kind of character without a shape that belongs into a name."""

import re

# Between two characters beyond Latin, Greek and Cyrillic: Persian parts a suffix with the first,
# Sinhala and pictures of several signs join with the second (Unicode Standard 16.0, chapter 23.2).
_JOINERS = re.compile("(?<=[^\\x00-\\u052f])[\\u200c\\u200d](?=[^\\x00-\\u052f])")


def without_joiners(text: str) -> str:
    r"""Text without the joiners that its letters want; one that they don't want stays.

    Parameters
    ----------
    text : str

    Returns
    -------
    str

    Examples
    --------
    >>> len("نمک\u200cدریا"), len(without_joiners("نمک\u200cدریا"))
    (8, 7)
    >>> without_joiners("Al\u200cder") == "Al\u200cder"
    True
    """
    return text if text.isascii() else _JOINERS.sub("", text)
