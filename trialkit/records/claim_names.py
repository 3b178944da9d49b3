"""What trial.toml says twice, and claims whose words and codes disagree."""

import re
from itertools import combinations

from .problems import Fault, Problem, cell_problem, show
from .rows import Rows
from .toml_keys import FILE, Toml, line_of
from .trial import Claim, Protocol


def claim_problems(protocol: Protocol, mixes: Rows, toml: Toml) -> list[Problem]:
    """Warnings about claims whose words name another mix than their keys, and about twins.

    Parameters
    ----------
    protocol : Protocol
    mixes : Rows
        mix, name.
    toml : Toml
        What trial.toml holds, with its text for line numbers.
    """
    text = toml.text
    words = {
        code: re.compile(rf"(?<!\w)(?:{re.escape(code)}|{re.escape(name)})(?!\w)", re.IGNORECASE)
        for code, name in zip(mixes["mix"], mixes["name"], strict=True)
        if name
    }
    found = []
    for claim in protocol.claims.values():
        said = [code for code, pattern in words.items() if pattern.search(claim.text)]
        found += _disagreements(claim, said, text)
    found += _twins(protocol, text) + _other_names(protocol, text)
    return found + _left_out(protocol, toml) + _licence(protocol, text)


def _other_names(protocol: Protocol, text: str) -> list[Problem]:
    """Criteria under the name of another quantity than they read."""
    found = []
    for rule in protocol.criteria.values():
        table = f"criteria.{rule.name}"
        if rule.name in protocol.quantities and rule.name != rule.quantity:
            message = "the criterion has the name of another quantity than it reads"
            fix = "Correct the name of the table or its quantity; were two tables exchanged?"
            found.append(_warn(table, "quantity", rule.quantity, message, fix, text))
    return found


def _left_out(protocol: Protocol, toml: Toml) -> list[Problem]:
    """Notes on keys that have a default: a line that was lost is not seen otherwise."""
    written, text = toml.settings, toml.text
    found = []
    for rule in protocol.criteria.values():
        if "label" not in written.get("criteria", {}).get(rule.name, {}):
            found.append(_note("criteria", rule.name, "label", rule.label, text))
    for claim in protocol.claims.values():
        own = written.get("claims", {}).get(claim.name, {})
        if claim.within_h is not None and "share" not in own:
            found.append(_note("claims", claim.name, "share", f"{claim.share:g}", text))
    return found


def _note(tables: str, name: str, key: str, taken: str, text: str) -> Problem:
    fault = Fault("the key is missing; its default was taken", _DEFAULT.format(key), "note")
    line = line_of(text, tables, name)
    return cell_problem(FILE, line, show(f"{tables}.{name}.{key}"), taken, fault)


_DEFAULT = "Write {}, or nothing if this is meant."


def _licence(protocol: Protocol, text: str) -> list[Problem]:
    """A note on a licence in words: its line may have been exchanged with another."""
    words = re.split(r"\s+(?:AND|OR|WITH)\s+", protocol.licence.strip("() "))
    if all(re.fullmatch(r"[\w.+:()-]+", word.strip("() ")) for word in words):
        return []
    fix = "Write an SPDX code (CC-BY-4.0), or nothing if these words are meant."
    fault = Fault("the licence stands in words, not as a code", fix, "note")
    line = line_of(text, "", "licence")
    return [cell_problem(FILE, line, "licence", protocol.licence, fault)]


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
    column = f"{table}.{key}".strip(".")
    return Problem(FILE, line, show(column), show(value), "warn", message, fix, 0)
