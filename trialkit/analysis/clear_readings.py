"""How likely a look finds a vessel clear, by mix and time."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from trialkit.analysis.clearing import reading_gaps
from trialkit.records.trial import Trial
from trialkit.stats.estimate import proportion_exact
from trialkit.stats.inverse_prediction import inverse_prediction
from trialkit.stats.logistic import fit_logistic
from trialkit.stats.shown import Shown

__all__ = ["ClearReadings", "clear_readings", "look_tables"]

LOG_TIME = "log time"
SHARES = (0.5, 0.9)
TIME_COLUMNS = [
    "criterion", "mix", "term", "p", "estimate", "conf_low", "conf_high", "conf_level", "n", "unit",
    "method",
]  # fmt: skip
SHARE_COLUMNS = [
    "criterion", "mix", "time_h", "estimate", "conf_low", "conf_high", "conf_level", "n_clear", "n",
    "method",
]  # fmt: skip


@dataclass(frozen=True, repr=False)
class ClearReadings(Shown):
    """What single looks say, without the rule of successive readings.

    Attributes
    ----------
    times : DataFrame
        criterion, mix, term, p, estimate (hours at which a look finds a vessel clear with
        probability p), limits, conf_level, n (vessels), unit, method. A mix that was never, or
        always, seen clear has no fit: its time is inf, or 0. Under separation a time lies
        between the last look that was not clear and the first one that was.
    shares : DataFrame
        criterion, mix, time_h, estimate (share of vessels seen clear in that session), exact
        limits, conf_level, n_clear, n, method.
    sentence : str
        What the check for separation found, in words.
    """

    times: pd.DataFrame
    shares: pd.DataFrame
    sentence: str

    def tidy(self) -> pd.DataFrame:
        """The times."""
        return self.times

    def __str__(self) -> str:
        return self.sentence


def clear_readings(
    trial: Trial, criterion: str, *, conf_level: float | None = None
) -> ClearReadings:
    """The probability that a look finds a vessel clear, on mix and log time, vessels as units.

    Beside the model of clearing times: this one takes each look for what it was, so that a
    vessel may cloud again. Looks at one vessel hang together; each vessel weighs the same and
    the limits rest on the spread between vessels. Where mix and time foretell every look
    (separation), that is said and a penalised likelihood is used. Shares of vessels have exact
    limits: a model's share of so few would not.

    Parameters
    ----------
    trial : Trial
        What `read_trial` returned, unblinded.
    criterion : str
        A declared criterion.
    conf_level : float, optional
        The declared one by default.

    Returns
    -------
    ClearReadings

    Raises
    ------
    ValueError
        If the criterion is not declared.

    References
    ----------
    Morel JG, Bokossa MC, Neerchal NK (2003). Biometrical Journal 45, 395-409.
    Heinze G, Schemper M (2002). Statistics in Medicine 21, 2409-2419.
    Fieller EC (1954). Journal of the Royal Statistical Society B 16, 175-185.

    Examples
    --------
    >>> import trialkit as tk
    >>> found = tk.clear_readings(tk.read_trial("data/demo/harbour"), "clarity")
    >>> sorted(found.times["p"].unique().tolist())
    [0.5, 0.9]
    """
    if criterion not in trial.protocol.criteria:
        known = ", ".join(trial.protocol.criteria)
        raise ValueError(f"criterion must be one of {known}; got {criterion!r}.")
    level = trial.protocol.conf_level if conf_level is None else conf_level
    looks = _looks(trial, criterion)
    times, sentence = _times(looks, level)
    times.insert(0, "criterion", criterion)
    shares = _shares(looks, level)
    shares.insert(0, "criterion", criterion)
    return ClearReadings(times[TIME_COLUMNS], shares[SHARE_COLUMNS], sentence)


def look_tables(trial: Trial) -> dict[str, pd.DataFrame]:
    """The tables look_times, look_shares, look_models of results.json, all judged criteria.

    Parameters
    ----------
    trial : Trial
        What `read_trial` returned, unblinded.

    Returns
    -------
    dict of str to DataFrame
        The times and shares of `clear_readings`; what its model is (criterion, sentence). No
        row for a criterion whose intervals were given.
    """
    found = {name: clear_readings(trial, name) for name in trial.judged}
    none = [pd.DataFrame(columns=TIME_COLUMNS)], [pd.DataFrame(columns=SHARE_COLUMNS)]
    return {
        "look_times": pd.concat([one.times for one in found.values()] or none[0]),
        "look_shares": pd.concat([one.shares for one in found.values()] or none[1]),
        "look_models": pd.DataFrame(
            [(name, one.sentence) for name, one in found.items()],
            columns=["criterion", "sentence"],
        ),
    }


def _looks(trial: Trial, criterion: str) -> pd.DataFrame:
    """One row a vessel and session that was judged: clear 1 or 0, and when."""
    gaps = reading_gaps(trial, criterion)
    met = gaps.met()
    vessel, session = np.nonzero(~np.isnan(met))
    return pd.DataFrame(
        {
            "mix": gaps.vessels["mix"].to_numpy()[vessel],
            "vessel": gaps.vessels["vessel"].to_numpy()[vessel],
            "time_h": np.asarray(trial.protocol.schedule_h, float)[session],
            "hours": gaps.last_h[vessel, session],
            "clear": met[vessel, session],
        }
    )


def _times(looks: pd.DataFrame, conf_level: float) -> tuple[pd.DataFrame, str]:
    share = looks.groupby("mix")["clear"].mean()
    mixed = share[(share > 0) & (share < 1)].index
    rows = [
        _one_sided_rows(looks, mix, share[mix], conf_level) for mix in share.index.difference(mixed)
    ]
    sentence = "No mix was seen both clear and not clear: no model of looks can be fitted."
    if len(mixed):
        fitted, sentence = _fitted_rows(looks[looks["mix"].isin(mixed)], conf_level)
        rows += [fitted] if len(fitted) else []
    if not rows:
        return pd.DataFrame(columns=TIME_COLUMNS[1:]), sentence
    alike = share.index.difference(mixed)
    if len(alike) and len(mixed):
        sentence += f" Left out, every look alike: {', '.join(alike)}."
    table = pd.concat(rows, ignore_index=True)
    return table.sort_values(["mix", "p"], ignore_index=True), sentence


def _one_sided_rows(looks, mix: str, share: float, conf_level: float) -> pd.DataFrame:
    time = 0.0 if share == 1 else np.inf
    row = {"mix": mix, "term": "time of a look", "estimate": time, "conf_low": 0.0}
    row |= {"conf_high": np.inf, "conf_level": conf_level, "unit": "h"}
    row |= {"n": looks.loc[looks["mix"] == mix, "vessel"].nunique()}
    row |= {"method": "every look clear" if share == 1 else "no look clear"}
    return pd.DataFrame([row | {"p": p} for p in SHARES])


def _fitted_rows(looks: pd.DataFrame, conf_level: float) -> tuple[pd.DataFrame, str]:
    mixes = sorted(looks["mix"].unique())
    levels = np.column_stack([looks["mix"] == mix for mix in mixes]).astype(float)
    design = np.column_stack([levels, np.log(looks["hours"])])
    if np.linalg.matrix_rank(design) < design.shape[1]:
        words = "Looks at one time only can't say how clarity comes with time: no model is fitted."
        return pd.DataFrame(columns=TIME_COLUMNS[1:]), words
    fit = fit_logistic(design, looks["clear"], terms=[*mixes, LOG_TIME], cluster=looks["vessel"])
    interval = "fieller" if fit.method == "cluster-robust" else "profile"
    frames = []
    for mix in mixes:
        found = inverse_prediction(
            fit, list(SHARES), slope=LOG_TIME, at={mix: 1}, interval=interval,
            conf_level=conf_level,
        )  # fmt: skip
        own = looks.loc[looks["mix"] == mix, "vessel"].nunique()
        frames.append(found.assign(mix=mix, term="time of a look", unit="h", n=own))
    table = pd.concat(frames, ignore_index=True)
    limits = ["estimate", "conf_low", "conf_high"]
    with np.errstate(over="ignore"):
        table[limits] = np.exp(table[limits].astype(float))
    if fit.separation.infinite.get(LOG_TIME):
        table = _between_looks(table, looks)
    return table[TIME_COLUMNS[1:]], (
        f"Logistic model of {fit.n_event} clear looks among {fit.n}, on mix and log time, "
        f"{fit.method}; {fit.separation}."
    )


def _between_looks(table: pd.DataFrame, looks: pd.DataFrame) -> pd.DataFrame:
    """Estimates kept between the last look not clear and the first clear one of each mix.

    Where time foretells every look, all shares are reached in that gap. A penalised slope is too
    flat for it: it would find 9 in 10 clear long after the last look that was not.
    """
    hours, clear = looks["hours"], looks["clear"] == 1
    last = table["mix"].map(hours[~clear].groupby(looks["mix"]).max())
    first = table["mix"].map(hours[clear].groupby(looks["mix"]).min())
    kept = table["estimate"].clip(np.minimum(last, first), np.maximum(last, first))
    return table.assign(estimate=kept, method=table["method"] + ", kept between the looks")


def _shares(looks: pd.DataFrame, conf_level: float) -> pd.DataFrame:
    rows = []
    for (mix, time), own in looks.groupby(["mix", "time_h"]):
        found = proportion_exact(int(own["clear"].sum()), len(own), conf_level=conf_level)
        limits = found.estimate, found.conf_low, found.conf_high, conf_level
        rows.append((mix, time, *limits, int(own["clear"].sum()), len(own), found.method))
    return pd.DataFrame(rows, columns=SHARE_COLUMNS[1:])
