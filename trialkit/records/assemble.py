"""A trial out of a folder, with everything that was found wrong on the way."""

import traceback
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd

from .claim_names import claim_problems
from .design import NO_MIX, design_problems
from .files import MAX_MB, Folder, open_folder
from .intervals import read_intervals
from .judge import judge_readings
from .problems import problems_frame
from .protocol import check_codes, read_protocol
from .reading_cells import Setting
from .readings import empty_readings
from .rows import Rows
from .sealed import seal_problems
from .second import no_first_sheet, second_problems
from .sheet import read_sheet, sheet_name
from .small_tables import EMPTY_COLUMN
from .tables import read_mixes, read_raters, read_vessels
from .toml_keys import read_toml
from .trial import KitFaultError, Trial, TrialDataError


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

    Raises
    ------
    KitFaultError
        When the kit fails where it should have found words.
    """
    folder = open_folder(path, max_mb=max_mb)
    parts = None if folder.unreadable else _parts_or_fault(folder)
    problems = problems_frame(folder.found, strict=strict)
    refusing = ("refuse", "warn") if strict else ("refuse",)
    if parts is None or any(problem.level in refusing for problem in folder.found):
        return Assembled(None, problems)
    trial = Trial(**parts, problems=problems, sources=folder.sources_frame())
    return Assembled(trial, problems)


def _parts_or_fault(folder: Folder) -> dict[str, object] | None:
    """The frames of the trial; a fault of the kit itself in one sentence.

    A person must not get data that a rule did not look at, and must not look for a mistake in
    files that may have none.
    """
    try:
        return _parts(folder)
    except Exception as error:
        step = traceback.extract_tb(error.__traceback__)[-1]
        where = f"{type(error).__name__} in {Path(step.filename).name} line {step.lineno}"
        message = (
            f"This is a fault of trialkit, not of your data: it could not check {folder.path.name} "
            f"({where}). Please report it, with the files if you may share them."
        )
        raise KitFaultError(message) from error


def read_setting(path: str | Path) -> Setting:
    """Protocol, vessels and raters of a folder whose readings may still be missing.

    Raises
    ------
    TrialDataError
        When one of them cannot be read.
    """
    folder = open_folder(path)
    setting = None
    if not folder.unreadable:
        parts = _small_parts(folder)
        setting = parts and parts[0]
    problems = problems_frame(folder.found)
    if setting is None or (problems["level"] == "refuse").any():
        raise TrialDataError(problems)
    return setting


def _parts(folder: Folder) -> dict[str, object] | None:
    """The frames of the trial; None when one of them cannot be read."""
    small = _small_parts(folder)
    if small is None:
        return None
    setting, mixes = small
    intervals = read_intervals(folder, setting)
    readings = _readings(folder, setting, mixes, needed=intervals is None)
    if readings is None:
        return None
    if np.isnan(readings["value"]).all():
        # On the planning day doses, lots and prices are still to come, and the key is kept away.
        to_come = (EMPTY_COLUMN, NO_MIX)
        folder.found[:] = [p for p in folder.found if p.message not in to_come]
    return {
        "protocol": setting.protocol,
        "mixes": mixes.frame(),
        "vessels": setting.vessels.frame(),
        "raters": setting.raters.frame(),
        "readings": readings.frame(),
        "intervals": intervals,
    }


def _small_parts(folder: Folder) -> tuple[Setting, Rows] | None:
    """Protocol, vessels, raters and mixes; None when one of them cannot be read."""
    data = folder.read("trial.toml")
    toml = None if data is None else read_toml(data, folder.found)
    protocol = None if toml is None else read_protocol(toml, folder.found)
    mixes, raters = read_mixes(folder), read_raters(folder)
    if protocol is None:
        return None
    folder.found += seal_problems(folder, toml)
    known_mixes = frozenset() if mixes is None else frozenset(mixes["mix"])
    vessels = read_vessels(folder, protocol, known_mixes)
    if mixes is None or raters is None or vessels is None:
        return None
    folder.found += check_codes(protocol, known_mixes, frozenset(raters["rater"]))
    folder.found += claim_problems(protocol, mixes, toml)
    folder.found += design_problems(vessels, mixes, protocol)
    return Setting(protocol, vessels, raters), mixes


def _readings(folder: Folder, setting: Setting, mixes: Rows, *, needed: bool) -> Rows | None:
    """The readings, wherever they are written, and what they look like as a whole."""
    name = sheet_name(folder, "readings")
    if name is None and not needed:
        folder.found.append(no_first_sheet(sheet_name(folder, "readings-second")))
        return empty_readings()
    first = read_sheet(folder, setting, name or "readings.csv")
    if first is None:
        return None
    second_name = sheet_name(folder, "readings-second")
    second = None if second_name is None else read_sheet(folder, setting, second_name)
    if second is not None:
        folder.found += second_problems(name, first.rows, second_name, second.rows)
    bad = {p.row for p in folder.found if p.file == name and p.level == "refuse" and p.row}
    folder.found += judge_readings(
        name, first.rows, setting, mixes, logged=(first.thin, first.starts), refused=len(bad)
    )
    for sheet in filter(None, (first, second)):
        folder.found[:] = [sheet.located(problem) for problem in folder.found]
    return first.as_written()
