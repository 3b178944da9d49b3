"""What is left on the vessels after storage."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass
from itertools import combinations

import numpy as np
import pandas as pd

from trialkit.analysis.residue_amounts import MILLIGRAMS, declared_limit, residue_amounts
from trialkit.analysis.water_samples import usable
from trialkit.records.trial import Trial
from trialkit.stats.detection import detection_limits
from trialkit.stats.multiplicity import adjust_p_values
from trialkit.stats.nondetect import NondetectFit, fit_nondetects, half_limit_mean, ros_summary
from trialkit.stats.shown import Shown

__all__ = ["ResidueSummary", "residue_summary"]

SUMMARY_COLUMNS = [
    "mix", "term", "estimate", "conf_low", "conf_high", "conf_level", "n", "n_event",
    "n_censored", "unit", "method",
]  # fmt: skip
MEAN_COLUMNS = ["mix", "term", "estimate", "n", "n_event", "n_censored", "unit", "method"]
RATIO_COLUMNS = [
    "mix_a", "mix_b", "term", "estimate", "conf_low", "conf_high", "conf_level", "p_value",
    "p_adjusted", "method",
]  # fmt: skip
LIMIT_COLUMNS = ["term", "estimate", "n", "unit", "method"]
FOIL = "half the limit put in (biased, for comparison only)"


@dataclass(frozen=True, repr=False)
class ResidueSummary(Shown):
    """What was left on the vessels of each mix.

    Attributes
    ----------
    summary : DataFrame
        A row a mix: the median with calibrated limits.
    means : DataFrame
        Where enough was detected, the mean by regression on order statistics; where something
        lies below the limit, the mean with half the limit put in, as a foil.
    ratios : DataFrame
        A row a pair of mixes: amount of mix_a over that of mix_b, p adjusted by Holm.
    vessels : DataFrame
        A row a vessel, blanks included: value, below (True: it lies below value), share_lost,
        unit, note.
    limits : DataFrame
        The declared detection limit, and what the blanks say it is (Currie).
    sentence : str
        The finding in words.
    """

    summary: pd.DataFrame
    means: pd.DataFrame
    ratios: pd.DataFrame
    vessels: pd.DataFrame
    limits: pd.DataFrame
    sentence: str

    def tidy(self) -> pd.DataFrame:
        """The summary a mix."""
        return self.summary

    def __str__(self) -> str:
        return self.sentence


def residue_summary(trial: Trial, *, conf_level: float | None = None) -> ResidueSummary:
    """The residue of each mix, results below the detection limit as what they are.

    Medians and ratios come from a lognormal model in which "below 10 mg" is just that, with
    limits calibrated at few vessels; a mix all below has an upper limit. Half the detection
    limit is never put in, except in one row that shows what that would have done.

    Parameters
    ----------
    trial : Trial
        What `read_trial` returned, unblinded.
    conf_level : float, optional
        The declared one by default.

    Returns
    -------
    ResidueSummary
        Without residues: frames without rows and one sentence why.

    References
    ----------
    Helsel DR (2012). Statistics for Censored Environmental Data Using Minitab and R, 2nd ed.
    Currie LA (1968). Analytical Chemistry 40, 586-593.

    Examples
    --------
    >>> import trialkit as tk
    >>> found = tk.residue_summary(tk.read_trial("data/demo/harbour"))
    >>> found.summary["n_censored"].tolist()
    [0, 0, 2, 0, 0, 0]
    """
    level = trial.protocol.conf_level if conf_level is None else conf_level
    vessels = residue_amounts(trial)
    limits = _limits(trial, vessels)
    own = vessels[vessels["role"] == "trial"]
    if own.empty:
        why = "No residue was read, so this report has nothing to say about what is left behind."
        columns = SUMMARY_COLUMNS, MEAN_COLUMNS, RATIO_COLUMNS
        return ResidueSummary(*(pd.DataFrame(columns=c) for c in columns), vessels, limits, why)
    fit = fit_nondetects(own["value"].astype(float), own["below"].astype(bool), own["mix"])
    medians = fit.medians(level).rename(columns={"group": "mix"})
    summary = medians.assign(unit=own["unit"].iloc[0])[SUMMARY_COLUMNS]
    ratios = _ratios(fit, trial, level)
    words = _sentence(summary, ratios, own)
    return ResidueSummary(summary, _mean_table(own), ratios, vessels, limits, words)


def _mean_table(own: pd.DataFrame) -> pd.DataFrame:
    rows = []
    for mix, part in own.groupby("mix"):
        values, below = part["value"].to_numpy(float), part["below"].to_numpy(bool)
        counts = len(part), int((~below).sum()), int(below.sum())
        for term, value, method in _means(values, below):
            rows.append((mix, term, value, *counts, part["unit"].iloc[0], method))
    return pd.DataFrame(rows, columns=MEAN_COLUMNS)


def _means(values, below):
    """The means beside the model, where they exist; the foil only where a limit matters."""
    with suppress(ValueError):  # too few detected: the median's upper limit is what can be said
        yield "mean", ros_summary(values, below).mean, "regression on order statistics"
    if below.any():
        yield "foil", half_limit_mean(values, below), FOIL


def _ratios(fit: NondetectFit, trial: Trial, conf_level: float) -> pd.DataFrame:
    mixes = sorted(fit.groups)
    control = trial.protocol.control
    pairs = list(combinations(mixes, 2))
    if trial.protocol.comparisons == "control" and control in mixes:
        pairs = [(mix, control) for mix in mixes if mix != control]
    if not pairs:
        return pd.DataFrame(columns=RATIO_COLUMNS)
    first, second = zip(*pairs, strict=True)
    table = fit.ratios(pairs, conf_level).assign(mix_a=first, mix_b=second)
    table["p_adjusted"] = adjust_p_values(table["p_value"].to_numpy(), method="holm")
    return table[RATIO_COLUMNS]


def _limits(trial: Trial, vessels: pd.DataFrame) -> pd.DataFrame:
    rows = []
    if vessels.empty:
        return pd.DataFrame(columns=LIMIT_COLUMNS)
    unit = vessels["unit"].iloc[0]
    declared = declared_limit(trial, unit)
    if declared:
        rows.append(("declared detection limit", declared, 0, unit, "trial.toml"))
    rows += _blank_rows(trial, unit)
    return pd.DataFrame(rows, columns=LIMIT_COLUMNS)


def _blank_rows(trial: Trial, unit: str) -> list[tuple]:
    blanks = usable(trial, "residue")
    blanks = blanks[(blanks["role"] == "reference") & (blanks["limit"] == "")]
    wanted = ["mg/L"] if unit == "mg/L" else list(MILLIGRAMS)
    blanks = blanks[blanks["unit"].isin(wanted)]
    try:
        amounts = blanks["value"] * blanks["unit"].map(MILLIGRAMS).fillna(1.0)
        found = detection_limits(amounts, blanks["vessel"])
    except ValueError:
        return []
    return [
        ("mean of the blanks", found.blank, found.n, unit, "purified-water vessels"),
        ("critical level", found.critical, found.n, unit, "Currie 1968, above the blank"),
        ("detection limit", found.detection, found.n, unit, "Currie 1968, above the blank"),
        ("detection limit, few blanks", found.method_limit, found.n, unit, "t, 99%"),
        ("quantitation limit", found.quantitation, found.n, unit, "Currie 1968, 10 SD"),
    ]


def _sentence(summary: pd.DataFrame, ratios: pd.DataFrame, own: pd.DataFrame) -> str:
    medians = summary.sort_values("estimate")
    unit, day = own["unit"].iloc[0], own["day"].astype(float).max()
    least, most = medians.iloc[0], medians.iloc[-1]
    below = int(own["below"].sum())
    words = (
        f"After {day:.0f} days a typical vessel held from {_amount(least)} {unit} ({least['mix']}) "
        f"to {_amount(most)} {unit} ({most['mix']}) of residue; {below} of {len(own)} vessels lie "
        "below the detection limit."
    )
    if medians["n"].max() < 2:
        return words + " With one vessel a mix the mixes can't be compared."
    shown = int((ratios["p_adjusted"] < 1 - least["conf_level"]).sum())
    return words + f" {shown} of {len(ratios)} pairs of mixes are shown to differ." * bool(
        len(ratios)
    )


def _amount(row: pd.Series) -> str:
    if row["estimate"] > 0:
        return f"{row['estimate']:.3g}"
    high = row["conf_high"]
    return f"under {high:.3g}" if np.isfinite(high) else "an unknown amount under the limit,"
