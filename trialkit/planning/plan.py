"""A new trial folder, from the answers to a few questions."""

import secrets
import shutil
from dataclasses import dataclass, replace
from pathlib import Path

from .answers import check_answers
from .bench import draw_bench
from .blocks import Told
from .draft import build_plan
from .folder import PlannedTrial, write_csv, write_planned, write_text
from .reading_list import empty_readings
from .seal import NONCE_FILE, SEALED_FILE, key_text, sealed_text
from .sheets import render_mixing_sheet, render_sheets

SHEETS, MIXING_SHEET, PICTURE = "sheets.pdf", "mixing-sheet.pdf", "bench.svg"


@dataclass(frozen=True)
class Plan(Told):
    """What `plan_trial` made.

    Parameters
    ----------
    folder : pathlib.Path
        The trial folder.
    key_folder : pathlib.Path
        Where the key is: another folder when the trial is blinded.
    planned : PlannedTrial
        Its contents.
    """

    folder: Path
    key_folder: Path
    planned: PlannedTrial

    def __str__(self):
        return self.next_steps

    @property
    def next_steps(self):
        """What to do now, for a person who has never done it."""
        return _next_steps(self)


def plan_trial(answers, folder, *, nonce=None):
    """A new trial folder with layout, schedule, seal, reading sheets and bench card.

    Parameters
    ----------
    answers : dict
        As answers.toml holds them; `ask` makes them from prompts.
    folder : path-like
        A folder that does not exist yet. A blinded trial's key goes beside it, into a folder of
        the same name with ``-key``, for the person who keeps it.
    nonce : str, optional
        Random text that hides the key; drawn from the system when None. With the seed it decides
        which vessel gets which mix, so that the published seed gives nothing away.

    Returns
    -------
    Plan
        Folders and contents; print ``.next_steps``.

    Raises
    ------
    ValueError
        An answer that is not allowed (one line each, with what is), or a folder that exists.
    """
    folder = Path(folder)
    answers = check_answers(answers)
    key_folder = folder.with_name(f"{folder.name}-key") if answers["blinded"] else folder
    for place in (folder, key_folder):
        if place.exists():
            raise ValueError(f"{place} exists already and is left alone; name a new folder.")
    nonce = secrets.token_hex(16) if nonce is None else nonce
    planned = build_plan(answers, nonce)
    partial = folder.with_name(f"{folder.name}.partial")
    partial_key = folder.with_name(f"{folder.name}-key.partial")
    try:
        _write(planned, answers, partial)
        _write_key(planned, nonce, answers, partial_key if answers["blinded"] else partial)
        partial.rename(folder)
        if answers["blinded"]:
            partial_key.rename(key_folder)
    finally:
        shutil.rmtree(partial, ignore_errors=True)
        shutil.rmtree(partial_key, ignore_errors=True)
    return Plan(folder, key_folder, planned)


def _write(planned, answers, folder):
    write_planned(replace(planned, key=planned.key.iloc[:0]), folder)
    readings = empty_readings(planned)
    write_csv(readings, folder / "readings.csv")
    write_text(folder / SEALED_FILE, sealed_text(planned.settings))
    picture = draw_bench(planned.vessels)
    write_text(folder / PICTURE, picture.svg)
    render_sheets(planned, readings, folder / SHEETS, paper=answers["paper"], picture=picture)


def _write_key(planned, nonce, answers, folder):
    folder.mkdir(exist_ok=True)
    write_text(folder / "key.csv", key_text(planned.key))
    write_text(folder / NONCE_FILE, f"{nonce}\n")
    render_mixing_sheet(planned, folder / MIXING_SHEET, paper=answers["paper"])


def _next_steps(plan):
    settings = plan.planned.settings
    n_reference = int((plan.planned.vessels["role"] == "reference").sum())
    blind = [
        f"Give {plan.key_folder} to someone who doesn't read, and don't open it. That person "
        f"fills the vessels from {MIXING_SHEET}.",
    ]
    alone = [f"Fill the vessels from {plan.folder / MIXING_SHEET}."]
    after = [f"Put key.csv and {NONCE_FILE} into {plan.folder}."]
    steps = [
        f"Look at {plan.folder / 'trial.toml'}. To change it before the first reading: edit it, "
        f"then trialkit seal {plan.folder} (in Python: trialkit.seal_trial).",
        f"Publish this seal, dated, where you can't edit it: {settings['seal']}",
        f"Print {plan.folder / SHEETS}: the bench card first, then the reading sheets.",
        *(blind if plan.key_folder != plan.folder else alone),
        f"Put purified water, and no salt, into the {n_reference} round vessels of the picture.",
        f"Read by the sheets and type the values into {plan.folder / 'readings.csv'}, or into the "
        f"workbook that trialkit sheets {plan.folder} writes; put right every time that was not "
        "kept.",
        *(after if plan.key_folder != plan.folder else []),
        f"trialkit check {plan.folder}, then trialkit report {plan.folder}",
    ]
    listed = "\n".join(f"{i}. {step}" for i, step in enumerate(steps, start=1))
    return f"Planned in {plan.folder}, layout seed {settings['seed']}.\n{listed}\n"
