"""The files of a trial folder as bytes, with the unsafe ones refused."""

import hashlib
import stat
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path

import numpy as np
import pandas as pd

from .problems import PROBLEMS_FILE, Problem, file_problem, show
from .rows import text_column

# Declared limit for one file; a season of hand readings is well under 1 MB.
MAX_MB = 50.0
KNOWN = (
    "trial.toml",
    "mixes.csv",
    "vessels.csv",
    "key.csv",
    "raters.csv",
    "readings.csv",
    "readings.xlsx",
    "readings-second.csv",
    "readings-second.xlsx",
    "intervals.csv",
    "key-nonce.txt",
)


@dataclass
class Folder:
    """A trial folder that is being read, with what was found wrong so far.

    Attributes
    ----------
    path : Path
    max_mb : float
        Files above this size are refused before they are opened.
    found : list of Problem
        Everything that was found wrong.
    sources : dict
        SHA-256 and size of every file that was read, by name.
    unreadable : bool
        Whether the folder itself is missing or closed.
    """

    path: Path
    max_mb: float = MAX_MB
    found: list[Problem] = field(default_factory=list)
    sources: dict[str, tuple[str, int]] = field(default_factory=dict)
    unreadable: bool = False

    def has(self, name: str) -> bool:
        """Whether the folder holds anything under this exact name."""
        return name in self.names

    @cached_property
    def names(self) -> list[str]:
        """The names in the folder, exactly as stored (some disks fold their case)."""
        return sorted(entry.name for entry in self.path.iterdir())

    def read(self, name: str, *, needed: bool = True) -> bytes | None:
        """The bytes of one file; None, with the reason in `found`, when it cannot be read."""
        if not self.has(name):
            if needed:
                self.found.append(_missing(name, self.names))
            return None
        reason = self._unsafe(name)
        if reason is not None:
            self.found.append(reason)
            return None
        try:
            data = (self.path / name).read_bytes()
        except OSError as error:
            self.found.append(_unreadable(name, error))
            return None
        self.sources[name] = (hashlib.sha256(data).hexdigest(), len(data))
        return data

    def _unsafe(self, name: str) -> Problem | None:
        """Why a file is not opened: a link, a pipe, too large, not readable."""
        status = (self.path / name).lstat()
        if stat.S_ISLNK(status.st_mode):
            return file_problem(
                name, "this is a link to another place", "Put the file itself into the folder."
            )
        if not stat.S_ISREG(status.st_mode):
            return no_file(name)
        size = status.st_size / 1e6
        if size > self.max_mb:
            return file_problem(
                name,
                f"the file has {size:.0f} MB, above the limit of {self.max_mb:g} MB, "
                "and was not opened",
                f"If that size is meant, allow it with --max-mb {int(size) + 1}.",
            )
        return None

    def sources_frame(self) -> pd.DataFrame:
        """One row a file that was read: file, sha256, bytes."""
        names = sorted(self.sources)
        return pd.DataFrame(
            {
                "file": text_column(names),
                "sha256": text_column([self.sources[name][0] for name in names]),
                "bytes": np.array([self.sources[name][1] for name in names], np.int64),
            }
        )


def open_folder(path: str | Path, *, max_mb: float = MAX_MB) -> Folder:
    """A folder ready to be read, with notes on files in it that the kit passes over.

    Parameters
    ----------
    path : str or Path
    max_mb : float
        Files above this size are refused.

    Raises
    ------
    ValueError
        When the path holds a NUL character or `max_mb` is not positive.
    """
    if not max_mb > 0:
        raise ValueError(f"max_mb must be positive; got {max_mb}.")
    folder = Folder(Path(path), max_mb)
    name = show(folder.path.name or str(path))
    try:
        folder.found.extend(_passed_over(folder.names))
    except OSError as error:
        folder.unreadable = True
        folder.found.append(_unreadable(name, error))
        if isinstance(error, FileNotFoundError | NotADirectoryError):
            fix = "Give the path of the folder that holds trial.toml."
            folder.found[-1] = file_problem(name, "there is no such folder", fix)
    return folder


def no_file(name: str) -> Problem:
    """A folder, pipe or device where a file belongs: reading it might never end."""
    return file_problem(name, "this is not an ordinary file", "Put an ordinary file in its place.")


def _unreadable(name: str, error: OSError) -> Problem:
    """A file or folder that the system does not let the kit read."""
    message = f"it cannot be opened ({(error.strerror or type(error).__name__).lower()})"
    return file_problem(name, message, "Give yourself the right to read it, or copy it anew.")


def _missing(name: str, names: list[str]) -> Problem:
    """A missing file, with the name that it may hide under."""
    # Tabs separate as well as commas do; only the name has to be the known one.
    also = (name, f"{name}.txt", name.replace(".csv", ".tsv"), name.replace(".csv", ".txt"))
    like = [other for other in names if other.casefold() in also]
    fix = f'Rename "{show(like[0])}" to {name}.' if like else f"Add {name} to the folder."
    return file_problem(name, "the file is missing", fix)


def _passed_over(names: list[str]) -> list[Problem]:
    """Files that look like data but have no place in a trial folder."""
    found = []
    for name in names:
        if name in KNOWN or name == PROBLEMS_FILE:
            continue
        if name.startswith(("~$", ".~lock.")):
            found.append(
                file_problem(
                    show(name),
                    "a spreadsheet has a file of this folder open",
                    "Save and close it, so that what is read is what was typed.",
                    level="warn",
                )
            )
        elif name.casefold().endswith((".csv", ".xlsx", ".ods", ".xls", ".toml", ".tsv")):
            found.append(
                file_problem(
                    show(name),
                    "the kit does not read a file of this name",
                    f"Names that it reads: {', '.join(KNOWN)}.",
                    level="note",
                )
            )
    return found
