"""The files of a planned trial, before any reading."""

import tomllib
from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from trialkit.records.toml_write import toml_text


@dataclass(frozen=True)
class PlannedTrial:
    """All that is decided before the first reading.

    Parameters
    ----------
    settings : dict
        What trial.toml holds, nested as its tables are.
    mixes : pandas.DataFrame
        Columns mix, name, lot, label_dose_g_per_l, price_per_kg.
    vessels : pandas.DataFrame
        Columns vessel, role, block, place, volume_l, dose_g, start and, where known, lost_h.
    key : pandas.DataFrame
        Columns vessel, mix: which mix is behind each code; no rows while it is kept elsewhere.
    raters : pandas.DataFrame
        Columns rater, name.
    """

    settings: dict
    mixes: pd.DataFrame
    vessels: pd.DataFrame
    key: pd.DataFrame
    raters: pd.DataFrame


def write_planned(planned, folder):
    """The files of the planned trial, written to a new folder.

    Parameters
    ----------
    planned : PlannedTrial
        What to write.
    folder : path-like
        Made when missing; files of the same names are replaced.

    Returns
    -------
    pathlib.Path
        The folder.
    """
    folder = Path(folder)
    folder.mkdir(parents=True, exist_ok=True)
    write_text(folder / "trial.toml", toml_text(planned.settings))
    for name in ("mixes", "vessels", "raters"):
        write_csv(getattr(planned, name), folder / f"{name}.csv")
    if len(planned.key):
        write_csv(planned.key, folder / "key.csv")
    return folder


def write_csv(frame, path):
    """A frame as UTF-8 text with commas and line feeds, the same bytes on every system."""
    write_text(Path(path), frame.to_csv(index=False, lineterminator="\n"))


def write_text(path, text):
    """Text as UTF-8 with line feeds, whatever the system's own line end."""
    Path(path).write_bytes(text.encode("utf-8"))


def read_planned(folder):
    """The plan that a trial folder holds.

    Parameters
    ----------
    folder : path-like
        Written by `plan_trial`, not necessarily read yet.

    Returns
    -------
    PlannedTrial
        With an empty key when key.csv is not there.
    """
    folder = Path(folder)
    settings = tomllib.loads((folder / "trial.toml").read_text(encoding="utf-8"))
    key = folder / "key.csv"
    return PlannedTrial(
        settings,
        pd.read_csv(folder / "mixes.csv", keep_default_na=False),
        pd.read_csv(folder / "vessels.csv", keep_default_na=False),
        read_text_csv(key) if key.is_file() else pd.DataFrame({"vessel": [], "mix": []}),
        read_text_csv(folder / "raters.csv"),
    )


def read_text_csv(path):
    """A CSV file with every cell as text."""
    return pd.read_csv(path, dtype=str, keep_default_na=False)
