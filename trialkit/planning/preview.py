"""A look at a plan before anything is written: its power, its schedule, its bench."""

import secrets
import tomllib
from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from .answers import check_answers
from .bench import draw_bench
from .blocks import PlanTable, Words
from .closed_forms import vessels_distribution_free
from .draft import build_plan
from .folder import PlannedTrial
from .incomplete import efficiency_factor
from .plan import plan_trial
from .power import PowerQuestion, simulate_power
from .power_picture import draw_power
from .schedule import schedule_table


def read_answers(path):
    """The answers that a TOML file holds, not yet checked.

    Parameters
    ----------
    path : path-like
        answers.toml.

    Returns
    -------
    dict
        For `preview_plan` and `plan_trial`.

    Raises
    ------
    ValueError
        No such file, or not TOML, with the line.
    """
    path = Path(path)
    try:
        return tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except OSError as error:
        raise ValueError(f"{path.name} can't be read: {error.strerror}.") from error
    except UnicodeDecodeError as error:
        raise ValueError(f"{path.name} is not UTF-8. Fix: save it again as UTF-8.") from error
    except tomllib.TOMLDecodeError as error:
        raise ValueError(f"{path.name} is not TOML: {error}. Fix: correct that line.") from error


@dataclass(frozen=True)
class PlanPreview:
    """A plan, looked at.

    Parameters
    ----------
    answers : dict
        Checked answers; the seed is the one that the plan will have.
    planned : PlannedTrial
        Layout and schedule; places of the mixes are drawn anew when the folder is written.
    question : PowerQuestion
        What was simulated.
    power : pandas.DataFrame
        From `simulate_power`.
    """

    answers: dict
    planned: PlannedTrial
    question: PowerQuestion
    power: pd.DataFrame

    @property
    def answer(self):
        """The plan's worth in one paragraph."""
        return Words(_answer(self))

    @property
    def power_table(self):
        """Sizes from 2 to 8 vessels of each mix, with the effort each costs."""
        return _power_table(self)

    @property
    def power_picture(self):
        """The same as curves."""
        return draw_power(self.power, ratio=self.question.ratio)

    @property
    def schedule(self):
        """What the reading times keep of the information, by mix."""
        return _schedule_table(self)

    @property
    def bench(self):
        """Where the vessels stand."""
        return draw_bench(self.planned.vessels)


def preview_plan(answers, *, ratio=2.0, n_trials=2000, n_jobs=1, backend=None, progress=None):
    """What a plan is worth, nothing written.

    Parameters
    ----------
    answers : dict
        From `read_answers` or `ask`.
    ratio : float
        Two mixes whose times differ by this factor should be told apart.
    n_trials : int
        Simulated trials of each size.
    n_jobs : int
        Processes; -1 for all.
    backend : str, optional
        A joblib backend, as in `simulate_power`.
    progress : callable, optional
        Called with trials done and trials in all.

    Returns
    -------
    PlanPreview
        With `answer`, `power_table`, `power_picture`, `schedule` and `bench` to show.

    Raises
    ------
    ValueError
        An answer that is not allowed, with what is.
    """
    answers = check_answers(answers)
    if answers["seed"] < 0:
        answers = {**answers, "seed": secrets.randbelow(10**6)}
    # Any nonce will do for a look; the one that hides the key is drawn when the folder is written.
    planned = build_plan(answers, secrets.token_hex(16))
    sizes = sorted({*range(2, 9), max(2, answers["vessels_per_mix"])})
    question = PowerQuestion(
        tuple(mix["expected_h"] for mix in answers["mixes"]),
        tuple(planned.settings["schedule_h"]),
        answers["spread"],
        ratio,
        answers["hold"],
        len(answers["raters"]),
        tuple(sizes),
    )
    power = simulate_power(
        question, n_trials=n_trials, n_jobs=n_jobs, backend=backend, progress=progress
    )
    return PlanPreview(answers, planned, question, power)


def write_plan(preview, folder):
    """Write the plan that was looked at, and say what to do next.

    Parameters
    ----------
    preview : PlanPreview
        From `preview_plan`.
    folder : str or path-like
        The new trial folder; "" writes nothing.

    Returns
    -------
    Words
        The next steps.
    """
    if not str(folder):
        return Words("Nothing was written: no folder was named.")
    return Words(plan_trial(preview.answers, folder).next_steps)


