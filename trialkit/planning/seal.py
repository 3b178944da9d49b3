"""Proof that a key or a protocol is still the one that was set before the first reading.

A digest proves that nothing was changed since the digest was *published*. It cannot show when the
digest was made, that nobody looked at the key, or that only one plan was sealed: someone who seals
three plans can publish the one that suits. Print it on the reading sheets and post it, dated,
where you cannot edit it, before the salt goes in.
"""

import re
import tomllib
from hashlib import sha256
from pathlib import Path

import pandas as pd

from trialkit.records.files import MAX_MB
from trialkit.records.sealed import SEALED_FILE, seal_of, sealed_text
from trialkit.records.workbook_read import read_workbook

from .folder import write_text

NONCE_FILE = "key-nonce.txt"


def key_digest(key, nonce):
    """The SHA-256 of the key after its nonce, as 64 hexadecimal digits.

    The nonce, a random text kept with the key, is needed because the keys of a small trial are
    few enough to try out: three mixes in one block have six. The same digest comes from
    ``(cat key-nonce.txt key.csv) | sha256sum`` on the files that `trialkit plan` writes.

    Parameters
    ----------
    key : pandas.DataFrame
        Columns vessel, mix, in any order of rows.
    nonce : str
        The random text.

    Returns
    -------
    str
        64 hexadecimal digits.

    References
    ----------
    National Institute of Standards and Technology (2015), Secure Hash Standard, FIPS 180-4.

    Examples
    --------
    >>> key = pd.DataFrame({"vessel": ["A00"], "mix": ["M01"]})
    >>> key_digest(key, "0f")[:12]
    '753247078eeb'
    """
    return sha256(f"{nonce}\n{key_text(key)}".encode()).hexdigest()


def key_text(key):
    """The key as key.csv holds it: sorted by vessel, line feeds."""
    columns = key[["vessel", "mix"]].astype(str).sort_values("vessel")
    return columns.to_csv(index=False, lineterminator="\n")


def seal_trial(folder):
    """The new seal of a plan that was changed before the first reading.

    Parameters
    ----------
    folder : path-like
        The trial folder. The line ``seal = ...`` of trial.toml and the copy in sealed.txt are
        written anew; everything else in trial.toml, comments too, stays.

    Returns
    -------
    str
        The seal.

    Raises
    ------
    ValueError
        A reading has been entered already.
    """
    folder = Path(folder)
    for name in ("readings.csv", "readings.xlsx"):
        if _has_readings(folder / name):
            raise ValueError(f"{name} holds readings already: a seal now would prove nothing.")
    path = folder / "trial.toml"
    for place in (path, folder / SEALED_FILE):
        if place.is_symlink() or (place.exists() and not place.is_file()):
            raise ValueError(f"{place.name} is a link or no ordinary file; nothing was sealed.")
    text = path.read_text(encoding="utf-8-sig")
    sealed = sealed_text(tomllib.loads(text))
    seal = seal_of(sealed)
    line = f'seal = "{seal}"'
    text, replaced = re.subn(r"(?m)^seal\s*=.*$", line, text, count=1)
    write_text(path, text if replaced else f"{line}\n{text}")
    write_text(folder / SEALED_FILE, sealed)
    return seal


def _has_readings(path):
    if not path.is_file():
        return False
    if path.suffix == ".xlsx":
        tables, found = read_workbook(path.name, path.read_bytes(), MAX_MB)
        return any(map(len, tables)) or any(problem.level == "refuse" for problem in found)
    frame = pd.read_csv(path, dtype=str, keep_default_na=False)
    return "value" in frame and bool(frame["value"].str.strip().ne("").any())
