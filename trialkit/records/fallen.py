"""Vessels that lose most of the clearness that they had, from one round to the next."""

import numpy as np

from .grids import grids_of
from .problems import Problem, row_warning
from .rows import Rows
from .trial import Criterion

# Of all that lies between the best and the worst reading; water that clouds again loses less.
_MOST = 0.5


def fallen_problems(file: str, trial: Rows, rule: Criterion) -> list[Problem]:
    """Warnings about vessels that are suddenly murky and stay so, as zeros for nothing read are.

    A single such reading jumps away from its neighbours, and is named for that.

    Parameters
    ----------
    file : str
        Name for messages.
    trial : Rows
        Readings of the criterion's quantity in its unit, in vessels of salt water while they mix.
    rule : Criterion
    """
    if not len(trial):
        return []
    sign = 1 if rule.better == "high" else -1
    far = _MOST * np.ptp(trial["value"]) + 1e-9
    message = f"{rule.quantity} of a vessel falls back by more than half of all that was read"
    fix = "Compare this and the readings that follow with the sheet; leave unread cells empty."
    found = []
    for grid in grids_of(trial):
        values = sign * grid.values
        lost = (values[:-2] - values[1:-1] > far) & (values[:-2] - values[2:] > far)
        for vessel in np.flatnonzero(lost.any(axis=0)):
            at = int(lost[:, vessel].argmax()) + 1
            value = float(grid.values[at, vessel])
            found.append(row_warning(file, grid.rows[at, vessel], "value", value, message, fix))
    return found
