"""The letters of a page that its own typeface lacks, as small typefaces inside the page."""

import io
from base64 import b64encode

from .letters import Letters, letters_for


def letter_styles(text: str, family: str) -> str:
    """
    Style sheet with the letters that a page uses of each script beyond its own typeface.

    A reader's machine need not have them, and no page may fetch them. A few kilobytes a script.

    Parameters
    ----------
    text : str
        The page.
    family : str
        The typeface of the page.

    Returns
    -------
    str
        Empty where the page's own typeface is enough.
    """
    found = letters_for(text)
    if not found:
        return ""
    families = ", ".join(f'"{name}"' for name in (family, *(letters.family for letters in found)))
    faces = "".join(_face(letters, text) for letters in found)
    return f"{faces}body {{ font-family: {families}, system-ui, sans-serif; }}\n"


def _face(letters: Letters, text: str) -> str:
    packed = b64encode(_part(letters, text)).decode("ascii")
    return (
        f'@font-face {{ font-family: "{letters.family}"; '
        f'src: url(data:font/ttf;base64,{packed}) format("truetype"); }}\n'
    )


def _part(letters: Letters, text: str) -> bytes:
    """The font file with the shapes that the text can need."""
    from fontTools import subset
    from fontTools.ttLib import TTFont

    with TTFont(letters.file, lazy=True, recalcTimestamp=False) as font:
        options = subset.Options(layout_features=["*"], name_IDs=[0, 1, 2, 13], notdef_outline=True)
        worker = subset.Subsetter(options)
        worker.populate(unicodes=set(map(ord, text)))
        worker.subset(font)
        file = io.BytesIO()
        font.save(file)
    return file.getvalue()
