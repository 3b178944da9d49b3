"""What a logger's series look like between the readings that the plan is held against."""

import numpy as np

from .problems import Problem, row_warning
from .rows import Rows

_SERIES = ("quantity", "unit", "vessel", "rater", "position", "repeat")
_FEWEST = 100
# A logger keeps an interval when so many of its steps do, within this of it.
_STEADY, _SAME = 0.6, 0.05
_LOST = 0.03
# Steps by so many intervals are a gap.
_GAP = 20
# Equal readings in a row are odd from this chance on, given how often they repeat nearby.
_CHANCE, _EITHER, _NEAR = 1e-9, 1e-7, 200
# Runs from so many steps on are looked at.
_LONG = 5
# How far single readings and levels jump: times the usual, and in logarithms at least.
_SPIKE, _JUMP, _LEAST = 25.0, 8.0, 0.35
_BLOCKS, _SAMPLED = 400, 9

Found = list[Problem]


def series_problems(
    file: str, rows: Rows, starts: np.ndarray | None, window_h: float
) -> list[Problem]:
    """Warnings about gaps, stuck probes, spikes and jumps in the series of a logger.

    Parameters
    ----------
    file : str
        Name for messages.
    rows : Rows
        Tidy readings.
    starts : ndarray or None
        Where each series begins, when the rows are in order of series and time already.
    window_h : float
        Readings in storage are not looked at.
    """
    columns = {name: rows[name] for name in ("elapsed_h", "value", "row")}
    firsts = starts
    if starts is None:
        ids = rows.ids(*_SERIES)
        order = np.lexsort((columns["elapsed_h"], ids))
        columns = {name: column[order] for name, column in columns.items()}
        starts = np.concatenate(([0], np.flatnonzero(np.diff(ids[order])) + 1))
        firsts = order[starts]
    vessels = rows["vessel"][firsts].tolist()
    found: Found = []
    ends = np.concatenate((starts[1:], [len(rows)]))
    for vessel, start, end in zip(vessels, starts, ends, strict=True):
        series = [column[start:end] for column in columns.values()]
        count = int(np.searchsorted(series[0], window_h, side="right"))
        found += _one_series(file, vessel, *(column[:count] for column in series))
    return found


def _one_series(
    file: str, vessel: str, times: np.ndarray, values: np.ndarray, rows: np.ndarray
) -> Found:
    """What one series looks like."""
    if len(times) < _FEWEST:
        return []
    found = _gaps(file, vessel, times)
    read = ~np.isnan(values)
    if not read.all():
        values, rows = values[read], rows[read]
    if len(values) < _FEWEST:
        return found
    return found + _stuck(file, vessel, values, rows) + _jumps(file, vessel, values, rows)


