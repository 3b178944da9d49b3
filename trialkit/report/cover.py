"""The cover of a report: the answer in one sentence with one table."""

import math
from typing import Any

from .blocks import Answer, Column, Table
from .own_spread import declared_scale_words, longer_by_own_spread, of_spread
from .printing import print_hours, print_interval, print_number, print_p, print_time
from .selection import (
    block_count,
    criterion_label,
    floor_of,
    kit_version,
    level_words,
    limits_are_wider,
    mix_codes,
    mix_names,
    time_rows,
)
from .tables import marks_of
from .words import answer_sentence, assured_words


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
    level = level_words(results)
    rows = []
    for mix, row in typical.items():
        place = print_time(row.estimate, floor_of(row, window), row.conf_high)
        limits = "–" if row.estimate == math.inf else print_interval(row.conf_low, row.conf_high)
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
    note += _caution(results, criterion)
    table = Table("answer", f"Time until {label}", heads, rows, note, marks_of(results, typical))
    return Answer(
        title=meta["title"],
        subtitle=_subtitle(results),
        sentence=answer_sentence(results, criterion),
        table=table,
        facts=_facts(results),
        date=str(meta.get("start", ""))[:10],
    )


def _caution(results: Any, criterion: str | None) -> str:
    """What the limits of this page rest on, where it isn't the trial's own vessels alike."""
    declared = declared_scale_words(results)
    if declared:
        return (
            " The spread between vessels was declared, not measured by this trial: "
            f"{declared}. Every limit rests on it."
        )
    if not limits_are_wider(results, criterion):
        return ""
    row, longer = of_spread(results), longer_by_own_spread(results)
    verb = "do" if row.verdict == "shown unequal" else "may"
    named = f": the assured time of {longer}" if longer else ""
    return (
        f" Mixes {verb} not spread alike (p {print_p(row.p_value)}), so limits by a spread of the "
        f"mix's own are taken where those are wider{named}."
    )


def _subtitle(results: Any) -> str:
    vessels = results["vessels"]
    trial = vessels[vessels["mix"].isin(mix_codes(results))]
    blocks = block_count(results)
    words = f"{_counted(len(results['mixes']), 'mix', 'mixes')} in "
    words += _counted(len(trial), "vessel", "vessels")
    if blocks > 1:
        words += f" and {blocks} blocks"
    words += f", watched for {print_hours(float(results.meta['window_h']))} h"
    salinity = results.meta.get("target_salinity")
    return words + (f", practical salinity {print_number(salinity)}" if salinity else "")


def _counted(number: int, one: str, several: str) -> str:
    return f"{number} {one if number == 1 else several}"


def _facts(results: Any) -> list[tuple[str, str]]:
    meta = results.meta
    start = str(meta.get("start", "")).replace("T", " ")[:16]
    facts = [
        ("Trial began", f"{start} {meta.get('timezone', '')}".strip()),
        ("Licence", str(meta.get("licence") or "")),
        ("Made with", f"trialkit {kit_version(results)}"),
    ]
    return [(name, value) for name, value in facts if value]
