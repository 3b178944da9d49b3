"""Make the typefaces of `trialkit/report/letters` from what their makers publish.

Each is a subset: the letters of one script, without Latin (the report's own typeface has it) and
without hints for coarse screens, with the capitals' height of the report's own typeface, by which
lines are spaced, under a name of its own, since "Noto" and "Droid" are trademarks
of their maker. Copyright, trademark and licence stay in the file. Three packages hold the
originals, each of which is checked by its digest before use:

- Debian package fonts-noto-core 20201225-1 (SIL Open Font License 1.1)
- Debian package fonts-droid-fallback 1:6.0.1r16-1.1 (Apache License 2.0)
- npm package @fontsource/noto-emoji 5.3.2 (SIL Open Font License 1.1)

Unpack them side by side in a folder. Needs fontTools and brotli; run from the checkout:

    python tests/reference/letter_fonts.py FOLDER
"""

import hashlib
import sys
from pathlib import Path

from fontTools import subset
from fontTools.ttLib import TTFont

REPORT = Path(__file__).parents[2] / "trialkit" / "report"
LETTERS, OWN = REPORT / "letters", REPORT / "fonts" / "SourceSans3-Regular.ttf"
# Script, original file, its version, its digest (SHA-256).
ORIGINALS = Path(__file__).with_suffix(".txt")


def main(folder):
    """Write one subset a script."""
    for line in ORIGINALS.read_text(encoding="utf-8").splitlines()[1:]:
        script, name, version, digest = line.split()
        (path,) = Path(folder).rglob(name)
        found = hashlib.sha256(path.read_bytes()).hexdigest()
        if found != digest:
            raise SystemExit(f"{name}: digest {found}, not {digest}")
        font = subset_of(path, keep_rules=script != "han")
        level(font)
        rename(font, script, f"subset of {name} {version} without hints")
        out = LETTERS / script / f"trialkit-{script}.ttf"
        out.parent.mkdir(exist_ok=True)
        font.save(out)


def subset_of(path, *, keep_rules):
    """The letters beyond ASCII; with the rules that join and place them where a script has such."""
    font = TTFont(path, recalcTimestamp=False)
    options = subset.Options()
    options.hinting = False
    options.layout_features = ["*"] if keep_rules else []
    options.name_IDs = ["*"]
    options.drop_tables += ["DSIG", "STAT", "vhea", "vmtx"]
    options.notdef_outline = True
    worker = subset.Subsetter(options)
    worker.populate(unicodes=[code for code in font.getBestCmap() if code > 0x7F or code == 0x20])
    worker.subset(font)
    font.flavor = None
    return font


def level(font):
    """Let lines stand as far apart as those of the report's own typeface alone."""
    with TTFont(OWN) as own:
        share = own["OS/2"].sCapHeight / own["head"].unitsPerEm
    # Lines are spaced by the height of capitals, which some originals do not tell.
    font["OS/2"].version = max(font["OS/2"].version, 4)
    font["OS/2"].sCapHeight = round(share * font["head"].unitsPerEm)
    for name in ("sxHeight", "usDefaultChar", "usBreakChar", "usMaxContext"):
        vars(font["OS/2"]).setdefault(name, 0)


def rename(font, script, made):
    """Give the subset a name of its own, and say what was done."""
    name = f"Trialkit {script.capitalize()}"
    names = font["name"]
    for number in (2, 3, 5, 6, 8, 9, 10, 11, 12, 16, 17, 18, 19, 20, 21, 22, 25):
        names.removeNames(nameID=number)
    version = f"Version {font['head'].fontRevision:.3f}"
    full = name.replace(" ", "")
    texts = {1: name, 2: "Regular", 3: full, 4: name, 5: version, 6: full, 10: made}
    if not names.getDebugName(13):  # files for the web leave it out
        texts[13] = "Licensed under the SIL Open Font License, Version 1.1"
    for number, text in texts.items():
        names.removeNames(nameID=number)
        names.setName(text, number, 3, 1, 0x409)


if __name__ == "__main__":
    main(sys.argv[1])
