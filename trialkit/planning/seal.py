"""Proof that a key or a protocol is still the one that was set before the first reading.

A digest proves that nothing was changed since the digest was *published*. It cannot show when the
digest was made, that nobody looked at the key, or that only one plan was sealed: someone who seals
three plans can publish the one that suits. Print it on the reading sheets and post it, dated,
where you cannot edit it, before the salt goes in.
"""

import re
import tomllib
from base64 import b32encode
from hashlib import sha256
from pathlib import Path

import pandas as pd

from .folder import toml_text, write_text

# What an analysis could be bent with after the readings are seen, in the order of the sealed text.
SEALED = (
    "window_h",
    "schedule_h",
    "target_salinity",
    "seed",
    "conf_level",
    "family",
    "comparisons",
    "control",
    "key_sha256",
    "storage",
    "criteria",
    "claims",
    "scale",
    "detection_limits",
)
SEALED_FILE = "sealed.txt"
NONCE_FILE = "key-nonce.txt"
_GROUPS = 8  # of four characters: 160 bits, too many for finding two plans with one seal


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


def sealed_text(settings):
    """The part of trial.toml that a seal covers, as text in a fixed order.

    Parameters
    ----------
    settings : dict
        What trial.toml holds.

    Returns
    -------
    str
        TOML text. Comments, spacing and the order of lines in trial.toml don't change it.
    """
    return toml_text({name: _ordered(settings[name]) for name in SEALED if name in settings})


def _ordered(value):
    if not isinstance(value, dict):
        return value
    return {key: _ordered(value[key]) for key in sorted(value)}


def seal_of(text):
    """The seal of a text: 32 letters and digits in groups of four, short enough to print.

    Parameters
    ----------
    text : str
        From `sealed_text`.

    Returns
    -------
    str
        The first 160 bits of its SHA-256 in the base-32 alphabet, which has no 0, 1, 8 or 9.

    References
    ----------
    Josefsson (2006), The Base16, Base32, and Base64 Data Encodings, RFC 4648, section 6.

    Examples
    --------
    >>> seal_of("abc")  # SHA-256 of "abc" begins ba7816bf 8f01cfea (FIPS 180-4, example)
    'XJ4B-NP4P-AHH6-UQKB-IDPF-3LRC-EOYA-GYND'
    """
    code = b32encode(sha256(text.encode()).digest()[:20]).decode()
    return "-".join(code[4 * i : 4 * i + 4] for i in range(_GROUPS))


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
    if _has_readings(folder / "readings.csv"):
        raise ValueError("readings.csv holds readings already: a seal now would prove nothing.")
    path = folder / "trial.toml"
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
    frame = pd.read_csv(path, dtype=str, keep_default_na=False)
    return "value" in frame and bool(frame["value"].str.strip().ne("").any())
