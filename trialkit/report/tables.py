"""Tables of the report, made of the frames of the results."""

import math
from collections.abc import Sequence
from typing import Any

import pandas as pd

from .blocks import Answer, Column, Prose, Table
from .columns import COLUMNS, print_cell
from .marks import mix_marks
from .printing import print_count, print_hours, print_interval, print_number, print_time
from .selection import (
    criterion_label,
    floor_of,
    mix_codes,
    mix_names,
    mix_order,
    of_criterion,
    time_rows,
)
from .words import answer_sentence, assured_words

_TIMES_ACROSS = 8  # columns of hours that fit beside a name


def frame_table(
    frame: pd.DataFrame, label: str, caption: str, *, columns: Sequence[str], note: str = ""
) -> Table:
    """
    A frame as a table, each column headed and printed as the glossary says.

    Parameters
    ----------
    frame : pandas.DataFrame
    label, caption : str
    columns : sequence of str
        Names in ``COLUMNS``; those that the frame lacks, or that hold nothing, are left out.
    note : str

    Returns
    -------
    Table

    Raises
    ------
    KeyError
        For a column that the glossary lacks.

    Examples
    --------
    >>> frame = pd.DataFrame({"vessel": ["K17"], "right_h": [1.5]})
    >>> print(frame_table(frame, "x", "One vessel.", columns=["vessel", "right_h"]))
    One vessel.
    Vessel | Clear at, h
    K17 | 1.5
    """
    printed = {c: [print_cell(c, v) for v in frame[c]] for c in columns if c in frame}
    told = {c: cells for c, cells in printed.items() if any(t not in ("", "–") for t in cells)}
    heads = [COLUMNS[c].head for c in told]
    return Table(label, caption, heads, list(zip(*told.values(), strict=True)), note)


def answer(results: Any, *, criterion: str | None = None) -> Answer:
    """
    The cover: one sentence with one table, a row a mix, fastest first.

    Parameters
    ----------
    results : Results
        With the tables `mixes`, `vessels`, `times`.
    criterion : str, optional
        The trial's primary criterion unless named.

    Returns
    -------
    Answer
    """
    meta, window = results.meta, float(results.meta["window_h"])
    names = mix_names(results)
    typical = time_rows(results, "typical time", criterion)
    assured = time_rows(results, "assured time", criterion)
    label = criterion_label(results, criterion)
    level = f"{meta['conf_level'] * 100:g}%"
    rows = []
    for mix, row in typical.items():
        place = print_time(row.estimate, floor_of(row, window), row.conf_high)
        limits = "" if row.estimate == math.inf else print_interval(row.conf_low, row.conf_high)
        sure = assured_words(assured[mix], floor_of(row, window)) if mix in assured else "–"
        rows.append((names[mix], f"{row.n_event} of {row.n}", place, limits, sure))
    heads = [
        Column("Mix"),
        Column(f"Seen {label}"),
        Column("Typical time"),
        Column(f"{level} limits, h"),
        Column("Assured time"),
    ]
    note = (
        "Typical time: half of all batches are clear by then. Assured time: at least 9 batches in "
        f"10 are clear by then, with {level} confidence; mix at least this long. The order is that "
        "of the typical times and is not a proof that neighbours differ."
    )
    table = Table("answer", f"Time until {label}", heads, rows, note, _marks(results, typical))
    return Answer(
        title=meta["title"],
        subtitle=_subtitle(results),
        sentence=answer_sentence(results, criterion),
        table=table,
        facts=_facts(results),
        date=str(meta.get("start", ""))[:10],
    )


def _marks(results: Any, mixes: Any) -> list[dict[str, str]]:
    marks = mix_marks(mix_codes(results))
    return [marks[mix].to_json() for mix in mixes]


def _subtitle(results: Any) -> str:
    vessels = results["vessels"]
    trial = vessels[vessels["mix"].isin(mix_codes(results))]
    blocks = trial["block"].nunique()
    words = f"{len(results['mixes'])} mixes in {len(trial)} vessels"
    if blocks > 1:
        words += f" and {blocks} blocks"
    words += f", watched for {print_hours(float(results.meta['window_h']))} h"
    salinity = results.meta.get("target_salinity")
    return words + (f", practical salinity {print_number(salinity)}" if salinity else "")


def _facts(results: Any) -> list[tuple[str, str]]:
    meta = results.meta
    start = str(meta.get("start", "")).replace("T", " ")[:16]
    facts = [
        ("Trial began", f"{start} {meta.get('timezone', '')}".strip()),
        ("Licence", str(meta.get("licence") or "")),
        ("Made with", f"trialkit {_kit_version(meta)}"),
    ]
    return [(name, value) for name, value in facts if value]


def _kit_version(meta: dict) -> str:
    return str(meta.get("kit_version") or meta.get("versions", {}).get("trialkit", ""))


