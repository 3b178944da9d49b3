"""Doses that fit neither the other vessels of their mix nor the label, where all others do."""

import numpy as np

from .problems import Problem
from .rows import Rows, group_quantile, group_sizes

# How many times the usual departure counts as far, and what never does.
_FAR = 6.0
_WITHIN_MIX = 0.03
_OF_LABEL = 0.06
_FEWEST = 3
_FEWEST_LABELS = 5


def unusual_doses(trial: Rows, dose: np.ndarray, label: np.ndarray) -> list[Problem]:
    """Warnings about doses that break what nearly all other vessels keep.

    Whoever doses to one salinity needs nearly the same grams per litre in all vessels of a mix,
    and nearly the same share of each mix's label; whoever does not keep to it is not held to it.

    Parameters
    ----------
    trial : Rows
        Vessels with their mixes.
    dose : ndarray, shape (n,)
        Grams per litre; NaN where not known.
    label : ndarray, shape (n,)
        The label's grams per litre.
    """
    known = (trial["mix"] != "") & (dose > 0)
    if not known.any():
        return []
    vessels, mixes, dose = trial["vessel"][known], trial.take(known).ids("mix"), dose[known]
    share = dose / label[known]
    found = _off(
        dose / group_quantile(mixes, dose, 0.5), group_sizes(mixes) >= _FEWEST, _WITHIN_MIX
    )
    # A label that is off is off for all vessels of its mix, and no slip of a vessel.
    several = ~np.isnan(share) & (group_sizes(mixes) < _FEWEST)
    middle = np.median(share[several]) if several.sum() >= _FEWEST_LABELS else np.nan
    found |= _off(share / middle, several, _OF_LABEL)
    message = "the dose per litre differs from its mix or its label as no other vessel's does"
    fix = "Compare dose_g with the weighing, and the vessel's mix with the key."
    return [
        Problem(
            "vessels.csv", None, "dose_g", f"{vessels[i]}: {dose[i]:.4g} g/L", "warn", message, fix
        )
        for i in np.flatnonzero(found)
    ]


def _off(ratio: np.ndarray, chosen: np.ndarray, least: float) -> np.ndarray:
    """Which of the chosen ratios lie far from 1, as seen against the others."""
    away = np.abs(ratio - 1)
    known = chosen & ~np.isnan(away)
    if not known.any():
        return known
    return known & (away > max(least, _FAR * float(np.median(away[known]))))
