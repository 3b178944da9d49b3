"""A sound trial out of a folder, or every reason against it."""

from pathlib import Path

from .assemble import assemble
from .files import MAX_MB
from .trial import Trial, TrialDataError


def read_trial(folder: str | Path, *, strict: bool = False, max_mb: float = MAX_MB) -> Trial:
    """The trial that a folder holds.

    Data come back as they were written, or with a warning in `.problems`, or not at all.

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
    Trial
        Its frames are described there; times are hours since each vessel's start.

    Raises
    ------
    TrialDataError
        When anything has to be refused; `.problems` holds all that was found.
    ValueError
        When `max_mb` is not positive.
    KitFaultError
        When the kit itself fails on the folder.

    Examples
    --------
    >>> try:
    ...     read_trial("no such folder")
    ... except ValueError as error:
    ...     print(type(error).__name__, len(error.problems))
    TrialDataError 1
    """
    assembled = assemble(folder, strict=strict, max_mb=max_mb)
    if assembled.trial is None:
        raise TrialDataError(assembled.problems)
    return assembled.trial
