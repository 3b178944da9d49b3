"""Tables of what a report rests on: rules, mixes, files, versions."""

from typing import Any

import pandas as pd

from .blocks import Column, Prose, Table
from .printing import print_count, print_measure
from .selection import kit_version
from .tables import frame_table, marks_of

_OF_A_KIND = 3  # findings of one kind that a reader needs to see
_MOST = 40  # rows


def criteria_table(results: Any) -> Table | Prose:
    """
    What "clear" meant in this trial.

    Parameters
    ----------
    results : Results

    Returns
    -------
    Table or Prose
        A sentence where no criterion names what was read.
    """
    declared = pd.DataFrame([c for c in results.meta["criteria"] if c.get("quantity")])
    heads = ["Criterion", "Called", "Tolerance", "Readings in a row", "Raters"]
    rows = [
        (
            str(row.criterion),
            str(row.label),
            print_measure(row.tolerance, row.unit),
            print_count(row.hold),
            str(row.rater_rule),
        )
        for row in declared.itertuples(index=False)
    ]
    if not rows:
        return Prose("What counted as clear these results don't say.", "criteria", told=True)
    note = (
        "A reading meets a criterion when it is no worse, by more than the tolerance, than the "
        "reading of the vessel of purified water in the same session."
    )
    if len(rows) > 1:
        note += " Fully clear: all criteria are met."
    return Table("criteria", "What counted as clear", [Column(h) for h in heads], rows, note)


def mix_table(results: Any) -> Table:
    """
    The mixes with lot, dose on the label, price.

    Parameters
    ----------
    results : Results

    Returns
    -------
    Table
    """
    columns = ["mix", "name", "lot", "label_dose_g_per_l", "price_per_kg"]
    table = frame_table(results["mixes"], "mixes", "The mixes", columns=columns)
    marks = marks_of(results, results["mixes"]["mix"])
    return Table(table.label, table.caption, table.columns, table.rows, "", marks)


def problem_table(results: Any) -> Table | Prose:
    """
    What the reading of the trial folder warned about or noted.

    Parameters
    ----------
    results : Results

    Returns
    -------
    Table or Prose
        A sentence when there was nothing.
    """
    problems = results["problems"]
    if problems.empty:
        return Prose("The check of the trial folder found nothing to warn about.")
    columns = ["level", "file", "row", "column", "value", "message", "fix"]
    shown = _some_of_each_kind(problems)
    note = "" if len(shown) == len(problems) else f"All {len(problems)} stand in problems.csv."
    caption = "Warnings and notes of the check"
    return frame_table(shown.head(_MOST), "problems", caption, columns=columns, note=note)


def _some_of_each_kind(problems: pd.DataFrame) -> pd.DataFrame:
    """Three findings of each kind, the rest of them counted in a row of its own."""
    parts = []
    for _, own in problems.groupby(["level", "file", "column", "message"], sort=False):
        if len(own) <= 2 * _OF_A_KIND:
            parts.append(own)
            continue
        rest = {"message": f"and {len(own) - _OF_A_KIND} more of this kind", "fix": "", "value": ""}
        parts += [own.head(_OF_A_KIND), own.head(1).assign(**rest, row=None)]
    return pd.concat(parts, ignore_index=True)


def input_table(results: Any) -> Table:
    """
    The files that the numbers were computed from.

    Parameters
    ----------
    results : Results

    Returns
    -------
    Table
    """
    frame = pd.DataFrame(results.meta["inputs"])
    return frame_table(frame, "inputs", "Input files", columns=["file", "bytes", "sha256"])


def version_table(results: Any) -> Table:
    """
    What the numbers were computed with.

    Parameters
    ----------
    results : Results

    Returns
    -------
    Table
    """
    meta = results.meta
    made = {"trialkit": kit_version(results), "Python": meta.get("python"), **meta["versions"]}
    rows = [(name, str(version)) for name, version in made.items() if version]
    rows += [("Seed", str(meta.get("seed", "none"))), ("Licence", str(meta.get("licence", "")))]
    return Table("versions", "Software and settings", [Column("What"), Column("Value")], rows)
