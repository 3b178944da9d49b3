"""Every finding of a trial that the report prints, collected once."""

import platform
from importlib import metadata

import numpy as np
import pandas as pd

from trialkit.analysis.clearing import (
    FULLY_CLEAR,
    Gaps,
    clearing_intervals,
    reading_gaps,
)
from trialkit.analysis.mixing_time import recommend_mixing_time
from trialkit.analysis.results import Results
from trialkit.records.trial import Trial
from trialkit.stats.aft import AftFit, fit_aft
from trialkit.stats.curve import share_curve
from trialkit.stats.turnbull import fit_turnbull

__all__ = ["trial_results"]

#: Libraries whose version can move a number.
VERSIONED = ("trialkit", "numpy", "pandas", "scipy", "statsmodels", "firthmodels", "gsw")

CURVE_POINTS = 61

VERDICT_COLUMNS = ["criterion", "vessel", "mix", "session", "elapsed_h", "verdict"]


def trial_results(
    trial: Trial, *, criterion: str = FULLY_CLEAR, family: str | None = None
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
    family = trial.protocol.family if family is None else family
    names = _criteria(trial, criterion)
    intervals = {name: clearing_intervals(trial, name) for name in names}
    fits = {
        name: fit_aft(i["left_h"], i["right_h"], i["mix"], family=family)
        for name, i in intervals.items()
    }
    return Results(
        _meta(trial, names, family),
        {
            "mixes": _with_blanks(trial.mixes),
            "vessels": _with_blanks(trial.vessels),
            "intervals": _by_criterion(intervals),
            **_estimates(trial, intervals, fits),
            "verdicts": _verdicts(trial),
            "problems": _with_blanks(trial.problems),
        },
    )


def _criteria(trial: Trial, primary: str) -> list[str]:
    """The primary criterion first, the others in declared order."""
    declared = list(trial.protocol.criteria)
    # With one criterion "fully clear" is that criterion: it is not told twice.
    names = [FULLY_CLEAR, *declared] if len(declared) > 1 else declared
    primary = names[0] if primary == FULLY_CLEAR else primary
    if primary not in names:
        raise ValueError(f"criterion must be one of {', '.join(names)}; got {primary!r}.")
    return sorted(names, key=lambda name: name != primary)


def _meta(trial: Trial, names: list[str], family: str) -> dict:
    protocol = trial.protocol
    return {
        "title": protocol.title,
        "start": protocol.start.isoformat(),
        "timezone": protocol.timezone,
        "window_h": protocol.window_h,
        "schedule_h": list(protocol.schedule_h),
        "target_salinity": protocol.target_salinity,
        "conf_level": protocol.conf_level,
        "family": family,
        "seed": protocol.seed,
        "licence": protocol.licence,
        "primary": names[0],
        "criteria": [_criterion_meta(trial, name) for name in names],
        "inputs": trial.sources.to_dict("records"),
        "versions": {name: metadata.version(name) for name in VERSIONED},
        "python": platform.python_version(),
    }


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


def _by_criterion(frames: dict[str, pd.DataFrame]) -> pd.DataFrame:
    """All frames below each other, the criterion in the first column."""
    return pd.concat(frames, names=["criterion"]).reset_index("criterion").reset_index(drop=True)


def _estimates(trial: Trial, intervals: dict, fits: dict[str, AftFit]) -> dict[str, pd.DataFrame]:
    protocol = trial.protocol
    grid = np.linspace(0, protocol.window_h, CURVE_POINTS)[1:]
    level = protocol.conf_level
    times = {
        name: recommend_mixing_time(intervals[name], conf_level=level, fit=fit)
        for name, fit in fits.items()
    }
    return {
        "times": _by_criterion(times),
        "curves": _by_criterion({name: _curve(fit, grid, level) for name, fit in fits.items()}),
        "steps": _by_criterion({name: _steps(frame) for name, frame in intervals.items()}),
        "at_risk": _by_criterion(
            {name: _at_risk(frame, protocol.schedule_h) for name, frame in intervals.items()}
        ),
        "fits": pd.DataFrame([_fit_row(name, fit) for name, fit in fits.items()]),
    }


def _curve(fit: AftFit, grid: np.ndarray, conf_level: float) -> pd.DataFrame:
    """Share of batches clear by each time, by the fitted distribution."""
    curve = share_curve(fit, grid, conf_level=conf_level)
    return curve.rename(columns={"group": "mix", "t": "time_h"})


def _steps(intervals: pd.DataFrame) -> pd.DataFrame:
    """Where the share of clear vessels rises, by the nonparametric estimate."""
    fit = fit_turnbull(intervals["left_h"], intervals["right_h"], group=intervals["mix"])
    steps = fit.mass.rename(columns={"group": "mix", "left": "left_h", "right": "right_h"})
    steps["estimate"] = steps.groupby("mix")["probability"].cumsum()
    return steps[["mix", "left_h", "right_h", "estimate"]]


def _at_risk(intervals: pd.DataFrame, schedule_h: tuple[float, ...]) -> pd.DataFrame:
    """At every scheduled time: vessels known not clear, known clear, between two looks."""
    looks = intervals[["mix", "left_h", "right_h"]].merge(
        pd.DataFrame({"time_h": np.asarray(schedule_h, float)}), how="cross"
    )
    looks["n_not_clear"] = looks["left_h"] >= looks["time_h"]
    looks["n_clear"] = looks["right_h"] <= looks["time_h"]
    looks["n_unknown"] = ~(looks["n_not_clear"] | looks["n_clear"])
    counts = ["n_not_clear", "n_clear", "n_unknown"]
    return looks.groupby(["mix", "time_h"])[counts].sum().astype(int).reset_index()


def _fit_row(name: str, fit: AftFit) -> dict:
    counts = fit.tidy()
    return {
        "criterion": name,
        "family": fit.family,
        "scale": fit.scale,
        "loglik": fit.loglik,
        "n": int(counts["n"].sum()),
        "n_event": int(counts["n_event"].sum()),
        "converged": fit.converged,
        "note": fit.note,
    }


def _verdicts(trial: Trial) -> pd.DataFrame:
    """What every look at every vessel was counted as."""
    given = set() if trial.intervals is None else set(trial.intervals["criterion"])
    judged = [name for name in trial.protocol.criteria if name not in given]
    frames = {name: _verdict_frame(reading_gaps(trial, name), trial) for name in judged}
    if not frames:
        return pd.DataFrame(columns=VERDICT_COLUMNS)
    return _by_criterion(frames)[VERDICT_COLUMNS]


def _verdict_frame(gaps: Gaps, trial: Trial) -> pd.DataFrame:
    met = gaps.met()
    sessions = np.arange(met.shape[1])
    frame = gaps.vessels.loc[gaps.vessels.index.repeat(met.shape[1]), ["vessel", "mix"]]
    scheduled = np.asarray(trial.protocol.schedule_h, float)
    read_h = np.where(np.isnan(gaps.last_h), scheduled, gaps.last_h)
    words = np.select([met == 1, met == 0], ["clear", "not clear"], "not read")
    return frame.assign(
        session=np.tile(sessions, met.shape[0]), elapsed_h=read_h.ravel(), verdict=words.ravel()
    ).reset_index(drop=True)
