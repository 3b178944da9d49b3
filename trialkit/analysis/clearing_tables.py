"""Tables of when the vessels came clear: what was seen, and what the fits make of it."""

import numpy as np
import pandas as pd

from trialkit.analysis.clearing import Gaps, reading_gaps
from trialkit.analysis.mixing_time import recommend_mixing_time
from trialkit.records.trial import Protocol, Trial
from trialkit.stats.aft import AftFit
from trialkit.stats.turnbull import fit_turnbull

__all__ = ["by_criterion", "clearing_tables", "verdict_table"]

CURVE_POINTS = 31

#: A look this share of a step early or late is still the look of its scheduled time.
LATE = 0.1

VERDICT_COLUMNS = ["criterion", "vessel", "mix", "session", "elapsed_h", "verdict"]


def clearing_tables(
    protocol: Protocol, intervals: dict[str, pd.DataFrame], fits: dict[str, AftFit]
) -> dict[str, pd.DataFrame]:
    """The tables times, curves, steps, at_risk and fits of results.json.

    Parameters
    ----------
    protocol : Protocol
        Gives the window, the schedule and the confidence level.
    intervals : dict of str to pandas.DataFrame
        What `clearing_intervals` returned for each criterion, hours.
    fits : dict of str to AftFit
        The fit of each of them, and perhaps of others.

    Returns
    -------
    dict of str to pandas.DataFrame
        Each with the criterion in its first column; times in hours.
    """
    level = protocol.conf_level
    grids = {name: _grid(frame, protocol) for name, frame in intervals.items()}
    times = {
        name: recommend_mixing_time(frame, conf_level=level, fit=fits[name])
        for name, frame in intervals.items()
    }
    at_risk = {name: _at_risk(frame, protocol.schedule_h) for name, frame in intervals.items()}
    rows = [_fit_row(name, fits[name], frame) for name, frame in intervals.items()]
    return {
        "times": by_criterion(times),
        "curves": by_criterion(
            {name: _curve(fits[name], grid, level) for name, grid in grids.items()}
        ),
        "steps": by_criterion({name: _steps(frame) for name, frame in intervals.items()}),
        "at_risk": by_criterion(at_risk),
        "fits": pd.DataFrame(rows),
    }


def by_criterion(frames: dict[str, pd.DataFrame]) -> pd.DataFrame:
    """All frames below each other, their key in a first column `criterion`.

    Parameters
    ----------
    frames : dict of str to pandas.DataFrame
        One frame a criterion.

    Returns
    -------
    pandas.DataFrame
        `criterion` and the columns of the frames.
    """
    return pd.concat(frames, names=["criterion"]).reset_index("criterion").reset_index(drop=True)


def _grid(intervals: pd.DataFrame, protocol: Protocol) -> np.ndarray:
    """Times of a curve: from a little before the first change that was seen to the window's end."""
    ends = intervals[["left_h", "right_h"]].to_numpy()
    first = ends[(ends > 0) & np.isfinite(ends)].min(initial=protocol.window_h)
    low = max(first / 1.5, protocol.schedule_h[0] / 2)
    return np.geomspace(low, protocol.window_h, CURVE_POINTS)


def _curve(fit: AftFit, grid: np.ndarray, conf_level: float) -> pd.DataFrame:
    """Share of batches clear by each time, by the fitted distribution."""
    curve = fit.probability_by(grid, conf_level=conf_level).drop(columns="method")
    return curve.rename(columns={"group": "mix", "t": "time_h"})


def _steps(intervals: pd.DataFrame) -> pd.DataFrame:
    """Where the share of clear vessels rises, by the nonparametric estimate."""
    fit = fit_turnbull(intervals["left_h"], intervals["right_h"], group=intervals["mix"])
    steps = fit.mass.rename(columns={"group": "mix", "left": "left_h", "right": "right_h"})
    steps["estimate"] = steps.groupby("mix")["probability"].cumsum()
    return steps[["mix", "left_h", "right_h", "estimate"]]


def _at_risk(intervals: pd.DataFrame, schedule_h: tuple[float, ...]) -> pd.DataFrame:
    """At every scheduled time: vessels known not clear, known clear, between two looks."""
    times = pd.DataFrame({"time_h": np.asarray(schedule_h, float)})
    times["slack_h"] = LATE * np.diff(times["time_h"], prepend=0.0)
    looks = intervals[["mix", "left_h", "right_h"]].merge(times, how="cross")
    looks["n_not_clear"] = looks["left_h"] >= looks["time_h"] - looks["slack_h"]
    clear = looks["right_h"] <= looks["time_h"] + looks["slack_h"]
    looks["n_clear"] = clear & ~looks["n_not_clear"]
    looks["n_unknown"] = ~(looks["n_not_clear"] | looks["n_clear"])
    counts = ["n_not_clear", "n_clear", "n_unknown"]
    return looks.groupby(["mix", "time_h"])[counts].sum().astype(int).reset_index()


def _fit_row(name: str, fit: AftFit, intervals: pd.DataFrame) -> dict:
    return {
        "criterion": name,
        "family": fit.family,
        "scale": fit.scale,
        "loglik": fit.loglik,
        "n": len(intervals),
        "n_event": int(np.isfinite(intervals["right_h"]).sum()),
        "converged": fit.converged,
        "note": fit.note,
    }


def verdict_table(trial: Trial) -> pd.DataFrame:
    """What every look at every vessel was counted as.

    Parameters
    ----------
    trial : Trial
        What `read_trial` returned.

    Returns
    -------
    pandas.DataFrame
        criterion, vessel, mix, session, elapsed_h, verdict ("clear", "not clear", "not read");
        no row for a criterion whose intervals were given.
    """
    frames = {name: _verdict_frame(reading_gaps(trial, name), trial) for name in trial.judged}
    if not frames:
        return pd.DataFrame(columns=VERDICT_COLUMNS)
    return by_criterion(frames)[VERDICT_COLUMNS]


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
