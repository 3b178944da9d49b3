"""Which readings a plan asks for, in the order in which they are taken."""

import pandas as pd

from .layout import reading_order


def empty_readings(planned):
    """The rows of readings.csv that the plan asks for, values left open.

    In the order in which they are to be read: session by session, rater by rater, block by block,
    vessels of a block in an order of its own each time.

    Parameters
    ----------
    planned : PlannedTrial
        The plan.

    Returns
    -------
    pandas.DataFrame
        Columns vessel, rater, elapsed_h (as planned), quantity, value (empty), unit, position,
        instrument, note.
    """
    settings = planned.settings
    days = settings.get("storage", {}).get("days", [])
    hours = [*settings["schedule_h"], *(24.0 * day for day in days)]
    raters = list(planned.raters["rater"])
    order = reading_order(planned.vessels, len(hours), raters, seed=settings["seed"])
    salty = set(planned.vessels.loc[planned.vessels["role"] == "trial", "vessel"])
    rows = []
    for turn in order.itertuples(index=False):
        found = [("clarity", "lines", "", "")]
        if turn.rater == raters[-1]:
            found += _meters(settings, turn.session, turn.vessel in salty)
        rows += [(turn.vessel, turn.rater, hours[turn.session], *reading) for reading in found]
    frame = pd.DataFrame(
        rows,
        columns=["vessel", "rater", "elapsed_h", "quantity", "unit", "position", "instrument"],
    )
    frame.insert(4, "value", "")
    return frame.assign(note="")


def _meters(settings, session, is_trial):
    """What the last reader of a session measures beside looking."""
    last = len(settings["schedule_h"]) - 1
    stored = "storage" in settings
    wanted = {
        "haze": [""] if "haze" in settings["criteria"] else [],
        "temperature": [""] if session == 0 or session >= last else [],
        "salinity": ["top", "bottom"] if session >= last and is_trial else [],
        "mass": [""] if stored and session >= last else [],
    }
    tools = {
        tool["quantity"]: (code, tool["unit"]) for code, tool in settings["instruments"].items()
    }
    return [
        (quantity, tools[quantity][1], position, tools[quantity][0])
        for quantity, positions in wanted.items()
        for position in positions
    ]
