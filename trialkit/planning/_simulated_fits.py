"""Many simulated trials fitted at once: one chunk of a power calculation."""

from functools import cache

import numpy as np
from scipy.special import ndtri
from scipy.stats import nct

from trialkit.stats._batch import NEVER, PLACED, fit_aft_batch
from trialkit.stats._limits import contrast_p_value

ASSURED_SHARE = 0.9


def simulated_intervals(log_medians, spread, cuts, n_trials, rng):
    """Intervals (left, right] of vessels with log-normal times read at the cuts.

    Parameters
    ----------
    log_medians : numpy.ndarray, shape (n,)
        Log of the typical time of each vessel's mix; inf for never.
    spread : float
        Standard deviation of log time.
    cuts : numpy.ndarray, shape (s,)
        Readings that can be confirmed.
    n_trials : int
        Trials.
    rng : numpy.random.Generator
        Source of the random numbers.

    Returns
    -------
    left, right : numpy.ndarray, shape (n_trials, n)
        Hours.
    """
    log_times = log_medians + spread * rng.standard_normal((n_trials, len(log_medians)))
    gap = np.searchsorted(np.log(cuts), log_times, side="left")
    return np.concatenate([[0.0], cuts])[gap], np.concatenate([cuts, [np.inf]])[gap]


def chunk(question, n_vessels, n_trials, seed):
    """What a chunk of trials shows, one row a trial.

    Parameters
    ----------
    question : PowerQuestion
        The plan.
    n_vessels : int
        Vessels of each mix.
    n_trials : int
        Trials.
    seed : numpy.random.SeedSequence
        Of this chunk alone, so that chunks can run anywhere in any order.

    Returns
    -------
    dict of numpy.ndarray
        p (of the pair), no_scale, censored (some mix wholly so), bound (log of assured bound over
        the true 90% time, shape (n_trials, mixes)).
    """
    rng = np.random.default_rng(seed)
    times = question.pair_times()
    codes = np.repeat(np.arange(len(times)), n_vessels)
    with np.errstate(divide="ignore"):
        log_medians = np.log(times)
    left, right = simulated_intervals(
        log_medians[codes], question.spread, question.cuts(), n_trials, rng
    )
    fit = fit_aft_batch(left, right, codes)
    if not fit.converged.all():
        raise RuntimeError("a simulated trial's fit did not reach its maximum.")
    expected = np.isfinite(times)
    return {
        "p": contrast_p_value(fit, *question.pair()) if len(times) > 1 else np.ones(n_trials),
        "no_scale": fit.no_scale | (fit.n_event <= fit.lost_freedom),
        "censored": (fit.place == NEVER)[:, expected].any(axis=1),
        "bound": _bounds(fit, codes, log_medians, question)[:, expected],
    }


def _bounds(fit, codes, log_medians, question):
    """Log assured bound less the log of the true 90% time, by the pooled tolerance factor."""
    events = np.stack(
        [np.isfinite(fit.right[:, codes == g]).sum(axis=1) for g in range(fit.n_group)], axis=1
    )
    df = (fit.n_event - fit.lost_freedom).astype(int)
    usable = (fit.place == PLACED) & ((df > 0) & ~fit.no_scale & ~fit.wide)[:, None]
    factors = np.full(events.shape, np.inf)
    for row in np.unique(df[df > 0]):
        for count in np.unique(events[df == row]):
            if count:
                factors[(df == row)[:, None] & (events == count)] = _factor(count, row)
    with np.errstate(invalid="ignore", divide="ignore"):
        # Maximum likelihood divides the squares by the events, the factor wants them over df.
        spread = fit.scale * np.sqrt(fit.n_event / np.maximum(df, 1))
        upper = fit.location() + factors * spread[:, None]
        truth = log_medians + question.spread * ndtri(ASSURED_SHARE)
        return np.where(usable, upper - truth, np.inf)


@cache
def _factor(n, df):
    # Tolerance factor of a normal sample with a pooled spread: ISO 16269-6 with df given.
    return float(nct.ppf(0.95, df, ndtri(ASSURED_SHARE) * np.sqrt(n)) / np.sqrt(n))
