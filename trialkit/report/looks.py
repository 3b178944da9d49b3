"""What a single look at a vessel would find."""

import math
import re
from typing import Any

from .blocks import Column, Prose, Table
from .markdown import escape
from .needs import needs
from .printing import join, print_hours, print_interval
from .selection import (
    criterion_label,
    level_words,
    mix_names,
    mix_order,
    of_told_criterion,
    with_names,
)
from .tables import marks_of, some_hours

_FAR_H = 1000
_LISTED = 12  # of more mixes only the first and the last are named; the table has them all
_NO_FIT = ("no look clear", "every look clear")
_TIMES_ACROSS = 5  # a cell holds a count and two limits
_PLAIN = (
    (
        r"Logistic model of (\d+) clear looks among (\d+), on mix and log time, [^;]*; no "
        r"separation: [^.]*\.",
        r"That rests on \1 clear looks among \2, by a logistic model.",
    ),
    (
        r"Logistic model of (\d+) clear looks among (\d+), on mix and log time, [^;]*; "
        r"separation: [^.]*\.",
        r"That rests on \1 clear looks among \2, by a logistic model. Mix and time foretell these "
        r"looks without error, so that the penalty of the model alone holds the times back: they "
        r"are rough.",
    ),
    (r"Left out, every look alike: (.*)\.$", r"Not told, since all its looks were alike: \1."),
)
_NONE = "Intervals were given in place of readings, so there is no single look to tell of."


@needs("look_times", "look-words", _NONE)
def look_words(results: Any) -> Prose:
    """
    When a look is as likely to find a vessel clear as not, and what model says so.

    Parameters
    ----------
    results : Results
        With the tables `look_times`, `look_models`.

    Returns
    -------
    Prose
        A paragraph a criterion.
    """
    paragraphs = []
    for row in results["look_models"].itertuples(index=False):
        even = _look_rows(results, row.criterion, 0.5)
        names = mix_names(results)
        told = [
            f"{escape(names[mix])} {print_hours(even[mix].estimate)} h"
            for mix in mix_order(results, row.criterion)
            if mix in even and 0 < even[mix].estimate < math.inf
        ]
        colon = ":" if len(told) <= _LISTED else ""
        if len(told) > _LISTED:
            told = [f"times that go from {told[0]} to {told[-1]}"]
        label = escape(criterion_label(results, row.criterion))
        if told:
            words = f"One look finds a vessel {label} with even chances at{colon} {join(told)}. "
        else:
            words = f"For {label}: "
        paragraphs.append(words + escape(with_names(results, _plain(str(row.sentence)))))
    return Prose("\n\n".join(paragraphs))


def _plain(sentence: str) -> str:
    """What was fitted, for a reader who takes the model from the methods."""
    for found, told in _PLAIN:
        sentence = re.sub(found, told, sentence)
    return sentence


@needs("look_times", "looks", _NONE)
def look_table(results: Any) -> Table:
    """
    The times at which a look finds a vessel clear with a chance of one half, and of 9 in 10.

    Parameters
    ----------
    results : Results
        With the tables `mixes`, `times`, `look_times`.

    Returns
    -------
    Table
        A row a criterion and mix.
    """
    names, rows, mixes = mix_names(results), [], []
    for criterion in results["look_models"]["criterion"]:
        even, nine = (_look_rows(results, criterion, p) for p in (0.5, 0.9))
        for mix in mix_order(results, criterion):
            if mix in even:
                cells = [text for found in (even, nine) for text in _time_cells(found[mix])]
                rows.append((names[mix], criterion_label(results, criterion), *cells))
                mixes.append(mix)
    level = level_words(results)
    heads = [
        Column("Mix"),
        Column("Until"),
        Column("Even chances, h", "right"),
        Column(f"{level} limits, h"),
        Column("9 in 10, h", "right"),
        Column(f"{level} limits, h"),
    ]
    methods = [m for m in dict.fromkeys(results["look_times"]["method"]) if m not in _NO_FIT]
    note = (
        "Looks at one vessel hang together: the limits rest on the spread between vessels. One "
        "slope serves all mixes: where they don't spread alike the 9-in-10 times go astray. "
    )
    if methods:
        note += "Method: " + "; ".join(methods).replace("fieller", "Fieller limits") + "."
    caption = "When one look finds a vessel clear"
    return Table("looks", caption, heads, rows, note, marks_of(results, mixes))


@needs("look_shares", "look-shares", _NONE)
def look_share_table(results: Any, *, criterion: str | None = None) -> Table:
    """
    How many vessels were seen clear at chosen times, with exact limits of the share.

    Parameters
    ----------
    results : Results
        With the tables `mixes`, `times`, `look_shares`.
    criterion : str, optional
        The first one that was judged unless named.

    Returns
    -------
    Table
        At most five times, the first and the last among them.
    """
    shares = of_told_criterion(results, "look_shares", criterion)
    name = shares["criterion"].iloc[0]
    hours = some_hours(sorted(shares["time_h"].unique()), _TIMES_ACROSS)
    cells = {(row.mix, row.time_h): row for row in shares.itertuples(index=False)}
    order = [mix for mix in mix_order(results, name) if mix in set(shares["mix"])]
    names = mix_names(results)
    rows = [(names[m], *(_share_cell(cells.get((m, hour))) for hour in hours)) for m in order]
    level = level_words(results)
    note = (
        f"In brackets the exact {level} limits of the share of batches that a look at that time "
        "would find so (Clopper & Pearson 1934); they hold without a model and are wide."
    )
    heads = [Column("Mix"), *(Column(f"{hour:.3g} h", "right") for hour in hours)]
    caption = f"Vessels that one look found {criterion_label(results, name)}"
    return Table("look-shares", caption, heads, rows, note, marks_of(results, order))


def _look_rows(results: Any, criterion: str, p: float) -> dict[str, Any]:
    table = results["look_times"]
    own = table[(table["criterion"] == criterion) & (table["p"] == p)]
    return {row.mix: row for row in own.itertuples(index=False)}


def _time_cells(row: Any) -> tuple[str, str]:
    if row.estimate == math.inf:
        return "not reached", _limits(row)
    if row.estimate <= 0:
        return "before the first look", _limits(row)
    return print_hours(row.estimate), _limits(row)


def _limits(row: Any) -> str:
    """Both limits; one that lies beyond all watching is as good as none, and reads better so."""
    if row.conf_low > 0 and _FAR_H < row.conf_high < math.inf:
        return f"{print_hours(row.conf_low)} to over {_FAR_H}"
    return print_interval(row.conf_low, row.conf_high)


def _share_cell(row: Any) -> str:
    if row is None:
        return "–"
    # Exact limits are 0 and 1 only where no vessel, or every one, was clear.
    ends = [
        value * 100 if value in (0, 1) else min(max(value * 100, 1), 99)
        for value in (row.conf_low, row.conf_high)
    ]
    return f"{row.n_clear} of {row.n} ({ends[0]:.0f}–{ends[1]:.0f}%)"
