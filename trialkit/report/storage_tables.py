"""Tables of what weeks of standing did."""

from typing import Any

import pandas as pd

from .blocks import Prose, Table
from .columns import print_cell
from .printing import print_count, print_hours, print_interval, print_number, print_p, print_share
from .selection import heading_label, mix_names
from .storage_cells import (
    heads_of,
    named_rows,
    print_fixed,
    print_limits,
    print_signed,
    table_or_prose,
)
from .tables import marks_of


def evenness_table(results: Any) -> Table | Prose:
    """
    Top minus bottom of each mix with the decision.

    Parameters
    ----------
    results : Results
        With the table `homogeneity`.

    Returns
    -------
    Table or Prose
        A sentence when the table would have no row.
    """
    rows = [
        (name(row), row.stage, print_count(row.n), print_signed(row.estimate),
         print_limits(row), print_p(row.p_value), row.decision)
        for row, name in named_rows(results, "homogeneity")
    ]  # fmt: skip
    heads = heads_of(results, "Mix", "Stage", "Vessels>", "Mean difference>", "limits>", "p>",
                   "Decision")  # fmt: skip
    table = results["homogeneity"]
    margin = print_number(table["margin"].iloc[0]) if len(table) else "–"
    step = print_number(table["resolution"].max()) if len(table) else "–"
    note = (
        f"Two one-sided tests against a margin of {margin}; the instrument reads in steps of "
        f"{step}. Equivalent: shown to differ by less than the margin. Not settled: not shown "
        "either way."
    )
    return table_or_prose(
        "evenness-table", "Salinity at the top minus at the bottom", heads, rows, note
    )


def dose_table(results: Any) -> Table | Prose:
    """
    Dose of each mix at the target salinity, with what 100 L cost.

    Parameters
    ----------
    results : Results
        With the table `dose`.

    Returns
    -------
    Table or Prose
        A sentence when the table would have no row.
    """
    rows = [
        (name(row), print_count(row.n), print_fixed(row.reached, 2), print_fixed(row.estimate, 1),
         print_limits(row, 1), print_cell("label_dose_g_per_l", row.label_dose_g_per_l),
         _cost(row.cost))
        for row, name in named_rows(results, "dose")
    ]  # fmt: skip
    heads = heads_of(results, "Mix", "Vessels>", "Salinity reached>", "Dose at target, g/L>",
                   "limits, g/L>", "On the label, g/L>", "100 L cost>")  # fmt: skip
    note = (
        "Mixes hold different amounts of bound water: doses are compared at equal measured "
        "salinity, not gram for gram. The scaling to the target uses reference seawater and is "
        "nominal for a mix. Prices are in the currency of the trial folder."
    )
    marks = marks_of(results, results["dose"]["mix"])
    return table_or_prose("dose", "Salt that it took", heads, rows, note, marks)


def drift_table(results: Any) -> Table | Prose:
    """
    Change of salinity in storage, split into water lost and the rest.

    Parameters
    ----------
    results : Results
        With the table `storage`.

    Returns
    -------
    Table or Prose
        A sentence when the table would have no row.
    """
    rows = [
        (name(row), row.term, print_count(row.n), print_signed(row.estimate), print_limits(row))
        for row, name in named_rows(results, "storage")
    ]
    heads = heads_of(results, "Mix", "Part", "Vessels>", "Change>", "limits>")
    note = (
        "Water that leaves takes no salt along: that part follows from the masses. The rest is "
        "salt that fell out, a meter that drifted, or water that came in."
    )
    return table_or_prose("drift", "Change of practical salinity in storage", heads, rows, note)


