"""The files of a bundle described as a Data Package, so that other tools can read them too.

The standard is Data Package 2.0 (2024) with its Table Schema. A table is described by what really
stands in it: a column of numbers in which somebody wrote a decimal comma is called text.
"""

import csv
import hashlib
import io
import json
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from trialkit.dictionary import FIXED_CATEGORIES, describe_column
from trialkit.records.csvtext import decode
from trialkit.records.trial import Trial

__all__ = ["DESCRIPTOR", "describe_files", "write_datapackage"]

DESCRIPTOR = "datapackage.json"
PROFILES = "https://datapackage.org/profiles/2.0/"

MEDIA_TYPES = {
    "csv": "text/csv",
    "html": "text/html",
    "ipynb": "application/x-ipynb+json",
    "json": "application/json",
    "pdf": "application/pdf",
    "svg": "image/svg+xml",
    "toml": "application/toml",
    "txt": "text/plain",
    "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
}

FORMS = {
    "number": re.compile(r"[+-]?[0-9]+(\.[0-9]+)?([eE][+-]?[0-9]+)?"),
    "integer": re.compile(r"[+-]?[0-9]+"),
    "datetime": re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2}"),
}
FORMATS = {"datetime": "%Y-%m-%dT%H:%M:%S"}

# The table in which each code is introduced, by its column.
HOMES = {"mix": "mixes", "vessel": "vessels", "rater": "raters"}
KEYED = {"mixes": "mix", "vessels": "vessel", "raters": "rater", "key": "vessel"}


@dataclass(frozen=True)
class _Table:
    """Cells of a file by heading, as they stand there."""

    columns: dict[str, list[str]]
    delimiter: str
    encoding: str

    def filled(self, name: str) -> set[str]:
        return set(self.columns[name]) - {""}


def write_datapackage(folder: Path, trial: Trial) -> Path:
    """Path of the datapackage.json written into a folder.

    Parameters
    ----------
    folder : pathlib.Path
        The folder that becomes the bundle.
    trial : Trial
        What was read from its inputs.

    Returns
    -------
    pathlib.Path
        The file written.
    """
    path = folder / DESCRIPTOR
    text = json.dumps(describe_files(folder, trial), ensure_ascii=False, indent=1)
    path.write_text(text + "\n", encoding="utf-8", newline="\n")
    return path


def describe_files(folder: Path, trial: Trial) -> dict:
    """The descriptor of all files of a folder, as datapackage.json holds it.

    Parameters
    ----------
    folder : pathlib.Path
        The folder; its inputs are in `trial/`, what was computed is in `report/`.
    trial : Trial
        What was read from the inputs.

    Returns
    -------
    dict
        Name, title, licence, and one resource a file with its size, SHA-256 and, for tables,
        columns with type, unit, meaning, categories and keys.

    References
    ----------
    Data Package (2024), version 2.0, with Table Schema.
    """
    files = sorted(p for p in folder.rglob("*") if p.is_file() and p.parent != folder)
    tables = {p: t for p in files if p.suffix == ".csv" and (t := _read(p)) is not None}
    categories = FIXED_CATEGORIES | _trial_categories(trial)
    known = {
        name: tables[folder / "trial" / f"{home}.csv"].filled(name)
        for name, home in HOMES.items()
        if _has_column(tables.get(folder / "trial" / f"{home}.csv"), name)
    }
    resources = []
    for path in files:
        resource = _resource(path, path.relative_to(folder).as_posix())
        if path in tables:
            schema = _schema(resource["name"], tables[path], categories, known)
            resource |= _table_entries(tables[path]) | {"schema": schema}
        resources.append(resource)
    return _head(trial) | {"resources": resources}


def slug(text: str) -> str:
    """The text as a name of small letters, digits and hyphens.

    Parameters
    ----------
    text : str
        Any text.

    Returns
    -------
    str
        At most 66 characters; "trial" when nothing is left.

    Examples
    --------
    >>> slug("Harbour culture room: six blends")
    'harbour-culture-room-six-blends'
    """
    plain = re.sub(r"[^a-z0-9]+", "-", text.casefold()).strip("-")
    plain = plain[:60].strip("-") or "trial"
    # Some systems take these for devices, whatever ending follows.
    return f"trial-{plain}" if re.fullmatch("con|prn|aux|nul|(com|lpt)[0-9]", plain) else plain


