"""The file results.json: every number that a report prints, in named tables."""

import json
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd

from trialkit.records.shown import rows_html

__all__ = ["Results", "read_results", "write_results"]

FILE_NAME = "results.json"

# Enough to rebuild any printed figure, few enough that a last-bit difference between two
# processors does not make two files out of one result.
SIGNIFICANT_DIGITS = 10

# Made once: json.dumps would make an encoder for every row.
_encode = json.JSONEncoder(ensure_ascii=False, allow_nan=False).encode


@dataclass(frozen=True)
class Results:
    """What was found in a trial, as named tables with the facts that they rest on.

    Attributes
    ----------
    meta : dict
        Title, declared criteria, confidence level, seed, input files with their SHA-256, versions.
    tables : dict of str to pandas.DataFrame
        One tidy frame a question; times in hours.
    """

    meta: dict
    tables: dict[str, pd.DataFrame]

    def __repr__(self) -> str:
        filled = sum(len(table) > 0 for table in self.tables.values())
        return f"Results of {self.meta.get('title', '')!r}: {filled} tables with rows"

    def _repr_html_(self) -> str:
        rows = [
            (name, f"{len(table)} rows: {', '.join(map(str, table.columns))}")
            for name, table in self.tables.items()
            if len(table)
        ]
        return rows_html(repr(self), rows)

    def __getitem__(self, name: str) -> pd.DataFrame:
        """The table of that name."""
        return self.tables[name]

    def __contains__(self, name: str) -> bool:
        """Whether there is a table of that name."""
        return name in self.tables


def write_results(results: Results, folder: str | Path) -> Path:
    """Path of the results.json written into the folder.

    Numbers are rounded to 10 significant digits; inf, which JSON has not, is the string "inf".
    The same results give the same bytes.

    Parameters
    ----------
    results : Results
        What `trial_results` returned.
    folder : str or pathlib.Path
        An existing folder.

    Returns
    -------
    pathlib.Path
        The file written.

    Raises
    ------
    ValueError
        If a table holds nan where a number is meant: a limit that the data cannot place is inf.
    """
    path = Path(folder) / FILE_NAME
    parts = [f"{json.dumps(name)}: {_table_text(name, t)}" for name, t in results.tables.items()]
    meta = json.dumps(_plain(results.meta), ensure_ascii=False, indent=1, allow_nan=False)
    tables = ",\n".join(parts)
    text = f'{{"meta": {meta},\n"tables": {{\n{tables}\n}}}}\n'
    path.write_text(text, encoding="utf-8", newline="\n")
    return path


def read_results(folder: str | Path) -> Results:
    """The results written into a folder by `write_results`.

    Parameters
    ----------
    folder : str or pathlib.Path
        The folder that holds results.json, or the file itself.

    Returns
    -------
    Results
        Meta data, and the tables as frames.
    """
    path = Path(folder)
    path = path / FILE_NAME if path.is_dir() else path
    held = json.loads(path.read_text(encoding="utf-8"))
    return Results(held["meta"], {name: _frame(t) for name, t in held["tables"].items()})


def _table_text(name: str, table: pd.DataFrame) -> str:
    columns = [_plain_cells(table[name]) for name in table.columns]
    try:
        lines = [_encode(row) for row in zip(*columns, strict=True)]
    except ValueError as error:
        raise ValueError(f"table {name!r} holds nan; a limit not placed is inf.") from error
    names = json.dumps([str(c) for c in table.columns])
    joined = ",\n".join(lines)
    return f'{{"columns": {names}, "rows": [\n{joined}]}}'


def _plain_cells(column: pd.Series) -> list:
    """The cells of a column in the types that JSON has."""
    cells = column.tolist()
    if column.dtype == float:
        return [_plain_float(cell) for cell in cells]
    return cells if column.dtype in (bool, int) else [_plain(cell) for cell in cells]


def _frame(table: dict) -> pd.DataFrame:
    if not table["rows"]:
        return pd.DataFrame(columns=table["columns"])
    cells = [_numbers_if_all(column) for column in zip(*table["rows"], strict=True)]
    return pd.DataFrame(dict(zip(table["columns"], cells, strict=True)))


def _numbers_if_all(cells: tuple) -> list:
    """The cells as floats where inf made them a mixture of numbers and strings."""
    infinite = ("inf", "-inf") if "inf" in cells or "-inf" in cells else ()
    if infinite and all(isinstance(v, (int, float)) or v in infinite for v in cells):
        return [float(v) for v in cells]
    return list(cells)


def _plain(value):
    """The value in the types that JSON has."""
    if isinstance(value, dict):
        return {str(key): _plain(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [_plain(item) for item in value]
    if isinstance(value, (np.bool_, bool)):
        return bool(value)
    if isinstance(value, (int, np.integer)):
        return int(value)
    if isinstance(value, (float, np.floating)):
        return _plain_float(float(value))
    return None if value is None else str(value)


def _plain_float(value: float):
    if np.isinf(value):
        return "inf" if value > 0 else "-inf"
    return float(f"{value:.{SIGNIFICANT_DIGITS}g}")
