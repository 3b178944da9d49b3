"""Readings that are possible but lie far from all that should resemble them."""

import numpy as np

from .problems import Problem
from .rows import Rows, group_quantile, group_sizes, others_span
from .trial import Protocol

_SERIES = ("vessel", "phase", "rater", "position", "repeat")
_LONG_SERIES = ("vessel", "rater", "position", "repeat")
_SIBLINGS = ("vessel", "phase", "session")
_PEERS = ("role", "mix", "phase", "session")
_ROUND = ("role", "phase", "session", "position")
# How many times the usual departure counts as far; calibrated on simulated sound trials
# (next to no false alarm) against swapped digits and lost decimal points.
FAR = 9.0
# How many times further another expectation than the closest must be left behind.
_WILD = 3.0
# How much sooner a departure is named that a moved decimal point explains.
_POINT = 2.0
# Share of a reading that is never far, where values span decades.
_SLIGHT = 0.03
_FEWEST = 12
_MANY = 40
# A drift is carried on beyond the ends of a series over so many times its last step.
_CARRIED = 2.0
_FEWEST_OF_ROUND = 4


def outlier_problems(file: str, rows: Rows, protocol: Protocol) -> list[Problem]:
    """Warnings about readings that jump away from their neighbours.

    Each reading is held against three expectations: the readings of the same series just
    before and after, the other readings of the same vessel in that session, and the other
    vessels of the same mix in that session; where water has no way to go, also the vessels of
    the session altogether. Its departure is measured in units of what is
    usual for that quantity and expectation. A reading is named when it is far off by the
    expectation that is usually the closest, or very far off by another.

    Parameters
    ----------
    file : str
        Name for messages.
    rows : Rows
        Readings with a value; one with a limit sign stands at its limit.
    protocol : Protocol
        Its kinds say which direction means clearer water.
    """
    found = []
    for group in rows.split("quantity", "unit"):
        plain = group["limit"] == ""
        if not plain.all() and (group_sizes(group.ids(*_SERIES)) == 1).all():
            # Below the limit there is no order, and no round before or after to make one.
            group = group.take(plain)
        if len(group) < _FEWEST:
            continue
        better = protocol.quantities[group["quantity"][0]].range_of(group["unit"][0]).better
        found += _jumps(file, group, *far_off(group, better))
    return found


def _jumps(file: str, group: Rows, score: np.ndarray, expected: np.ndarray) -> list[Problem]:
    """The readings of one quantity that are far off."""
    quantity, unit, sign = group["quantity"][0], group["unit"][0], group["limit"]
    # What lies below 0.1 may be anything there: only a limit beyond what was expected is odd.
    beyond = np.where(sign == "<", expected - group["value"], group["value"] - expected) > 0
    message = f"this {quantity} jumps away from the readings around it"
    found = []
    for i in np.flatnonzero((score > FAR) & ((sign == "") | beyond)):
        fix = f"Compare with the sheet; about {expected[i]:.3g} {unit} was expected."
        shown = f"{sign[i]}{group['value'][i]:g}"
        found.append(Problem(file, int(group["row"][i]), "value", shown, "warn", message, fix))
    return found


def far_off(group: Rows, better: str = "") -> tuple[np.ndarray, np.ndarray]:
    """How far each reading of one quantity lies off, and what was expected.

    Parameters
    ----------
    group : Rows
        Readings of one quantity in one unit.
    better : {"low", "high", ""}
        The direction in which water comes clear.

    Returns
    -------
    score : ndarray, shape (n,)
        Departure in units of the usual one; 0 where nothing can be expected.
    expected : ndarray, shape (n,)
        The value that was expected, in the reading's unit.
    """
    values = group["value"]
    # A reader who counts lines is sure of them; a meter flickers by its last digit.
    step = smallest_step(values) / (4.5 if better else 1)
    shift = log_shift(values, step)
    scaled = values if shift is None else np.log(values + shift)
    smallest = step if shift is None else np.maximum(step / (values + shift), _SLIGHT)
    score, best = np.zeros(len(values)), np.full(len(values), np.inf)
    wild = np.zeros(len(values))
    expected = np.full(len(values), np.nan)
    spans = [
        _neighbours(group, scaled, better),
        others_span(group.ids(*_SIBLINGS), scaled),
        _peers(group, scaled),
    ]
    if not better:
        spans.append(_round(group, scaled))
    for number, (low, high) in enumerate(spans):
        # What is counted falls back by a step or two, however steeply water comes clear.
        counted = number == 0 and better and shift is None
        off = np.maximum(np.maximum(low - scaled, scaled - high), 0)
        steep = np.isfinite(high - low) & (not counted)
        wide = np.where(steep, (high - low) / 8, 0)
        usual = np.maximum(np.maximum(_usual(group, off, bool(better)), smallest), wide)
        closer = ~np.isnan(off) & (usual < best)
        wild = np.fmax(wild, off / usual / _WILD)
        best = np.where(closer, usual, best)
        score = np.where(closer, off / usual, score)
        expected = np.where(closer, _between(low, high), expected)
    score = np.maximum(score, wild)
    expected = expected if shift is None else np.exp(expected) - shift
    return np.where(_moved_point(values, expected), score * _POINT, score), expected


