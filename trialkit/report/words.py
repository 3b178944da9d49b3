"""Sentences computed from the results."""

import math
from typing import Any

from .printing import join, print_hours, print_interval, print_time
from .remarks import UNCONFIRMED, remarks
from .selection import criterion_label, floor_of, mix_names, mix_order, of_criterion, time_rows
from .verdicts import answer_to_pairs

#: As many mixes that came first together are named.
_NAMED = 4


def vessel_alt(results: Any, criterion: str | None = None) -> str:
    """
    What the figure of vessels shows, for a reader who can't see it.

    Parameters
    ----------
    results : Results
    criterion : str, optional

    Returns
    -------
    str
    """
    intervals = of_criterion(results, "intervals", criterion)
    names = mix_names(results)
    parts = []
    for mix in mix_order(results, criterion):
        own = intervals[intervals["mix"] == mix]
        if len(own):
            parts.append(f"{names[mix]}: {cleared_words(own)}.")
    return f"Intervals of {len(intervals)} vessels in {len(parts)} mixes. " + " ".join(parts)


def cleared_words(own: Any) -> str:
    """
    How many vessels of a mix were seen clear, between which hours.

    Parameters
    ----------
    own : pandas.DataFrame
        Intervals of one mix.

    Returns
    -------
    str

    Examples
    --------
    >>> import pandas as pd
    >>> columns = ["left_h", "right_h", "reclouded_h"]
    >>> cleared_words(pd.DataFrame([[1, 2, float("inf")], [2, 3, 16]], columns=columns))
    '2 of 2 vessels seen clear, between 1.0 and 3.0 h, 1 of them cloudy again later'
    """
    seen = own[own["right_h"] < math.inf]
    count = f"{len(seen)} of {len(own)} vessels seen clear"
    if seen.empty:
        return f"none of {len(own)} vessels seen clear by {print_hours(own['left_h'].max())} h"
    first, last = seen["left_h"].min(), seen["right_h"].max()
    again = int((own["reclouded_h"] < math.inf).sum())
    cloudy = f", {again} of them cloudy again later" if again else ""
    return f"{count}, between {print_hours(first)} and {print_hours(last)} h{cloudy}"


def strip_alt(results: Any, criteria: list[str]) -> str:
    """
    What the strip of verdicts shows, for a reader who can't see it.

    Parameters
    ----------
    results : Results
    criteria : list of str

    Returns
    -------
    str
    """
    verdicts = results["verdicts"]
    parts = []
    for name in criteria:
        own = verdicts[(verdicts["criterion"] == name) & verdicts["mix"].isin(mix_names(results))]
        counts = own["verdict"].value_counts()
        words = ", ".join(
            f"{counts.get(word, 0)} {word}" for word in ("clear", "not clear", "not read")
        )
        vessels = own["vessel"].nunique()
        parts.append(f"{name}: {words}, of {len(own)} readings in {vessels} vessels.")
    return "Verdicts by vessel and session. " + " ".join(parts)


def curve_alt(results: Any, criterion: str | None = None) -> str:
    """
    What the curves show, for a reader who can't see them.

    Parameters
    ----------
    results : Results
    criterion : str, optional

    Returns
    -------
    str
    """
    names = mix_names(results)
    parts = []
    for mix, row in time_rows(results, "typical time", criterion).items():
        if row.estimate < math.inf:
            parts.append(f"{names[mix]} passes half at {print_hours(row.estimate)} h.")
        else:
            parts.append(f"{names[mix]} does not reach half.")
    return "Share of batches clear over time, one panel a mix. " + " ".join(parts)


def time_alt(results: Any, criterion: str | None = None) -> str:
    """
    What the figure of times shows, for a reader who can't see it.

    Parameters
    ----------
    results : Results
    criterion : str, optional

    Returns
    -------
    str
    """
    names, window = mix_names(results), float(results.meta["window_h"])
    assured = time_rows(results, "assured time", criterion)
    parts = []
    for mix, row in time_rows(results, "typical time", criterion).items():
        typical = print_time(row.estimate, floor_of(row, window), row.conf_high)
        limits = print_interval(row.conf_low, row.conf_high)
        words = f"{names[mix]}: typical time {typical}, limits {limits}"
        if mix in assured:
            words += f"; assured time {assured_words(assured[mix], floor_of(row, window))}"
        parts.append(words + ".")
    return "Times with their limits. " + " ".join(parts)


