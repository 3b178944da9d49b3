"""Paragraphs of a report that need the trial's own numbers."""

import math
from typing import Any

from .blocks import Prose
from .markdown import escape
from .printing import join, print_hours, print_interval, print_time
from .selection import (
    block_count,
    criterion_label,
    floor_of,
    level_words,
    mix_codes,
    mix_names,
    mix_order,
    of_criterion,
    time_rows,
)
from .words import cleared_words, late_words

_LISTED = 12  # up to so many mixes get a line each


def findings(results: Any, *, criterion: str | None = None) -> Prose:
    """
    A sentence a mix on what was seen, with what befell single vessels.

    Parameters
    ----------
    results : Results
        With the tables `mixes`, `vessels`, `intervals`, `times`.
    criterion : str, optional
        The trial's primary criterion unless named.

    Returns
    -------
    Prose
    """
    intervals, names = of_criterion(results, "intervals", criterion), mix_names(results)
    own = {mix: intervals[intervals["mix"] == mix] for mix in mix_order(results, criterion)}
    told = {escape(names[mix]): frame for mix, frame in own.items() if len(frame)}
    if len(told) > _LISTED:
        lines = _counted_words(told)
    else:
        lines = [f"- **{name}**: {cleared_words(frame)}." for name, frame in told.items()]
    late = _late_words(results, list(own), criterion)
    extra = [late, _lost_words(results), _no_readings_words(results)]
    return Prose("\n\n".join(["\n".join(lines), *filter(None, extra)]))


def _late_words(results: Any, mixes: list[str], criterion: str | None) -> str:
    """The mixes that the last look found clear where nothing confirms it."""
    names, late = mix_names(results), {m: late_words(results, m, criterion) for m in mixes}
    told = [f"{words} of {escape(names[mix])}" for mix, words in late.items() if words]
    return f"Clear at the last look only, so not confirmed: {join(told)}." if told else ""


def _counted_words(told: dict[str, Any]) -> list[str]:
    """Many mixes in three lines, by how many of their vessels were seen clear."""
    seen = {name: int((frame["right_h"] < math.inf).sum()) for name, frame in told.items()}
    some = [
        f"{name} ({seen[name]} of {len(frame)})"
        for name, frame in told.items()
        if 0 < seen[name] < len(frame)
    ]
    parts = {
        "in every vessel": [name for name, frame in told.items() if seen[name] == len(frame)],
        "in some vessels": some,
        "in no vessel": [name for name in told if seen[name] == 0],
    }
    return [
        f"- **Seen clear {where}**: {len(mixes)} of {len(told)} mixes ({', '.join(mixes)})."
        for where, mixes in parts.items()
        if mixes
    ]


def _no_readings_words(results: Any) -> str:
    bare = "verdicts" not in results or results["verdicts"].empty
    return "No single readings were given, only intervals." if bare else ""


def _lost_words(results: Any) -> str:
    vessels, names = results["vessels"], mix_names(results)
    lost = vessels[(vessels["lost_h"].astype(float) < math.inf) & vessels["mix"].isin(names)]
    if lost.empty:
        return ""
    parts = [
        f"{row.vessel} ({escape(names[row.mix])}) at {print_hours(float(row.lost_h))} h"
        for row in lost.itertuples(index=False)
    ]
    word = "One vessel was" if len(parts) == 1 else f"{len(parts)} vessels were"
    return f"{word} lost before the end: {join(parts)}. What was seen of it until then counts."


def reading_guide(results: Any, *, criterion: str | None = None) -> Prose:
    """
    How to read the report, explained on the trial's own fastest mix.

    Parameters
    ----------
    results : Results
        With the tables `mixes`, `times`.
    criterion : str, optional
        The trial's primary criterion unless named.

    Returns
    -------
    Prose
    """
    window, level = float(results.meta["window_h"]), level_words(results)
    typical = time_rows(results, "typical time", criterion)
    assured = time_rows(results, "assured time", criterion)
    parts = []
    for mix, row in list(typical.items())[:1]:
        name = escape(mix_names(results)[mix])
        time = print_time(row.estimate, floor_of(row, window), row.conf_high)
        parts.append(
            f"**Typical time.** For {name} it is {time}: half of all batches like these are clear "
            f"by then, the other half later. {_about_limits(row, level)}"
        )
        if mix in assured and assured[mix].conf_high < math.inf:
            parts.append(
                f"**Assured time.** For {name} it is {print_hours(assured[mix].conf_high)} h. It "
                "is meant for mixing: at least nine batches in ten are clear by then, with a "
                f"confidence of {level}. It is longer than the typical time for two reasons: it "
                "speaks of slow batches, and it counts what a few vessels can't show."
            )
    parts += [
        f"**Not reached; above N h.** The mix may clear later or never; watching ended after "
        f"{print_hours(window)} h. N is the longest time that the data rule out.",
        "**Not shown different** means that this trial can't tell two mixes apart. It does not "
        "mean that they are the same.",
        "**p** is how often chance alone would set mixes at least so far apart if they were alike. "
        "A small p speaks against chance; a large one does not show that they are alike.",
        "**A vessel is one batch.** Several looks at one vessel make its time more exact; they "
        "don't make it more batches. All limits are computed from the number of vessels.",
    ]
    return Prose("\n\n".join(parts))


