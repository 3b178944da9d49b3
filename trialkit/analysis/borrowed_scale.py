"""The spread between vessels in many trials, as a trial.toml takes it."""

from __future__ import annotations

import json

import pandas as pd
from scipy import stats

from trialkit.analysis.results import Results

__all__ = ["borrowed_scale", "scale_toml"]


def borrowed_scale(results: Results) -> dict:
    """The spread between vessels of one mix in one place, with its uncertainty and its source.

    A trial that borrows a spread takes it as known. So `value` is the estimate times Student's
    quantile over the normal one: 95% limits of a typical time by it hold in 95 of 100 trials, and
    the bound of an assured time in 94 to 95 (simulated for 3 to 100 degrees of freedom); by the
    bare estimate with 5 degrees of freedom they would in 89 and 87.

    Parameters
    ----------
    results : Results
        What `pool_trials` returned.

    Returns
    -------
    dict
        value, estimate, conf_low, conf_high (standard deviation of log time), df, n (vessels),
        source.

    Raises
    ------
    ValueError
        If no trial had two vessels of one mix: then the spread within a trial is unknown.

    Examples
    --------
    >>> table = pd.DataFrame([("within a trial", 0.31, 0.2, 0.5, 0.95, 14.0)],
    ...     columns=["term", "estimate", "conf_low", "conf_high", "conf_level", "df"])
    >>> meta = {"n_trials": 6, "n_vessels": 24, "definition": "own", "criterion": "clarity"}
    >>> found = borrowed_scale(Results({**meta, "scale_known": True}, {"spreads": table}))
    >>> found["estimate"], found["value"]  # Student's quantile is 2.145, the normal one 1.960
    (0.31, 0.3392)
    """
    if not results.meta["scale_known"]:
        raise ValueError(
            "no trial had two vessels of one mix, so the spread within a trial is not known."
        )
    spreads: pd.DataFrame = results["spreads"]
    row = spreads[spreads["term"] == "within a trial"].iloc[0]
    trials, vessels = results.meta["n_trials"], results.meta["n_vessels"]
    tail = (1 + row["conf_level"]) / 2
    wider = float(stats.t.ppf(tail, row["df"]) / stats.norm.ppf(tail))
    return {
        "value": _round(row["estimate"] * wider),
        "estimate": _round(row["estimate"]),
        "conf_low": _round(row["conf_low"]),
        "conf_high": _round(row["conf_high"]),
        "df": _round(row["df"]),
        "n": int(vessels),
        "source": (
            f"{row['estimate']:.2g} in {vessels} vessels of {trials} trials pooled by "
            f"{results.meta['criterion']}, {100 * row['conf_level']:g}% limits "
            f"{row['conf_low']:.2g} to {row['conf_high']:.2g}, and widened by "
            f"{100 * (wider - 1):.0f}% for that uncertainty"
        ),
    }


def scale_toml(results: Results) -> str:
    """The table [scale] for the trial.toml of a trial with one vessel a mix.

    Parameters
    ----------
    results : Results
        What `pool_trials` returned.

    Returns
    -------
    str
        TOML, ending in a line break.

    Raises
    ------
    ValueError
        If the spread within a trial is not known.

    Examples
    --------
    >>> table = pd.DataFrame([("within a trial", 0.31, 0.2, 0.5, 0.95, 14.0)],
    ...     columns=["term", "estimate", "conf_low", "conf_high", "conf_level", "df"])
    >>> meta = {"n_trials": 6, "n_vessels": 24, "scale_known": True, "criterion": "clarity"}
    >>> print(scale_toml(Results(meta, {"spreads": table})).splitlines()[1])
    value = 0.3392
    """
    spread = borrowed_scale(results)
    lines = [f"{name} = {json.dumps(spread[name])}" for name in ("value", "source")]
    told = ("estimate", "conf_low", "conf_high", "df")
    known = ", ".join(f"{name} {spread[name]}" for name in told)
    return "\n".join(["[scale]", *lines, f"# {known}"]) + "\n"


def _round(value: float) -> float:
    return float(f"{value:.4g}")
