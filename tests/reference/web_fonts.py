"""Make the typeface of report.html from the typeface of report.pdf.

The page must be one file that works offline, so that its letters are inside it: a subset, packed.
The licence of the original (SIL Open Font License 1.1) reserves its name for the unchanged files,
so that the subset bears another. Needs fontTools and brotli; run from the checkout:

    python tests/reference/web_fonts.py
"""

from pathlib import Path

from fontTools import subset
from fontTools.ttLib import TTFont

FONTS = Path(__file__).parents[2] / "trialkit" / "report" / "fonts"
FAMILY = "Trialkit Sans"
FACES = {"Regular": 400, "Semibold": 600, "It": 400}
# Latin with its extensions, Greek, Cyrillic, punctuation, arrows, signs of mathematics, shapes.
RANGES = ((0x20, 0x24F), (0x2B0, 0x2FF), (0x370, 0x3FF), (0x400, 0x45F), (0x2000, 0x22FF))


def main():
    """Write one packed subset a face."""
    wanted = [code for low, high in RANGES for code in range(low, high + 1)]
    for face in FACES:
        font = TTFont(FONTS / f"SourceSans3-{face}.ttf", recalcTimestamp=False)
        options = subset.Options()
        options.layout_features = ["kern", "liga", "tnum", "lnum", "mark", "ccmp", "locl"]
        options.hinting = False
        worker = subset.Subsetter(options)
        worker.populate(unicodes=wanted)
        worker.subset(font)
        for record in font["name"].names:
            if record.nameID in (1, 3, 4, 6, 16):
                record.string = f"{FAMILY} {face}".replace(" ", "" if record.nameID == 6 else " ")
        font.flavor = "woff2"
        font.save(FONTS / f"trialkit-sans-{face.lower()}.woff2")


if __name__ == "__main__":
    main()
