"""What sound readings look like as a whole: complete, timely, plausible, blind."""

import pandas as pd

from .outliers import outlier_problems
from .patterns import pattern_problems
from .plan import plan_problems
from .problems import Problem, file_problem
from .raters import rater_problems
from .reading_cells import Setting
from .readings import empty_cell_problems, nothing_read
from .timing import timing_problems

# From so many readings of one kind in a session on, a logger wrote them.
_LOGGER = 6
_SERIES = ["vessel", "quantity", "rater", "position", "repeat", "phase", "session"]


def judge_readings(
    file: str, frame: pd.DataFrame, setting: Setting, mixes: pd.DataFrame
) -> list[Problem]:
    """Warnings about readings that are possible one by one.

    Parameters
    ----------
    file : str
        Name for messages.
    frame : DataFrame
        Tidy readings in one unit a quantity.
    setting : Setting
    mixes : DataFrame
        For names that a note should not mention.
    """
    none = nothing_read(file, frame)
    if none:
        return none
    vessels = setting.vessels.set_index("vessel")
    thin, found = _thinned(file, frame, setting)
    moment = thin["elapsed_h"] + thin["vessel"].map(vessels["start_h"])
    found += plan_problems(file, thin, setting)
    found += timing_problems(file, thin.assign(moment_h=moment), setting.protocol)
    found += empty_cell_problems(file, frame, vessels["lost_h"])
    found += pattern_problems(file, thin, setting.protocol)
    found += outlier_problems(file, thin)
    found += rater_problems(file, thin, setting, mixes)
    return found


def _thinned(
    file: str, frame: pd.DataFrame, setting: Setting
) -> tuple[pd.DataFrame, list[Problem]]:
    """The readings with one a session where a logger wrote many, and a note about it.

    Rules for readings by hand would take each row of a logger for an extra reading.
    """
    sizes = frame.groupby(_SERIES, sort=False)["row"].transform("size")
    logged = (sizes >= _LOGGER).to_numpy()
    if not logged.any():
        return frame, []
    stream = frame[logged]
    times = pd.DataFrame(
        [("mixing", i, t) for i, t in enumerate(setting.protocol.schedule_h)]
        + [("storage", i, 24 * d) for i, d in enumerate(setting.protocol.storage_days)],
        columns=["phase", "session", "planned"],
    )
    planned = stream[["phase", "session"]].merge(times, how="left")["planned"].to_numpy()
    away = (stream["elapsed_h"] - planned).abs()
    nearest = away.groupby([stream[key] for key in _SERIES], sort=False).idxmin()
    kept = frame.loc[sorted([*frame.index[~logged], *nearest])]
    message = f"{len(stream)} readings come from a logger; the plan was held against the nearest"
    return kept, [file_problem(file, message, "Nothing to do.", level="note")]
