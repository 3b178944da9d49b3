"""Many trial folders or bundles, read in parallel and pooled."""

from __future__ import annotations

import shlex
import zipfile
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path

import click
import pandas as pd

from trialkit.analysis.rerun import pool_trials
from trialkit.analysis.rerun_join import PoolingRules
from trialkit.analysis.rerun_record import TrialRecord, record_trial
from trialkit.analysis.results import Results
from trialkit.records.read import read_trial
from trialkit.records.trial import TrialDataError
from trialkit.report.printing import print_hours, print_interval

__all__ = [
    "describe_pool",
    "distinct_names",
    "named_paths",
    "pool_folders",
    "read_records",
    "time_taken",
]

_MANY = 100  # sources from which on the time per 1,000 says something
INPUTS = "trial"  # where a bundle keeps the trial folder


def pool_folders(
    paths: Iterable[str | Path],
    *,
    rules: PoolingRules | None = None,
    conf_level: float = 0.95,
    n_jobs: int | None = None,
) -> Results:
    """What the trials in folders or bundles say together.

    A trial that cannot be read is named with its reason in the table left_out, the others are
    pooled; `meta["n_unread"]` counts such trials.

    Parameters
    ----------
    paths : iterable of str or pathlib.Path
        Trial folders, and zips made by `bundle_trial`.
    rules : PoolingRules, optional
        What makes trials and mixes comparable.
    conf_level : float
        Level of all limits.
    n_jobs : int, optional
        Processes that read; -1 for all. None for what `joblib.parallel_config` says, so that a
        cluster is used by naming its backend there.

    Returns
    -------
    Results
        As `pool_trials`.

    Raises
    ------
    ValueError
        If nothing can be pooled.

    Examples
    --------
    >>> found = pool_folders(f"data/demo/{name}" for name in ("harbour", "rerun", "single"))
    >>> found.meta["n_trials"], found.meta["n_unread"]
    (3, 0)
    """
    records, skipped = read_records(paths, n_jobs=n_jobs)
    if not records:
        raise ValueError(f"none of {len(skipped)} trials can be read. {_first(skipped)}")
    return pool_trials(records, rules=rules, conf_level=conf_level, skipped=skipped)


def read_records(paths: Iterable[str | Path], *, n_jobs: int | None = None):
    """The records of many trials, and the name with the reason of each that cannot be read.

    A trial is reduced to what pooling needs in the process that reads it: thousands of trials
    never stand in memory together.

    Parameters
    ----------
    paths : iterable of str or pathlib.Path
        Trial folders or bundles.
    n_jobs : int, optional
        As in `pool_folders`.

    Returns
    -------
    records : list of TrialRecord
        In the order of the paths.
    skipped : list of (str, str)
        Name and reason.

    Examples
    --------
    >>> records, skipped = read_records(["data/demo/single", "data/demo"])
    >>> len(records), skipped[0][0]
    (1, 'demo')
    """
    from joblib import Parallel, delayed

    paths = [Path(path) for path in paths]
    named = zip(paths, distinct_names(paths), strict=True)
    run = Parallel(n_jobs=n_jobs, return_as="generator")
    records, skipped = [], []
    for found in run(delayed(_read)(path, name) for path, name in named):
        if isinstance(found, TrialRecord):
            records.append(found)
        else:
            skipped.append(found)
    return records, skipped


def distinct_names(paths: Iterable[str | Path]) -> list[str]:
    """The names of files or folders, with as many folders above as tell them apart.

    Parameters
    ----------
    paths : iterable of str or pathlib.Path
        Files or folders.

    Returns
    -------
    list of str
        In the order of the paths.

    Examples
    --------
    >>> distinct_names(["a/1", "a/2", "b/2"])
    ['1', 'a/2', 'b/2']
    """
    full = [Path(path).resolve() for path in paths]
    groups: dict[str, set[Path]] = {}
    for path in full:
        groups.setdefault(path.name, set()).add(path)
    return [_tail(path, groups[path.name]) for path in full]


def _tail(path: Path, alike: set[Path]) -> str:
    kept = 1
    while len({other.parts[-kept:] for other in alike}) < len(alike):
        kept += 1
    return "/".join(path.parts[-kept:])


