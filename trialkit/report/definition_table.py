"""Table of the times under every definition of clear."""

from typing import Any

from .blocks import Column, Table
from .needs import needs
from .printing import print_hours, print_share, print_span
from .selection import criterion_label, mix_names, mix_order
from .tables import marks_of


@needs(
    "sensitivity_summary",
    "sensitivity",
    "Definitions can be varied where readings, not intervals, were given.",
)
def sensitivity_table(results: Any) -> Table:
    """
    How times and ranks move with the definition of clear.

    Parameters
    ----------
    results : Results
        With the tables `mixes`, `sensitivity_summary`.

    Returns
    -------
    Table
    """
    table, names = results["sensitivity_summary"], mix_names(results)
    table = table[table["mix"].isin(names)]
    mixes = [mix for mix in mix_order(results) if mix in set(table["mix"])]
    places = {name: place for place, name in enumerate(dict.fromkeys(table["criterion"]))}
    table = table.assign(place=table["criterion"].map(places), mark=table["mix"].map(mixes.index))
    table = table.sort_values(["place", "mark"])
    rows = [
        (
            names[row.mix],
            criterion_label(results, row.criterion),
            print_hours(float(row.estimate)),
            print_span(row.estimate_low, row.estimate_high, print_hours),
            str(int(row.rank)),
            print_span(row.rank_low, row.rank_high),
            print_share(float(row.share_same_rank)),
        )
        for row in table.itertuples(index=False)
    ]
    heads = [
        Column("Mix"),
        Column("Until"),
        Column("As declared, h", "right"),
        Column("Over all definitions, h", "right"),
        Column("Rank", "right"),
        Column("Over all", "right"),
        Column("Same rank in", "right"),
    ]
    ways = int(table["n_definition"].max()) if len(table) else 0
    note = (
        f"Up to {ways} definitions a criterion: choices that a reviewer could defend, not chance."
    )
    marks = marks_of(results, table["mix"])
    return Table("sensitivity", "Typical times under other definitions", heads, rows, note, marks)
