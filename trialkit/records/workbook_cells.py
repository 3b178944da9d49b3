"""What stands in the cells of a workbook, as the texts that a person would have typed."""

from __future__ import annotations

import io
import math
import re
import warnings
import zipfile
from datetime import date, datetime, time, timedelta
from typing import TYPE_CHECKING

import numpy as np

from .numbers import tidy
from .problems import Fault, Kept, Problem, file_problem, show

if TYPE_CHECKING:
    from openpyxl.cell.cell import Cell

MAX_CELLS = 500_000
_MAX_ENTRIES = 2000
# A comma after the last digit of a number's format shows thousands, two of them millions.
_SCALED = re.compile(r"[0#?],+(?![0#?,])")
_WORDS_OF_FORMAT = re.compile(r'"[^"]*"|\\.|\[[^\]]*\]')
_TYPE_AGAIN = "Type the reading itself."


def open_workbook(file: str, data: bytes, max_mb: float) -> tuple:
    """A workbook twice, with its formulas and with their last results, or why it is not opened."""
    # Imported here: most trials bring readings.csv, and do not wait for the workbook's reader.
    import openpyxl

    problem = _unsafe(file, data, max_mb)
    if problem:
        return None, None, problem
    try:
        with warnings.catch_warnings():
            # What the reader says that it leaves out (lists to choose from, names of areas, colours
            # by rule) holds no readings, and its words mean nothing to who typed them.
            warnings.simplefilter("ignore", UserWarning)
            formulas = openpyxl.load_workbook(io.BytesIO(data), data_only=False)
            values = openpyxl.load_workbook(io.BytesIO(data), data_only=True)
    except Exception as error:  # openpyxl raises many kinds for damaged files
        message = f"the workbook cannot be read ({type(error).__name__})"
        fix = "Save it again as .xlsx in the spreadsheet."
        return None, None, file_problem(file, message, fix)
    return formulas, values, None


def _unsafe(file: str, data: bytes, max_mb: float) -> Problem | None:
    """Why a workbook is not opened: no archive, encrypted, or too large unpacked."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            entries = archive.infolist()
            total = sum(entry.file_size for entry in entries) / 1e6
            if len(entries) > _MAX_ENTRIES:
                message = f"the workbook packs {len(entries)} files, which no entry workbook does"
                return file_problem(file, message, "Save it again as .xlsx in the spreadsheet.")
            if total > max_mb:
                message = (
                    f"the workbook unpacks to {total:.0f} MB, above the limit of {max_mb:g} MB"
                )
                fix = f"If that size is meant, allow it with --max-mb {math.ceil(total)}."
                return file_problem(file, message, fix)
            # Sizes in the directory may lie: unpack within the limit before anything parses it.
            left = max_mb * 1e6
            for entry in entries:
                with archive.open(entry) as stream:
                    while chunk := stream.read(1 << 20):
                        left -= len(chunk)
                        if left < 0 or b"<!DOCTYPE" in chunk or b"<!ENTITY" in chunk:
                            message = "the workbook holds more than an entry workbook may"
                            return file_problem(file, message, "Save it again as .xlsx.")
    except (zipfile.BadZipFile, NotImplementedError, RuntimeError, EOFError, OSError, ValueError):
        message = "this is not an .xlsx workbook, or it is damaged or locked by a password"
        return file_problem(file, message, "Save it again as .xlsx without a password.")
    except Exception as error:  # zlib.error and its like have no common class
        message = f"the workbook is damaged ({type(error).__name__})"
        return file_problem(file, message, "Save it again as .xlsx.")
    return None


def cell_text(label: str, cell: Cell, cached: Cell, heading: str, found: list[Problem]) -> str:
    """A cell as the text that a person would have typed, odd kinds named."""
    outcome = _outcome(cell, cached)
    if isinstance(outcome, Fault | Kept):
        shown = show(getattr(cell.value, "text", cell.value))  # an array's formula is an object
        found.append(
            Problem(
                label, cell.row, show(heading), shown, outcome.level, outcome.message, outcome.fix
            )
        )
        outcome = outcome.value if isinstance(outcome, Kept) else ""
    if cell.value is not None:
        found += _marks(label, cell, heading)
    return str(outcome)


def _marks(label: str, cell: Cell, heading: str) -> list[Problem]:
    """What a person put on a cell that its text does not tell: a line through it, a comment."""
    place = (label, cell.row, show(heading), show(getattr(cell.value, "text", cell.value)))
    found = []
    if cell.font.strike:
        message = "the cell is struck through; it was read all the same"
        fix = "Empty it if the reading does not hold."
        found.append(Problem(*place, "warn", message, fix))
    if cell.comment is not None:
        message, fix = "a comment hangs on the cell and is not read", "Write it under note."
        found.append(Problem(*place, "note", message, fix))
    return found


def _outcome(cell: Cell, cached: Cell) -> str | Fault | Kept:
    """A cell's text, a fault, or a text with a warning."""
    value = cell.value
    if cell.data_type == "f":
        return _formula(cached)
    if value is None:
        return ""
    if isinstance(value, bool):
        return Fault("a yes or no stands where a number belongs", _TYPE_AGAIN)
    if cell.data_type == "e":
        return Fault("a spreadsheet's error value stands in the cell", _TYPE_AGAIN)
    if isinstance(value, datetime | date | time | timedelta):
        fix = f"Set the cell's format to number or text. {_TYPE_AGAIN}"
        return Fault("a date or clock time stands where a number belongs", fix)
    return _number(value, cell) if isinstance(value, int | float) else tidy(str(value))


def _number(value: float, cell: Cell) -> str | Fault:
    """A number's text, unless the cell shows another number than it holds."""
    shape = _WORDS_OF_FORMAT.sub("", cell.number_format or "")
    if "%" in shape:
        return Fault("the cell shows a percentage, so its number is ambiguous", _TYPE_AGAIN)
    if _SCALED.search(shape):
        return Fault("the cell shows thousands, so its number is ambiguous", _TYPE_AGAIN)
    return _digits(value)


def _digits(value: float) -> str:
    """A number as a person would have typed it: a small one without an exponent."""
    text = f"{value:.12g}"
    return np.format_float_positional(float(text), trim="-") if "e-" in text else text


def _formula(cached: Cell) -> str | Fault | Kept:
    """A formula's last result, if the spreadsheet ever calculated it."""
    value = cached.value
    if value is None:
        fix = f"Open and save the workbook in the spreadsheet, or: {_TYPE_AGAIN}"
        return Fault("the formula was never calculated", fix)
    outcome = _outcome(cached, cached)
    if isinstance(outcome, Fault):
        return outcome
    return Kept(outcome, "a formula stands in the cell; its last result was read", _TYPE_AGAIN)
