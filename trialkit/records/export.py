"""Frames written as CSV that a spreadsheet opens safely and the kit reads back unchanged."""

import math
from pathlib import Path

import pandas as pd

from .cells import defuse_text

# Columns of readings.csv; mix is left out, because a sheet must not tell it to a rater.
_COLUMNS = (
    "vessel",
    "rater",
    "elapsed_h",
    "quantity",
    "value",
    "unit",
    "position",
    "repeat",
    "instrument",
    "note",
)


def write_readings(readings: pd.DataFrame, path: str | Path) -> Path:
    """The path of a CSV file with the readings, text that a spreadsheet would run defused.

    Parameters
    ----------
    readings : DataFrame
        From `Trial.readings`.
    path : str or Path

    Returns
    -------
    Path
    """
    frame = readings[list(_COLUMNS)].copy()
    pairs = zip(readings["limit"], readings["value"], strict=True)
    values = ["" if math.isnan(v) else f"{limit}{number_text(v)}" for limit, v in pairs]
    times = [number_text(hours) for hours in readings["elapsed_h"]]
    # Not texts: a minus sign before a number is no formula.
    frame["value"] = pd.Series(values, frame.index, dtype=object)
    frame["elapsed_h"] = pd.Series(times, frame.index, dtype=object)
    return write_table(frame, path)


def write_table(frame: pd.DataFrame, path: str | Path) -> Path:
    """The path of a CSV file with a frame, text that a spreadsheet would run defused.

    Parameters
    ----------
    frame : DataFrame
        Columns of texts (dtype str) are defused; a number's minus sign stays alone.
    path : str or Path

    Returns
    -------
    Path
    """
    safe = {name: frame[name].map(defuse_text) for name in frame.select_dtypes("str").columns}
    path = Path(path)
    frame.assign(**safe).to_csv(path, index=False, lineterminator="\n", encoding="utf-8")
    return path


def number_text(value: float) -> str:
    """A number in plain digits, read back to the same number.

    Examples
    --------
    >>> number_text(0.1), number_text(30.0), number_text(0.0000025)
    ('0.1', '30', '0.0000025')
    """
    text = repr(float(value)).removesuffix(".0")
    if "e" in text:
        text = f"{value:.20f}".rstrip("0").rstrip(".")
    return text
