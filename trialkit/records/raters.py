"""What readings say about their raters: blindness, and balance over the mixes."""

import re

import pandas as pd

from .problems import Problem, show
from .reading_cells import Setting


def rater_problems(
    file: str, frame: pd.DataFrame, setting: Setting, mixes: pd.DataFrame
) -> list[Problem]:
    """Warnings about notes that name a vessel or mix, and raters who read only some mixes."""
    return _unblinded(file, frame, setting, mixes) + _confounded(file, frame)


def _unblinded(
    file: str, frame: pd.DataFrame, setting: Setting, mixes: pd.DataFrame
) -> list[Problem]:
    """Notes from which a rater seems to know what is in a vessel, or to compare vessels."""
    notes = frame[frame["note"] != ""]
    words = [*mixes["mix"], *setting.vessels["vessel"], *mixes["name"], *mixes["lot"]]
    words = [re.escape(word) for word in words if len(word) > 2]
    if notes.empty or not words:
        return []
    pattern = re.compile(rf"(?<!\w)(?:{'|'.join(words)})(?!\w)", re.IGNORECASE)
    message = "the note names a vessel or mix: the rater may have been unblinded"
    fix = "Say in the report who knew what, or leave the rater's readings out."
    return [
        Problem(file, int(row), "note", show(note), "warn", message, fix)
        for row, note in zip(notes["row"], notes["note"], strict=True)
        if pattern.search(note)
    ]


def _confounded(file: str, frame: pd.DataFrame) -> list[Problem]:
    """Raters who read some mixes and never others, though a second rater did."""
    found = []
    known = frame[frame["mix"] != ""]
    for quantity, group in known.groupby("quantity", sort=True):
        everything = set(group["mix"])
        if group["rater"].nunique() < 2:
            continue
        for rater, own in group.groupby("rater"):
            unread = sorted(everything - set(own["mix"]))
            if unread:
                message = f"rater and mix cannot be told apart in {quantity}"
                fix = f"{rater} never read {', '.join(unread)}; let every rater read every mix."
                found.append(Problem(file, None, "rater", rater, "warn", message, fix, 0))
    return found