def _gaps(file: str, vessel: str, times: np.ndarray) -> Found:
    """Times without readings, and readings that are missing here and there."""
    steps = np.diff(times)
    usual = float(np.median(steps[:: max(1, len(steps) // 2001)]))
    if usual <= 0:
        return []
    found = []
    wide = int(steps.argmax())
    if steps[wide] > _GAP * usual:
        shown = f"{vessel}: {60 * steps[wide]:.3g} min after {times[wide]:.3g} h"
        message, fix = "the logger has a gap", "See whether a part of its file is missing."
        found.append(Problem(file, None, "elapsed", shown, "warn", message, fix))
    steady = np.abs(steps - usual) <= _SAME * usual
    near = steps <= _GAP * usual
    expected = float(steps[near].sum()) / usual
    if steady.mean() >= _STEADY and near.sum() < (1 - _LOST) * expected:
        shown = f"{vessel}: {1 - near.sum() / expected:.0%} of its readings"
        message = "readings are missing at the logger's own interval"
        fix = "See whether rows were filtered or lost when its file was copied."
        found.append(Problem(file, None, "elapsed", shown, "warn", message, fix))
    return found


def _stuck(file: str, vessel: str, values: np.ndarray, rows: np.ndarray) -> Found:
    """The oddest run of one value: where readings around it seldom repeat."""
    equal = values[1:] == values[:-1]
    changes = np.concatenate(([-1], np.flatnonzero(~equal), [len(equal)]))
    lengths = np.diff(changes) - 1
    long = np.flatnonzero(lengths >= _LONG)
    if not len(long):
        return []
    starts, lengths = changes[long] + 1, lengths[long]
    total = np.concatenate(([0], np.cumsum(equal)))
    longest = int(lengths.argmax())
    # The longest is held against all around it, a shorter one against either side: a probe that
    # was stuck ran free on both, water that came clear repeats on one.
    first, before, last, after = _around(total, starts, lengths, np.clip(5 * lengths, 20, _NEAR))
    rate = np.fmax((before + 1) / (first + 2), (after + 1) / (last + 2))
    chance = np.where((first > 0) & (last > 0), lengths * np.log(rate), 0.0)
    chance[chance > np.log(_EITHER / len(long))] = 0.0
    first, before, last, after = _around(total, starts, lengths, np.full(len(long), _NEAR))
    together = lengths * np.log((before + after + 1) / (first + last + 2))
    if first[longest] + last[longest] and together[longest] <= np.log(_CHANCE):
        chance[longest] = min(chance[longest], together[longest])
    start, length = int(starts[chance.argmin()]), int(lengths[chance.argmin()])
    if chance.min() == 0:
        return []
    message = "the logger shows one value for long where it seldom repeats one; was it stuck"
    fix = f"Look at {vessel} from here on, over {length + 1} readings."
    return [row_warning(file, rows[start], "value", float(values[start]), message, fix)]


def _around(
    total: np.ndarray, starts: np.ndarray, lengths: np.ndarray, near: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """How many steps lie before and after each run, and how many of them repeat."""
    low, end = np.maximum(starts - near, 0), starts + lengths
    high = np.minimum(end + near, len(total) - 1)
    return starts - low, total[starts] - total[low], high - end, total[high] - total[end]


def _jumps(file: str, vessel: str, values: np.ndarray, rows: np.ndarray) -> Found:
    """Single readings far from both neighbours, and levels that change at once."""
    low = float(np.quantile(values[:: max(1, len(values) // 2001)], 0.05))
    scaled = np.log(np.maximum(values, 0) + max(low, 1e-3 * float(values.max()), 1e-9))
    return _spikes(file, vessel, scaled, values, rows) + _levels(file, vessel, scaled, values, rows)


def _spikes(
    file: str, vessel: str, scaled: np.ndarray, values: np.ndarray, rows: np.ndarray
) -> Found:
    before, after = scaled[1:-1] - scaled[:-2], scaled[1:-1] - scaled[2:]
    # Beyond both neighbours, by the smaller of the two distances.
    beyond = np.where(before * after > 0, np.minimum(np.abs(before), np.abs(after)), 0.0)
    sample = beyond[:: max(1, len(beyond) // 5001)]
    # Where many readings are wild, they must not make wildness usual.
    step = float(np.median(np.abs(before)))
    usual = float(np.mean(np.minimum(sample, 6 * step) if step > 0 else sample))
    spikes = np.flatnonzero(beyond > max(_SPIKE * usual, 2 * _LEAST)) + 1
    if not len(spikes):
        return []
    message = "single readings jump away from those just before and after"
    fix = f"{vessel} has {len(spikes)} such; see whether bubbles, light or the file made them."
    first = spikes[0]
    return [row_warning(file, rows[first], "value", float(values[first]), message, fix)]


def _levels(
    file: str, vessel: str, scaled: np.ndarray, values: np.ndarray, rows: np.ndarray
) -> Found:
    """The largest step between the middles of neighbouring blocks, if it is no part of a slope."""
    size = max(_SAMPLED, len(scaled) // _BLOCKS)
    count = len(scaled) // size
    picked = np.arange(_SAMPLED) * size // _SAMPLED
    middles = np.median(scaled[: count * size].reshape(count, size)[:, picked], axis=1)
    # Two blocks apart, so that a jump within a block counts in full.
    steps = np.abs(middles[2:] - middles[:-2])
    if len(steps) < 12:
        return []
    worst = int(steps.argmax())
    around = np.concatenate((steps[max(0, worst - 6) : max(0, worst - 1)], steps[worst + 2 :][:5]))
    usual = float(np.median(around)) if len(around) else 0.0
    if steps[worst] <= max(_JUMP * usual, _LEAST):
        return []
    message = "the series jumps from one level to another"
    fix = f"See whether the probe, gain or unit of {vessel} changed about here."
    place = (worst + 1) * size
    return [row_warning(file, rows[place], "value", float(values[place]), message, fix)]
