"""Every finding of a trial that the report prints, collected once."""

import platform
from dataclasses import replace
from importlib import metadata

import pandas as pd

from trialkit.analysis.balance import check_balance
from trialkit.analysis.claim_spread import claims_by_own_spread
from trialkit.analysis.claims import claims_from
from trialkit.analysis.clear_readings import look_tables
from trialkit.analysis.clearing import FULLY_CLEAR, clearing_intervals, combine_criteria
from trialkit.analysis.clearing_tables import by_criterion, clearing_tables, verdict_table
from trialkit.analysis.comparison import compare_mixes
from trialkit.analysis.comparison_plan import ComparisonPlan
from trialkit.analysis.line_scores import scored_looks
from trialkit.analysis.overall import overall_difference
from trialkit.analysis.ranking import rank_mixes
from trialkit.analysis.raters import rater_agreement
from trialkit.analysis.results import Results
from trialkit.analysis.sensitivity import sensitivity, sensitivity_summary
from trialkit.analysis.shared_fit import fit_times, tells_no_spread
from trialkit.analysis.storage_results import storage_tables
from trialkit.analysis.uneven_spread import uneven_spread
from trialkit.records.trial import Protocol, Trial
from trialkit.stats.aft import AftFit

__all__ = ["trial_results"]

#: Libraries whose version can move a number.
VERSIONED = ("trialkit", "numpy", "pandas", "scipy", "statsmodels", "firthmodels", "gsw")


def trial_results(
    trial: Trial,
    *,
    criterion: str = FULLY_CLEAR,
    family: str | None = None,
    declared: str = "",
) -> Results:
    """Every finding of a trial that the report prints, as one `Results`.

    Parameters
    ----------
    trial : Trial
        What `read_trial` returned; its mixes must be known (unblinded).
    criterion : str
        The criterion that the answer on the first page is about.
    family : str, optional
        Distribution of the times; the one declared in trial.toml by default.
    declared : str
        What is known of whether the plan was made before the first reading, for the report;
        `check_seal(folder).sentence`.

    Returns
    -------
    Results
        Tables over all declared criteria with "fully clear", times in hours.

    Raises
    ------
    ValueError
        If the trial is still blind, or the criterion is not declared.

    Examples
    --------
    >>> import trialkit as tk
    >>> found = tk.trial_results(tk.read_trial("data/demo/harbour"))
    >>> found["times"]["term"].unique().tolist()
    ['typical time', 'assured time']
    """
    if trial.blinded:
        raise ValueError(
            "the mixes are still blind: put key.csv (vessel, mix) into the trial folder, "
            "then run this again."
        )
    if family is not None:
        trial = replace(trial, protocol=replace(trial.protocol, family=family))
    names = _criteria(trial, criterion)
    every = _intervals(trial)
    fits = {name: fit_times(frame, trial.protocol) for name, frame in every.items()}
    claims = claims_from(trial.protocol, every, fits)
    intervals = {name: every[name] for name in names}
    tables = clearing_tables(trial.protocol, intervals, fits)
    return Results(
        {
            **_meta(trial, names),
            **_declared_scale(trial.protocol, intervals[names[0]]),
            "declared": declared,
        },
        {
            "mixes": _with_blanks(trial.mixes),
            "vessels": _with_blanks(trial.vessels),
            "intervals": by_criterion(intervals),
            **tables,
            "verdicts": verdict_table(trial),
            **look_tables(trial),
            "look_scores": scored_looks(trial),
            **_spread(trial.protocol, intervals, fits, tables["times"]),
            "claims": claims,
            "claims_own_spread": _claims_by_own_spread(trial.protocol, fits),
            **_comparisons(trial, intervals),
            **_robustness(trial, claims),
            **storage_tables(trial),
            "problems": _with_blanks(trial.problems),
        },
    )


def _intervals(trial: Trial) -> dict[str, pd.DataFrame]:
    """The intervals of each criterion; "fully clear" follows from the others, judged once."""
    declared = {name: clearing_intervals(trial, name) for name in trial.protocol.criteria}
    return {FULLY_CLEAR: combine_criteria(list(declared.values())), **declared}


def _claims_by_own_spread(protocol: Protocol, fits: dict[str, AftFit]) -> pd.DataFrame:
    claims = protocol.claims.values()
    return claims_by_own_spread(claims, fits, conf_level=protocol.conf_level)


