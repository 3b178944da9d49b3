"""Tables of the raters: what each alone would have found, drift, agreement."""

import math
from typing import Any

import pandas as pd

from .blocks import Column, Prose, Table
from .needs import needs
from .printing import print_hours, print_rounded
from .selection import criterion_label, level_words, mix_codes, mix_names, mix_order
from .tables import marks_of

#: As many pairs of raters have rows of their own.
_PAIRS = 6

_ONE = "One rater made all calls, so none can be set against another."


@needs("rater_times", "rater-times", _ONE)
def rater_alone_table(results: Any) -> Table:
    """
    The typical time of each mix by the declared rule, then by each rater alone.

    Parameters
    ----------
    results : Results
        With the tables `mixes`, `times`, `rater_times`.

    Returns
    -------
    Table
        A row a criterion and mix.
    """
    table = results["rater_times"]
    table = table[table["mix"].isin(mix_codes(results))]
    raters = sorted(table["rater"].unique())
    cells = {(r.criterion, r.mix, r.rater): r for r in table.itertuples(index=False)}
    keys = [
        (name, mix)
        for name in dict.fromkeys(table["criterion"])
        for mix in mix_order(results)
        if any((name, mix, rater) in cells for rater in raters)
    ]
    names = mix_names(results)
    rows = [
        (
            names[mix],
            criterion_label(results, name),
            _declared([cells.get((name, mix, rater)) for rater in raters]),
            *(_alone(cells.get((name, mix, rater))) for rater in raters),
        )
        for name, mix in keys
    ]
    heads = [
        Column("Mix"),
        Column("Until"),
        Column("As declared, h", "right"),
        *(Column(f"{rater} alone, h", "right") for rater in raters),
    ]
    note = (
        "In brackets: vessels that would have another interval, of the vessels of the mix. Times "
        "are typical times."
    )
    marks = marks_of(results, [mix for _, mix in keys])
    return Table("rater-times", "What one rater alone would have found", heads, rows, note, marks)


def _declared(rows: list[Any]) -> str:
    return next(print_hours(float(row.typical_h)) for row in rows if row is not None)


def _alone(row: Any) -> str:
    if row is None:
        return "–"
    return f"{print_hours(float(row.alone_h))} ({int(row.n_changed)} of {int(row.n)})"


@needs("rater_claims", "rater-claims", "No claim was judged by more than one rater.")
def rater_claims_table(results: Any) -> Table | Prose:
    """
    The verdict on each claim by the declared rule, then by each rater alone.

    Parameters
    ----------
    results : Results
        With the table `rater_claims`.

    Returns
    -------
    Table or Prose
        A row a claim; verdicts that one rater alone would have changed are marked in words. A
        sentence where none would have.
    """
    table = results["rater_claims"]
    if not table["changed"].astype(bool).any():
        return Prose("No rater alone would have come to another verdict.", "rater-claims")
    raters = sorted(table["rater"].unique())
    rows = []
    for _, own in table.groupby("claim", sort=False):
        alone = own.set_index("rater")
        rows.append(
            (
                str(own["text"].iloc[0]),
                str(own["verdict"].iloc[0]),
                *(_verdict(alone, rater) for rater in raters),
            )
        )
    heads = ["Claim", "As declared", *(f"{rater} alone" for rater in raters)]
    return Table("rater-claims", "Claims by one rater alone", [Column(h) for h in heads], rows)


def _verdict(alone: pd.DataFrame, rater: str) -> str:
    if rater not in alone.index:
        return "–"
    row = alone.loc[rater]
    return f"{row['alone']} (another verdict)" if row["changed"] else str(row["alone"])


