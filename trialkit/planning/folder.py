"""The files of a planned trial, before any reading."""

import tomllib
from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from trialkit.records.cells import defuse_text, parse_text
from trialkit.records.toml_write import toml_text

# Columns that a person fills with any words.
_TEXTS = ("name", "lot", "block", "place", "note")


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
    """A frame as UTF-8 text with commas and line feeds, the same bytes on every system.

    Names and remarks that a spreadsheet would run are defused, as `read_trial` undoes.
    """
    frame = _with_texts(frame, defuse_text)
    write_text(Path(path), frame.to_csv(index=False, lineterminator="\n"))


def _with_texts(frame, change):
    """The frame with its free texts changed; numbers and codes stay."""
    texts = [name for name in _TEXTS if name in frame]
    return frame.assign(
        **{n: [change(v) if isinstance(v, str) else v for v in frame[n]] for n in texts}
    )


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
        _with_texts(pd.read_csv(folder / "mixes.csv", keep_default_na=False), parse_text),
        _with_texts(pd.read_csv(folder / "vessels.csv", keep_default_na=False), parse_text),
        read_text_csv(key) if key.is_file() else pd.DataFrame({"vessel": [], "mix": []}),
        _with_texts(read_text_csv(folder / "raters.csv"), parse_text),
    )


def read_text_csv(path):
    """A CSV file with every cell as text."""
    return pd.read_csv(path, dtype=str, keep_default_na=False)
