"""What the cells of the storage tables hold, and how their heads read."""

import math
from collections.abc import Iterator
from functools import partial
from typing import Any

from .blocks import Column, Prose, Table
from .printing import print_figures
from .selection import level_words, mix_names


def table_or_prose(label, caption, heads, rows, note, marks=None) -> Table | Prose:
    """The table, or a sentence when it would have no row."""
    if not rows:
        return Prose(f"{caption}: nothing was read.", label)
    return Table(label, caption, heads, rows, note, marks)


def heads_of(results: Any, *words: str) -> list[Column]:
    """Columns; a trailing > sets numbers to the right, "limits" gets its level."""
    level = f"{level_words(results)} "
    heads = []
    for word in words:
        text = word.removesuffix(">")
        text = level + text if text.startswith("limits") else text
        heads.append(Column(text, "right" if word.endswith(">") else "left"))
    return heads


def named_rows(results: Any, table: str) -> Iterator[tuple[Any, Any]]:
    """Rows of a table, each with a function that names its mix."""
    names = mix_names(results)
    for row in results[table].itertuples(index=False):
        yield row, lambda r: names.get(r.mix, r.mix)


def print_fixed(value: float, digits: int) -> str:
    """A number to so many decimals, with a true minus sign."""
    return f"{value:.{digits}f}".replace("-", "−")


def print_limits(row: Any, digits: int | None = 2) -> str:
    """The two limits of a row; three figures when no decimals are named."""
    low, high = float(row.conf_low), float(row.conf_high)
    # A ratio or an amount from 0 on is no more placed than a change from minus infinity on.
    if math.isinf(high) and (math.isinf(low) or low == 0):
        return "not placed"
    show = (
        partial(print_figures, figures=3) if digits is None else partial(print_fixed, digits=digits)
    )
    if math.isinf(high):
        return f"above {show(low)}"
    return f"{show(low)} to {show(high)}"


def print_signed(value: float) -> str:
    """
    A change to two decimals with its sign; none when it rounds to nothing.

    Parameters
    ----------
    value : float

    Returns
    -------
    str

    Examples
    --------
    >>> print_signed(0.3375), print_signed(-0.001)
    ('+0.34', '0.00')
    """
    rounded = f"{value:+.2f}"
    return "0.00" if float(rounded) == 0 else rounded.replace("-", "−")


def print_amount(value: float, high: float) -> str:
    """
    An amount, or what it lies under when all of it was below the detection limit.

    Parameters
    ----------
    value, high : float
        The estimate with its upper limit.

    Returns
    -------
    str

    Examples
    --------
    >>> print_amount(25.79, 48.0), print_amount(0.0, 11.5)
    ('25.8', 'under 11.5')
    """
    if value > 0:
        return print_figures(value, 3)
    return f"under {print_figures(high, 3)}" if math.isfinite(high) else "not placed"
