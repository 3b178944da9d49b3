"""What the vessels look like as a whole: blocks, places, starts, doses, and the sealed key."""

from collections import Counter
from hashlib import sha256
from math import exp, lgamma

import numpy as np

from .doses import unusual_doses
from .problems import Problem, show
from .rows import Rows, group_quantile
from .trial import Protocol

_FILE = "vessels.csv"
NO_MIX = "no vessel has a mix: the trial is blind, or its key is missing"
# Dry mix for salt water of 30 to 38, grams per litre; common practice, no source.
_USUAL_DOSE = (25.0, 60.0)
# Doses for one salinity differ little between batches of one mix.
_DOSE_SPREAD = 0.2
# Starts of one block are set to the minute, if not to one time.
_SECONDS_H = 1 / 60 - 1e-6
# Of the dearest mix to the cheapest; more looks like another unit or a lost point.
_PRICE_RATIO = 15
# An order of codes that chance makes more often than this is no sign of sorting.
_BY_CHANCE = 0.04


def design_problems(vessels: Rows, mixes: Rows, protocol: Protocol) -> list[Problem]:
    """Warnings about vessels that do not fit the layout of the others.

    Parameters
    ----------
    vessels, mixes : Rows
    protocol : Protocol
    """
    trial = vessels.take(vessels["role"] == "trial")
    if not len(trial):
        return []
    found = _mix_numbers(mixes) + _unused_mixes(trial, mixes) + _blocks(trial) + _places(vessels)
    found += _stray_references(vessels) + _dosed_references(vessels) + _ordered_codes(trial)
    found += _starts(vessels) + _doses(trial, mixes) + _volumes(vessels)
    return found + _losses(vessels, protocol) + _keyless(trial)


def _keyless(trial: Rows) -> list[Problem]:
    """A note that nobody can tell the mixes apart yet; a key that was mislaid looks the same."""
    if (trial["mix"] != "").any():
        return []
    fix = "Put key.csv into the folder once the last reading is taken."
    return [Problem("key.csv", None, "", "", "note", NO_MIX, fix, 0)]


def key_problem(key: dict[str, str], protocol: Protocol, nonce: str) -> list[Problem]:
    """A warning when the key is not the one whose digest was declared on the planning day.

    The digest is that of the nonce, a line feed, and the key as CSV in order of vessels.
    """
    if not (protocol.key_sha256 and nonce):
        return []
    rows = "".join(f"{vessel},{mix}\n" for vessel, mix in sorted(key.items()) if mix)
    digest = sha256(f"{nonce}\nvessel,mix\n{rows}".encode()).hexdigest()
    if digest == protocol.key_sha256.lower():
        return []
    message = "the key is not the one that trial.toml was sealed with"
    fix = "Put the key of the planning day back, or say in the report why it changed."
    return [Problem("key.csv", None, "", "", "warn", message, fix, 0)]


def _ordered_codes(trial: Rows) -> list[Problem]:
    """A warning when codes give their mixes away, by design or because a column was sorted."""
    mixes = [mix for _, mix in sorted(zip(trial["vessel"], trial["mix"], strict=True))]
    # So seldom chance puts them into order, up or down.
    sizes = np.array([*Counter(mixes).values()])
    chance = 2 * exp(sum(map(lgamma, sizes + 1)) - lgamma(len(mixes) + 1))
    ordered = sorted(mixes) in (mixes, mixes[::-1])
    if len(mixes) < 5 or len(sizes) < 2 or chance > _BY_CHANCE or not ordered:
        return []
    message = "the mixes follow the order of the vessel codes"
    fix = "See whether a column of the key was sorted alone; draw codes at random."
    return [_warn("mix", "", message, fix)]