def named_paths(folders: str, folders_file: str = "") -> list[str]:
    """The folders and bundles that a notebook's parameters name.

    Parameters
    ----------
    folders : str
        Paths with spaces between them, quoted where a path holds one.
    folders_file : str
        A text file with one path a line; when given, the first is not looked at.

    Returns
    -------
    list of str
        Paths, sorted, each once.

    Examples
    --------
    >>> named_paths("b a 'my trial' a")
    ['a', 'b', 'my trial']
    """
    if folders_file:
        lines = Path(folders_file).read_text(encoding="utf-8").splitlines()
        return sorted({line.strip() for line in lines if line.strip()})
    return sorted(set(shlex.split(folders)))


def describe_pool(results: Results) -> str:
    """What the command prints: what was pooled, what was not, one line a mix.

    Parameters
    ----------
    results : Results
        What `pool_folders` returned.

    Returns
    -------
    str
        Lines of text.

    Examples
    --------
    >>> found = pool_folders(["data/demo/harbour", "data/demo/rerun"])
    >>> print(describe_pool(found).splitlines()[0])  # doctest: +ELLIPSIS
    2 trials pooled: 33 vessels, 6 mixes; criterion clarity; what counts as clear: ...
    """
    meta = results.meta
    lines = [
        f"{_counted(meta['n_trials'], 'trial')} pooled: {_counted(meta['n_vessels'], 'vessel')}, "
        f"{meta['n_mixes']} mix{'es' if meta['n_mixes'] > 1 else ''}; "
        f"criterion {meta['criterion']}; what counts as clear: {meta['definition']}."
    ]
    rows = results["left_out"].itertuples()
    lines += [f"Left out: {row.source} ({row.item}): {row.message}" for row in rows]
    lines += [f"Look at: {row.source}: {row.message}" for row in results["flags"].itertuples()]
    times = results["pooled_times"]
    batch = times[times["term"] == "new batch"]
    level = f"{100 * meta['conf_level']:g}%"
    lines += [f"{row.mix}: {_batch_words(row, level)}" for row in batch.itertuples()]
    return "\n".join(lines)


def time_taken(n: int, seconds: float) -> str:
    """How long it took, in words; the rate too where it isn't mostly the start.

    Parameters
    ----------
    n : int
        Sources.
    seconds : float
        Time in all.

    Returns
    -------
    str
        A line.

    Examples
    --------
    >>> time_taken(20, 5.2), time_taken(5000, 100.0)
    ('20 sources in 5 s.', '5,000 sources in 100 s, 20 s per 1,000.')
    """
    rate = f", {1000 * seconds / n:.0f} s per 1,000" if n >= _MANY else ""
    return f"{n:,} source{'' if n == 1 else 's'} in {seconds:.0f} s{rate}."


def _batch_words(row, level: str) -> str:
    counts = f"({_counted(row.n_trials, 'trial')}, {_counted(row.n, 'vessel')})"
    if row.estimate == float("inf"):
        return (
            f"never seen clear; a new batch takes more than {print_hours(row.conf_low)} h {counts}"
        )
    return (
        f"typically {print_hours(row.estimate)} h; a new batch in a new place "
        f"{print_interval(row.conf_low, row.conf_high)} h, {level} {counts}"
    )


def _read(path: Path, name: str) -> TrialRecord | tuple[str, str]:
    """The record of one trial, or its name with the reason why there is none."""
    try:
        with _folder_of(path) as folder:
            return record_trial(read_trial(folder), name)
    except TrialDataError as error:
        refused = error.problems[error.problems["level"] == "refuse"]
        return name, _reason(refused.iloc[0], len(refused))
    except (click.ClickException, OSError, zipfile.BadZipFile) as error:
        return name, getattr(error, "message", None) or type(error).__name__
    except Exception as error:
        # One trial must not stop thousands; the kind of fault is named so that it can be reported.
        return name, f"fault of the kit while reading it ({type(error).__name__}: {error})"


def _counted(n: int, what: str) -> str:
    return f"{n} {what}{'' if n == 1 else 's'}"


def _reason(problem, n: int) -> str:
    row = "" if pd.isna(problem["row"]) else f" row {int(problem['row'])}"
    more = f" (and {n - 1} more)" if n > 1 else ""
    return f"{problem['file']}{row}: {problem['message']}{more}"


@contextmanager
def _folder_of(path: Path) -> Iterator[Path]:
    """The trial folder itself, or that in an unpacked bundle."""
    if not path.is_file():
        yield path
        return
    from trialkit.unpack import open_bundle

    with open_bundle(path) as unpacked:
        inside = unpacked / INPUTS
        yield inside if inside.is_dir() else unpacked


def _first(skipped: list[tuple[str, str]]) -> str:
    return f"First: {skipped[0][0]}: {skipped[0][1]}" if skipped else "No trial was named."
