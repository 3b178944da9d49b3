"""The people whom trial.toml names as authors."""

import re

from .problems import Fault
from .toml_keys import Keys, a_text
from .trial import Author

_SHAPE = 'Write authors = ["Ada Byron", { given_names = "Ben", family_names = "Hall" }].'
_ORCID = re.compile(r"(?:https://orcid\.org/)?([0-9]{4}-[0-9]{4}-[0-9]{4}-[0-9]{3}[0-9X])")


def read_authors(keys: Keys) -> tuple[Author, ...]:
    """The authors of a trial, each written as a name or as a table; none when absent.

    Parameters
    ----------
    keys : Keys
        The top of trial.toml; what is wrong is added to its findings.
    """
    listed = keys.take("authors", _a_list, [])
    authors = [_author(keys, number, entry) for number, entry in enumerate(listed or [], 1)]
    return tuple(author for author in authors if author is not None)


def _a_list(value: object) -> object:
    """A list that holds something; one name alone is taken as a list of one."""
    if isinstance(value, str):
        return [value]
    if isinstance(value, list) and value:
        return value
    return Fault("a list of authors must stand here", _SHAPE)


def _author(keys: Keys, number: int, entry: object) -> Author | None:
    """One author out of a name or a table."""
    if not isinstance(entry, dict):
        name = a_text(entry)
        if not isinstance(name, Fault):
            return Author(name)
        keys.fault("authors", entry, Fault(f"author {number} is neither name nor table", _SHAPE))
        return None
    table = Keys(entry, "authors", keys.text, keys.found)
    parts = {
        key: table.take(key, check, "")
        for key, check in (
            ("name", a_text),
            ("given_names", a_text),
            ("family_names", a_text),
            ("affiliation", a_text),
            ("orcid", an_orcid),
        )
    }
    table.close()
    person = bool(parts["given_names"] and parts["family_names"])
    if person == bool(parts["name"]) or (parts["affiliation"] and not person):
        keys.fault("authors", "", Fault(f"author {number} is not named as one can be", _NAMED))
        return None
    return Author(**parts)


_NAMED = (
    "Give name, or given_names with family_names; an affiliation goes with the latter (Citation "
    "File Format 1.2.0)."
)


def an_orcid(value: object) -> object:
    """An ORCID iD as its address, its check digit right.

    The last of 16 characters is a check digit by ISO 7064:2003, MOD 11-2 (ORCID, "Structure of
    the ORCID Identifier").

    Examples
    --------
    >>> an_orcid("0000-0002-1825-0097")
    'https://orcid.org/0000-0002-1825-0097'
    >>> an_orcid("0000-0002-1825-0079").message
    'this is not an ORCID iD'
    """
    match = _ORCID.fullmatch(value) if isinstance(value, str) else None
    if match and _check_character(match[1].replace("-", "")[:-1]) == match[1][-1]:
        return f"https://orcid.org/{match[1]}"
    return Fault("this is not an ORCID iD", "Write it as 0000-0002-1825-0097.")


def _check_character(digits: str) -> str:
    """The check character of 15 digits by ISO 7064 MOD 11-2."""
    total = 0
    for digit in digits:
        total = (total + int(digit)) * 2
    return "0123456789X"[(12 - total % 11) % 11]