def _answer(preview):
    n, ratio = preview.answers["vessels_per_mix"], preview.question.ratio
    row = preview.power.set_index("vessels_per_mix").loc[max(2, n)]
    n_looks = len(preview.question.schedule_h)
    if len(preview.answers["mixes"]) == 1 or n == 1:
        return (
            f"**{_count(n, 'vessel')} of each mix, {n_looks} looks.** "
            "Times can be given with their bounds; two mixes can't be compared."
        )
    blocks = efficiency_factor(preview.planned.vessels.merge(preview.planned.key, on="vessel"))
    return (
        f"**{_count(n, 'vessel')} of each mix, {n_looks} looks: of 100 such trials, "
        f"{100 * row['power']:.0f} would tell apart two mixes whose times differ by a factor of "
        f"{ratio:g}**, and {100 * row['power_all_pairs']:.0f} would do so while looking at all "
        f"pairs at once. The upper bound of an assured time lies at about "
        f"{_times(row['assured_factor'])} the true one. "
        f"{_worth_of_blocks(blocks)}"
    )


def _worth_of_blocks(factor):
    if factor > 0.999:
        return "Every block holds every mix."
    return (
        f"Blocks hold only some of the mixes: comparing two mixes is worth {100 * factor:.0f}% of "
        "what as many vessels in complete blocks are, which the chances above leave out."
    )


def _count(n, noun):
    return f"{n} {noun}" if n == 1 else f"{n} {noun}s"


def _times(factor):
    return "no finite multiple of" if factor == float("inf") else f"{factor:.2f} times"


def _percent(share):
    if 0 < share < 0.001:
        return "<0.1"
    return f"{100 * share:.1f}" if 0 < share < 0.1 else f"{100 * share:.0f}"


def _power_table(preview):
    rows = tuple(
        (
            str(row.vessels_per_mix),
            str(row.n_vessels),
            str(row.n_readings),
            f"{row.reading_h:.1f}",
            _percent(row.power),
            _percent(row.power_all_pairs),
            "none" if row.assured_factor == float("inf") else f"{row.assured_factor:.2f}",
            _percent(row.some_mix_censored),
            _percent(row.no_scale),
            f"{row.smallest_p:.3f}",
        )
        for row in preview.power.itertuples(index=False)
    )
    error = 50 / preview.power["n_trials"].min() ** 0.5
    wilks = vessels_distribution_free(0.9, 0.95)
    return PlanTable(
        "power",
        "What trials of each size would show",
        f"Simulated; chances are right to within {2 * error:.1f} points. A bound of the assured "
        f"time needs a family of distributions below {wilks} vessels of a mix. The permutation "
        "test within blocks can't give a smaller p than the last column.",
        (
            "vessels of each mix",
            "vessels",
            "looks",
            "hours of looking",
            f"told apart at {preview.question.ratio:g} times, %",
            "the same among all pairs, %",
            "assured bound / true 90% time",
            "some mix never seen clear, %",
            "too sparse for a spread, %",
            "smallest permutation p",
        ),
        rows,
    )


def _schedule_table(preview):
    table = schedule_table(
        preview.question.schedule_h,
        preview.question.times_h,
        preview.question.spread,
        hold=preview.question.hold,
    )
    rows = tuple(
        (
            mix["name"],
            f"{row.time_h:g}",
            _percent(row.share_of_exact),
            _percent(row.share_of_dense),
            _percent(row.left_of_first),
            _percent(row.never_in_window),
        )
        for mix, row in zip(preview.answers["mixes"], table.itertuples(index=False), strict=True)
    )
    looks = ", ".join(f"{t:.3g}" for t in preview.question.schedule_h)
    return PlanTable(
        "schedule",
        "What the reading times keep of the information",
        f"Looks after {looks} h. 100% of exact: as good as watching without a break. 100% of "
        "dense: as good as looking at every round time.",
        (
            "mix",
            "expected, h",
            "of exact times, %",
            "of dense looks, %",
            "clear before the first look, %",
            "not seen clear, %",
        ),
        rows,
    )
