"""A logger's file in pieces, of which only the odd ones are read cell by cell.

One limit sign or empty cell among millions of rows would else send the whole file down the slow
road, at a minute and fifty times its size in memory.
"""

from dataclasses import replace

import numpy as np
import pandas as pd

from .csvtext import read_table
from .logger import read_logged
from .problems import Problem
from .reading_cells import Setting
from .readings import COLUMNS, ORDER, absent_columns, read_rows

_PIECES = 100
# With more odd pieces than this the file is not a plain one with a few odd cells.
_ODD = 0.25


def read_pieces(
    name: str, data: bytes, setting: Setting, found: list[Problem]
) -> pd.DataFrame | None:
    """The tidy readings of a large CSV file with few odd rows; None where it must be read whole.

    Parameters
    ----------
    name : str
        Name for messages.
    data : bytes
        A file with quotation marks is read whole: a quoted cell may hold line ends.
    setting : Setting
    found : list of Problem
        Findings are added to it; none when None comes back.
    """
    body = data.removeprefix(b"\xef\xbb\xbf")
    head = body[: body.find(b"\n") + 1]
    if b'"' in body or not head or (b"\r" in body and body.count(b"\r") != body.count(b"\r\n")):
        return None
    frames, own, odd, row = [], [], 0, 1
    for piece in _cut(body, len(head)):
        logged = read_logged(head + piece, setting)
        frame = logged.frame if logged else _strictly(name, head + piece, setting, own, row)
        odd += logged is None
        if frame is None or odd > _ODD * _PIECES:
            return None
        frames.append(frame.assign(row=frame["row"] + (row - 1)))
        row += piece.count(b"\n")
    headings = head.decode("utf-8", "replace").strip().split(",")
    found += own + absent_columns(name, 1, headings)
    return _in_order(pd.concat(frames, ignore_index=True))


def _cut(body: bytes, start: int) -> list[bytes]:
    """The rows in pieces of about equal size, each ending with a row."""
    size = (len(body) - start) // _PIECES + 1
    pieces = []
    while start < len(body):
        end = body.find(b"\n", min(start + size, len(body) - 1)) + 1 or len(body)
        pieces.append(body[start:end])
        start = end
    return pieces


def _strictly(
    name: str, data: bytes, setting: Setting, found: list[Problem], row: int
) -> pd.DataFrame | None:
    """One piece read cell by cell, its findings at the rows of the whole file."""
    table, own = read_table(name, data, COLUMNS)
    rows = read_rows(table, setting, own) if table.columns else None
    found += [replace(p, row=p.row + row - 1) if (p.row or 0) > 1 else p for p in own]
    return None if rows is None else rows.frame()


def _in_order(frame: pd.DataFrame) -> pd.DataFrame:
    """The readings sorted as those of a file that is read whole."""
    keys = [
        frame[key].to_numpy()
        if frame[key].dtype.kind in "if"
        else pd.factorize(frame[key], sort=True)[0]
        for key in reversed(ORDER)
    ]
    return frame.take(np.lexsort(keys)).reset_index(drop=True)