def kept_table(results: Any) -> Table | Prose:
    """
    Share of vessels still clear on the last day of storage.

    Parameters
    ----------
    results : Results
        With the table `clarity_kept`.

    Returns
    -------
    Table or Prose
        A sentence when the table would have no row.
    """
    frame = results["clarity_kept"]
    names = mix_names(results)
    last = frame[frame["day"] == frame["day"].max()] if len(frame) else frame
    names_of = dict.fromkeys(last["criterion"])
    cells = {(row.mix, row.criterion): _kept_cells(row) for row in last.itertuples(index=False)}
    rows = [
        (names.get(mix, mix), *(cell for c in names_of for cell in cells.get((mix, c), ("–", "–"))))
        for mix in dict.fromkeys(last["mix"])
    ]
    labels = [heading_label(results, c) for c in names_of]
    heads = heads_of(results, "Mix", *(w for label in labels for w in (f"{label}>", "limits>")))
    day = f"Day {print_number(last['day'].max())}. " if len(last) else ""
    note = day + (
        "Exact binomial limits: a handful of vessels says little about all batches. Vessels not "
        "clear to begin with are not counted."
    )
    return table_or_prose("kept", "Vessels still clear at the end of storage", heads, rows, note)


def _kept_cells(row: Any) -> tuple[str, str]:
    limits = f"{print_share(row.conf_low)} to {print_share(row.conf_high)}"
    return f"{row.n_clear} of {row.n}", limits


def evenness_times_table(results: Any) -> Table | Prose:
    """
    Hours of mixing until the water of a vessel was one from top to bottom.

    Parameters
    ----------
    results : Results
        With the table `homogeneity_times`.

    Returns
    -------
    Table or Prose
        A sentence when the table would have no row.
    """
    rows = []
    assured = {r.mix: r for r, _ in named_rows(results, "homogeneity_times") if _is_assured(r)}
    for row, name in named_rows(results, "homogeneity_times"):
        if not _is_assured(row):
            rows.append(
                (name(row), f"{row.n_event} of {row.n}", print_hours(row.estimate),
                 print_interval(row.conf_low, row.conf_high),
                 print_hours(assured[row.mix].conf_high))
            )  # fmt: skip
    heads = heads_of(
        results, "Mix", "Seen even", "Typical time, h>", "limits, h>", "Assured time, h>"
    )
    note = (
        "Since when all heights agreed for good, between two readings. Assured time: at least 9 "
        "batches in 10 are even by then."
    )
    caption = "Mixing time until top and bottom agree"
    return table_or_prose("evenness-times", caption, heads, rows, note)


def clarity_change_table(results: Any) -> Table | Prose:
    """
    How much worse each mix stands against purified water after storage.

    Parameters
    ----------
    results : Results
        With the table `clarity_change`.

    Returns
    -------
    Table or Prose
        A sentence when the table would have no row.
    """
    rows = [
        (name(row), f"{row.criterion}, {row.unit}", print_count(row.n),
         print_signed(row.estimate), print_limits(row))
        for row, name in named_rows(results, "clarity_change")
    ]  # fmt: skip
    heads = heads_of(results, "Mix", "Reading", "Vessels>", "Worse by>", "limits>")
    note = (
        "Shortfall against the purified water of the same day, at the end of storage minus at the "
        "end of mixing. All vessels count, also those that never came clear."
    )
    caption = "What storage did to clarity"
    return table_or_prose("clarity-change", caption, heads, rows, note)


def _is_assured(row: Any) -> bool:
    return row.term == "assured time"


def changes_table(results: Any) -> Table | Prose:
    """
    Any further quantity before and after storage.

    Parameters
    ----------
    results : Results
        With the table `quantity_changes`.

    Returns
    -------
    Table or Prose
        A sentence when the table would have no row.
    """
    rows = [
        (name(row), f"{row.quantity}{', ' if row.unit else ''}{row.unit}", print_count(row.n),
         print_number(row.before), print_number(row.after), print_signed(row.estimate),
         print_limits(row))
        for row, name in named_rows(results, "quantity_changes")
    ]  # fmt: skip
    heads = heads_of(results, "Mix", "Quantity", "Vessels>", "Before>", "After>", "Change>",
                   "limits>")  # fmt: skip
    if not rows:
        return Prose("No other quantity was read before and after storage.", "changes")
    note = (
        "Means of vessels read both times. A fall of alkalinity together with calcium is what "
        "precipitation looks like; no chemistry is computed here."
    )
    return table_or_prose("changes", "Other quantities before and after storage", heads, rows, note)


def _cost(value: Any) -> str:
    missing = value is None or pd.isna(value)
    return "–" if missing else print_fixed(float(value), 2)
