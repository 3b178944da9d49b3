"""The questions that a plan needs answered, each with the answers it allows."""

from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise
from math import inf
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from trialkit.records.joiners import without_joiners

from .schedule import DEFAULT_SPREAD

PAPERS = ("a4", "us-letter")


@dataclass(frozen=True)
class Question:
    """One thing to ask, for a person's prompt and for a line of answers.toml alike.

    Parameters
    ----------
    name : str
        Key in answers.toml.
    words : str
        The question.
    kind : str
        text, number, whole, yes, moment, zone, choice, numbers or names.
    default : object
        What an empty answer means; None when an answer is needed.
    low, high : float
        Allowed range of a number, both ends included.
    unit : str
        Unit of a number.
    choices : tuple of str
        Allowed words of a choice.
    """

    name: str
    words: str
    kind: str
    default: object = None
    low: float = -inf
    high: float = inf
    unit: str = ""
    choices: tuple[str, ...] = ()

    @property
    def allowed(self):
        """What may be answered, in words."""
        if self.kind == "choice":
            return "one of " + ", ".join(self.choices)
        if self.kind not in ("number", "whole", "numbers"):
            return _KINDS[self.kind][1]
        unit = f" {self.unit}" if self.unit else ""
        what = {"number": "a number", "whole": "a whole number", "numbers": "rising numbers"}
        return f"{what[self.kind]} from {self.low:g} to {self.high:g}{unit}"


QUESTIONS = (
    Question("title", "What is the trial called?", "text"),
    Question("start", "When does the salt go into the first vessels (local time)?", "moment"),
    Question("timezone", "In which time zone?", "zone", "UTC"),
    Question("volume_l", "How much water goes into each vessel?", "number", None, 0.5, 5000, "L"),
    Question("target_salinity", "Which practical salinity is aimed at?", "number", 35.0, 1, 42),
    Question("vessels_per_mix", "How many vessels of each mix?", "whole", 4, 1, 20),
    Question(
        "places",
        "How many vessels of salt water stand in one block (0: all mixes)?",
        "whole",
        0,
        0,
        60,
    ),
    Question("window_h", "For how long are the vessels watched?", "number", 24.0, 1, 336, "h"),
    Question("n_readings", "How many times will you look at them?", "whole", 14, 3, 60),
    Question(
        "schedule_h", "Reading times, or empty for a proposal?", "numbers", [], 0.02, 336, "h"
    ),
    Question(
        "tolerance_lines",
        "How many lines fewer than through purified water still count as clear?",
        "whole",
        1,
        0,
        10,
    ),
    Question("hold", "How many clear looks in a row make a vessel clear?", "whole", 2, 1, 5),
    Question("haze_meter", "Is the haze read with a turbidity meter?", "yes", False),
    Question(
        "tolerance_ntu",
        "How much haze above purified water still counts as none?",
        "number",
        0.3,
        0,
        10,
        "NTU",
    ),
    Question("storage_days", "Days of storage readings, or none?", "numbers", [], 1, 3650, "days"),
    Question("raters", "Who reads (names or initials)?", "names"),
    Question("blinded", "Does someone who doesn't read keep the key?", "yes", True),
    Question(
        "spread",
        "Spread between vessels of a mix (SD of log time, from an earlier report)?",
        "number",
        DEFAULT_SPREAD,
        0.01,
        2,
    ),
    Question("earlier", "results.json of an earlier report to take the spread from?", "text", ""),
    Question(
        "seed", "Seed of the random layout (-1: drawn now and printed)?", "whole", -1, -1, 2**53
    ),
    Question("paper", "Which paper?", "choice", "a4", choices=PAPERS),
    Question("licence", "Under which licence are the data published?", "text", "CC-BY-4.0"),
)
MIX_QUESTIONS = (
    Question("name", "Name of the mix?", "text"),
    Question("lot", "Maker's lot?", "text", ""),
    Question("label_dose_g_per_l", "Dose on the label?", "number", 36.0, 1, 400, "g/L"),
    Question("price_per_kg", "Price of a kilogram (0: not given)?", "number", 0.0, 0, 1e5),
    Question(
        "expected_h", "In what time do you expect it to clear?", "number", 2.0, 0.02, 1e4, "h"
    ),
    Question(
        "claimed_h",
        "Within what time does its label say it is clear (0: says nothing)?",
        "number",
        0.0,
        0,
        1e4,
        "h",
    ),
)


