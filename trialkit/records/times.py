"""Hours since a vessel's start out of the ways in which people write a time."""

import re
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

from .numbers import tidy
from .problems import Fault

TIME_COLUMNS = ("elapsed_min", "elapsed_h", "day", "clock", "time")
_ISO = re.compile(
    r"([0-9]{4})-([0-9]{2})-([0-9]{2})[T ]([0-9]{1,2}):([0-9]{2})(?::([0-9]{2})(\.[0-9]{1,6}0*)?)?"
    r"\s*(Z|[+-][0-9]{2}:?[0-9]{2})?",
    re.IGNORECASE,
)
_CLOCK = re.compile(r"([0-9]{1,2}):([0-9]{2})(?::([0-9]{2}))?")
_ISO_FIX = "Write date and time as 2031-04-02T08:15."
_OFFSET_FIX = "Write it with its offset from UTC, for example 2031-10-26T02:30+01:00."
_CLOCK_FIX = "Write a 24-hour clock time such as 08:15."


def parse_time(cell: str, zone: ZoneInfo) -> datetime | Fault:
    """A moment from an ISO 8601 date and time; without offset it is local to the trial.

    Examples
    --------
    >>> parse_time("2031-04-02T08:15", ZoneInfo("UTC")).isoformat()
    '2031-04-02T08:15:00+00:00'
    >>> parse_time("02/04/2031 08:15", ZoneInfo("UTC")).message
    'the order of day and month cannot be told'
    """
    text = tidy(cell)
    match = _ISO.fullmatch(text)
    if match is None:
        return _not_iso(text)
    year, month, day, hour, minute, second, fraction, offset = match.groups()
    micro = round(float(fraction or 0) * 1e6)
    try:
        naive = datetime(int(year), int(month), int(day), int(hour), int(minute), int(second or 0))
    except ValueError:
        return Fault("there is no such date or time", _ISO_FIX)
    naive += timedelta(microseconds=micro)
    if offset is None:
        return localise(naive, zone)
    sign = "+0000" if offset in "Zz" else offset.replace(":", "")
    shift = timedelta(hours=int(sign[1:3]), minutes=int(sign[3:5]))
    if shift > timedelta(hours=14):
        return Fault("there is no such offset from UTC", _ISO_FIX)
    utc = naive - shift if sign[0] == "+" else naive + shift
    return utc.replace(tzinfo=UTC).astimezone(zone)


def localise(naive: datetime, zone: ZoneInfo) -> datetime | Fault:
    """A local clock time as a moment, refused where daylight saving repeats or skips it.

    Examples
    --------
    >>> localise(datetime(2031, 3, 30, 2, 30), ZoneInfo("Europe/Berlin")).message
    'daylight saving skips this clock time'
    """
    early, late = (naive.replace(tzinfo=zone, fold=fold) for fold in (0, 1))
    if early.utcoffset() == late.utcoffset():
        return early
    back = early.astimezone(UTC).astimezone(zone).replace(tzinfo=None)
    if back != naive:
        fix = "No clock showed it: correct it, or add the offset of the clock that did."
        return Fault("daylight saving skips this clock time", fix)
    return Fault("daylight saving repeats this clock time", _OFFSET_FIX)


def parse_clock(cell: str) -> timedelta | Fault:
    """A clock time as the time since midnight.

    Examples
    --------
    >>> parse_clock("8:15")
    datetime.timedelta(seconds=29700)
    """
    text = tidy(cell)
    match = _CLOCK.fullmatch(text)
    if match is None:
        if re.search(r"[ap]\.?m\.?$", text, re.IGNORECASE):
            return Fault("the clock time is not in 24-hour form", _CLOCK_FIX)
        return Fault("this is not a clock time" if text else "the time is missing", _CLOCK_FIX)
    hour, minute, second = (int(part or 0) for part in match.groups())
    if hour > 23 or minute > 59 or second > 59:
        return Fault("there is no such clock time", _CLOCK_FIX)
    return timedelta(hours=hour, minutes=minute, seconds=second)


def parse_day(cell: str, first: date) -> date | Fault:
    """A day from its ISO date or its number; day 1 is the day on which the trial starts.

    Examples
    --------
    >>> parse_day("2", date(2031, 4, 2)).isoformat()
    '2031-04-03'
    """
    text = tidy(cell)
    if re.fullmatch(r"[1-9][0-9]{0,2}", text):
        return first + timedelta(days=int(text) - 1)
    if re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", text):
        try:
            return date.fromisoformat(text)
        except ValueError:
            return Fault("there is no such date", "Write a day number or a date as 2031-04-02.")
    message = "the day is missing" if not text else "this is not a day"
    return Fault(message, "Write 1 for the day on which the trial starts, or a date as 2031-04-02.")


def _not_iso(text: str) -> Fault:
    """Why a text is no ISO date and time."""
    if not text:
        return Fault("the time is missing", _ISO_FIX)
    if _CLOCK.fullmatch(text) or re.fullmatch(r"[0-9]{1,2}:[0-9]{2}.*", text):
        return Fault("a clock time stands without its day", _ISO_FIX)
    if re.match(r"[0-9]{1,2}[/.-][0-9]{1,2}[/.-][0-9]{2,4}", text):
        return Fault("the order of day and month cannot be told", _ISO_FIX)
    if re.search(r"[0-9]\s*[ap]\.?m\.?$", text, re.IGNORECASE):
        return Fault("the clock time is not in 24-hour form", _ISO_FIX)
    if re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", text):
        return Fault("a date stands without its time", _ISO_FIX)
    if re.fullmatch(r"[0-9.,]+", text):
        return Fault("a number stands where a time belongs", _ISO_FIX)
    return Fault("this is not a date and time", _ISO_FIX)
