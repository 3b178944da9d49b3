"""Make the pictures of the README and of docs/: python -m tests.reference.pictures

Every picture is made by the kit, of the demo trial or of the worked example, whose page is run for
it from top to bottom. Needs pdftoppm (poppler-utils) for the page of a report.
"""

import io
import json
import subprocess
import tempfile
from pathlib import Path

import typst
from PIL import Image

import trialkit as tk
from tests.worked import run_document
from trialkit.publish import publish_trial
from trialkit.report.fonts import font_families, font_folders

ROOT = Path(__file__).parents[2]
DOCS, DEMO = ROOT / "docs", ROOT / "data" / "demo"
# The text width of a page is 6.5 in; twice that resolution suits screens of today.
PPI = 110
PAGE = """#set page(width: auto, height: auto, margin: 5pt, fill: white)
#set text(font: json(bytes(sys.inputs.faces)))
#image("drawing.svg")
"""


def save_drawing(svg, path):
    """A drawing of the kit as a small PNG, set in the kit's own letters."""
    with tempfile.TemporaryDirectory() as made:
        Path(made, "drawing.svg").write_text(svg, encoding="utf-8")
        Path(made, "page.typ").write_text(PAGE, encoding="utf-8")
        png = typst.compile(
            str(Path(made, "page.typ")),
            format="png",
            ppi=PPI,
            font_paths=[str(folder) for folder in font_folders(svg)],
            ignore_system_fonts=True,
            sys_inputs={"faces": json.dumps(font_families(svg))},
        )
    save_small(Image.open(io.BytesIO(png)), path)


def save_page(pdf, path, number=1, ppi=80):
    """A page of a report as a small PNG."""
    command = ["pdftoppm", "-r", str(ppi), "-f", str(number), "-l", str(number), "-png", str(pdf)]
    png = subprocess.run(command, check=True, capture_output=True).stdout
    save_small(Image.open(io.BytesIO(png)), path)


def save_small(image, path):
    """Flat ink in 256 colours, chosen so that no mix changes its own."""
    few = {"method": Image.Quantize.FASTOCTREE, "dither": Image.Dither.NONE}
    image.convert("RGB").quantize(256, **few).save(path, optimize=True)
    print(f"{path.relative_to(ROOT)}: {path.stat().st_size / 1000:.0f} kB, {image.size}")


def of_the_demo(made):
    """The README's pictures."""
    out = publish_trial(DEMO / "harbour", Path(made, "harbour"))
    results = tk.read_results(out)
    save_page(out / "report.pdf", DEMO / "report-page.png")
    save_drawing(tk.vessel_figure(results).svg, DOCS / "demo-vessels.png")
    save_drawing(tk.curve_figure(results).svg, DOCS / "demo-curves.png")
    save_drawing(tk.forest_figure(results).svg, DOCS / "demo-times.png")


def of_the_worked_example(made):
    """The pictures of docs/worked-example.md."""
    assert all(step.holds for step in run_document(DOCS / "worked-example.md", made))
    results = tk.read_results(Path(made, "shed", "out"))
    save_drawing(Path(made, "shed", "bench.svg").read_text(encoding="utf-8"), DOCS / "bench.png")
    save_drawing(tk.vessel_figure(results).svg, DOCS / "vessels.png")
    save_drawing(tk.claims_figure(results).svg, DOCS / "claims.png")
    save_drawing(tk.ratio_figure(results).svg, DOCS / "ratios.png")
    save_drawing(tk.pooled_figure(tk.read_results(Path(made, "both"))).svg, DOCS / "pooled.png")


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as made:
        of_the_demo(made)
    with tempfile.TemporaryDirectory() as made:
        of_the_worked_example(made)
