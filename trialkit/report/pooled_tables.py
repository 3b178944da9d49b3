"""Tables of pooled trials, with the cover that sums them up."""

from __future__ import annotations

import math
from typing import Any

from .blocks import Answer, Column, Prose, Table
from .marks import mix_marks
from .pooled_figures import mixes_by_time
from .printing import (
    print_count,
    print_hours,
    print_interval,
    print_number,
    print_p,
    print_share,
    print_time,
)

_MOST_ROWS = 60


def pooled_answer(results: Any) -> Answer:
    """
    The cover: what the next batch at the reader's place will do, one row a mix.

    Parameters
    ----------
    results : Results
        What `pool_folders` returned.

    Returns
    -------
    Answer
    """
    meta = results.meta
    facts = [
        ("Clear means", meta["definition"]),
        ("Left out", f"{meta['n_left_out']}, of which {meta['n_unread']} could not be read"),
    ]
    return Answer(
        title=meta["title"],
        subtitle=f"{meta['n_trials']} trials, {meta['n_vessels']} vessels, {meta['n_mixes']} mixes",
        sentence=_sentence(results),
        table=pooled_times_table(results),
        facts=facts,
        date=max((str(start)[:10] for start in results["trials"]["start"]), default=""),
    )


def pooled_times_table(results: Any) -> Table:
    """
    Typical time, next batch and assured time of each mix.

    Parameters
    ----------
    results : Results
        With the table `pooled_times`.

    Returns
    -------
    Table
    """
    times = results["pooled_times"]
    level = f"{100 * results.meta['conf_level']:g}%"
    order, rows = mixes_by_time(times), []
    for mix in order:
        of = {r.term: r for r in times[times["mix"] == mix].itertuples(index=False)}
        typical, batch, assured = of["typical time"], of["new batch"], of["assured time"]
        rows.append(
            (mix, print_count(typical.n_trials), print_count(typical.n),
             print_time(typical.estimate, typical.conf_low, typical.conf_high),
             print_interval(typical.conf_low, typical.conf_high),
             print_interval(batch.conf_low, batch.conf_high),
             print_time(assured.conf_high, assured.conf_low, assured.conf_high))
        )  # fmt: skip
    heads = _heads(
        "Mix", "Trials>", "Vessels>", "Typical time>", f"{level} limits, h>",
        f"New batch in a new place, {level}, h>", "Assured time>",
    )  # fmt: skip
    marks = mix_marks(sorted(order))
    note = (
        "Typical time: half of all batches, over all places, are clear by then. New batch: one "
        "more, in a place like those of the trials. Assured time: with that confidence "
        f"{print_share(results.meta['share'])} of such batches are clear by then."
    )
    return Table("pooled-times", "Times over all trials", heads, rows, note,
                 [marks[mix].to_json() for mix in order])  # fmt: skip


def summary_pool_table(results: Any) -> Table | Prose:
    """
    The other road: the trials' own typical times pooled.

    Parameters
    ----------
    results : Results
        With the table `summary_pool`.

    Returns
    -------
    Table or Prose
        A sentence when no mix has two trials with a time and a spread of their own.
    """
    rows = [
        (r.mix, print_count(r.n_trials), print_hours(r.estimate),
         print_interval(r.conf_low, r.conf_high), print_interval(r.predict_low, r.predict_high),
         print_number(r.between_sd), print_share(r.i_squared))
        for r in results["summary_pool"].itertuples(index=False)
    ]  # fmt: skip
    level = f"{100 * results.meta['conf_level']:g}%"
    heads = _heads(
        "Mix", "Trials>", "Typical time, h>", f"{level} limits, h>",
        f"Typical time in a new place, {level}, h>", "Spread between trials, log>",
        "Not chance>",
    )  # fmt: skip
    note = (
        "Random effects, restricted maximum likelihood, limits by Hartung and Knapp. Only trials "
        "that place the time and have two vessels of some mix can count here, which is why there "
        "are fewer. Not chance: share of the variation between trials (I squared)."
    )
    if not rows:
        return Prose("No mix has two trials that place its time by themselves.")
    return Table("summary-pool", "The trials' own times, pooled", heads, rows, note)


def pooled_pairs_table(results: Any) -> Table | Prose:
    """
    Each pair of mixes: ratio, decision, trials still needed.

    Parameters
    ----------
    results : Results
        With the table `pairs`.

    Returns
    -------
    Table or Prose
        A sentence when there is one mix.
    """
    rows = [
        (f"{r.mix_a} : {r.mix_b}", _ratio(r), _ratio_limits(r), print_p(r.p_adjusted),
         r.decision, print_count(r.n_trials), _more(r))
        for r in results["pairs"].itertuples(index=False)
    ]  # fmt: skip
    if not rows:
        return Prose("There is one mix: nothing to compare.")
    level = f"{100 * results.meta['conf_level']:g}%"
    heads = _heads("Times of", "Ratio>", f"{level} limits>", "p, adjusted>", "Decision",
                   "Trials with both>", "More trials to settle>")  # fmt: skip
    note = (
        "p adjusted by Holm over all pairs. More trials: with both mixes, like those here, for a "
        "chance of 80% to settle the pair if the ratio is what it looks like now. Open does not "
        "mean equal."
    )
    return Table("pooled-pairs", "Which mixes differ", heads, rows, note)


