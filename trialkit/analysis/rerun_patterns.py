"""Patterns in the readings of a trial that readings seldom show by themselves.

None of them proves anything: a coarse instrument, a habit of rounding or a slip of the mouse makes
some of them too. They say where to look at the sheet. What the intake asks about a file is another
matter: it asks sooner, because its question goes to the person who has the sheet at hand.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from trialkit.analysis.rerun_copies import Sheet, dragged, filled_down, repeated
from trialkit.analysis.rerun_digits import last_digit_p_value
from trialkit.records.trial import Trial

__all__ = ["reading_patterns"]

RARE = 1e-3  # last digits as uneven as this come by chance in one of a thousand trials
_FEWEST = 8  # readings that are all equal
_FIGURES = 1000  # steps; a meter that shows so many figures hardly shows the same twice


def reading_patterns(trial: Trial) -> tuple[str, ...]:
    """Patterns found in the readings of a trial, in neutral words, each once.

    How often honest trials show any of them is simulated in tests/reference/pooling_flags.py.

    Parameters
    ----------
    trial : Trial
        What `read_trial` returned.

    Returns
    -------
    tuple of str
        Sorted; empty when nothing stands out.

    Examples
    --------
    >>> import trialkit as tk
    >>> reading_patterns(tk.read_trial("data/demo/single"))
    ()
    """
    readings = trial.readings
    plain = (readings["limit"] == "") & readings["value"].notna() & (readings["phase"] == "mixing")
    written = readings[plain].sort_values("row", kind="stable")
    found: set[str] = set()
    for (quantity, unit), own in written.groupby(["quantity", "unit"]):
        found.update(_patterns(str(quantity), str(unit), own))
    return tuple(sorted(found))


def _patterns(quantity: str, unit: str, own: pd.DataFrame) -> list[str]:
    places = ["rater", "session", "position", "repeat"]
    sheet = Sheet.of(own["value"], own["vessel"], own.groupby(places).ngroup())
    if _all_equal(sheet, unit):
        return [f"all readings of {quantity} are equal to the last of many digits"]
    in_time = own.sort_values("elapsed_h", kind="stable")
    uneven = last_digit_p_value(in_time["value"], in_time["session"], in_time["vessel"]) < RARE
    table, step = sheet.table(), float(sheet.steps.max())
    words = {
        f"some last digits of {quantity} are much more common than others": uneven,
        f"readings of {quantity} rise or fall in equal steps down the sheet": dragged(sheet),
        f"one value of {quantity} stands in many cells in a row": filled_down(sheet),
        f"two vessels have the same readings of {quantity}": repeated(table, step),
        f"two rounds of {quantity} are the same in every vessel": repeated(table.T, step),
    }
    return [text for text, seen in words.items() if seen]


def _all_equal(sheet: Sheet, unit: str) -> bool:
    first = sheet.values[0] - (unit == "SG")  # a specific gravity counts from that of water
    many = len(sheet.values) >= _FEWEST and sheet.vessel.max() > 0
    return bool(many and np.ptp(sheet.values) == 0 and abs(first) >= _FIGURES * sheet.steps[0])
