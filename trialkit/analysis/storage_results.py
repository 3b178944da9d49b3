"""Every finding about storage, collected once."""

from __future__ import annotations

import pandas as pd

from trialkit.analysis.before_after import quantity_changes
from trialkit.analysis.clarity_kept import clarity_kept
from trialkit.analysis.cleaning import COLUMNS as CLEANING_COLUMNS
from trialkit.analysis.cleaning import cleaning_interval
from trialkit.analysis.homogeneity import USUAL_MARGIN, salinity_homogeneity
from trialkit.analysis.residue import ResidueSummary, residue_summary
from trialkit.analysis.residue_scores import residue_scores
from trialkit.analysis.results import Results
from trialkit.analysis.storage import storage_change
from trialkit.records.trial import Trial

__all__ = ["storage_results", "storage_tables"]

WORDS = ["topic", "sentence"]
NOTHING = (
    "No reading was made in storage, so this report has no chapter on what weeks of standing did."
)


def storage_tables(
    trial: Trial,
    *,
    margin: float = USUAL_MARGIN,
    acceptable: float | None = None,
    conf_level: float | None = None,
) -> dict[str, pd.DataFrame]:
    """All storage tables of results.json by name.

    Parameters
    ----------
    trial : Trial
        What `read_trial` returned, unblinded.
    margin : float
        Difference of salinity between top and bottom that does not matter.
    acceptable : float, optional
        Residue that is still acceptable, in the unit it was read in; without it no interval
        between cleanings is suggested.
    conf_level : float, optional
        The declared one by default.

    Returns
    -------
    dict of str to DataFrame
        The tables; all of them with their columns and without rows when nothing was read.
        `storage_words` (topic, sentence) says each finding, or why there is none.

    Examples
    --------
    >>> import trialkit as tk
    >>> tables = storage_tables(tk.read_trial("data/demo/single"))
    >>> tables["storage_words"]["topic"].tolist()
    ['storage', 'homogeneity', 'salinity', 'residue', 'clarity']
    """
    even = salinity_homogeneity(trial, margin=margin, conf_level=conf_level)
    change = storage_change(trial, conf_level=conf_level)
    left = residue_summary(trial, conf_level=conf_level)
    kept = clarity_kept(trial, conf_level=conf_level)
    words = [
        ("storage", _opening(trial)),
        ("homogeneity", str(even)),
        ("salinity", str(change)),
        ("residue", str(left)),
        ("clarity", str(kept)),
    ]
    return {
        "homogeneity": even.equivalence,
        "homogeneity_vessels": even.vessels,
        "homogeneity_intervals": even.intervals,
        "homogeneity_times": even.times,
        "dose": change.dose,
        "storage": change.drift,
        "salinity_series": change.series,
        "mass_losses": change.losses,
        "residue": left.summary,
        "residue_means": left.means,
        "residue_ratios": left.ratios,
        "residue_vessels": left.vessels,
        "residue_limits": left.limits,
        "cleaning": _cleaning(left, acceptable),
        "residue_scores": residue_scores(trial, conf_level=conf_level),
        "clarity_kept": kept.shares,
        "clarity_intervals": kept.intervals,
        "clarity_times": kept.times,
        "clarity_change": kept.change,
        "quantity_changes": quantity_changes(trial, conf_level=conf_level),
        "storage_words": pd.DataFrame(words, columns=WORDS),
    }


def storage_results(
    trial: Trial, *, margin: float = USUAL_MARGIN, acceptable: float | None = None
) -> Results:
    """The storage findings as one `Results`, for a report on storage alone.

    A trial without readings in mixing has it too.

    Parameters
    ----------
    trial : Trial
        What `read_trial` returned, unblinded.
    margin : float
        Difference of salinity between top and bottom that does not matter.
    acceptable : float, optional
        Residue that is still acceptable, in the unit it was read in.

    Returns
    -------
    Results

    Raises
    ------
    ValueError
        If the trial is still blind.

    Examples
    --------
    >>> import trialkit as tk
    >>> found = tk.storage_results(tk.read_trial("data/demo/harbour"))
    >>> found["residue"].shape[0]
    6
    """
    if trial.blinded:
        raise ValueError(
            "the mixes are still blind: put key.csv (vessel, mix) into the trial folder, "
            "then run this again."
        )
    protocol = trial.protocol
    meta = {
        "title": protocol.title,
        "start": protocol.start.isoformat(),
        "window_h": protocol.window_h,
        "storage_days": list(protocol.storage_days),
        "target_salinity": protocol.target_salinity,
        "conf_level": protocol.conf_level,
        "seed": protocol.seed,
        "licence": protocol.licence,
        "inputs": trial.sources.to_dict("records"),
    }
    frames = {"mixes": _with_blanks(trial.mixes), "vessels": _with_blanks(trial.vessels)}
    tables = storage_tables(trial, margin=margin, acceptable=acceptable)
    return Results(meta, frames | tables)


def _cleaning(left: ResidueSummary, acceptable: float | None) -> pd.DataFrame:
    if acceptable is None:
        return pd.DataFrame(columns=CLEANING_COLUMNS)
    return cleaning_interval(left, acceptable)


def _opening(trial: Trial) -> str:
    if not trial.has_storage:
        return NOTHING
    readings = trial.readings[trial.readings["phase"] == "storage"]
    vessels = readings.loc[readings["role"] == "trial", "vessel"].nunique()
    days = readings["elapsed_h"].max() / 24
    return f"{vessels} vessels stood for {days:.0f} days after they were filled."


def _with_blanks(frame: pd.DataFrame) -> pd.DataFrame:
    """The frame with None where a cell of the input was empty."""
    return frame.astype(object).where(frame.notna(), None)
