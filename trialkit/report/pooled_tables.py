"""Tables of pooled trials, with the cover that sums them up."""

from __future__ import annotations

import math
from typing import Any

from .blocks import Answer, Column, Prose, Table
from .marks import mix_marks
from .pooled_words import lots_in_words, mixes_by_time, pooled_sentence, shown_mixes
from .printing import (
    print_count,
    print_figures,
    print_hours,
    print_interval,
    print_number,
    print_p,
    print_rounded,
    print_share,
    print_span,
    print_time,
)

_MOST_ROWS = 60
MANY_MORE = 1000  # trials; `pooled_pairs` plans no further
MORE_TRIALS = (
    "More trials: about so many, with both mixes and like those here, give a chance of about 80% "
    "(in simulations 77% to 88%) to settle the pair if the ratio is what it looks like now."
)


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
    left_out = f"{meta['n_left_out']}, of which {meta['n_unread']} could not be read"
    facts = [
        ("Clear means", meta["definition"]),
        ("Lots", lots_in_words(results)),
        ("Left out", left_out if meta["n_left_out"] else ""),
    ]
    return Answer(
        title=meta["title"],
        subtitle=f"{meta['n_trials']} trials, {meta['n_vessels']} vessels, "
        f"{meta['n_mixes']} mix{'es' if meta['n_mixes'] > 1 else ''}",
        sentence=pooled_sentence(results),
        table=pooled_times_table(results),
        facts=[(head, words) for head, words in facts if words],
        date=max((str(start)[:10] for start in results["trials"]["start"]), default=""),
    )


def pooled_times_table(results: Any) -> Table:
    """
    Typical time, next batch and assured time of each mix.

    Parameters
    ----------
    results : Results
        With the tables `pooled_times`, `pooled_mixes`.

    Returns
    -------
    Table
    """
    times, shown = results["pooled_times"], shown_mixes(results)
    level = f"{100 * results.meta['conf_level']:g}%"
    order, rows = mixes_by_time(times), []
    for mix in order:
        of = {r.term: r for r in times[times["mix"] == mix].itertuples(index=False)}
        typical, batch, assured = of["typical time"], of["new batch"], of["assured time"]
        rows.append(
            (shown[mix], f"{print_count(typical.n_trials)} ({print_count(typical.n)})",
             print_time(typical.estimate, typical.conf_low, typical.conf_high),
             print_interval(typical.conf_low, typical.conf_high),
             print_interval(batch.conf_low, batch.conf_high),
             print_time(assured.conf_high, assured.conf_low, assured.conf_high))
        )  # fmt: skip
    heads = _heads("Mix", "Trials (vessels)>", "Typical time>", f"{level} limits, h>",
                   "New batch, h>", "Assured time>")  # fmt: skip
    marks = mix_marks(sorted(order))
    note = (
        "Typical time: half of all batches, over all places, are clear by then. New batch: where "
        f"one more, in a place like those of the trials, is expected with {level} confidence. "
        f"Assured time: with that confidence {print_share(results.meta['share'])} of such batches "
        "are clear by then."
    )
    return Table("pooled-times", "Times over all trials", heads, rows, note,
                 [marks[mix].to_json() for mix in order])  # fmt: skip


def summary_pool_table(results: Any) -> Table | Prose:
    """
    The two roads side by side: all vessels in one fit, and the trials' own times pooled.

    Parameters
    ----------
    results : Results
        With the tables `summary_pool`, `pooled_times`, `pooled_mixes`.

    Returns
    -------
    Table or Prose
        A sentence when no mix has two trials with a time and a spread of their own.
    """
    summary = results["summary_pool"]
    if not len(summary):
        return Prose(
            "This road cannot be gone here: no mix has two trials that place its time by "
            "themselves, with two vessels of some mix to show a spread."
        )
    own = {r.mix: r for r in summary.itertuples(index=False)}
    times, shown = results["pooled_times"], shown_mixes(results)
    typical = {r.mix: r for r in times[times["term"] == "typical time"].itertuples(index=False)}
    rows = [
        (shown[mix], print_hours(typical[mix].estimate),
         print_interval(typical[mix].conf_low, typical[mix].conf_high), *_own_cells(own.get(mix)))
        for mix in mixes_by_time(times)
    ]  # fmt: skip
    level = f"{100 * results.meta['conf_level']:g}%"
    limits = f"{level} limits, h>"
    heads = _heads("Mix", "All vessels, h>", limits, "Trials with own times>", "Their mean, h>",
                   limits, "In a new place, h>", "I²>")  # fmt: skip
    note = (
        "Left: all vessels in one fit. Right: random effects, restricted maximum likelihood, "
        "limits by Hartung and Knapp. Only trials that place the time and have two vessels of some "
        "mix count there, and few of them give wide limits. In a new place: the typical time of "
        f"another trial, {level}. I²: share of the variation between trials that is not chance."
    )
    return Table("summary-pool", "Two roads to the typical time", heads, rows, note)


def _own_cells(row: Any) -> tuple[str, ...]:
    if row is None:
        return ("–",) * 5
    limits = print_interval(row.conf_low, row.conf_high)
    place = print_interval(row.predict_low, row.predict_high)
    mean = print_hours(row.estimate)
    return print_count(row.n_trials), mean, limits, place, print_share(row.i_squared)