def _about_limits(row: Any, level: str) -> str:
    if row.conf_low <= 0 and row.conf_high == math.inf:
        return "How far off this may be these vessels can't say: it takes more than one a mix."
    return (
        f"The limits, {print_interval(row.conf_low, row.conf_high)} h, say how far off this may "
        f"be: a method that sets such limits catches the true time in {level} of trials."
    )


def limits(results: Any, *, criterion: str | None = None) -> Prose:
    """
    What the trial cannot show.

    Parameters
    ----------
    results : Results
        With the tables `mixes`, `vessels`, `intervals`, `times`.
    criterion : str, optional
        The trial's primary criterion unless named.

    Returns
    -------
    Prose
    """
    intervals = of_criterion(results, "intervals", criterion)
    names, label = mix_names(results), escape(criterion_label(results, criterion))
    window = print_hours(float(results.meta["window_h"]))
    lines = [*_size_limits(results, intervals), *_time_limits(results, intervals, criterion)]
    never = [
        escape(names[mix])
        for mix in mix_codes(results)
        if (own := intervals[intervals["mix"] == mix]["right_h"]).size and (own == math.inf).all()
    ]
    if never:
        late = any(late_words(results, mix, criterion) for mix in mix_codes(results))
        verb = "was confirmed to be" if late else "was"
        lines.append(
            f"For {join(never)} only a lower limit exists: no vessel {verb} {label} within "
            f"{window} h. Whether such a mix clears later was not watched."
        )
    lines += [
        "One lot of each mix was bought. Another lot may behave differently; the trial can't tell "
        "a mix from its lot.",
        "The times belong to this water, temperature, stirring, vessel size and salinity. "
        "Elsewhere they differ; the order of the mixes is more likely to hold than the hours.",
        "Clear is a judgement by eye and by the declared rule. It says nothing about what is "
        "dissolved, nor about fitness for animals.",
    ]
    return Prose("\n".join(f"- {line}" for line in lines))


def _size_limits(results: Any, intervals: Any) -> list[str]:
    counts = intervals["mix"].value_counts()
    lines = []
    if len(counts) and counts.min() == 1:
        lines.append(
            "At least one mix was tried in a single vessel: how much batches of it differ was not "
            "measured, only assumed to be like the others."
        )
    if len(counts) and counts.max() < 29:
        most = int(counts.max())
        lines.append(
            f"With {'one vessel' if most == 1 else f'at most {most} vessels'} a mix an assured "
            "time rests on the assumed shape of the distribution. Without that assumption it "
            "would take 29 vessels of a mix, all clear (Wilks 1941)."
        )
    if block_count(results) < 2:
        lines.append("All vessels stood in one block: place and mix may be confounded.")
    return lines


def _time_limits(results: Any, intervals: Any, criterion: str | None) -> list[str]:
    names, window = mix_names(results), float(results.meta["window_h"])
    lines = []
    early = [
        escape(names[mix])
        for mix in mix_codes(results)
        if (own := intervals[intervals["mix"] == mix]["left_h"]).size and (own <= 0).any()
    ]
    if early:
        first = print_hours(intervals.loc[intervals["left_h"] <= 0, "right_h"].min())
        lines.append(
            f"Some vessels of {join(early)} were clear at the first look, {first} h: how much "
            "earlier they came clear is unknown."
        )
    beyond = [
        escape(names[mix])
        for mix, row in time_rows(results, "assured time", criterion).items()
        if window < row.conf_high < math.inf
    ]
    if beyond:
        lines.append(
            f"The assured time of {join(beyond)} lies beyond the {print_hours(window)} h that were "
            "watched: it is what the model expects, not what anyone saw."
        )
    return lines
