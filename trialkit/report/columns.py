"""The one glossary of columns: what each is called on paper, its unit, how it prints."""

import math
from dataclasses import dataclass
from functools import partial

from .blocks import Column as Head
from .printing import (
    print_count,
    print_decimals,
    print_hours,
    print_number,
    print_p,
    print_rounded,
    print_share,
)


@dataclass(frozen=True)
class Column:
    """
    What a reader sees of a column.

    Attributes
    ----------
    header : str
        Words at the head of the column.
    unit : str
        Unit of the values, empty when the values have none or carry their own.
    kind : str
        How a value prints, a name in ``PRINTERS``.
    """

    header: str
    unit: str = ""
    kind: str = "text"

    @property
    def head(self) -> Head:
        """Header with the unit after a comma; numbers stand to the right."""
        text = f"{self.header}, {self.unit}" if self.unit else self.header
        return Head(text, "left" if self.kind in ("text", "code") else "right")


COLUMNS: dict[str, Column] = {
    # what was mixed, in what
    "mix": Column("Mix", kind="code"),
    "name": Column("Name"),
    "lot": Column("Lot"),
    "label_dose_g_per_l": Column("Dose on the label", "g/L", "tenths"),
    "dose_g_per_l": Column("Dose", "g/L", "number"),
    "price_per_kg": Column("Price per kg", kind="price"),
    "vessel": Column("Vessel", kind="code"),
    "role": Column("Role"),
    "block": Column("Block", kind="code"),
    "place": Column("Place"),
    "volume_l": Column("Volume", "L", "number"),
    "dose_g": Column("Dose", "g", "number"),
    "start": Column("Start"),
    "start_h": Column("Start", "h", "hours"),
    "lost_h": Column("Lost at", "h", "hours"),
    "rater": Column("Rater", kind="code"),
    # readings
    "phase": Column("Phase"),
    "session": Column("Session", kind="count"),
    "elapsed_h": Column("Time", "h", "hours"),
    "scheduled_h": Column("Planned", "h", "hours"),
    "quantity": Column("Quantity"),
    "value": Column("Value", kind="number"),
    "limit": Column("Limit"),
    "position": Column("Position"),
    "repeat": Column("Repeat", kind="count"),
    "instrument": Column("Instrument", kind="code"),
    "verdict": Column("Verdict"),
    # clearing
    "criterion": Column("Criterion"),
    "label": Column("Means"),
    "tolerance": Column("Tolerance", kind="number"),
    "hold": Column("Readings in a row", kind="count"),
    "rater_rule": Column("Raters"),
    "left_h": Column("Not clear at", "h", "hours"),
    "right_h": Column("Clear at", "h", "hours"),
    "reclouded_h": Column("Cloudy again at", "h", "hours"),
    "n_readings": Column("Readings", kind="count"),
    # estimates
    "group": Column("Group"),
    "term": Column("What"),
    "p": Column("Share", kind="share"),
    "share": Column("Share", kind="share"),
    "within_h": Column("Within", "h", "hours"),
    "time_h": Column("Time", "h", "hours"),
    "t": Column("Time", "h", "hours"),
    "estimate": Column("Estimate", kind="number"),
    "conf_low": Column("From", kind="number"),
    "conf_high": Column("To", kind="number"),
    "conf_level": Column("Confidence", kind="share"),
    "p_value": Column("p", kind="p"),
    "p_adjusted": Column("p, adjusted", kind="p"),
    "p_smallest": Column("Smallest p possible", kind="p"),
    "n": Column("Vessels", kind="count"),
    "n_event": Column("Cleared", kind="count"),
    "n_censored": Column("Not cleared", kind="count"),
    "n_not_clear": Column("Not yet clear", kind="count"),
    "n_clear": Column("Clear", kind="count"),
    "n_unknown": Column("Unknown", kind="count"),
    "unit": Column("Unit"),
    "method": Column("Method"),
    "n_simulated": Column("Simulated trials", kind="count"),
    "matters": Column("Both to be read", kind="flag"),
    "statistic": Column("Statistic", kind="number"),
    "df": Column("Degrees of freedom", kind="number"),
    "std_error": Column("Standard error", kind="number"),
    "family": Column("Family"),
    "scale": Column("Scale", kind="rounded3"),
    "loglik": Column("Log-likelihood", kind="rounded1"),
    "aic": Column("AIC", kind="number"),
    "converged": Column("Converged", kind="flag"),
    "note": Column("Note"),
    # decisions
    "claim": Column("Claim"),
    "text": Column("Claim"),
    "decision": Column("Decision"),
    "mix_a": Column("Mix", kind="code"),
    "mix_b": Column("Compared with", kind="code"),
    "before": Column("Before", kind="code"),
    "contrast": Column("Comparison"),
    "ratio": Column("Ratio of times", kind="number"),
    "letters": Column("Letters"),
    "rank": Column("Rank", kind="count"),
    "rank_low": Column("Best rank", kind="count"),
    "rank_high": Column("Worst rank", kind="count"),
    "probability_first": Column("First in repeats", kind="share"),
    "choice": Column("Choice"),
    "threshold": Column("Claimed", kind="number"),
    "p_own_scale": Column("p, spread of their own", kind="p"),
    "p_permutation": Column("p, permutation", kind="p"),
    "n_a": Column("Vessels", kind="count"),
    "n_event_a": Column("Cleared", kind="count"),
    "n_b": Column("Vessels of the other", kind="count"),
    "n_event_b": Column("Cleared of the other", kind="count"),
    # what else could have moved the answer
    "definition": Column("Definition", kind="count"),
    "placement": Column("Time taken from"),
    "declared": Column("As declared", kind="flag"),
    "estimate_low": Column("Smallest", kind="number"),
    "estimate_high": Column("Largest", kind="number"),
    "share_same_rank": Column("Same rank in", kind="share"),
    "n_definition": Column("Definitions", kind="count"),
    "n_changed": Column("Vessels that would change", kind="count"),
    "typical_h": Column("Typical time, all raters", "h", "hours"),
    "alone_h": Column("Typical time, this rater alone", "h", "hours"),
    "alone": Column("This rater alone"),
    "changed": Column("Another verdict", kind="flag"),
    "low": Column("Lowest", kind="number"),
    "high": Column("Highest", kind="number"),
    "difference": Column("Difference", kind="number"),
    # what storage left
    "stage": Column("Stage"),
    "margin": Column("Margin", kind="number"),
    "resolution": Column("Resolution", kind="number"),
    "top": Column("Top", kind="number"),
    "bottom": Column("Bottom", kind="number"),
    "reached": Column("Reached", kind="number"),
    "target": Column("Target", kind="number"),
    "cost": Column("Cost of 100 L", kind="number"),
    "day": Column("Day", kind="number"),
    "left_day": Column("Clear at", "d", "number"),
    "right_day": Column("Not clear at", "d", "number"),
    "share_lost": Column("Water lost", kind="share"),
    "corrected": Column("Corrected for lost water", kind="number"),
    "flag": Column("Flag"),
    "below": Column("Below the detection limit", kind="flag"),
    "acceptable": Column("Acceptable", kind="number"),
    "after": Column("After", kind="number"),
    "topic": Column("Topic"),
    "sentence": Column("Finding"),
    # many trials together
    "trial": Column("Trial"),
    "title": Column("Title"),
    "source": Column("From"),
    "item": Column("What"),
    "without": Column("Without", kind="text"),
    "n_trials": Column("Trials", kind="count"),
    "more_trials": Column("More trials to settle it", kind="number"),
    "between_sd": Column("Spread between trials", kind="number"),
    "i_squared": Column("I squared", kind="share"),
    "q": Column("Q", kind="number"),
    "predict_low": Column("New batch, from", kind="number"),
    "predict_high": Column("New batch, to", kind="number"),
    "target_salinity": Column("Salinity aimed at", kind="number"),
    "temperature_c": Column("Temperature", "°C", "number"),
    # where it all came from
    "file": Column("File"),
    "row": Column("Row", kind="count"),
    "column": Column("Column"),
    "level": Column("Level"),
    "message": Column("What was seen"),
    "fix": Column("What to do"),
    "bytes": Column("Bytes", kind="count"),
    "sha256": Column("SHA-256", kind="code"),
    "package": Column("Package"),
    "version": Column("Version", kind="code"),
}


def _print_text(value: object) -> str:
    missing = value is None or (isinstance(value, float) and math.isnan(value))
    return "" if missing else str(value)


PRINTERS = {
    "text": _print_text,
    "code": _print_text,
    "hours": print_hours,
    "number": print_number,
    "count": print_count,
    "share": print_share,
    "p": print_p,
    "price": partial(print_decimals, decimals=2),
    "tenths": partial(print_decimals, decimals=1),
    "rounded1": partial(print_rounded, decimals=1),
    "rounded3": partial(print_rounded, decimals=3),
    "flag": lambda value: "yes" if value else "no",
}


def print_cell(column: str, value: object) -> str:
    """
    The value of a glossary column as a reader sees it.

    Parameters
    ----------
    column : str
        A name in ``COLUMNS``.
    value : object

    Returns
    -------
    str

    Raises
    ------
    KeyError
        For a column that the glossary lacks.

    Examples
    --------
    >>> print_cell("right_h", 1.5), print_cell("p_value", 0.0004)
    ('1.5', 'under 0.001')
    """
    return PRINTERS[COLUMNS[column].kind](value)
