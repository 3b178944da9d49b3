"""A document as files that people read: report.pdf, and report.html beside it."""

import json
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from .document import ReportError, read_document
from .fonts import font_families, font_folders, printable
from .labels import with_own_labels
from .missing import with_missing_note

__all__ = ["ReportError", "render_report"]

PAPERS = ("a4", "us-letter")
# Tagged for readers who listen, kept whole for archives.
STANDARDS = ("ua-1", "a-2a")


def render_report(
    notebook: str | Path, out: str | Path, *, paper: str = "a4", html: bool = False
) -> list[Path]:
    """
    The printed forms of an executed notebook.

    The same notebook gives the same bytes: no date, no path, no font of this machine enters.

    Parameters
    ----------
    notebook : str or Path
        An .ipynb file whose cells have run.
    out : str or Path
        An existing folder.
    paper : {'a4', 'us-letter'}
    html : bool
        Whether to write the page for browsers as well.

    Returns
    -------
    list of Path
        report.pdf and, unless left out, report.html.

    Raises
    ------
    ReportError
        For an output or markdown that can't be printed, with the number of its cell.
    ValueError
        For an unknown paper.
    """
    if paper not in PAPERS:
        raise ValueError(f"paper must be one of {', '.join(PAPERS)}; got {paper!r}.")
    document = read_document(notebook)
    files = [Path(out) / "report.pdf"]
    files[0].write_bytes(document_pdf(document, paper=paper))
    if html:
        from .page import document_html

        files.append(Path(out) / "report.html")
        files[1].write_text(document_html(document), encoding="utf-8", newline="\n")
    return files


def document_pdf(document: dict[str, Any], *, paper: str = "a4") -> bytes:
    """
    A document as a tagged PDF (PDF/UA-1, PDF/A-2a) with its fonts inside.

    Parameters
    ----------
    document : dict
        What `read_document` returned.
    paper : {'a4', 'us-letter'}

    Returns
    -------
    bytes

    Raises
    ------
    ReportError
        If the typesetter refuses it, with what it said.
    """
    import typst

    document = with_own_labels(with_missing_note(document))
    text = printable(json.dumps(document, ensure_ascii=False))
    inputs = {"document": text, "paper": paper, "faces": json.dumps(font_families(text))}
    template = Path(__file__).with_name("template.typ")
    try:
        return typst.compile(
            str(template),
            root=str(template.parent),
            font_paths=[str(folder) for folder in font_folders(text)],
            ignore_system_fonts=True,
            sys_inputs=inputs,
            pdf_standards=list(STANDARDS),
            timestamp=_timestamp(document["date"]),
        )
    except typst.TypstError as error:
        raise ReportError(f"the typesetter refused the report: {error}") from error


def _timestamp(date: str) -> int:
    """Seconds of the day that the PDF bears: the trial's, since today's would differ each run."""
    day = datetime.fromisoformat(date[:10]) if date else datetime(2000, 1, 1)
    return int(day.replace(tzinfo=UTC).timestamp())
