"""Table of the conditions that each mix stood in."""

from typing import Any

from .blocks import Column, Prose, Table
from .needs import needs
from .printing import print_figures, print_number, print_p
from .selection import mix_codes, mix_names
from .tables import marks_of

_COUNTED = "count"


@needs("balance", "conditions", "Nothing was measured that could show unequal treatment.")
def conditions_table(results: Any) -> Table | Prose:
    """
    What each mix stood at: mean of its vessels with the lowest, then the highest vessel.

    Parameters
    ----------
    results : Results
        With the tables `mixes`, `balance`.

    Returns
    -------
    Table or Prose
        A row a mix, a column a condition, then the p-values in a last row. A sentence when only
        blocks could be counted: the words say all there is about those.
    """
    table, names = results["balance"], mix_names(results)
    if (table["method"] == _COUNTED).all():
        return Prose("Nothing was measured that could show unequal treatment.", "conditions")
    terms = list(dict.fromkeys(table["term"]))
    cells = {(row.mix, row.term): row for row in table.itertuples(index=False)}
    mixes = [mix for mix in mix_codes(results) if any((mix, term) in cells for term in terms)]
    once = table.drop_duplicates("term").set_index("term")
    rows = [(names[mix], *(_cell(cells.get((mix, term))) for term in terms)) for mix in mixes]
    counted = [once.loc[term, "method"] == _COUNTED for term in terms]
    last = [
        "–" if count else print_p(float(once.loc[term, "p_value"]))
        for term, count in zip(terms, counted, strict=True)
    ]
    heads = [Column("Mix"), *(_head(once, term) for term in terms)]
    return Table(
        label="conditions",
        caption="What each mix stood at",
        columns=heads,
        rows=[*rows, ("p", *last)],
        note="Mean of the vessels, in brackets the lowest and the highest. p: how often vessels "
        "dealt out by chance to the mixes would differ as much.",
        marks=[*marks_of(results, mixes), None],
    )


def _head(once: Any, term: str) -> Column:
    unit = once.loc[term, "unit"]
    counted = once.loc[term, "method"] == _COUNTED
    unit = {"C": "°C", "PSU": ""}.get(unit, unit)  # practical salinity has no unit
    words = f"{term}s with a vessel" if counted else f"{term}, {unit}" if unit else term
    return Column(words[0].upper() + words[1:], "right")


def _cell(row: Any) -> str:
    if row is None:
        return "–"
    if row.method == _COUNTED:
        return print_number(float(row.estimate))
    mean, low, high = (print_figures(float(v), 3) for v in (row.estimate, row.low, row.high))
    return mean if low == high == mean else f"{mean} ({low} to {high})"
