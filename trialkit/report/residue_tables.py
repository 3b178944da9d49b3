"""Tables of what was left on the vessels."""

import math
from typing import Any

from .blocks import Prose, Table
from .printing import print_count, print_figures, print_number, print_p
from .selection import mix_names
from .storage_cells import (
    heads_of,
    named_rows,
    print_amount,
    print_limits,
    table_or_prose,
)
from .tables import marks_of


def residue_table(results: Any) -> Table | Prose:
    """
    Residue of each mix: the median with its limits, the mean beside it.

    Parameters
    ----------
    results : Results
        With the tables `residue`, `residue_means`.

    Returns
    -------
    Table or Prose
        A sentence when the table would have no row.
    """
    means = results["residue_means"]
    means = means[means["term"] == "mean"].set_index("mix")["estimate"]
    rows = [
        (name(row), f"{row.n_event} of {row.n}", print_amount(row.estimate, row.conf_high),
         print_limits(row, None), print_figures(means.get(row.mix, math.nan), 3))
        for row, name in named_rows(results, "residue")
    ]  # fmt: skip
    table = results["residue"]
    unit = table["unit"].iloc[0] if len(table) else "mg"
    heads = heads_of(results, "Mix", "Detected", f"Median, {unit}>", f"limits, {unit}>",
                   f"Mean, {unit}>")  # fmt: skip
    note = (
        "Results below the detection limit count as just that; half the limit is never put in. "
        "The mean is by regression on order statistics, where three or more were detected."
    )
    return table_or_prose(
        "residue-table",
        "Residue at the end of storage",
        heads,
        rows,
        note,
        marks_of(results, table["mix"]),
    )


def residue_pairs_table(results: Any) -> Table | Prose:
    """
    Ratios of residue between mixes, those shown to differ first.

    Parameters
    ----------
    results : Results
        With the table `residue_ratios`.

    Returns
    -------
    Table or Prose
        A sentence when the table would have no row.
    """
    names = mix_names(results)
    frame = results["residue_ratios"]
    frame = frame.sort_values("p_adjusted", kind="stable") if len(frame) else frame
    rows = [
        (f"{names.get(row.mix_a, row.mix_a)} : {names.get(row.mix_b, row.mix_b)}",
         print_figures(row.estimate, 3), print_limits(row, None), print_p(row.p_value),
         print_p(row.p_adjusted))
        for row in frame.itertuples(index=False)
    ]  # fmt: skip
    heads = heads_of(results, "Mixes", "Ratio>", "limits>", "p>", "p, Holm>")
    note = (
        "Limits are those of each pair; the last column allows for the number of pairs. A pair "
        "not shown to differ is not shown to be the same."
    )
    return table_or_prose(
        "residue-pairs", "Residue of one mix over that of another", heads, rows, note
    )


def detection_table(results: Any) -> Table | Prose:
    """
    What the method can tell from nothing, declared and by the blanks.

    Parameters
    ----------
    results : Results
        With the table `residue_limits`.

    Returns
    -------
    Table or Prose
        A sentence when the table would have no row.
    """
    rows = [
        (row.term.capitalize(), f"{print_figures(row.estimate, 3)} {row.unit}",
         print_count(row.n) if row.n else "–", row.method)
        for row in results["residue_limits"].itertuples(index=False)
    ]  # fmt: skip
    heads = heads_of(results, "Limit", "Amount>", "Blank vessels>", "From")
    note = "Repeats of one blank vessel count as one vessel."
    return table_or_prose("detection", "Detection limits of the residue", heads, rows, note)


def cleaning_table(results: Any) -> Table | Prose:
    """
    Weeks between cleanings, with the assumptions that they rest on.

    Parameters
    ----------
    results : Results
        With the table `cleaning`.

    Returns
    -------
    Table or Prose
        A sentence when the table would have no row.
    """
    frame = results["cleaning"]
    rows = [
        (name(row), print_figures(row.estimate, 3), print_limits(row, None))
        for row, name in named_rows(results, "cleaning")
    ]
    note, caption = "", "Weeks between cleanings"
    if len(frame):
        note = frame["note"].iloc[0]
        caption += f" at an acceptable residue of {print_number(frame['acceptable'].iloc[0])}"
    heads = heads_of(results, "Mix", "Weeks>", "limits, weeks>")
    return table_or_prose("cleaning", caption, heads, rows, note)
