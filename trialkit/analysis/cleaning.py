"""How often a store would have to be cleaned at the residue rate of a trial."""

from __future__ import annotations

import numpy as np
import pandas as pd

from trialkit.analysis.residue import ResidueSummary

__all__ = ["ASSUMPTIONS", "cleaning_interval"]

ASSUMPTIONS = (
    "Taken for granted: residue grows by the same amount every week, a store of the same depth "
    "and material collects as the vessels of the trial did, and it is left as covered and as "
    "still as they were. None of this was tested."
)
COLUMNS = [
    "mix", "term", "estimate", "conf_low", "conf_high", "conf_level", "acceptable", "n", "unit",
    "method", "note",
]  # fmt: skip


def cleaning_interval(residue: ResidueSummary, acceptable: float) -> pd.DataFrame:
    """Weeks until the residue of a typical vessel reaches what is still acceptable.

    Parameters
    ----------
    residue : ResidueSummary
        What `residue_summary` returned.
    acceptable : float
        Residue that is still acceptable, in the unit of the summary (mg a vessel or mg/L).

    Returns
    -------
    DataFrame
        mix, term, estimate (weeks), conf_low, conf_high, conf_level, acceptable, n, unit,
        method, note (the assumptions). Take conf_low to be careful. No rows without residues.

    Raises
    ------
    ValueError
        When `acceptable` is not above 0.

    Examples
    --------
    >>> import trialkit as tk
    >>> found = tk.residue_summary(tk.read_trial("data/demo/harbour"))
    >>> weeks = cleaning_interval(found, 100.0)
    >>> bool((weeks["conf_low"] <= weeks["estimate"]).all())
    True
    """
    if not acceptable > 0:
        raise ValueError(f"acceptable must be above 0; got {acceptable}.")
    table = residue.summary
    if table.empty:
        return pd.DataFrame(columns=COLUMNS)
    weeks = float(residue.vessels["day"].astype(float).max()) / 7
    with np.errstate(divide="ignore"):
        # A rate of 0 never gets there: inf.
        reach = acceptable * weeks / table[["estimate", "conf_high", "conf_low"]].to_numpy(float)
    frame = table[["mix", "conf_level", "n", "method"]].assign(
        term="weeks between cleanings", estimate=reach[:, 0], conf_low=reach[:, 1],
        conf_high=reach[:, 2], acceptable=float(acceptable), unit="weeks",
        note=f"{ASSUMPTIONS} More than {weeks:.0f} weeks is beyond what the trial saw.",
    )  # fmt: skip
    return frame[COLUMNS]
