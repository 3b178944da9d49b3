"""Proof that a key or a protocol is still the one that was set before the first reading.

A digest proves that nothing was changed since the digest was *published*. It cannot show when the
digest was made, that nobody looked at the key, or that only one plan was sealed: someone who seals
three plans can publish the one that suits. Print it on the reading sheets and post it, dated,
where you cannot edit it, before the salt goes in.
"""

import tomllib
from base64 import b32encode
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path

import pandas as pd

from .folder import toml_text

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
SEALED_FILE = "sealed.toml"
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


@dataclass(frozen=True)
class SealCheck:
    """Whether the plan and the key are still the sealed ones.

    Parameters
    ----------
    status : {"yes", "changed since", "no seal"}
        Answer to "declared before the first reading?".
    key : {"yes", "changed since", "no key", "no nonce", "not sealed"}
        The same for the key.
    changes : pandas.DataFrame
        Columns line, sealed, now: every entry that differs; "" where it is absent.
    seal : str
        The seal in trial.toml, "" when there is none.
    """

    status: str
    key: str
    changes: pd.DataFrame
    seal: str

    @property
    def sentence(self):
        """The finding as a report prints it."""
        return f"{_plan_sentence(self)} {_KEY_SENTENCES[self.key]}"


_KEY_SENTENCES = {
    "yes": "The key is the one that was sealed.",
    "changed since": "The key is not the one that was sealed.",
    "no key": "There is no key to check.",
    "no nonce": "The key can't be checked: key-nonce.txt, which belongs to it, is missing.",
    "not sealed": "The key was not sealed.",
}


def _plan_sentence(check):
    if check.status == "no seal":
        return "Declared before the first reading: no seal, so nothing shows it."
    if check.status == "yes":
        return (
            f"Declared before the first reading: yes, as far as the seal {check.seal} was "
            "published before it; a seal shows that nothing changed, not when it was made."
        )
    if check.changes.empty:
        return (
            f"Declared before the first reading: changed since; the plan does not fit the seal "
            f"{check.seal}, and {SEALED_FILE} is missing or altered, so what changed is not known."
        )
    lines = ", ".join(check.changes["line"])
    return f"Declared before the first reading: changed since, in {lines}."


def check_seal(folder):
    """Whether criteria, claims, schedule, analysis choices and key are still the sealed ones.

    Parameters
    ----------
    folder : path-like
        The trial folder.

    Returns
    -------
    SealCheck
        Prints as a sentence through ``.sentence``.

    Raises
    ------
    FileNotFoundError
        No trial.toml in the folder.
    """
    folder = Path(folder)
    settings = tomllib.loads((folder / "trial.toml").read_text(encoding="utf-8-sig"))
    seal = str(settings.get("seal", ""))
    text = sealed_text(settings)
    status = "no seal" if not seal else "yes" if seal_of(text) == seal else "changed since"
    changes = _changes(folder, seal, settings) if status == "changed since" else _frame([])
    return SealCheck(status, _check_key(folder, settings), changes, seal)


def _changes(folder, seal, settings):
    path = folder / SEALED_FILE
    if not path.is_file():
        return _frame([])
    sealed = path.read_text(encoding="utf-8").replace("\r\n", "\n")
    # A copy that was edited along with the plan tells nothing.
    if seal_of(sealed) != seal:
        return _frame([])
    before = _flat(tomllib.loads(sealed))
    now = _flat({name: settings[name] for name in SEALED if name in settings})
    lines = [*before, *(line for line in now if line not in before)]
    rows = [(line, before.get(line, ""), now.get(line, "")) for line in lines]
    return _frame([row for row in rows if row[1] != row[2]])


def _frame(rows):
    return pd.DataFrame(rows, columns=["line", "sealed", "now"])


def _flat(table, path=""):
    """Dotted name to text of every entry of a nested table."""
    flat = {}
    for key, value in table.items():
        name = f"{path}{key}"
        if isinstance(value, dict):
            flat |= _flat(value, f"{name}.")
        else:
            flat[name] = str(value)
    return flat


def _check_key(folder, settings):
    digest = settings.get("key_sha256", "")
    if not digest:
        return "not sealed"
    if not (folder / "key.csv").is_file():
        return "no key"
    nonce = settings.get("key_nonce", "") or _nonce(folder)
    if not nonce:
        return "no nonce"
    key = pd.read_csv(folder / "key.csv", dtype=str, keep_default_na=False)
    if not {"vessel", "mix"} <= set(key.columns):
        return "changed since"
    return "yes" if key_digest(key, nonce) == digest else "changed since"


def _nonce(folder):
    path = folder / NONCE_FILE
    return path.read_text(encoding="utf-8").strip() if path.is_file() else ""