def parse_answer(question, text):
    """A typed answer as a value of the question's kind.

    Parameters
    ----------
    question : Question
        What was asked.
    text : str
        What was typed; empty for the default.

    Returns
    -------
    object
        The checked value.

    Raises
    ------
    ValueError
        With the allowed answers.

    Examples
    --------
    >>> parse_answer(QUESTIONS[5], "3")
    3
    >>> parse_answer(QUESTIONS[5], "300")
    Traceback (most recent call last):
    ValueError: vessels_per_mix must be a whole number from 1 to 20; got 300.
    """
    text = text.strip()
    if not text and question.default is not None:
        return question.default
    try:
        value = _KINDS[question.kind][0](text)
    except ValueError:
        value = text
    return check_answer(question, value)


def check_answer(question, value):
    """A value from answers.toml, as the kit keeps it.

    Parameters
    ----------
    question : Question
        What it answers.
    value : object
        As TOML gives it.

    Returns
    -------
    object
        The value; whole numbers become floats where a number is asked for.

    Raises
    ------
    ValueError
        With the allowed answers.
    """
    if not _fits(question, value):
        shown = value if isinstance(value, int | float) else repr(value)
        raise ValueError(f"{question.name} must be {question.allowed}; got {shown}.")
    if question.kind == "number":
        return float(value)
    return [float(v) for v in value] if question.kind == "numbers" else value


def _fits(question, value):
    if type(value) is type(question.default) and value == question.default:
        return True
    if question.kind == "choice":
        return value in question.choices
    if not _KINDS[question.kind][2](value):
        return False
    numbers = value if question.kind == "numbers" else [value]
    if question.kind in ("number", "whole", "numbers"):
        return all(question.low <= v <= question.high for v in numbers)
    return True


def _is_number(value):
    return isinstance(value, int | float) and not isinstance(value, bool)


def _is_whole(value):
    return isinstance(value, int) and not isinstance(value, bool)


def _are_rising(value):
    return (
        isinstance(value, list)
        and all(map(_is_number, value))
        and all(a < b for a, b in pairwise(value))
    )


def _is_text(value):
    plain = isinstance(value, str) and without_joiners(value).isprintable()
    return plain and bool(value.strip())


def _are_names(value):
    return isinstance(value, list) and 1 <= len(value) <= 20 and all(map(_is_text, value))


def _is_zone(value):
    try:
        return isinstance(value, str) and bool(ZoneInfo(value))
    except (ZoneInfoNotFoundError, ValueError, OSError):
        return False


def _yes(text):
    words = {"y": True, "yes": True, "n": False, "no": False}
    if text.lower() not in words:
        raise ValueError
    return words[text.lower()]


def _numbers(text):
    return (
        [] if text.lower() in ("", "none") else [float(t) for t in text.replace(",", " ").split()]
    )


def _names(text):
    return [name.strip() for name in text.split(",") if name.strip()]


# Kind: from typed text, what is allowed, whether a value is of the kind.
_KINDS = {
    "text": (str, "a line of text", _is_text),
    "number": (float, "a number", _is_number),
    "whole": (int, "a whole number", _is_whole),
    "yes": (_yes, "yes or no (true or false in a file)", lambda v: isinstance(v, bool)),
    "moment": (
        datetime.fromisoformat,
        "a date and time such as 2031-04-02T08:00",
        lambda v: isinstance(v, datetime) and v.tzinfo is None,
    ),
    "zone": (str, "UTC or an IANA time zone such as Etc/GMT-1", _is_zone),
    "choice": (str, "", bool),
    "numbers": (_numbers, "rising numbers", _are_rising),
    "names": (_names, "1 to 20 names, separated by commas", _are_names),
}