def pooled_spread_table(results: Any) -> Table:
    """
    Where the spread of clearing times comes from.

    Parameters
    ----------
    results : Results
        With the table `spreads`.

    Returns
    -------
    Table
    """
    rows = [
        (r.term.capitalize(), print_number(r.estimate),
         f"{print_number(r.conf_low)} to {print_number(r.conf_high)}",
         print_number(math.exp(r.estimate)))
        for r in results["spreads"].itertuples(index=False)
    ]  # fmt: skip
    level = f"{100 * results.meta['conf_level']:g}%"
    heads = _heads("Spread", "Standard deviation, log>", f"{level} limits>", "As a factor>")
    note = "As a factor: about two thirds of batches lie within the typical time times or over it."
    note += f" {results.meta['note'].capitalize()}." if results.meta["note"] else ""
    return Table("pooled-spreads", "How much batches and places differ", heads, rows, note)


def influence_table(results: Any) -> Table | Prose:
    """
    The trials without which a time would change most.

    Parameters
    ----------
    results : Results
        With the table `influence`.

    Returns
    -------
    Table or Prose
        At most twenty rows, the largest change first.
    """
    table = results["influence"]
    placed = table[(table["ratio"] > 0) & (table["ratio"] < math.inf)]
    size = placed["ratio"].map(lambda ratio: abs(math.log(ratio))).round(9)
    placed = placed.assign(size=size).sort_values(
        ["size", "trial", "mix"], ascending=[False, True, True]
    )
    rows = [
        (r.trial, r.mix, print_hours(r.estimate), print_hours(r.without), print_number(r.ratio))
        for r in placed[placed["size"] > 0].head(20).itertuples(index=False)
    ]
    if not rows:
        return Prose("No time can be worked out again without one of the trials.")
    heads = _heads("Left out", "Mix", "Typical time, h>", "Without it, h>", "Ratio>")
    return Table("influence", "What each trial does to the answer", heads, rows,
                 "At most the twenty largest changes.")  # fmt: skip


def pooled_trials_table(results: Any) -> Table:
    """
    The trials that were pooled.

    Parameters
    ----------
    results : Results
        With the table `trials`.

    Returns
    -------
    Table
        At most sixty rows.
    """
    trials = results["trials"]
    rows = [
        (r.trial, r.title, r.source, str(r.start)[:10], print_count(r.n),
         print_number(r.target_salinity), print_number(_or_nan(r.temperature_c)),
         print_number(_or_nan(r.volume_l)))
        for r in trials.head(_MOST_ROWS).itertuples(index=False)
    ]  # fmt: skip
    heads = _heads("Trial", "Title", "File", "Start", "Vessels>", "Salinity>", "Temperature, °C>",
                   "Volume, L>")  # fmt: skip
    more = len(trials) - len(rows)
    note = f"And {more} more, in results.json." if more > 0 else ""
    return Table("pooled-trials", "The trials", heads, rows, note)


def left_out_table(results: Any) -> Table | Prose:
    """
    What could not be pooled, and why.

    Parameters
    ----------
    results : Results
        With the table `left_out`.

    Returns
    -------
    Table or Prose
        At most sixty rows; a sentence when nothing was left out.
    """
    table = results["left_out"]
    rows = [(r.source, r.item, r.message) for r in table.head(_MOST_ROWS).itertuples(index=False)]
    if not rows:
        return Prose("Every trial that was given could be read and pooled.")
    more = len(table) - len(rows)
    note = f"And {more} more, in results.json." if more > 0 else ""
    return Table("left-out", "Left out", _heads("File", "What", "Why"), rows, note)


def flags_table(results: Any) -> Table | Prose:
    """
    Trials whose sheets deserve a look.

    Parameters
    ----------
    results : Results
        With the table `flags`.

    Returns
    -------
    Table or Prose
        At most sixty rows; a sentence when nothing stands out.
    """
    table = results["flags"]
    rows = [
        (r.trial, r.source, r.message, print_p(r.p_value) if r.p_value < 1 else "–")
        for r in table.head(_MOST_ROWS).itertuples(index=False)
    ]
    if not rows:
        return Prose("No trial shows a pattern that readings seldom show by themselves.")
    note = (
        "These patterns have harmless causes as well: a coarse instrument, rounding, chance over "
        "many trials. They say where to compare with the sheet, and nothing about anybody. All "
        "these trials are in the pool; p is the chance of such agreement at the usual spread."
    )
    heads = _heads("Trial", "File", "What was seen", "p>")
    return Table("flags", "Worth a look at the sheet", heads, rows, note)


def _sentence(results: Any) -> str:
    times, pairs = results["pooled_times"], results["pairs"]
    batch = times[times["term"] == "new batch"].set_index("mix")
    first = batch.loc[mixes_by_time(times)[0]]
    settled = int((pairs["decision"] == "settled").sum()) if len(pairs) else 0
    words = "No mix was seen to clear"
    if first["conf_high"] < math.inf:
        level = f"{100 * results.meta['conf_level']:g}%"
        words = (
            f"A new batch of {first.name} in a new place can be expected to clear in "
            f"{print_interval(first['conf_low'], first['conf_high'])} h ({level} limits)"
        )
    return f"{words}; {settled} of {len(pairs)} pairs of mixes are settled."


def _heads(*words: str) -> list[Column]:
    """Columns; a trailing > sets numbers to the right."""
    return [Column(w.rstrip(">"), "right" if w.endswith(">") else "left") for w in words]


def _ratio(row: Any) -> str:
    return print_number(row.ratio) if 0 < row.ratio < math.inf else "not placed"


def _ratio_limits(row: Any) -> str:
    if row.conf_high == math.inf:
        return f"above {print_number(row.conf_low)}" if row.conf_low > 0 else "no limit"
    if row.conf_low <= 0:
        return f"under {print_number(row.conf_high)}"
    return f"{print_number(row.conf_low)} to {print_number(row.conf_high)}"


def _more(row: Any) -> str:
    if row.decision == "settled":
        return "–"
    return print_count(row.more_trials) if row.more_trials < math.inf else "cannot be said"


def _or_nan(value: Any) -> float:
    return float("nan") if value is None else float(value)
