"""A trial out of a folder, with everything that was found wrong on the way."""

import traceback
from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from .csvtext import read_table
from .design import design_problems
from .files import MAX_MB, Folder, open_folder
from .intervals import read_intervals
from .judge import judge_readings
from .problems import file_problem, problems_frame
from .protocol import check_codes, read_protocol
from .reading_cells import Setting
from .readings import COLUMNS, duplicate_problems, empty_readings, read_rows
from .second import second_problems
from .tables import read_mixes, read_raters, read_vessels
from .trial import Trial
from .units import convert_units

STUMBLED = "the kit stumbled over this folder, which is a fault of the kit"


@dataclass(frozen=True)
class Assembled:
    """What could be read of a folder.

    Attributes
    ----------
    trial : Trial or None
        None when something had to be refused.
    problems : DataFrame
        Everything that was found.
    """

    trial: Trial | None
    problems: pd.DataFrame


def assemble(path: str | Path, *, strict: bool = False, max_mb: float = MAX_MB) -> Assembled:
    """Read and check a whole folder, never stopping at the first fault.

    Parameters
    ----------
    path : str or Path
    strict : bool
        Whether a warning refuses the folder.
    max_mb : float
        Files above this size are refused before they are opened.
    """
    folder = open_folder(path, max_mb=max_mb)
    parts = _parts_or_fault(folder) if folder.path.is_dir() else None
    problems = problems_frame(folder.found, strict=strict)
    if parts is None or (problems["level"] == "refuse").any():
        return Assembled(None, problems)
    trial = Trial(**parts, problems=problems, sources=folder.sources_frame())
    return Assembled(trial, problems)


def _parts_or_fault(folder: Folder) -> dict[str, object] | None:
    """The frames of the trial; a fault of the kit itself comes as a refusal too.

    A person with a damaged file must not meet a traceback, and must not get data that a rule
    did not look at either.
    """
    try:
        return _parts(folder)
    except Exception as error:
        step = traceback.extract_tb(error.__traceback__)[-1]
        where = f"{type(error).__name__} in {Path(step.filename).name} line {step.lineno}"
        fix = "Please report it with the files, if you may share them."
        folder.found.append(file_problem("trial folder", f"{STUMBLED}: {where}", fix))
        return None


def _parts(folder: Folder) -> dict[str, object] | None:
    """The frames of the trial; None when one of them cannot be read."""
    data = folder.read("trial.toml")
    protocol = None if data is None else read_protocol(data, folder.found)
    mixes, raters = read_mixes(folder), read_raters(folder)
    if protocol is None:
        return None
    known_mixes = frozenset() if mixes is None else frozenset(mixes["mix"])
    vessels = read_vessels(folder, protocol, known_mixes)
    if mixes is not None and raters is not None:
        folder.found += check_codes(protocol, known_mixes, frozenset(raters["rater"]))
    if mixes is None or raters is None or vessels is None:
        return None
    folder.found += design_problems(vessels, mixes, protocol)
    setting = Setting(protocol, vessels, raters)
    intervals = read_intervals(folder, setting)
    readings = _readings(folder, setting, mixes, needed=intervals is None)
    if readings is None:
        return None
    return {
        "protocol": protocol,
        "mixes": mixes,
        "vessels": vessels,
        "raters": raters,
        "readings": readings,
        "intervals": intervals,
    }


def _readings(
    folder: Folder, setting: Setting, mixes: pd.DataFrame, *, needed: bool
) -> pd.DataFrame | None:
    """The readings, wherever they are written, and what they look like as a whole."""
    names = [name for name in ("readings.csv", "readings.xlsx") if folder.has(name)]
    if not names and not needed:
        return empty_readings()
    frame = _one_sheet(folder, setting, "readings")
    if frame is None:
        return None
    name = names[0]
    second = _second_name(folder)
    if second:
        other = _one_sheet(folder, setting, "readings-second")
        if other is not None:
            folder.found += second_problems(name, frame, second, other)
    folder.found += judge_readings(name, frame, setting, mixes)
    return frame


def _second_name(folder: Folder) -> str | None:
    """The name of the second person's sheet, if there is one."""
    names = ("readings-second.csv", "readings-second.xlsx")
    return next((name for name in names if folder.has(name)), None)


def _one_sheet(folder: Folder, setting: Setting, stem: str) -> pd.DataFrame | None:
    """The readings of one person's sheet in one unit a quantity; None when unreadable."""
    name = f"{stem}.csv"
    frame = _from_csv(folder, setting, name)
    if frame is None:
        return None
    folder.found += duplicate_problems(name, frame)
    return convert_units(name, frame, setting, folder.found)


def _from_csv(folder: Folder, setting: Setting, name: str) -> pd.DataFrame | None:
    """The readings of a CSV file."""
    data = folder.read(name)
    if data is None:
        return None
    table, found = read_table(name, data, COLUMNS)
    folder.found += found
    if not table.columns:
        return None
    return read_rows(table, setting, folder.found)
