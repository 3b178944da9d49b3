"""One mixing time for whatever mix comes."""

import math
from typing import Any

from .blocks import Prose
from .markdown import escape
from .printing import join, print_hours
from .selection import mix_names, time_rows


def one_time_words(results: Any, *, criterion: str | None = None) -> Prose:
    """
    How long to stir when the mix may be any of these.

    Parameters
    ----------
    results : Results
        With the tables `mixes`, `times`.
    criterion : str, optional
        The trial's primary criterion unless named.

    Returns
    -------
    Prose
        The longest assured time; where a mix has none, which, and the longest of the others.
    """
    names = {mix: escape(name) for mix, name in mix_names(results).items()}
    sure = {
        mix: row.conf_high for mix, row in time_rows(results, "assured time", criterion).items()
    }
    placed = {mix: hours for mix, hours in sure.items() if hours < math.inf}
    without = [names[mix] for mix in sure if mix not in placed]
    if len(sure) < 2:
        return Prose("")
    if not placed:
        return Prose("**One time for all mixes** can't be given: none has an assured time.")
    slowest = max(placed, key=placed.get)
    longest = f"{print_hours(placed[slowest])} h, the assured time of {names[slowest]}"
    if not without:
        return Prose(f"**One time for all mixes:** {longest}, the longest of them.")
    verb = "has" if len(without) == 1 else "have"
    return Prose(
        f"**One time for all mixes** can't be given, since {join(without)} {verb} no assured time. "
        f"For {'the others' if len(placed) > 1 else 'the other'} it is {longest}."
    )
