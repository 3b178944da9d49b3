"""What sound readings look like as a whole: complete, timely, plausible, blind."""

import numpy as np

from .apart import apart_problems
from .criteria_fit import tolerance_problems
from .crossed import crossed_problems
from .keyed import keyed_problems
from .layers import layer_problems
from .logged_series import series_problems
from .outliers import outlier_problems
from .patterns import pattern_problems
from .plan import plan_problems
from .problems import Problem, file_problem
from .raters import rater_problems
from .reading_cells import Setting
from .readings import empty_cell_problems, nothing_read
from .reference import reference_problems
from .rows import Rows, group_sizes
from .target import gravity_problems, scale_note, target_problems
from .timing import planned_h, timing_problems

# From so many readings of one kind in a session on, a logger wrote them.
_LOGGER = 6
_SERIES = ("vessel", "quantity", "rater", "position", "repeat", "phase", "session")


def judge_readings(
    file: str,
    rows: Rows,
    setting: Setting,
    mixes: Rows,
    *,
    logged: tuple[Rows | None, np.ndarray | None] = (None, None),
    refused: int = 0,
) -> list[Problem]:
    """Warnings about readings that are possible one by one.

    Parameters
    ----------
    file : str
        Name for messages.
    rows : Rows
        Tidy readings in one unit a quantity.
    setting : Setting
    mixes : Rows
        For names that a note should not mention.
    logged : (Rows, ndarray)
        Of a logger's file the readings nearest to the plan, and where its series begin, where
        they are known already.
    refused : int
        How many rows were refused before: as many readings are not missing.
    """
    none = nothing_read(file, rows)
    if none:
        # Where every row was refused, the refusals say why.
        return [] if refused else none
    found = empty_cell_problems(file, rows, setting.of_vessels("lost_h"))
    thin, starts = logged
    notes = [] if thin is None else [_logger_note(file, len(rows))]
    if thin is None:
        thin, notes = _thinned(file, rows, setting)
    if notes:
        end = setting.protocol.window_h
        notes = notes + series_problems(file, rows, starts, end)
    begin = setting.of_vessels("start_h")
    starts = np.array([begin[vessel] for vessel in thin["vessel"]], float)
    rows = thin.with_column("moment_h", thin["elapsed_h"] + starts)
    rows = rows.take(np.argsort(rows["row"], kind="stable"))
    read = rows.take(~np.isnan(rows["value"]))
    found += notes + plan_problems(file, rows, setting, refused=refused)
    found += timing_problems(file, rows, setting.protocol)
    found += pattern_problems(file, read, setting.protocol)
    found += layer_problems(file, read) + target_problems(file, read, setting.protocol)
    found += gravity_problems(file, read) + scale_note(file, read)
    found += reference_problems(file, read, setting.protocol)
    found += tolerance_problems(file, read, setting.protocol)
    found += crossed_problems(file, read, setting.protocol)
    found += keyed_problems(file, read, setting.protocol) + apart_problems(file, read, setting)
    found += outlier_problems(file, read, setting.protocol)
    return found + rater_problems(file, rows, setting, mixes)


def _thinned(file: str, rows: Rows, setting: Setting) -> tuple[Rows, list[Problem]]:
    """The readings with one a session where a logger wrote many, and a note about it.

    Rules for readings by hand would take each row of a logger for an extra reading.
    """
    ids = rows.ids(*_SERIES)
    logged = group_sizes(ids) >= _LOGGER
    if not logged.any():
        return rows, []
    away = np.abs(
        rows["elapsed_h"] - planned_h(rows["phase"] == "mixing", rows["session"], setting.protocol)
    )
    order = np.lexsort((away, ids))
    first = np.ones(len(order), bool)
    first[1:] = np.diff(ids[order]) != 0
    keep = ~logged
    keep[order[first]] = True
    return rows.take(keep), [_logger_note(file, int(logged.sum()))]


def _logger_note(file: str, count: int) -> Problem:
    """A note that rules looked at part of the readings."""
    message = f"{count} readings come from a logger; the plan was held against the nearest"
    return file_problem(file, message, "Nothing to do.", level="note")
