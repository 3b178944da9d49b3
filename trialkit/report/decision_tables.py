"""Tables of decisions: claims with their verdicts, ranks of the mixes."""

import math
from typing import Any

from .blocks import Column, Prose, Table
from .decisions import any_compared
from .needs import needs
from .pair_ratios import print_ratio
from .printing import print_hours, print_interval, print_share, print_span
from .selection import criterion_label, level_words, mix_names, of_criterion, with_names
from .tables import marks_of


@needs("claims", "claims", "Claims to be tested are declared in trial.toml, before the trial.")
def claims_table(results: Any) -> Table:
    """
    Every claim with what was found and the verdict.

    Parameters
    ----------
    results : Results
        With the table `claims`.

    Returns
    -------
    Table
    """
    rows = [
        (
            str(row.text),
            str(row.verdict),
            with_names(results, str(row.term)),
            _found(row),
            _claimed(row),
        )
        for row in results["claims"].itertuples(index=False)
    ]
    level = level_words(results)
    heads = ["Claim", "Verdict", "Judged by", f"Found ({level} limits)", "Claimed"]
    note = (
        "Supported, or contradicted: the whole interval lies on that side of what is claimed. Not "
        "settled: it holds both; more vessels or closer readings could settle it."
    )
    return Table("claims", "Claims and verdicts", [Column(head) for head in heads], rows, note)


def _found(row: Any) -> str:
    if row.unit != "h":
        return print_ratio(float(row.estimate), float(row.conf_low), float(row.conf_high))
    limits = print_interval(row.conf_low, row.conf_high)
    if row.estimate <= 0:
        return f"before the first reading ({limits})"
    time = "not reached" if row.estimate == math.inf else f"{print_hours(row.estimate)} h"
    return f"{time} ({limits})"


def _claimed(row: Any) -> str:
    return f"within {print_hours(row.threshold)} h" if row.unit == "h" else "below 1"


@needs("ranks", "ranks", "Ranks need at least two mixes with comparable times.")
def rank_table(results: Any, *, criterion: str | None = None) -> Table | Prose:
    """
    The rank of each mix with the ranks left open.

    Parameters
    ----------
    results : Results
        With the tables `mixes`, `times`, `ranks`.
    criterion : str, optional
        The trial's primary criterion unless named.

    Returns
    -------
    Table
    """
    ranks = of_criterion(results, "ranks", criterion).sort_values("rank", kind="stable")
    if not any_compared(results, criterion):
        return Prose("No mix could be compared with another, so there are no ranks.", "ranks")
    names = mix_names(results)
    rows = [
        (
            names[row.mix],
            str(int(row.rank)),
            print_span(row.rank_low, row.rank_high),
            # Counted in draws: none of them is not never, all are not always.
            print_share(min(max(float(row.probability_first), 0.001), 0.999)),
            str(row.letters),
        )
        for row in ranks.itertuples(index=False)
    ]
    heads = [
        Column("Mix"),
        Column("Rank", "right"),
        Column("Left open", "right"),
        Column("First in repeats", "right"),
        Column("Letters"),
    ]
    note = (
        "Mixes that share a letter were not shown different; that is no evidence that they are "
        "alike. First in repeats: the share of simulated repeats of this trial in which the mix "
        "came first. It tells how well the order would repeat, not how likely the mix is the best."
    )
    caption = f"Ranks by time until {criterion_label(results, criterion)}"
    return Table("ranks", caption, heads, rows, note, marks_of(results, ranks["mix"]))