def assured_words(row: Any, floor_h: float) -> str:
    """
    The assured time of a mix with its unit.

    Parameters
    ----------
    row : namedtuple
        The mix's row for the assured time: its upper limit is that time.
    floor_h : float
        Hours that the time of a mix that never cleared is above.

    Returns
    -------
    str
    """
    if row.conf_high == math.inf and row.n_event > 0:
        return "no upper limit"
    return print_time(row.conf_high, floor_h, row.conf_high)


def answer_sentence(results: Any, criterion: str | None = None) -> str:
    """
    The answer of the trial in plain words.

    Parameters
    ----------
    results : Results
    criterion : str, optional

    Returns
    -------
    str
    """
    names, window = mix_names(results), float(results.meta["window_h"])
    typical = time_rows(results, "typical time", criterion)
    label = criterion_label(results, criterion)
    reached = [mix for mix, row in typical.items() if row.estimate < math.inf]
    never = [names[mix] for mix, row in typical.items() if row.n_event == 0]
    if not reached:
        return f"No mix came {label} in half of its batches within {print_hours(window)} h."
    sentence = _fastest_words(results, reached, criterion)
    pairs = answer_to_pairs(results, reached[0], criterion)
    if len(_alike(typical, reached)) > 1:
        # "It" would be one of several.
        pairs = pairs.replace("It was", f"{names[reached[0]]} was", 1)
    sentence += f" {pairs}".rstrip()
    if never:
        verb = "was" if len(never) == 1 else "were"
        sentence += (
            f" {join(never)} {verb} not {label} in any vessel within {print_hours(window)} h"
            f"{_but_late(results, never, criterion)}."
        )
    return sentence


def _but_late(results: Any, never: list[str], criterion: str | None) -> str:
    """What the last look found in mixes that were never confirmed to be clear."""
    codes = {name: mix for mix, name in mix_names(results).items()}
    late = [late_words(results, codes[name], criterion) for name in never]
    told = [
        f"{words} of {name}" if len(never) > 1 else words
        for words, name in zip(late, never, strict=True)
        if words
    ]
    return f"; the last look found {join(told)} clear, too late to be confirmed" if told else ""


def late_words(results: Any, mix: str, criterion: str | None = None) -> str:
    """
    How many vessels of a mix the last look alone found clear.

    Parameters
    ----------
    results : Results
    mix : str
        A code.
    criterion : str, optional

    Returns
    -------
    str
        Such as "3 of 3 vessels"; empty where there are none.
    """
    intervals = of_criterion(results, "intervals", criterion)
    own = list(intervals.loc[intervals["mix"] == mix, "vessel"])
    told = remarks(results, criterion)
    late = sum(told.get(vessel) == UNCONFIRMED for vessel in own)
    return f"{late} of {len(own)} vessels" if late else ""


def _fastest_words(results: Any, reached: list[str], criterion: str | None) -> str:
    """Which mix was first, or which of them together, and how sure its time is."""
    names, label = mix_names(results), criterion_label(results, criterion)
    typical = time_rows(results, "typical time", criterion)
    assured = time_rows(results, "assured time", criterion)
    first, alike = reached[0], _alike(typical, reached)
    about = _about(typical[first], results.meta["conf_level"])
    if len(alike) > 1:
        told = (
            join([names[mix] for mix in alike]) if len(alike) <= _NAMED else f"{len(alike)} mixes"
        )
        return f"{told} had the shortest typical time until {label}, each {about}."
    sentence = f"{names[first]} had the shortest typical time until {label}, {about}"
    if first in assured and assured[first].conf_high < math.inf:
        hours = print_hours(assured[first].conf_high)
        sentence += f"; mixed for {hours} h, at least 9 batches in 10 of it should be {label}"
    return f"{sentence}."


def _alike(typical: dict[str, Any], reached: list[str]) -> list[str]:
    """The mixes whose typical time and limits are those of the first: the readings part none."""
    rows = {mix: (typical[mix].estimate, *_ends(typical[mix])) for mix in reached}
    return [mix for mix in reached if rows[mix] == rows[reached[0]]]


def _ends(row: Any) -> tuple[float, float]:
    return float(row.conf_low), float(row.conf_high)


def _about(row: Any, conf_level: float) -> str:
    limits = limit_words(row, conf_level)
    if row.estimate <= 0:
        return f"before the first reading ({limits})"
    return f"about {print_hours(row.estimate)} h ({limits})"


def limit_words(row: Any, conf_level: float) -> str:
    """
    The limits of a time in words, also where there are none.

    Parameters
    ----------
    row : namedtuple
        A row of the times.
    conf_level : float

    Returns
    -------
    str
    """
    if row.conf_low <= 0 and row.conf_high == math.inf:
        return "these vessels set no limits"
    return f"{conf_level * 100:g}% limits: {print_interval(row.conf_low, row.conf_high)} h"
