"""Patterns in the readings of a trial that readings seldom show by themselves.

None of them proves anything: a coarse instrument, a habit of rounding or a steady evaporation makes
some of them too. They say where to look at the sheet.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
from scipy import stats

from trialkit.records.trial import Trial

__all__ = ["last_digit_p_value", "reading_patterns"]

# Parts of warnings of the intake with the words for a pooled report.
FROM_INTAKE = {
    "goes on in equal steps": "readings rise or fall in equal steps down the sheet",
    "stays the same over": "one value stands in more cells in a row than the others lead to expect",
    "are equal": "all readings of a quantity are equal",
    "in order of size": "a whole column of readings is in order of size",
    "the very same values": "two rounds of readings are the same in every vessel",
}
RARE = 1e-4  # a last digit as uneven as this by chance in one of ten thousand trials
STEPS = (1.0, 0.1, 0.01, 0.001)
_FEWEST, _SPAN = 60, 20  # readings, and steps over which the middle half of a round spreads


def reading_patterns(trial: Trial) -> tuple[str, ...]:
    """Patterns found in the readings of a trial, in neutral words, each once.

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
    messages = trial.problems.loc[trial.problems["level"] == "warn", "message"]
    text = "\n".join(map(str, messages))
    found = {words for part, words in FROM_INTAKE.items() if part in text}
    for quantity, own in trial.readings.groupby("quantity"):
        if last_digit_p_value(own["value"], own["session"]) < RARE:
            found.add(f"some last digits of {quantity} are much more common than others")
    return tuple(sorted(found))


def last_digit_p_value(values, rounds) -> float:
    """Chance of last digits at least as uneven, if all ten were equally common.

    Last digits of measured values are about equally common where the values spread over many steps
    of that digit; made-up numbers and rounded ones favour some (Mosimann et al. 1995). So only
    rounds with such a spread are counted: once all water is alike, its last digit is alike too.

    Parameters
    ----------
    values : array_like
        Readings; nan are left out.
    rounds : array_like
        The round of readings that each belongs to.

    Returns
    -------
    float
        p-value of the chi-square test; 1 when too few readings have a digit that is free.

    References
    ----------
    Mosimann, J. E., Wiseman, C. V. & Edelman, R. E. (1995). Accountability in Research 4, 31-55.

    Examples
    --------
    >>> last_digit_p_value([0.5 * k for k in range(200)], [1] * 200) < 1e-4  # only 0 and 5
    True
    """
    frame = pd.DataFrame({"value": np.asarray(values, float), "round": np.asarray(rounds)}).dropna()
    step = next((s for s in STEPS if _on_grid(frame["value"].to_numpy(), s)), None)
    if step is None or frame.empty:
        return 1.0
    of_round = frame.groupby("round")["value"]
    spread = of_round.transform("quantile", 0.75) - of_round.transform("quantile", 0.25)
    # Near the blank, too, values crowd together: only readings of three figures or more.
    free = frame.loc[(spread >= _SPAN * step) & (frame["value"].abs() >= 100 * step), "value"]
    if len(free) < _FEWEST:
        return 1.0
    digits = np.bincount(np.round(free.to_numpy() / step).astype(int) % 10, minlength=10)
    return float(stats.chisquare(digits).pvalue)


def _on_grid(values: np.ndarray, step: float) -> bool:
    """Whether nearly all values are whole numbers of steps."""
    return bool(np.mean(np.abs(values / step - np.round(values / step)) < 1e-6) > 0.95)