def times_table(results: Any, *, criterion: str | None = None) -> Table:
    """
    Every estimate of time, two rows a mix.

    Parameters
    ----------
    results : Results
        With the tables `mixes`, `times`.
    criterion : str, optional
        The trial's primary criterion unless named.

    Returns
    -------
    Table
    """
    names, window = mix_names(results), float(results.meta["window_h"])
    typical = time_rows(results, "typical time", criterion)
    assured = time_rows(results, "assured time", criterion)
    level = f"{results.meta['conf_level'] * 100:g}%"
    rows = [
        (
            names[mix],
            print_count(row.n),
            print_count(row.n_event),
            _estimate(row, window),
            print_interval(row.conf_low, row.conf_high),
            *_bound(assured.get(mix), floor_of(row, window)),
        )
        for mix, row in typical.items()
    ]
    heads = [
        Column("Mix"),
        Column("Vessels", "right"),
        Column("Cleared", "right"),
        Column("Half are clear, h"),
        Column(f"{level} limits, h"),
        Column("90% are clear, h"),
        Column(f"Upper {level} limit, h"),
    ]
    methods = list(dict.fromkeys(row.method for row in [*typical.values(), *assured.values()]))
    caption = f"Typical and assured times until {criterion_label(results, criterion)}"
    note = "Method: " + "; ".join(methods) + "." if methods else ""
    return Table("times", caption, heads, rows, note, _marks(results, typical))


def _estimate(row: Any, window_h: float) -> str:
    return print_time(row.estimate, floor_of(row, window_h), row.conf_high).removesuffix(" h")


def _bound(row: Any, floor_h: float) -> tuple[str, str]:
    """The time by which 90% are clear, with its upper limit."""
    if row is None:
        return "–", "–"
    estimate = print_time(row.estimate, floor_h, row.conf_high).removesuffix(" h")
    return estimate, assured_words(row, floor_h).removesuffix(" h")


def at_risk_table(results: Any, *, criterion: str | None = None) -> Table:
    """
    How many vessels were not yet clear at chosen times.

    Parameters
    ----------
    results : Results
        With the tables `mixes`, `times`, `at_risk`.
    criterion : str, optional
        The trial's primary criterion unless named.

    Returns
    -------
    Table
        At most eight times, the first and the last among them.
    """
    counts = of_criterion(results, "at_risk", criterion)
    hours = _spread(sorted(counts["time_h"].unique()))
    names = mix_names(results)
    order = [mix for mix in mix_order(results, criterion) if mix in set(counts["mix"])]
    cells = {(row.mix, row.time_h): row for row in counts.itertuples(index=False)}
    rows = [(names[mix], *(_waiting(cells.get((mix, hour))) for hour in hours)) for mix in order]
    heads = [Column("Mix"), *(Column(f"{hour:g} h", "right") for hour in hours)]
    return Table(
        label="at-risk",
        caption=f"Vessels not yet {criterion_label(results, criterion)}",
        columns=heads,
        rows=rows,
        note="Two numbers: some vessels stood between two looks, or were no longer followed.",
        marks=_marks(results, order),
    )


def _spread(hours: list[float]) -> list[float]:
    if len(hours) <= _TIMES_ACROSS:
        return hours
    last = len(hours) - 1
    return [hours[round(k * last / (_TIMES_ACROSS - 1))] for k in range(_TIMES_ACROSS)]


def _waiting(row: Any) -> str:
    if row is None:
        return "–"
    most = row.n_not_clear + row.n_unknown
    return f"{row.n_not_clear} to {most}" if row.n_unknown else str(row.n_not_clear)


def fit_table(results: Any) -> Table:
    """
    The models that the times rest on.

    Parameters
    ----------
    results : Results
        With the table `fits`.

    Returns
    -------
    Table
    """
    columns = ["criterion", "family", "n", "n_event", "scale", "loglik", "converged", "note"]
    note = (
        "Scale: spread of the logarithm of the times between vessels of one mix, shared by the "
        "mixes. Log-likelihoods compare families within one criterion; the higher fits better."
    )
    return frame_table(results["fits"], "fits", "Fitted models", columns=columns, note=note)


def criteria_table(results: Any) -> Table:
    """
    What "clear" meant in this trial.

    Parameters
    ----------
    results : Results

    Returns
    -------
    Table
    """
    declared = pd.DataFrame([c for c in results.meta["criteria"] if c.get("quantity")])
    heads = ["Criterion", "Means", "Tolerance", "Readings in a row", "Raters"]
    rows = [
        (
            str(row.criterion),
            str(row.label),
            f"{print_number(row.tolerance)} {row.unit}",
            print_count(row.hold),
            str(row.rater_rule),
        )
        for row in declared.itertuples(index=False)
    ]
    note = (
        "A reading meets a criterion when it is no worse than the reference vessel's reading of "
        "the same session by more than the tolerance. Fully clear: all criteria are met."
    )
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
    marks = _marks(results, results["mixes"]["mix"])
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
    return frame_table(
        problems.head(40),
        "problems",
        "Warnings and notes of the check",
        columns=columns,
        note=f"The first 40 of {len(problems)}; problems.csv holds all."
        if len(problems) > 40
        else "",
    )


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
    made = {"trialkit": _kit_version(meta), "Python": meta.get("python"), **meta["versions"]}
    rows = [(name, str(version)) for name, version in made.items() if version]
    rows += [("Seed", str(meta.get("seed", "none"))), ("Licence", str(meta.get("licence", "")))]
    return Table("versions", "Software and settings", [Column("What"), Column("Value")], rows)