def _stray_references(vessels: Rows) -> list[Problem]:
    """A warning for a reference in a block that no trial vessel is in."""
    own = set(vessels["block"][vessels["role"] == "trial"])
    references = vessels.take(vessels["role"] == "reference")
    message, fix = "the reference is in a block without other vessels", "Correct its block."
    return [
        _warn("block", f"{vessel} in {show(block)}", message, fix)
        for vessel, block in zip(references["vessel"], references["block"], strict=True)
        if block and block not in own
    ]


def _dosed_references(vessels: Rows) -> list[Problem]:
    """A warning for purified water that salt was weighed for."""
    references = vessels.take((vessels["role"] == "reference") & (vessels["dose_g"] > 0))
    message, fix = "a reference of purified water has a dose of salt", "Correct its dose or role."
    return [
        _warn("dose_g", f"{vessel}: {dose:g} g", message, fix)
        for vessel, dose in zip(references["vessel"], references["dose_g"], strict=True)
    ]


def _mix_numbers(mixes: Rows) -> list[Problem]:
    """Label doses that no salt water has, and prices of different orders of magnitude."""
    low, high = _USUAL_DOSE
    found = []
    for mix, dose in zip(mixes["mix"], mixes["label_dose_g_per_l"], strict=True):
        if dose < low or dose > high:
            message = "the label dose is unusual for salt water"
            fix = f"Usual is {low:g} to {high:g} g/L (common practice)."
            found.append(_warn_mix("label_dose_g_per_l", f"{mix}: {dose:g} g/L", message, fix))
    prices = mixes["price_per_kg"][mixes["price_per_kg"] > 0]
    if len(prices) and prices.max() > _PRICE_RATIO * prices.min():
        message = "one mix costs many times what another does"
        fix = "See whether a point was lost, or the price is not per kilogram."
        shown = f"{prices.min():g} to {prices.max():g}"
        found.append(_warn_mix("price_per_kg", shown, message, fix))
    return found


def _warn_mix(column: str, value: str, message: str, fix: str) -> Problem:
    return Problem("mixes.csv", None, column, value, "warn", message, fix)


def _warn(column: str, value: str, message: str, fix: str) -> Problem:
    return Problem(_FILE, None, column, value, "warn", message, fix)


def _unused_mixes(trial: Rows, mixes: Rows) -> list[Problem]:
    """Mixes that no vessel holds, once the key is known."""
    used = set(trial["mix"])
    if "" in used:
        return []
    message, fix = "no vessel holds this mix", "Correct the key, or take it out of mixes.csv."
    return [_warn("mix", mix, message, fix) for mix in mixes["mix"] if mix not in used]


def _blocks(trial: Rows) -> list[Problem]:
    """Blocks that break the pattern "every mix once" that most of them keep; odd sizes."""
    found = []
    sizes = Counter(trial["block"])
    if len(set(sizes.values())) > 1 or ("" in sizes and len(sizes) > 1):
        message = "the blocks hold different numbers of vessels"
        shown = ", ".join(f"{show(block) or '(none)'} {n}" for block, n in sorted(sizes.items()))
        found.append(
            _warn("block", shown, message, "Correct the block, or nothing if it is right.")
        )
    known = trial.take(trial["mix"] != "")
    pairs = Counter(zip(known["block"], known["mix"], strict=True))
    twice = {pair for pair, count in pairs.items() if count > 1}
    if twice and len(twice) < len(pairs) / 2 and len(sizes) > 1:
        message = "a mix stands in one block more than once while most stand once"
        for block, mix in sorted(twice):
            fix = "Correct block or mix, or nothing if it is right."
            found.append(_warn("block", f"{mix} in {show(block) or '(none)'}", message, fix))
    counts = Counter(known["mix"])
    if len(set(counts.values())) > 1:
        message = "the mixes have different numbers of vessels"
        shown = ", ".join(f"{mix} {count}" for mix, count in sorted(counts.items()))
        found.append(_warn("mix", shown, message, "Correct the key, or nothing if it is right."))
    return found


