"""The typefaces that each text of a figure is measured with."""

import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from typing import Any

from .fonts import FALLBACK, FAMILY, is_plain
from .letters import letters_for


@contextmanager
def lettered(figure: Any) -> Iterator[None]:
    """
    Give every text of a figure the typefaces that its letters need, while it is drawn.

    Most texts need none beside the figure's own: a font file is read when a letter asks for it.

    Parameters
    ----------
    figure : matplotlib.figure.Figure

    Yields
    ------
    None
    """
    from matplotlib.text import Text

    for text in figure.findobj(Text):
        words = text.get_text()
        if not is_plain(words):
            found = letters_for(words)
            for letters in found:
                register(letters.file)
            text.set_fontfamily([FAMILY, *(letters.family for letters in found), FALLBACK])
    with warnings.catch_warnings():
        # Joiners have no shape of their own, which is told of as missing; `printable` has spelled
        # out what is.
        warnings.filterwarnings("ignore", "Glyph .* missing from font")
        yield


@cache
def register(file: Path) -> None:
    """
    Make the figures know a font file.

    Parameters
    ----------
    file : Path
    """
    from matplotlib import font_manager

    font_manager.fontManager.addfont(file)
