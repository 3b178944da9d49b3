"""What readings say about their raters: blindness, and balance over the mixes."""

import re
from itertools import combinations

import numpy as np

from .grids import Grid, grids_of, shared_cells
from .outliers import smallest_step
from .problems import Problem, show
from .reading_cells import Setting
from .rows import Rows
from .trial import Criterion

# In so many rounds, by more than the tolerance, and in no more than this share elsewhere.
_ROUNDS, _SELDOM = 3, 0.05


def rater_problems(file: str, rows: Rows, setting: Setting, mixes: Rows) -> list[Problem]:
    """Warnings about notes that name a vessel or mix, and raters who read only some mixes."""
    found = _remarks(file, rows) + _unblinded(file, rows, setting, mixes)
    return found + _confounded(file, rows) + _at_odds(file, rows, setting)


def _at_odds(file: str, rows: Rows, setting: Setting) -> list[Problem]:
    """Vessels about which two raters disagree round after round, though they agree on others."""
    found = []
    for rule in setting.protocol.criteria.values():
        own = (rows["quantity"] == rule.quantity) & (rows["unit"] == rule.unit)
        grids = grids_of(rows.take(own & ~np.isnan(rows["value"]))) if own.any() else []
        for one, two in combinations(grids, 2):
            if one.rater != two.rater:
                found += _odd_vessels(file, one, two, rule)
    return found


def _odd_vessels(file: str, one: Grid, two: Grid, rule: Criterion) -> list[Problem]:
    """The vessels that two raters see differently, one way, in several rounds."""
    vessels, first, second = shared_cells(one, two)
    step = smallest_step(np.concatenate([first.ravel(), second.ravel()]))
    away = first - second
    far = np.maximum(rule.tolerance, step) + 1e-9
    more, less = (away > far).sum(axis=0), (away < -far).sum(axis=0)
    known = (~np.isnan(away)).sum(axis=0)
    message = f"two raters disagree about {rule.quantity} of a vessel, round after round"
    fix = "Compare its readings with both sheets: the code may be wrong in one of them."
    found = []
    for v in np.flatnonzero(np.maximum(more, less) >= _ROUNDS):
        others = (more + less).sum() - more[v] - less[v]
        if others <= _SELDOM * (known.sum() - known[v]):
            shown = f"{vessels[v]} by {one.rater} and {two.rater}"
            found.append(Problem(file, None, "value", shown, "warn", message, fix, 0))
    return found


def _remarks(file: str, rows: Rows) -> list[Problem]:
    """Each remark as a note, so that none stays in the file alone; a slipped cell as a warning."""
    found = []
    noted = np.flatnonzero(rows["note"] != "")
    for row, note in zip(rows["row"][noted], rows["note"][noted], strict=True):
        slipped = re.fullmatch(r"[<>]?[-+0-9., ]+|[A-Z][0-9]{2}", note)
        message = "a remark stands beside the reading"
        if slipped:
            message = "a number or code stands in the note; did it slip from another column"
        level = "warn" if slipped else "note"
        fix = "Correct the row." if slipped else "Nothing to do."
        found.append(Problem(file, int(row), "note", show(note), level, message, fix))
    return found


def _unblinded(file: str, rows: Rows, setting: Setting, mixes: Rows) -> list[Problem]:
    """Notes from which a rater seems to know what is in a vessel, or to compare vessels."""
    noted = np.flatnonzero(rows["note"] != "")
    if not len(noted):
        return []
    words = [*mixes["mix"], *setting.vessels["vessel"], *mixes["name"], *mixes["lot"]]
    words = [re.escape(word) for word in words if len(word) > 2]
    pattern = re.compile(rf"(?<!\w)(?:{'|'.join(words)})(?!\w)", re.IGNORECASE)
    message = "the note names a vessel or mix: the rater may have been unblinded"
    fix = "Say in the report who knew what, or leave the rater's readings out."
    return [
        Problem(file, int(row), "note", show(note), "warn", message, fix)
        for row, note in zip(rows["row"][noted], rows["note"][noted], strict=True)
        if pattern.search(note)
    ]


def _confounded(file: str, rows: Rows) -> list[Problem]:
    """Raters who read some mixes and never others, though a second rater did."""
    found = []
    for group in rows.take(rows["mix"] != "").split("quantity"):
        everything = set(group["mix"])
        raters = sorted(set(group["rater"]))
        if len(raters) < 2:
            continue
        for rater in raters:
            unread = sorted(everything - set(group["mix"][group["rater"] == rater]))
            if unread:
                message = f"rater and mix cannot be told apart in {group['quantity'][0]}"
                fix = f"{rater} never read {', '.join(unread)}; let every rater read every mix."
                found.append(Problem(file, None, "rater", rater, "warn", message, fix, 0))
    return found