def _places(vessels: Rows) -> list[Problem]:
    """Two vessels in one place."""
    found, taken = [], set()
    message, fix = "another vessel of the block stands in this place", "Correct the place."
    columns = (vessels[name] for name in ("vessel", "block", "place"))
    for vessel, block, place in zip(*columns, strict=True):
        if place and (block, place) in taken:
            found.append(_warn("place", f"{vessel} in {show(place)}", message, fix))
        taken.add((block, place))
    return found


def _starts(vessels: Rows) -> list[Problem]:
    """Vessels that start apart from their block, and a trial that nobody starts with."""
    found = []
    for group in vessels.take(vessels["block"] != "").split("block"):
        starts = group["start_h"].round(6)
        usual, count = Counter(starts.tolist()).most_common(1)[0]
        if count > max(1, len(group) / 2):
            message = "the vessel starts at another time than the rest of its block"
            fix = "Correct the start, or nothing if it is right."
            odd = group["vessel"][np.abs(starts - usual) > 1e-6]
            found += [
                _warn("start", f"{v} in block {show(group['block'][0])}", message, fix) for v in odd
            ]
        if 0 < starts.max() - starts.min() < _SECONDS_H:
            message = "the starts of a block differ by seconds; was a cell dragged"
            found.append(_warn("start", show(group["block"][0]), message, "Compare with the plan."))
    first = vessels["start_h"].min()
    if abs(first) > 1e-6:
        message = "no vessel starts at the start that trial.toml gives"
        fix = "Correct start in trial.toml or in vessels.csv."
        found.append(_warn("start", f"first {first:+.4g} h", message, fix))
    return found


def _doses(trial: Rows, mixes: Rows) -> list[Problem]:
    """Doses per litre that are unusual, or unlike those of the same mix or its label."""
    labels = dict(zip(mixes["mix"], mixes["label_dose_g_per_l"], strict=True))
    dose = trial["dose_g"] / trial["volume_l"]
    known = trial["mix"] != ""
    middle = group_quantile(trial.ids("mix"), dose, 0.5)
    middle = np.where(middle > 0, middle, np.nan)
    label = np.array([labels.get(mix, np.nan) for mix in trial["mix"]], float)
    low, high = _USUAL_DOSE
    unlike = known & (np.abs(dose / middle - 1) > _DOSE_SPREAD)
    off_label = known & (np.abs(dose / label - 1) > 2 * _DOSE_SPREAD)
    message = "the dose per litre is unusual for salt water, this mix or its label"
    fix = f"Usual is {low:g} to {high:g} g/L (common practice); see volume_l and dose_g."
    return [
        _warn("dose_g", f"{trial['vessel'][i]}: {dose[i]:.4g} g/L", message, fix)
        for i in np.flatnonzero((dose < low) | (dose > high) | unlike | off_label)
    ] + unusual_doses(trial, dose, label)


def _volumes(vessels: Rows) -> list[Problem]:
    """Vessels that do not hold the same volume, so that mixing differs between them."""
    volumes = vessels["volume_l"][~np.isnan(vessels["volume_l"])]
    if not len(volumes) or not volumes.min() < volumes.max():
        return []
    message = "the vessels hold different volumes, so mixing differs between them"
    fix = "Correct it, or nothing if it is right."
    shown = f"{volumes.min():g} to {volumes.max():g} L"
    return [_warn("volume_l", shown, message, fix)]


def _losses(vessels: Rows, protocol: Protocol) -> list[Problem]:
    """A note on each vessel that was lost."""
    end = max([protocol.window_h, *(day * 24 for day in protocol.storage_days)])
    lost = vessels.take(vessels["lost_h"] < np.inf)
    found = []
    for vessel, hours in zip(lost["vessel"], lost["lost_h"], strict=True):
        message, fix = "the vessel was lost during the trial", "Nothing to do."
        level = "note" if hours <= end else "warn"
        value = f"{vessel} after {hours:g} h"
        found.append(Problem(_FILE, None, "lost_h", value, level, message, fix))
    return found
