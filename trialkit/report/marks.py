"""The colour with the marker shape of each mix, the same in every figure of a report."""

from collections.abc import Sequence
from dataclasses import dataclass

# Okabe & Ito 2008, "Color universal design", without the yellow, which is too faint on white.
COLORS = ("#0072B2", "#D55E00", "#009E73", "#CC79A7", "#E69F00", "#56B4E9", "#000000")

# Names as matplotlib has them, with the names that template.typ and the HTML page draw.
SHAPES = {
    "o": "circle",
    "s": "square",
    "^": "triangle",
    "D": "diamond",
    "v": "triangle-down",
    "P": "plus",
    "X": "cross",
    "p": "pentagon",
}


@dataclass(frozen=True)
class Mark:
    """
    How one mix looks.

    Attributes
    ----------
    color : str
        Hexadecimal sRGB.
    marker : str
        The marker's name in matplotlib.
    """

    color: str
    marker: str

    @property
    def shape(self) -> str:
        """The marker's name in words."""
        return SHAPES[self.marker]

    def to_json(self) -> dict[str, str]:
        """Colour with shape, as a block holds them."""
        return {"color": self.color, "shape": self.shape}


def mix_marks(mixes: Sequence[str]) -> dict[str, Mark]:
    """
    Colour with marker for each mix code, by the order of the codes.

    Seven colours meet eight shapes, so that 56 mixes differ in at least one of the two.

    Parameters
    ----------
    mixes : sequence of str
        Codes, in the order of the trial's list of mixes.

    Returns
    -------
    dict of str to Mark

    Examples
    --------
    >>> marks = mix_marks([f"M{number:02}" for number in range(1, 57)])
    >>> marks["M01"]
    Mark(color='#0072B2', marker='o')
    >>> len(set(marks.values()))
    56
    """
    shapes = tuple(SHAPES)
    # 7 and 8 share no factor: a pair comes again only after 56 mixes.
    return {
        mix: Mark(COLORS[i % len(COLORS)], shapes[i % len(shapes)]) for i, mix in enumerate(mixes)
    }
