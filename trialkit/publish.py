"""From a trial folder to its published folder: all files at once, or none."""

import hashlib
import json
import os
import re
import shutil
from contextlib import contextmanager
from functools import cache, partial
from pathlib import Path

import click

__all__ = [
    "MANIFEST",
    "publish_trial",
    "refuse_taken",
    "shipped",
    "whole_or_nothing",
    "write_manifest",
]

MANIFEST = "manifest-sha256.txt"
NOTEBOOK = "comparison.ipynb"

# What the notebook is going to import.
IMPORTED = (
    "trialkit.analysis.trial_results",
    "trialkit.report.figures",
    "matplotlib.backends.backend_svg",
)

#: Tags of the cells of comparison.ipynb that depend on whether anything was read in storage.
STORAGE, NO_STORAGE = "storage", "no-storage"


def publish_trial(
    folder: Path, out: Path, *, force: bool = False, paper: str = "a4", **reading
) -> Path:
    """Path of the folder with the report of a trial.

    Parameters
    ----------
    folder : pathlib.Path
        The trial folder.
    out : pathlib.Path
        Where the report goes. It is made under another name beside this one, then moved: after a
        failure or an interruption the place is as it was.
    force : bool
        Replace an earlier report there. A folder that this kit did not write is never replaced.
    paper : str
        "a4" or "us-letter".
    **reading
        `strict` or `max_mb`, as `read_trial` takes them.

    Returns
    -------
    pathlib.Path
        `out`, holding report.pdf, report.html, results.json, comparison.ipynb,
        readings-clean.csv, problems.csv and manifest-sha256.txt.

    Raises
    ------
    TrialDataError
        If the data are refused.
    click.ClickException
        If the place is taken.
    """
    refuse_taken(out, force)
    # Whole paths: the runner of notebooks changes the working folder meanwhile.
    folder, place = folder.resolve(), out.resolve()
    sound = cache(partial(_sound_trial, folder, reading))
    with whole_or_nothing(place) as unfinished:
        executed = _run(folder, unfinished, sound)
        _drop_cells(executed, NO_STORAGE if sound().has_storage else STORAGE)
        _render(executed, unfinished, paper)
        write_manifest(unfinished)
    return out


def shipped(name: str) -> Path:
    """Path of a folder that comes with the kit.

    Parameters
    ----------
    name : str
        "notebooks" or "demo".

    Returns
    -------
    pathlib.Path
        Inside the installed package, or beside it in a checkout.
    """
    package = Path(__file__).parent
    checkout = {"notebooks": "notebooks", "demo": "data/demo"}[name]
    installed = package / name
    return installed if installed.is_dir() else package.parent / checkout


def write_manifest(folder: Path) -> None:
    """Write the SHA-256 of every file of the folder, in the form that `sha256sum -c` reads.

    Parameters
    ----------
    folder : pathlib.Path
        The folder; the manifest itself is not listed.
    """
    files = sorted(p for p in folder.rglob("*") if p.is_file() and p.name != MANIFEST)
    lines = [
        f"{hashlib.sha256(p.read_bytes()).hexdigest()}  {p.relative_to(folder).as_posix()}\n"
        for p in files
    ]
    (folder / MANIFEST).write_text("".join(lines), encoding="utf-8", newline="\n")


def _sound_trial(folder: Path, reading: dict):
    """The trial, or what is wrong with it."""
    # pandas and what stands on it take half a second; --help does not pay for them.
    from trialkit.records.read import read_trial
    from trialkit.report import page, render  # noqa: F401 - for later: there is time now

    trial = read_trial(folder, **reading)
    if trial.blinded:
        raise click.ClickException(
            "The mixes are still blind, so there is nothing to compare yet. "
            "Fix: put key.csv (vessel,mix) into the trial folder when the last reading is done."
        )
    return trial


def _run(folder: Path, unfinished: Path, sound) -> Path:
    """Path of the executed notebook; no cell runs unless the trial is sound."""
    from trialkit.draw import second_drawer
    from trialkit.report.run import Meanwhile, run_notebook

    notebook = shipped("notebooks") / NOTEBOOK
    # The kernel works in the new folder, so that no path of this machine enters what it writes.
    where = {"folder": Path(os.path.relpath(folder, unfinished)).as_posix()}
    options = {"parameters": where, "cwd": unfinished, "shown": {"folder": ".."}}
    with second_drawer(unfinished, _figures(notebook)) as start:

        def get_ready() -> None:
            _write_tables(sound(), unfinished)
            start()

        meanwhile = Meanwhile(get_ready, IMPORTED)
        return run_notebook(notebook, unfinished / NOTEBOOK, meanwhile=meanwhile, **options)


def _figures(notebook: Path) -> list[str]:
    """The functions of the figures that a notebook shows, in its order."""
    return re.findall(r"tk\.(\w+_figure)\(results\)", notebook.read_text(encoding="utf-8"))


def _render(executed: Path, partial: Path, paper: str) -> None:
    from trialkit.report.render import render_report

    render_report(executed, partial, paper=paper, html=True)


def _write_tables(trial, partial: Path) -> None:
    from trialkit.records.export import write_table

    write_table(trial.readings, partial / "readings-clean.csv")
    write_table(trial.problems, partial / "problems.csv")


def _drop_cells(path: Path, tag: str) -> None:
    """Take out of a notebook the cells that don't fit the trial."""
    notebook = json.loads(path.read_text(encoding="utf-8"))
    notebook["cells"] = [
        cell for cell in notebook["cells"] if tag not in cell["metadata"].get("tags", [])
    ]
    text = json.dumps(notebook, indent=1, ensure_ascii=False) + "\n"
    path.write_text(text, encoding="utf-8", newline="\n")


def refuse_taken(out: Path, force: bool) -> None:
    """Refuse a place that is not free, or not this kit's to replace.

    Parameters
    ----------
    out : pathlib.Path
        The place.
    force : bool
        Whether an earlier report there may be replaced.

    Raises
    ------
    click.ClickException
        If it may not be written to.
    """
    if out.is_symlink():
        raise click.ClickException(
            f"{out} is a link to another place. Fix: name another place with --out."
        )
    if not out.exists():
        return
    if not (out / MANIFEST).is_file():
        raise click.ClickException(
            f"{out} exists and was not written by trialkit. Fix: name another place with --out."
        )
    if not force:
        raise click.ClickException(
            f"{out} holds a report already. Fix: --force replaces it, --out names another place."
        )


@contextmanager
def whole_or_nothing(out: Path):
    """An empty folder that becomes `out` if the block ends well, and disappears if it doesn't."""
    partial = out.with_name(out.name + ".partial")
    _clear(partial)
    partial.mkdir(parents=True)
    try:
        yield partial
        _replace(partial, out)
    finally:
        _clear(partial)


def _clear(path: Path) -> None:
    """Take away what an interrupted run left, or a link or file of its name; follow no link."""
    if path.is_symlink() or (path.exists() and not path.is_dir()):
        path.unlink()
    shutil.rmtree(path, ignore_errors=True)


def _replace(partial: Path, out: Path) -> None:
    earlier = out.with_name(out.name + ".earlier")
    _clear(earlier)
    if out.exists():
        out.rename(earlier)
    try:
        partial.rename(out)
    except OSError:
        if earlier.exists():
            earlier.rename(out)
        raise
    _clear(earlier)
