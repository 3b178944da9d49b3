"""Typefaces for scripts that the report's own lacks, each read only when a letter needs it."""

from dataclasses import dataclass
from functools import cache
from pathlib import Path

_FOLDER = Path(__file__).parent / "letters"

# Where the letters of each file stand in Unicode 16.0 (Blocks.txt), first and last code point.
_SPANS = """
hebrew 0590-05FF FB1D-FB4F
arabic 0600-06FF 0750-077F 08A0-08FF FB50-FDFF FE70-FEFE
devanagari 0900-097F A8E0-A8FF
bengali 0980-09FF
gurmukhi 0A00-0A7F
gujarati 0A80-0AFF
tamil 0B80-0BFF
telugu 0C00-0C7F
kannada 0C80-0CFF
malayalam 0D00-0D7F
sinhala 0D80-0DFF
thai 0E00-0E7F
lao 0E80-0EFF
myanmar 1000-109F A9E0-A9FF AA60-AA7F
ethiopic 1200-139F 2D80-2DDF AB00-AB2F
khmer 1780-17FF 19E0-19FF
han 1100-11FF 2E80-4DBF 4E00-9FFF AC00-D7FF F900-FAFF FE30-FE4F FF00-FFEF
emoji 23E9-23FA 2600-27BF 2B05-2B55 1F000-1FAFF
"""


@dataclass(frozen=True)
class Letters:
    """
    The typeface of one script.

    Attributes
    ----------
    script : str
        Name of its folder.
    family : str
        Name that documents call it by.
    """

    script: str
    family: str

    @property
    def folder(self) -> Path:
        """Folder that holds its file alone, as the typesetter wants it."""
        return _FOLDER / self.script

    @property
    def file(self) -> Path:
        """The TrueType file."""
        return self.folder / f"trialkit-{self.script}.ttf"


@cache
def letters_of(char: str) -> Letters | None:
    """
    The typeface beside the report's own that holds a character.

    Parameters
    ----------
    char : str
        One character.

    Returns
    -------
    Letters or None

    Examples
    --------
    >>> letters_of("盐").family, letters_of("ملح"[0]).family, letters_of("A")
    ('Trialkit Han', 'Trialkit Arabic', None)
    """
    code = ord(char)
    for letters, spans in _table().items():
        if any(low <= code <= high for low, high in spans):
            return letters if code in characters(letters.file) else None
    return None


def letters_for(text: str) -> list[Letters]:
    """
    The typefaces beside the report's own that a text needs, in one order whatever the text's.

    Parameters
    ----------
    text : str

    Returns
    -------
    list of Letters

    Examples
    --------
    >>> [letters.script for letters in letters_for("Mix 海盐 🧂 ملح")]
    ['arabic', 'han', 'emoji']
    """
    found = {letters_of(char) for char in set(text)}
    return [letters for letters in _table() if letters in found]


@cache
def characters(path: Path) -> frozenset[int]:
    """
    Code points that a font file has a shape for.

    Parameters
    ----------
    path : Path

    Returns
    -------
    frozenset of int
    """
    from fontTools.ttLib import TTFont

    with TTFont(path, lazy=True) as font:
        return frozenset(font.getBestCmap())


@cache
def _table() -> dict[Letters, list[tuple[int, int]]]:
    table = {}
    for line in _SPANS.strip().splitlines():
        script, *spans = line.split()
        ends = [tuple(int(end, 16) for end in span.split("-")) for span in spans]
        table[Letters(script, f"Trialkit {script.capitalize()}")] = ends
    return table
