"""Whether a plan and its key are still those that were sealed."""

import tomllib
from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from trialkit.records.sealed import SEALED_FILE, changed_since, seal_of, sealed_text

from .blocks import Told
from .seal import NONCE_FILE, key_digest


@dataclass(frozen=True)
class SealCheck(Told):
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

    def __str__(self):
        return self.sentence

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
    return _frame(changed_since(sealed, settings))


def _frame(rows):
    return pd.DataFrame(rows, columns=["line", "sealed", "now"])


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
