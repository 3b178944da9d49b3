"""Everything that is wrong with a trial folder."""

from pathlib import Path

import pandas as pd

from .assemble import assemble
from .files import MAX_MB


def check_trial(
    folder: str | Path, *, strict: bool = False, max_mb: float = MAX_MB
) -> pd.DataFrame:
    """All problems of a trial folder in one frame, causes before their symptoms.

    Parameters
    ----------
    folder : str or Path
        Holds trial.toml, mixes.csv, vessels.csv, raters.csv and readings.csv or readings.xlsx.
    strict : bool
        Whether warnings count as refusals.
    max_mb : float
        Files above this size are refused before they are opened.

    Returns
    -------
    DataFrame
        Columns file, row (as a spreadsheet shows it; the line in trial.toml), column, value,
        level ("refuse", "warn", "note"), message, fix. No row says "refuse" exactly when
        `read_trial` with the same options returns a trial.

    Raises
    ------
    ValueError
        When `max_mb` is not positive. A faulty folder raises nothing.
    KitFaultError
        When the kit itself fails on the folder.

    Examples
    --------
    >>> problems = check_trial("no such folder")
    >>> problems.loc[0, ["level", "message"]].tolist()
    ['refuse', 'there is no such folder']
    """
    return assemble(folder, strict=strict, max_mb=max_mb).problems
