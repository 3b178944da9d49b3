"""From trial folders or bundles to a published folder of what they say together."""

import tempfile
from collections.abc import Sequence
from pathlib import Path

from trialkit.publish import refuse_taken, shipped, whole_or_nothing, write_manifest

__all__ = ["publish_pool"]

NOTEBOOK = "pooled.ipynb"
SCALE_FILE = "scale.toml"
MANY = 100  # sources from which on starting more processes pays


def publish_pool(
    sources: Sequence[Path],
    out: Path,
    *,
    force: bool = False,
    paper: str = "a4",
    n_jobs: int | None = None,
    scale: bool = False,
):
    """What was found in the trials, whose report is then in `out`.

    Parameters
    ----------
    sources : sequence of pathlib.Path
        Trial folders, and zips made by `bundle_trial`; one that can't be read is left out with
        its reason.
    out : pathlib.Path
        Where the report goes, whole or not at all.
    force : bool
        Replace an earlier report there.
    paper : str
        "a4" or "us-letter".
    n_jobs : int, optional
        Processes that read; -1 for all, None for one with few trials and all with many.
    scale : bool
        Whether scale.toml, the spread that another trial.toml may borrow, is written as well.

    Returns
    -------
    Results
        As `pool_folders`; `meta["n_unread"]` counts what could not be read.

    Raises
    ------
    ValueError
        If nothing can be pooled.
    click.ClickException
        If the place is taken.
    """
    from trialkit.analysis.borrowed_scale import scale_toml
    from trialkit.analysis.results import read_results
    from trialkit.report.render import render_report
    from trialkit.report.run import NotebookFailed, run_notebook

    refuse_taken(out, force)
    paths = sorted({str(source.resolve()) for source in sources})
    if n_jobs is None:
        n_jobs = -1 if len(paths) >= MANY else 1
    with tempfile.TemporaryDirectory() as scratch, whole_or_nothing(out.resolve()) as partial:
        listed = Path(scratch) / "sources.txt"
        listed.write_text("\n".join(paths) + "\n", encoding="utf-8")
        # The number of processes changes no result, so that the copy shows the usual one.
        options = {
            "parameters": {"folders_file": str(listed), "n_jobs": n_jobs},
            "cwd": partial,
            "shown": {"folders_file": listed.name, "n_jobs": 1},
        }
        try:
            executed = run_notebook(shipped("notebooks") / NOTEBOOK, partial / NOTEBOOK, **options)
        except NotebookFailed as failure:
            if failure.name == "ValueError":
                raise ValueError(failure.message) from failure
            raise
        render_report(executed, partial, paper=paper, html=True)
        results = read_results(partial)
        if scale:
            (partial / SCALE_FILE).write_text(scale_toml(results), encoding="utf-8")
        write_manifest(partial)
    return results
