"""A second sheet, typed by another person, held against the first cell by cell."""

import numpy as np
import pandas as pd

from .problems import Problem, file_problem, show
from .rows import Rows

_SAYS = 'Row {} there says "{}"; see the paper sheet.'
KEYS = ["vessel", "quantity", "rater", "position", "repeat", "phase", "session", "elapsed_h"]


def second_problems(first_file: str, first: Rows, second_file: str, second: Rows) -> list[Problem]:
    """Where two entries of the same sheets differ: each difference is refused.

    Parameters
    ----------
    first_file, second_file : str
        Names for messages.
    first, second : Rows
        Tidy readings of both.

    Returns
    -------
    list of Problem
        One for each reading that differs or that only one of the sheets holds; a note when
        all agree. A sheet without any is refused as a whole. Another instrument is warned
        about, another remark is noted.
    """
    if len(first) and np.isnan(second["value"]).all():
        message = "the second sheet has no readings yet"
        return [file_problem(second_file, message, "Fill it in, or take it away until it is.")]
    both = first.frame().merge(
        second.frame(), on=KEYS, how="outer", suffixes=("", "_2"), indicator=True
    )
    shared = both[(both["_merge"] == "both").to_numpy()]
    found = [
        *_alone(first_file, second_file, both[both["_merge"] == "left_only"], "row"),
        *_alone(second_file, first_file, both[both["_merge"] == "right_only"], "row_2"),
        *_different(first_file, second_file, shared),
    ]
    if not found:
        message = f"all {len(first)} readings agree with the second sheet"
        found.append(file_problem(first_file, message, "Nothing to do.", level="note"))
    found += _otherwise(first_file, second_file, shared, "instrument", "warn")
    return found + _otherwise(first_file, second_file, shared, "note", "note")


def no_first_sheet(second_file: str | None) -> Problem:
    """What a folder with intervals but no readings is told; a second sheet alone is not read.

    Parameters
    ----------
    second_file : str or None
        The second sheet, where there is one.
    """
    message, fix = "there are no readings; only intervals.csv is used", "Nothing, if that is meant."
    if second_file:
        message = "a second sheet stands here without a first; it was not read"
        fix = f"Add readings.csv or readings.xlsx, or rename {second_file} to it."
    level = "warn" if second_file else "note"
    return file_problem(second_file or "readings.csv", message, fix, level=level)


def _alone(file: str, other: str, rows: pd.DataFrame, row: str) -> list[Problem]:
    """Readings of one sheet without a partner in the other."""
    message = f"this reading does not stand in {other}"
    fix = "Compare both with the paper sheet: vessel, time, quantity, rater."
    return [
        Problem(file, int(number), "vessel", vessel, "refuse", message, fix)
        for number, vessel in zip(rows[row], rows["vessel"], strict=True)
    ]


def _different(file: str, other: str, rows: pd.DataFrame) -> list[Problem]:
    """Readings whose value, limit or unit differs between the sheets."""
    found = []
    message = f"the reading differs from that in {other}"
    for record in rows[_unlike(rows, "value", "limit", "unit")].to_dict("records"):
        one = _written(record, "")
        two = _written(record, "_2")
        if one != two:
            fix = f"Row {int(record['row_2'])} there says {two or 'nothing'}; see the paper sheet."
            row = int(record["row"])
            found.append(Problem(file, row, "value", one, "refuse", message, fix))
    return found


def _otherwise(file: str, other: str, rows: pd.DataFrame, column: str, level: str) -> list[Problem]:
    """Readings that agree, beside which the sheets say different things."""
    message = f"the {column} differs from that in {other}"
    columns = ("row", column, "row_2", f"{column}_2")
    chosen = rows.loc[_unlike(rows, column), list(columns)]
    return [
        Problem(
            file, int(row), column, show(one), level, message, _SAYS.format(int(row_2), show(two))
        )
        for row, one, row_2, two in chosen.itertuples(index=False, name=None)
    ]


def _unlike(rows: pd.DataFrame, *columns: str) -> np.ndarray:
    """Rows in which one of the columns differs between the sheets; an empty value is one too."""
    unlike = np.zeros(len(rows), bool)
    for name in columns:
        unlike |= (rows[name] != rows[f"{name}_2"]).to_numpy()
    return unlike


def _written(record: dict, suffix: str) -> str:
    """A reading's value as it would be written."""
    value = record[f"value{suffix}"]
    if pd.isna(value):
        return ""
    return f"{record[f'limit{suffix}']}{value:.10g} {record[f'unit{suffix}']}"