def pooled_pairs_table(results: Any) -> Table | Prose:
    """
    Each pair of mixes: ratio, decision, trials still needed; open pairs first.

    Parameters
    ----------
    results : Results
        With the tables `pairs`, `pooled_mixes`.

    Returns
    -------
    Table or Prose
        At most sixty rows; a sentence when there is one mix.
    """
    shown = shown_mixes(results)
    pairs = results["pairs"].sort_values("decision", kind="stable")
    rows = [
        (f"{shown[r.mix_a]} : {shown[r.mix_b]}", _ratio(r), _ratio_limits(r), print_p(r.p_adjusted),
         r.decision, print_count(r.n_trials), _more(r))
        for r in pairs.head(_MOST_ROWS).itertuples(index=False)
    ]  # fmt: skip
    if not rows:
        return Prose("There is one mix: nothing to compare.")
    level = f"{100 * results.meta['conf_level']:g}%"
    heads = _heads("Times of", "Ratio>", f"{level} limits>", "p, adjusted>", "Decision",
                   "Trials with both>", "More trials to settle>")  # fmt: skip
    note = (
        "p adjusted by Holm over all pairs; the limits are those of one pair at a time. "
        f"{MORE_TRIALS} Open does not mean equal."
    )
    return Table("pooled-pairs", "Which mixes differ", heads, rows, note + _more_rows(pairs, rows))


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
        (r.term.capitalize(), print_rounded(r.estimate, 2),
         f"{print_rounded(r.conf_low, 2)} to {print_rounded(r.conf_high, 2)}",
         print_figures(math.exp(r.estimate), 2))
        for r in results["spreads"].itertuples(index=False)
    ]  # fmt: skip
    level = f"{100 * results.meta['conf_level']:g}%"
    heads = _heads("Spread", "Standard deviation, log>", f"{level} limits>", "As a factor>")
    note = (
        "As a factor: about two thirds of the times lie between the typical time divided by it and "
        "the typical time multiplied by it."
    )
    note += f" {results.meta['note'].capitalize()}." if results.meta["note"] else ""
    return Table("pooled-spreads", "How much batches and places differ", heads, rows, note)


def influence_table(results: Any) -> Table | Prose:
    """
    How far the typical time of each mix moves when one trial is left out.

    Parameters
    ----------
    results : Results
        With the tables `influence`, `trials`, `pooled_mixes`.

    Returns
    -------
    Table or Prose
        A row a mix; a sentence when no time can be worked out again.
    """
    table, shown = results["influence"], shown_mixes(results)
    placed = table[(table["ratio"] > 0) & (table["ratio"] < math.inf) & (table["without"] > 0)]
    placed = placed[placed["without"] < math.inf]
    source = dict(zip(results["trials"]["trial"], results["trials"]["source"], strict=True))
    rows = []
    for mix in mixes_by_time(results["pooled_times"]):
        own = placed[placed["mix"] == mix]
        if len(own):
            # Rounded, so that the last bits of a fit don't choose between two equal trials.
            most = own.loc[own["ratio"].map(lambda ratio: abs(math.log(ratio))).round(9).idxmax()]
            rows.append(
                (shown[mix], print_hours(most["estimate"]),
                 print_span(own["without"].min(), own["without"].max(), print_hours),
                 f"{most['trial']} ({source[most['trial']]})", print_hours(most["without"]))
            )  # fmt: skip
    if not rows:
        return Prose("No time can be worked out again without one of the trials.")
    heads = _heads("Mix", "Typical time, h>", "Without one trial, h>", "Moved most by leaving out",
                   "to, h>")  # fmt: skip
    note = "A mix that only one trial tried, or that was never seen clear, has no row."
    return Table("influence", "What each trial does to the answer", heads, rows, note)


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
    return Table("pooled-trials", "The trials", heads, rows, _more_rows(trials, rows).strip())


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
    heads = _heads("File", "What", "Why")
    return Table("left-out", "Left out", heads, rows, _more_rows(table, rows).strip())


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
    note += _more_rows(table, rows)
    heads = _heads("Trial", "File", "What was seen", "p>")
    return Table("flags", "Worth a look at the sheet", heads, rows, note)


def _heads(*words: str) -> list[Column]:
    """Columns; a trailing > sets numbers to the right."""
    return [Column(w.rstrip(">"), "right" if w.endswith(">") else "left") for w in words]


def _ratio(row: Any) -> str:
    return print_figures(row.ratio, 2) if 0 < row.ratio < math.inf else "not placed"


def _ratio_limits(row: Any) -> str:
    if row.conf_high == math.inf:
        return f"above {print_figures(row.conf_low, 2)}" if row.conf_low > 0 else "no limit"
    if row.conf_low <= 0:
        return f"under {print_figures(row.conf_high, 2)}"
    return f"{print_figures(row.conf_low, 2)} to {print_figures(row.conf_high, 2)}"


def _more(row: Any) -> str:
    if row.decision == "settled":
        return "–"
    if row.more_trials < math.inf:
        return print_count(row.more_trials)
    placed = 0 < row.ratio < math.inf and row.n_trials > 0
    return f"over {print_count(MANY_MORE)}" if placed else "cannot be said"


def _or_nan(value: Any) -> float:
    return float("nan") if value is None else float(value)


def _more_rows(table: Any, rows: list) -> str:
    more = len(table) - len(rows)
    return f" And {print_count(more)} more, in results.json." if more > 0 else ""
