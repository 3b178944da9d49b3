"""What of a plan its seal covers, and whether that was changed since."""

import tomllib
from base64 import b32encode
from hashlib import sha256

from .files import Folder
from .problems import Problem, file_problem, show
from .toml_keys import FILE, Toml, line_of
from .toml_write import toml_text

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
_GROUPS = 8  # of four characters: 160 bits, too many for finding two plans with one seal
_FIX = "put it back, or say in the report why it changed"


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


def changed_since(sealed: str, settings: dict) -> list[tuple[str, str, str]]:
    """Every sealed entry that differs now: its dotted name, sealed and present text ("" absent).

    Parameters
    ----------
    sealed : str
        The text of sealed.txt.
    settings : dict
        What trial.toml holds.
    """
    before = _flat(tomllib.loads(sealed))
    now = _flat({name: settings[name] for name in SEALED if name in settings})
    lines = [*before, *(line for line in now if line not in before)]
    rows = [(line, before.get(line, ""), now.get(line, "")) for line in lines]
    return [row for row in rows if row[1] != row[2]]


def _flat(table: dict, path: str = "") -> dict[str, str]:
    """Dotted name to text of every entry of a nested table."""
    flat = {}
    for key, value in table.items():
        name = f"{path}{key}"
        if isinstance(value, dict):
            flat |= _flat(value, f"{name}.")
        else:
            flat[name] = str(value)
    return flat


def seal_problems(folder: Folder, toml: Toml) -> list[Problem]:
    """A warning for each entry of trial.toml that was changed after it was sealed.

    Parameters
    ----------
    folder : Folder
        Its sealed.txt tells what changed; it is read only when the seal does not fit.
    toml : Toml
        What trial.toml holds.
    """
    settings = toml.settings
    seal = settings.get("seal")
    if not seal:
        message, fix = "there is a sealed plan, but trial.toml has no seal", f"{_FIX.capitalize()}."
        return [file_problem(FILE, message, fix, level="warn")] if folder.has(SEALED_FILE) else []
    if seal_of(sealed_text(settings)) == seal:
        return []
    data = folder.read(SEALED_FILE, needed=False) or b""
    sealed = data.decode("utf-8", "replace").replace("\r\n", "\n")
    # A copy that was edited along with the plan tells nothing.
    if seal_of(sealed) != seal:
        message = "the plan or its seal was changed after it was sealed"
        fix = f"{SEALED_FILE}, which tells what changed, is missing or altered; {_FIX}."
        return [file_problem(FILE, message, fix, level="warn")]
    return [_change(toml.text, *change) for change in changed_since(sealed, settings)]


def _change(text: str, name: str, before: str, now: str) -> Problem:
    """One entry that is not as it was sealed."""
    message = "this was changed after the plan was sealed"
    if not (before and now):
        message = f"this was {'added' if now else 'taken away'} after the plan was sealed"
    fix = f"Sealed was {show(before)}; {_FIX}." if before else f"{_FIX.capitalize()}."
    path, _, key = name.rpartition(".")
    line = line_of(text, path, key)
    return Problem(FILE, line, show(name), show(now), "warn", message, fix, 0)