@needs("rater_drift", "rater-drift", "One rater made all calls: no drift against another.")
def rater_drift_table(results: Any) -> Table:
    """
    How far each rater moved from the first session to the last.

    Parameters
    ----------
    results : Results
        With the table `rater_drift`.

    Returns
    -------
    Table
        A row a criterion, rater and yardstick.
    """
    table = results["rater_drift"]
    decimals = {unit: _decimals(own) for unit, own in table.groupby("unit")}
    rows = [
        (
            str(row.rater),
            criterion_label(results, row.criterion),
            str(row.term),
            *_moved(row, decimals[row.unit]),
            str(row.unit),
            str(int(row.n)),
            "yes" if row.conf_low > 0 or row.conf_high < 0 else "not shown",
        )
        for row in table.itertuples(index=False)
    ]
    level = level_words(results)
    heads = [
        Column("Rater"),
        Column("Until"),
        Column("Measured"),
        Column("Moved by", "right"),
        Column(f"{level} limits"),
        Column("Unit"),
        Column("Vessels", "right"),
        Column("Drift"),
    ]
    note = (
        "From the first session to the last; above 0 the later readings are higher. Against the "
        "others: which of them moved is not known. On purified water: the rater or the light."
    )
    return Table("rater-drift", "Whether a rater drifts", heads, rows, note)


def _decimals(own: pd.DataFrame) -> int:
    """Decimals that give the narrowest limits two figures; two where none are finite."""
    wide = (own["conf_high"] - own["conf_low"]).astype(float)
    wide = wide[(wide > 0) & (wide < math.inf)]
    return max(0, 1 - math.floor(math.log10(wide.min()))) if len(wide) else 2


def _moved(row: Any, decimals: int) -> tuple[str, str]:
    """A change with both its limits; one vessel alone sets none."""
    if not math.isfinite(row.conf_high - row.conf_low):
        return _signed(row.estimate, decimals), "no limit"
    low, high = (_signed(limit, decimals) for limit in (row.conf_low, row.conf_high))
    return _signed(row.estimate, decimals), f"{low} to {high}"


def _signed(value: float, decimals: int) -> str:
    text = print_rounded(value + 0.0, decimals)
    return ("+" if value > 0 else "") + text


@needs("agreement", "agreement", "Agreement needs at least two raters on the same vessels.")
def agreement_table(results: Any) -> Table:
    """
    How far the raters agree.

    Parameters
    ----------
    results : Results
        With the table `agreement`.

    Returns
    -------
    Table
    """
    table, left_out = _widest_pairs(results["agreement"])
    several = len(set(table["rater"])) > 1
    rows = [
        (
            str(row.criterion),
            *([str(row.rater)] if several else []),
            str(row.term),
            _measured(row, row.estimate),
            f"{_measured(row, row.conf_low)} to {_measured(row, row.conf_high)}",
            str(row.unit or ""),
            str(int(row.n)),
            str(row.method),
        )
        for row in table.itertuples(index=False)
    ]
    level = level_words(results)
    raters = ["Raters"] if several else []
    heads = ["Criterion", *raters, "Measure", "Value", f"{level} limits", "Unit"]
    heads += ["Vessels", "Method"]
    aligned = [Column(h, "right" if h in ("Value", "Vessels") else "left") for h in heads]
    note = f"Not shown: {left_out} pairs of raters that differ less." if left_out else ""
    return Table("agreement", "How far the raters agree", aligned, rows, note)


def _measured(row: Any, value: float) -> str:
    """Shares and coefficients to three decimals, what has a unit to two."""
    return print_rounded(float(value), 2 if row.unit else 3)


def _widest_pairs(table: pd.DataFrame) -> tuple[pd.DataFrame, int]:
    """The rows without those of the pairs that differ least, and how many pairs these are."""
    means = table[table["term"] == "mean difference"]
    apart = means.assign(apart=means["estimate"].astype(float).abs())
    order = apart.groupby("rater")["apart"].max().sort_values(ascending=False, kind="stable")
    left_out = list(order.index[_PAIRS:])
    return table[~table["rater"].isin(left_out)], len(left_out)
