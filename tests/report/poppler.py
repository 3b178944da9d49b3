"""What a reader copies from a PDF."""

import subprocess
from shutil import which

import pytest


def pdf_text(pdf):
    """The text of a PDF as Poppler reads it, without line breaks and blanks."""
    if not which("pdftotext"):
        pytest.skip("pdftotext of Poppler is not installed")
    command = ["pdftotext", "-raw", "-", "-"]
    read = subprocess.run(command, input=pdf, capture_output=True, check=True)
    return "".join(read.stdout.decode("utf-8").split())