def _spread(
    protocol: Protocol,
    intervals: dict[str, pd.DataFrame],
    fits: dict[str, AftFit],
    times: pd.DataFrame,
) -> dict[str, pd.DataFrame]:
    """Whether mixes spread alike, asked of the first page's criterion only."""
    primary, frame = next(iter(intervals.items()))
    common = times[times["criterion"] == primary].drop(columns="criterion")
    options = {"conf_level": protocol.conf_level, "seed": protocol.seed}
    found = uneven_spread(frame, fit=fits[primary], **options)
    return {
        "spread": by_criterion({primary: found.test}),
        "times_own_spread": by_criterion({primary: found.times}),
        "times_to_use": by_criterion({primary: found.careful(common)}),
    }


def _comparisons(trial: Trial, intervals: dict[str, pd.DataFrame]) -> dict[str, pd.DataFrame]:
    """Which mixes were shown different; no table of a single mix."""
    if len(trial.mixes) < 2:
        return {}
    plan = ComparisonPlan.of(trial.protocol)
    pairs = {name: compare_mixes(frame, plan=plan) for name, frame in intervals.items()}
    primary, frame = next(iter(intervals.items()))
    # Ranks rest on all pairs, whatever family of comparisons was declared.
    ranks = rank_mixes(
        frame, plan=replace(plan, control=None), pairs=None if plan.control else pairs[primary]
    )
    return {
        "comparisons": by_criterion(pairs),
        # What follows is asked of the first page's criterion only.
        "overall": by_criterion({primary: overall_difference(frame, plan=plan)}),
        "comparisons_in_blocks": by_criterion(
            {primary: compare_mixes(frame, plan=plan, adjust=["block"])}
        ),
        "ranks": by_criterion({primary: ranks}),
    }


def _robustness(trial: Trial, claims: pd.DataFrame) -> dict[str, pd.DataFrame]:
    """What else could have moved the answer: definition of clear, raters, conditions."""
    grid = sensitivity(trial)
    raters = rater_agreement(trial, claims=claims)
    return {
        "sensitivity": grid,
        "sensitivity_summary": sensitivity_summary(grid),
        "agreement": raters.coefficients,
        "rater_drift": raters.drift,
        "rater_times": raters.alone,
        "rater_intervals": raters.intervals,
        "rater_claims": raters.claims,
        "balance": check_balance(trial),
    }


def _criteria(trial: Trial, primary: str) -> list[str]:
    """The primary criterion first, the others in declared order."""
    declared = list(trial.protocol.criteria)
    # With one criterion "fully clear" is that criterion: it is not told twice.
    names = [FULLY_CLEAR, *declared] if len(declared) > 1 else declared
    primary = names[0] if primary == FULLY_CLEAR else primary
    if primary not in names:
        raise ValueError(f"criterion must be one of {', '.join(names)}; got {primary!r}.")
    return sorted(names, key=lambda name: name != primary)


def _meta(trial: Trial, names: list[str]) -> dict:
    protocol = trial.protocol
    return {
        "title": protocol.title,
        "start": protocol.start.isoformat(),
        "timezone": protocol.timezone,
        "window_h": protocol.window_h,
        "schedule_h": list(protocol.schedule_h),
        "target_salinity": protocol.target_salinity,
        "conf_level": protocol.conf_level,
        "family": protocol.family,
        "seed": protocol.seed,
        "licence": protocol.licence,
        "primary": names[0],
        "criteria": [_criterion_meta(trial, name) for name in names],
        "inputs": trial.sources.to_dict("records"),
        "versions": {name: metadata.version(name) for name in VERSIONED},
        "python": platform.python_version(),
    }


def _declared_scale(protocol: Protocol, intervals: pd.DataFrame) -> dict:
    """The scale that the first page rests on, where it was declared and not measured."""
    if protocol.declared_scale is None or not tells_no_spread(intervals):
        return {}
    source = protocol.scale_source
    return {"declared_scale": protocol.declared_scale, "scale_source": source}


def _criterion_meta(trial: Trial, name: str) -> dict:
    if name == FULLY_CLEAR:
        return {"criterion": FULLY_CLEAR, "label": FULLY_CLEAR}
    rule = trial.protocol.criteria[name]
    return {
        "criterion": name,
        "label": rule.label,
        "quantity": rule.quantity,
        "unit": rule.unit,
        "tolerance": rule.tolerance,
        "hold": rule.hold,
        "rater_rule": rule.rater_rule,
    }


def _with_blanks(frame: pd.DataFrame) -> pd.DataFrame:
    """The frame with None where a cell of the input was empty."""
    return frame.astype(object).where(frame.notna(), None)