def _head(trial: Trial) -> dict:
    protocol = trial.protocol
    # An SPDX code names a licence; any other text describes one.
    is_code = re.fullmatch(r"[A-Za-z0-9][A-Za-z0-9.+-]*", protocol.licence)
    code = protocol.licence if is_code else "other"
    return {
        "$schema": PROFILES + "datapackage.json",
        "name": slug(protocol.title),
        "title": protocol.title,
        "description": "Side-by-side trial of synthetic sea-salt mixes: readings, declared "
        "criteria and what was computed from them. Times are hours since each vessel's start; "
        f"clock times are local ({protocol.timezone}).",
        "keywords": ["synthetic sea salt", "mixing time", "interval-censored"],
        "licenses": [{"name": code, "title": protocol.licence}],
    }


def _resource(path: Path, name: str) -> dict:
    data = path.read_bytes()
    kind = path.suffix[1:].lower()
    stem = slug(path.stem)
    return {
        "$schema": PROFILES + "dataresource.json",
        "name": stem if kind == "csv" else f"{stem}-{kind}",
        "path": name,
        "format": kind,
        "mediatype": MEDIA_TYPES.get(kind, "application/octet-stream"),
        "bytes": len(data),
        "hash": f"sha256:{hashlib.sha256(data).hexdigest()}",
    }


def _read(path: Path) -> _Table | None:
    """The cells of a CSV file; None where they make no plain table with one row of headings."""
    data = path.read_bytes()
    text, _ = decode(path.name, data)
    if not text:
        return None
    first = text.splitlines()[0]
    # The headings of the kit hold neither of these signs.
    delimiter = max(",;\t", key=first.count)
    rows = list(csv.reader(io.StringIO(text, newline=""), delimiter=delimiter))
    header, body = rows[0], rows[1:]
    plain = len(set(header)) == len(header) and all(h and h == h.strip() for h in header)
    if not plain or any(len(row) != len(header) or not any(row) for row in body):
        return None
    columns = {name: [row[i] for row in body] for i, name in enumerate(header)}
    return _Table(columns, delimiter, _encoding(data))


def _encoding(data: bytes) -> str:
    """The IANA name of the encoding in which the kit read the bytes."""
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return "utf-16"
    try:
        data.decode("utf-8")
    except UnicodeDecodeError:
        return "windows-1252"
    return "utf-8"


def _has_column(table: _Table | None, name: str) -> bool:
    return table is not None and name in table.columns


def _table_entries(table: _Table) -> dict:
    entries = {"type": "table", "encoding": table.encoding}
    if table.delimiter == ",":
        return entries
    return entries | {"dialect": {"delimiter": table.delimiter}}


def _schema(name: str, table: _Table, categories: dict, known: dict[str, set[str]]) -> dict:
    schema = {
        "$schema": PROFILES + "tableschema.json",
        "fields": [
            _field(describe_column(name, column), column, table.filled(column), categories)
            for column in table.columns
        ],
        "missingValues": [""],
    }
    key = KEYED.get(name)
    if key in table.columns and len(table.filled(key)) == len(table.columns[key]):
        schema["primaryKey"] = [key]
    foreign = list(_foreign_keys(name, table, known))
    return schema | {"foreignKeys": foreign} if foreign else schema


def _field(described: tuple, name: str, cells: set[str], categories: dict) -> dict:
    kind, unit, meaning = described
    if kind in FORMS and not all(FORMS[kind].fullmatch(cell) for cell in cells):
        kind = "string"
    field = {"name": name, "type": kind}
    parts = {"format": FORMATS.get(kind), "description": meaning, "unit": unit}
    field |= {key: value for key, value in parts.items() if value}
    labels = categories.get(name, {})
    if labels and cells <= set(labels):
        field["categories"] = [{"value": value, "label": label} for value, label in labels.items()]
        # Tools that know only the first version of the standard check this instead.
        field["constraints"] = {"enum": list(labels)}
    return field


def _foreign_keys(name: str, table: _Table, known: dict[str, set[str]]) -> Iterator[dict]:
    for column, home in HOMES.items():
        if name == home or column not in table.columns or column not in known:
            continue
        if table.filled(column) <= known[column]:
            reference = {"resource": home, "fields": [column]}
            yield {"fields": [column], "reference": reference}


def _trial_categories(trial: Trial) -> dict[str, dict[str, str]]:
    """Codes of the trial with the names that they stand for."""
    kinds = trial.protocol.quantities
    names = trial.mixes["name"].where(trial.mixes["name"].notna(), trial.mixes["mix"])
    criteria = {name: rule.label for name, rule in trial.protocol.criteria.items()}
    used = [name for name in kinds if (trial.readings["quantity"] == name).any()]
    return {
        "mix": dict(zip(trial.mixes["mix"], names, strict=True)),
        "rater": dict(zip(trial.raters["rater"], trial.raters["name"], strict=True)),
        "criterion": criteria | {"fully clear": "all criteria met"},
        "quantity": {name: kinds[name].label for name in used},
        "unit": {unit: unit for name in used for unit in kinds[name].units},
    }
