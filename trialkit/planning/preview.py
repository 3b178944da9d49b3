"""A look at a plan before anything is written: its power, its schedule, its bench."""

import secrets
import tomllib
from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from .answers import check_answers
from .bench import draw_bench
from .blocks import Told, Words
from .draft import build_plan
from .folder import PlannedTrial
from .plan import plan_trial
from .power import PowerQuestion, simulate_power
from .power_picture import draw_power
from .preview_words import answer_words, information_table, power_table


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
    if path.exists() and not path.is_file():
        raise ValueError(f"{path.name} is not an ordinary file.")
    try:
        return tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except OSError as error:
        raise ValueError(f"{path.name} can't be read: {error.strerror}.") from error
    except UnicodeDecodeError as error:
        raise ValueError(f"{path.name} is not UTF-8. Fix: save it again as UTF-8.") from error
    except tomllib.TOMLDecodeError as error:
        raise ValueError(f"{path.name} is not TOML: {error}. Fix: correct that line.") from error


@dataclass(frozen=True)
class PlanPreview(Told):
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

    def __str__(self):
        return f"{self.answer}\n\n{self.power_table}".replace("**", "")

    @property
    def answer(self):
        """The plan's worth in one paragraph."""
        return Words(answer_words(self))

    @property
    def power_table(self):
        """Sizes from 2 to 8 vessels of each mix, with the effort each costs."""
        return power_table(self)

    @property
    def power_picture(self):
        """The same as curves."""
        return draw_power(self.power, ratio=self.question.ratio)

    @property
    def schedule(self):
        """What the reading times keep of the information, by mix."""
        return information_table(self)

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
