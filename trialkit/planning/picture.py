"""A drawing that notebooks show and the report prints."""

from dataclasses import dataclass
from xml.sax.saxutils import escape

_MIME = "application/vnd.trialkit.block+json"
FONT = "font-family=\"'Source Sans 3', sans-serif\""


@dataclass(frozen=True)
class Picture:
    """An SVG with the words that belong to it.

    Parameters
    ----------
    label : str
        Name for cross-references.
    caption : str
        What the reader should see in it.
    alt : str
        The same for those who can't see it.
    svg : str
        The drawing.
    """

    label: str
    caption: str
    alt: str
    svg: str

    def _repr_mimebundle_(self, include=None, exclude=None):
        block = {
            "kind": "figure",
            "label": self.label,
            "caption": self.caption,
            "alt": self.alt,
            "svg": self.svg,
        }
        return {"image/svg+xml": self.svg, "text/plain": self.alt, _MIME: block}


def svg_document(width, height, title, parts):
    """Shapes as one SVG, the title first, as screen readers want it."""
    return "\n".join(
        [
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:g} {height:g}" '
            f'width="{width:g}" height="{height:g}" role="img">',
            f"<title>{escape(title)}</title>",
            *parts,
            "</svg>\n",
        ]
    )


def svg_text(x, y, words, *, size=12, anchor="middle", extra=""):
    """Words at a point of the drawing."""
    return (
        f'<text x="{x:g}" y="{y:g}" {FONT} font-size="{size:g}" text-anchor="{anchor}" '
        f'fill="#1a1a1a"{extra}>{escape(str(words))}</text>'
    )
