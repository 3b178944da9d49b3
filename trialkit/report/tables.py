"""Tables of the report, made of the frames of the results."""

import math
from collections.abc import Sequence
from typing import Any

import pandas as pd

from .blocks import Column, Table
from .columns import COLUMNS, print_cell
from .marks import mix_marks
from .printing import FAMILIES, print_count, print_interval, print_time
from .selection import (
    criterion_label,
    floor_of,
    level_words,
    limits_are_wider,
    mix_codes,
    mix_names,
    mix_order,
    of_criterion,
    time_rows,
)
from .words import assured_words

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


def marks_of(results: Any, mixes: Any) -> list[dict[str, str]]:
    """
    The marks that stand before the names of some mixes.

    Parameters
    ----------
    results : Results
    mixes : iterable of str
        Codes.

    Returns
    -------
    list of dict
    """
    marks = mix_marks(mix_codes(results))
    return [marks[mix].to_json() for mix in mixes]


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
    level = level_words(results)
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
    methods = _methods([*typical.values(), *assured.values()])
    caption = f"Typical and assured times until {criterion_label(results, criterion)}"
    note = "Method: " + "; ".join(methods) + "." if methods else ""
    if limits_are_wider(results, criterion):
        note = (
            "Limits: the wider of those by one spread between vessels for all mixes and those by "
            "a spread of the mix's own; both stand below."
        )
    return Table("times", caption, heads, rows, note, marks_of(results, typical))


def _methods(rows: list[Any]) -> list[str]:
    """What the limits rest on, each once: that an upper limit is one its column says."""
    told = [row.method.removeprefix("upper bound; ") for row in rows]
    for name, words in FAMILIES.items():
        told = [method.replace(f"{name},", f"{words} model,") for method in told]
    return list(dict.fromkeys(told))


def _estimate(row: Any, window_h: float) -> str:
    return print_time(row.estimate, floor_of(row, window_h), row.conf_high).removesuffix(" h")


def _bound(row: Any, floor_h: float) -> tuple[str, str]:
    """The time by which 90% are clear, with its upper limit."""
    if row is None:
        return "–", "–"
    estimate = print_time(row.estimate, floor_h, row.conf_high).removesuffix(" h")
    return estimate, assured_words(row, floor_h).removesuffix(" h")


_BETWEEN = (
    "Two numbers: some vessels stood between two looks, were seen clear too late to be confirmed, "
    "or were no longer followed."
)


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
    hours = some_hours(sorted(counts["time_h"].unique()), _TIMES_ACROSS)
    names = mix_names(results)
    order = [mix for mix in mix_order(results, criterion) if mix in set(counts["mix"])]
    cells = {(row.mix, row.time_h): row for row in counts.itertuples(index=False)}
    rows = [(names[mix], *(_waiting(cells.get((mix, hour))) for hour in hours)) for mix in order]
    heads = [Column("Mix"), *(Column(f"{hour:.3g} h", "right") for hour in hours)]
    unsure = any(" to " in cell for row in rows for cell in row[1:])
    return Table(
        label="at-risk",
        caption=f"Vessels not yet {criterion_label(results, criterion)}",
        columns=heads,
        rows=rows,
        note=_BETWEEN if unsure else "",
        marks=marks_of(results, order),
    )


def some_hours(hours: list[float], most: int) -> list[float]:
    """
    Some of many times, evenly chosen, the first and the last among them.

    Parameters
    ----------
    hours : list of float
        Sorted.
    most : int
        How many at most, 2 or more.

    Returns
    -------
    list of float

    Examples
    --------
    >>> some_hours([1, 2, 3, 4, 6, 8, 12], 3)
    [1, 4, 12]
    """
    if len(hours) <= most:
        return hours
    last = len(hours) - 1
    return [hours[round(k * last / (most - 1))] for k in range(most)]


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
    fits = results["fits"]
    fits = fits.assign(
        family=fits["family"].replace(FAMILIES),
        scale=fits["scale"].where(fits["scale"].between(0, math.inf, inclusive="neither")),
    )
    return frame_table(fits, "fits", "Fitted models", columns=columns, note=note)