def _moved_point(values: np.ndarray, expected: np.ndarray) -> np.ndarray:
    """Whether a decimal point moved by one to three places would explain a departure."""
    known = (values > 0) & (expected > 0)
    places = np.log10(np.where(known, values, 1.0) / np.where(known, expected, 1.0))
    whole = np.round(places)
    # Within a quarter of a place: 20.5 for 2.05 where about 1.9 was expected.
    return (np.abs(places - whole) < 0.25) & (np.abs(whole) >= 1) & (np.abs(whole) <= 3)


def smallest_step(values: np.ndarray) -> float:
    """The smallest step between values: no departure is smaller than it."""
    ordered = np.sort(values.round(9))
    steps = ordered[1:] - ordered[:-1]
    steps = steps[steps > 0]
    return float(steps.min()) if len(steps) else 1.0


def log_shift(values: np.ndarray, step: float) -> float | None:
    """What to add before a logarithm, where values span more than a decade; else None."""
    positive = np.sort(values[values > 0])
    if values.min() < 0 or len(positive) < _FEWEST:
        return None
    low, high = positive[len(positive) // 20], positive[-1 - len(positive) // 20]
    return float(max(low, step)) if high > 10 * low else None


def _between(low: np.ndarray, high: np.ndarray) -> np.ndarray:
    """The middle of a span, or its only bound."""
    low, high = np.where(np.isinf(low), high, low), np.where(np.isinf(high), low, high)
    return (low + high) / 2


def _neighbours(group: Rows, scaled: np.ndarray, ends: str) -> tuple[np.ndarray, np.ndarray]:
    """The span between the readings just before and after in the same series.

    The first reading has nothing before it: water comes clear, so it should not be better than
    the second; nor the last worse than the one before it (`ends` the better direction). Without a
    direction they are not held against anything.
    """
    ids = group.ids(*_SERIES)
    order = np.lexsort((group["row"], group["elapsed_h"], ids))
    before, after, starts, stops = _beside(ids[order], scaled[order])
    beyond = {"high": (-np.inf, np.inf), "low": (np.inf, -np.inf)}
    worst, best = beyond.get(ends, (np.nan, np.nan))
    before, after = np.where(starts, worst, before), np.where(stops, best, after)
    before, after = (np.where(starts & stops, np.nan, side) for side in (before, after))
    return _back(order, before, after)


def _beside(
    series: np.ndarray, ordered: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """The values before and after each of its series, and whether it is the first or last."""
    starts = np.concatenate(([True], np.diff(series) != 0))
    stops = np.concatenate((starts[1:], [True]))
    return np.roll(ordered, 1), np.roll(ordered, -1), starts, stops


def _back(
    order: np.ndarray, before: np.ndarray, after: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """The lower and higher of two sides, in the order of the file."""
    low, high = np.empty(len(order)), np.empty(len(order))
    low[order], high[order] = np.minimum(before, after), np.maximum(before, after)
    return low, high


def _own_way(group: Rows, away: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The span in which a vessel's distance from others should lie, by its other sessions.

    It reaches from the session before to the one after, and to where the drift before leads:
    water that leaves by a loose lid leaves week by week, and a vessel that is slower than others
    falls behind more and more until they are clear. At the start the drift after is carried back.
    """
    ids = group.ids(*_LONG_SERIES)
    order = np.lexsort((group["row"], group["elapsed_h"], ids))
    before, after, starts, stops = _beside(ids[order], away[order])
    ahead, back = (_carried(ids[order], group["elapsed_h"][order], away[order], s) for s in (1, -1))
    low = np.fmin(np.where(starts, np.nan, before), np.where(stops, np.nan, after))
    high = np.fmax(np.where(starts, np.nan, before), np.where(stops, np.nan, after))
    drift = np.where(starts, ahead, back)
    low, high = np.fmin(low, drift), np.fmax(high, drift)
    alone = starts & stops
    return _back(order, np.where(alone, np.nan, low), np.where(alone, np.nan, high))


def _carried(ids: np.ndarray, hours: np.ndarray, away: np.ndarray, step: int) -> np.ndarray:
    """Where the two readings on one side lead to, in series; NaN where there are no two."""
    number = np.arange(len(ids))
    first, second = (np.clip(number + k * step, 0, len(ids) - 1) for k in (1, 2))
    span = np.abs(hours[second] - hours[first])
    known = (ids[second] == ids) & (np.abs(second - number) == 2) & (span > 0)
    times = np.minimum(np.abs(hours[first] - hours) / np.where(span > 0, span, 1.0), _CARRIED)
    return np.where(known, away[first] + (away[first] - away[second]) * times, np.nan)


def _peers(group: Rows, scaled: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The span that the other vessels of the mix lead to expect, the vessel's own way allowed for.

    A vessel may well come clear sooner than its peers: what is held against each other is how far
    it lies from them in this session, and in the sessions just before and after.
    """
    low, high = others_span(group.ids(*_PEERS), scaled)
    middle = (low + high) / 2
    below, above = _own_way(group, scaled - middle)
    own = ~np.isnan(below)
    return np.where(own, middle + below, low), np.where(own, middle + above, high)


def _round(group: Rows, scaled: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The span that all vessels of the round lead to expect, the vessel's own way allowed for.

    Those of the same role, where there are enough; a few of purified water are held against all.
    """
    own = group.ids(*_ROUND)
    few = group_sizes(own) < _FEWEST_OF_ROUND
    middle = group_quantile(own, scaled, 0.5)
    if few.any():
        every = group.ids(*_ROUND[1:])
        middle = np.where(few, group_quantile(every, scaled, 0.5), middle)
        few = group_sizes(every) < _FEWEST_OF_ROUND
    below, above = _own_way(group, scaled - middle)
    return np.where(few, np.nan, middle + below), np.where(few, np.nan, middle + above)


def _usual(group: Rows, off: np.ndarray, one_way: bool) -> np.ndarray:
    """The usual departure for each reading: a high quantile.

    Taken within the session where it has readings enough: the first rounds scatter more than
    the last ones.
    """
    usual = np.full(len(off), np.inf)
    known = ~np.isnan(off)
    # A meter at its limit departs from nothing, which says little of how it scatters.
    told = np.flatnonzero(known & (group["limit"] == ""))
    if not len(told):
        return usual
    overall = _spread(np.zeros(len(told), int), off[told], one_way)
    sessions = group.ids("phase", "session")
    # Many wild readings in one round must not make wildness usual there.
    own = np.minimum(_spread(sessions[told], off[told], one_way), 2 * overall)
    by_session = np.full(sessions.max() + 1, overall[0])
    by_session[sessions[told]] = np.where(group_sizes(sessions[told]) >= _FEWEST, own, overall)
    usual[known] = by_session[sessions[known]]
    return usual


def _spread(ids: np.ndarray, off: np.ndarray, one_way: bool) -> np.ndarray:
    """The scale of departures in each group, from a quantile that a wild one cannot reach.

    A wild reading makes its neighbours look wild too, so the quantile is lower where water goes
    one way and sound readings seldom depart at all.
    """
    many = group_sizes(ids) >= _MANY
    # Each quantile with that of the absolute value of a standard normal deviate.
    steps = ((0.9, 1.645), (0.85, 1.44)) if one_way else ((0.95, 1.96), (0.9, 1.645))
    large, small = (group_quantile(ids, off, share) / scale for share, scale in steps)
    return np.where(many, large, small)
