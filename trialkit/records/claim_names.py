"""What trial.toml says twice, and claims whose words and codes disagree."""

import re
from itertools import combinations

import pandas as pd

from .problems import Problem, show
from .toml_keys import FILE, line_of
from .trial import Claim, Protocol


def claim_problems(protocol: Protocol, mixes: pd.DataFrame, text: str) -> list[Problem]:
    """Warnings about claims whose words name another mix than their keys, and about twins.

    Parameters
    ----------
    protocol : Protocol
    mixes : DataFrame
        mix, name.
    text : str
        The text of trial.toml, for line numbers.
    """
    words = {
        code: re.compile(rf"(?<!\w)(?:{re.escape(code)}|{re.escape(name)})(?!\w)", re.IGNORECASE)
        for code, name in zip(mixes["mix"], mixes["name"], strict=True)
        if name
    }
    found = []
    for claim in protocol.claims.values():
        said = [code for code, pattern in words.items() if pattern.search(claim.text)]
        found += _disagreements(claim, said, text)
    return found + _twins(protocol, text)


def _disagreements(claim: Claim, said: list[str], text: str) -> list[Problem]:
    """Keys of a claim whose mix its text does not name, though it names others."""
    meant = {"mix": claim.mix, "before": claim.before}
    others = [code for code in said if code not in meant.values()]
    message = "the claim's text names another mix than its keys"
    fix = f"The text names {', '.join(others)}; correct the text, the key or the name in mixes.csv."
    return [
        _warn(f"claims.{claim.name}", key, code, message, fix, text)
        for key, code in meant.items()
        if code and code not in said and others
    ]


def _twins(protocol: Protocol, text: str) -> list[Problem]:
    """Criteria or claims that ask the same, as a table that was copied and left unchanged."""
    rules = [
        (f"criteria.{r.name}", (r.quantity, r.unit, r.tolerance, r.hold, r.rater_rule, r.better))
        for r in protocol.criteria.values()
    ]
    claims = [
        (f"claims.{c.name}", (c.mix, c.criterion, c.within_h, c.share, c.before))
        for c in protocol.claims.values()
    ]
    pairs = [*combinations(rules, 2), *combinations(claims, 2)]
    message = "this says the same as another table of trial.toml"
    return [
        _warn(name, "", "", message, f"Compare with [{first}]; change or drop one.", text)
        for (first, one), (name, two) in pairs
        if one == two
    ]


def _warn(table: str, key: str, value: str, message: str, fix: str, text: str) -> Problem:
    path, _, last = table.rpartition(".")
    line = line_of(text, table, key) if key else line_of(text, path, last)
    column = f"{table}.{key}".rstrip(".")
    return Problem(FILE, line, show(column), show(value), "warn", message, fix, 0)
