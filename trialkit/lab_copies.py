"""Copies of the kit's notebooks set to one trial; a copy that was edited is never overwritten."""

import ast
import copy
import hashlib
import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from trialkit.publish import shipped

__all__ = ["LAB", "LabCopy", "prepare_lab"]

LAB = "lab"

# The notebooks that read a trial, with what their parameters are in FOLDER/lab.
SETTINGS: dict[str, dict[str, Any]] = {
    "comparison.ipynb": {"folder": "..", "out": "."},
    "storage.ipynb": {"folder": "..", "out": "storage"},
}

COPIED, KEPT, RENEWED, UNCHANGED = "copied", "kept", "renewed", "unchanged"

PANEL_TEXT = """## Move the definition of clear

The report rests on what trial.toml declared before the first reading. Here you can see how much \
hangs on it. Move tolerance, readings in a row or the rater rule: intervals, curves and ranking \
follow. What you find here is exploration, not a result: the declared definition stays the one \
that counts."""
PANEL_CODE = "tk.clearing_panel(trial)"
LOOKS_TEXT = """## Look at the readings themselves

Every look at every vessel, before anything is judged: a line that stands apart, a reader who lies \
above the other, a mix that stops short. Change it as you like; the names of the columns are those \
of `trial.readings`."""
LOOKS_CODE = """import seaborn as sns

quantity = next(iter(trial.protocol.criteria.values())).quantity
looks = trial.readings.query("phase == 'mixing' and quantity == @quantity")
looks = looks.merge(trial.mixes[["mix", "name"]], how="left").fillna({"name": "purified water"})
sns.relplot(
    looks, x="elapsed_h", y="value", hue="rater", col="name", col_wrap=3, height=2.2, marker="o",
    kind="line", units="vessel", estimator=None,
).set(xscale="log", xlabel="hours", ylabel=quantity)"""


@dataclass(frozen=True)
class LabCopy:
    """What was done about one notebook.

    Attributes
    ----------
    path : pathlib.Path
        The copy.
    action : str
        "copied" (new), "unchanged", "renewed" (the kit's notebook changed, yours had not), or
        "kept" (you edited it, so it stays as it is).
    """

    path: Path
    action: str

    def __str__(self) -> str:
        words = {
            COPIED: "copied",
            UNCHANGED: "there already",
            RENEWED: "brought up to this version of the kit",
            KEPT: "kept as you edited it; rename it and run this again for a fresh copy",
        }
        return f"{self.path.name}: {words[self.action]}"


def prepare_lab(folder: str | Path) -> list[LabCopy]:
    """What was done about each notebook: copies in FOLDER/lab, set to this trial.

    A copy that was edited is never overwritten: the cells as they were copied are remembered in
    the notebook by their SHA-256. Outputs and a run do not count as an edit.

    Parameters
    ----------
    folder : str or pathlib.Path
        The trial folder.

    Returns
    -------
    list of LabCopy
        One a notebook; `str` of each is a line for the user.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as made:
    ...     first, again = prepare_lab(made), prepare_lab(made)
    >>> print(first[0])
    comparison.ipynb: copied
    >>> print(again[0])
    comparison.ipynb: there already
    """
    target = Path(folder) / LAB
    for settings in SETTINGS.values():
        (target / settings["out"]).mkdir(parents=True, exist_ok=True)
    return [
        _place(shipped("notebooks") / name, target / name)
        for name in SETTINGS
        if (shipped("notebooks") / name).is_file()
    ]


def _place(source: Path, target: Path) -> LabCopy:
    """Write the copy unless the user has made the one there their own."""
    fresh = _fitted(json.loads(source.read_text(encoding="utf-8")), SETTINGS[source.name])
    action = _action(fresh, target)
    if action in (COPIED, RENEWED):
        text = json.dumps(fresh, ensure_ascii=False, indent=1)
        target.write_text(text + "\n", encoding="utf-8", newline="\n")
    return LabCopy(target, action)


def _action(fresh: dict, target: Path) -> str:
    if not target.exists():
        return COPIED
    try:
        there = json.loads(target.read_text(encoding="utf-8"))
        remembered = there["metadata"]["trialkit"]["cells_sha256"]
        now = _fingerprint(there)
    except (OSError, ValueError, LookupError, TypeError):
        return KEPT
    if now != remembered:
        return KEPT
    return UNCHANGED if now == _fingerprint(fresh) else RENEWED


def _fingerprint(notebook: dict) -> str:
    """SHA-256 over kind and text of all cells; saved text may be one string or a list of lines."""
    cells = [[cell["cell_type"], "".join(cell["source"])] for cell in notebook["cells"]]
    return hashlib.sha256(json.dumps(cells).encode()).hexdigest()


def _fitted(notebook: dict, settings: dict[str, Any]) -> dict:
    """The notebook with these values in its parameter cell, with what only a screen can show.

    The raw readings and the panel stand at its end; neither runs for a report.
    """
    notebook = copy.deepcopy(notebook)
    for cell in notebook["cells"]:
        if "parameters" in cell["metadata"].get("tags", []):
            cell["source"] = with_parameters("".join(cell["source"]), settings)
    # Only where the notebook holds a trial as such.
    if any("tk.trial_results(trial" in "".join(cell["source"]) for cell in notebook["cells"]):
        notebook["cells"] += [
            _cell("markdown", LOOKS_TEXT, "looks"),
            _cell("code", LOOKS_CODE, "looks"),
            _cell("markdown", PANEL_TEXT, "panel"),
            _cell("code", PANEL_CODE, "panel"),
        ]
    notebook["metadata"]["kernelspec"] = {
        "display_name": "Python 3",
        "language": "python",
        "name": "python3",
    }
    notebook["metadata"]["trialkit"] = {"cells_sha256": _fingerprint(notebook)}
    return notebook


def _cell(kind: str, source: str, name: str) -> dict:
    cell = {"cell_type": kind, "id": f"{name}-{kind}", "metadata": {}, "source": source}
    # A report would refuse what only a screen can show.
    cell["metadata"]["tags"] = ["screen-only"]
    return cell if kind == "markdown" else cell | {"execution_count": None, "outputs": []}


def with_parameters(source: str, values: dict[str, Any]) -> str:
    """The text of a parameter cell with other values, its comments and types untouched.

    Parameters
    ----------
    source : str
        Lines such as ``folder: str = "."  # the trial folder``.
    values : dict
        Plain values by name; names that the cell lacks are left out.

    Returns
    -------
    str

    Examples
    --------
    >>> print(with_parameters('folder: str = "."  # where', {"folder": ".."}))
    folder: str = ".."  # where
    """
    lines = source.splitlines()
    for node in ast.parse(source).body:
        name = node.target.id if isinstance(node, ast.AnnAssign) else None
        if name in values and node.value.lineno == node.value.end_lineno:
            row = node.value.lineno - 1
            # ast counts bytes, not letters.
            line = lines[row].encode()
            before, after = line[: node.value.col_offset], line[node.value.end_col_offset :]
            lines[row] = (before + _literal(values[name]).encode() + after).decode()
    return "\n".join(lines)


def _literal(value: Any) -> str:
    """The value as Python writes it, a text in double quotation marks as in our notebooks."""
    return json.dumps(value, ensure_ascii=False) if isinstance(value, str) else repr(value)
