"""The command `trialkit`: thin wrappers around the public functions."""

import errno
import gc
import json
import shutil
import sys
import time
import traceback
from contextlib import contextmanager
from pathlib import Path

import click

__all__ = ["main"]

# Libraries that take long to import are imported inside the commands, so that --help is quick.

EXIT_REFUSED, EXIT_USAGE, EXIT_INTERNAL, EXIT_INTERRUPTED = 1, 2, 3, 130

# A place that the system does not let anybody write to or read: no fault of the kit.
DENIED = {
    getattr(errno, name)
    for name in ("EACCES", "EPERM", "EROFS", "ENOSPC", "EISDIR", "ENOTDIR", "ENAMETOOLONG")
}
FOLDER = click.Path(exists=True, file_okay=False, path_type=Path)
FILE = click.Path(exists=True, dir_okay=False, path_type=Path)


class _Place(click.Path):
    """A place on this computer that is still to be written; an address of the web is none."""

    def convert(self, value, param, ctx):
        """The path; a folder by the name "https:" would help nobody."""
        if "://" in str(value):
            self.fail(f"{value} is an address, not a place on this computer.", param, ctx)
        return super().convert(value, param, ctx)


NEW = _Place(path_type=Path)
RATIO_HELP = "How many times as long a slower mix takes that must be told apart."


HELP = """Fair side-by-side trials of sea-salt mixes, from the plan to a report.

\b
The order of work:
  demo      look at a finished trial
  plan      a new trial folder: vessels, places, schedule, seal, reading sheets
  sheets    a workbook to enter the readings in
  import    a trial folder from a table of your own, instead of plan and sheets
  check     what is wrong in the folder, until nothing is refused
  report    the comparison, as report.pdf with all that stands behind it
  bundle    one zip that others can re-run; verify is how they do
  pool      several trials of the same mixes together
  lab       the notebooks of a trial in JupyterLab
"""


@click.group(help=HELP, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="trialkit")
def cli():
    """Choose a command; the help says in which order."""


def max_mb_option(command):
    """The option that lifts the size limit of an input file."""
    from_mb = click.FloatRange(min=0, min_open=True)
    words = "Largest input file that is read, in MB."
    return click.option("--max-mb", type=from_mb, help=words)(command)


def strict_option(command):
    """The option that turns warnings into refusals."""
    words = "Refuse what is otherwise only warned about."
    return click.option("--strict", is_flag=True, help=words)(command)


def force_option(command):
    """The option that replaces what an earlier run wrote."""
    return click.option("--force", is_flag=True, help="Replace what an earlier run wrote.")(command)


def paper_option(command):
    """The option that chooses the size of the pages."""
    sizes = click.Choice(["a4", "us-letter"])
    return click.option("--paper", type=sizes, default="a4", show_default=True)(command)


@contextmanager
def user_errors():
    """What is wrong with an answer or a place is said in one line, without a traceback."""
    try:
        yield
    except (ValueError, FileExistsError) as error:
        from trialkit.records.trial import TrialDataError

        if isinstance(error, TrialDataError):
            raise
        raise click.ClickException(str(error)) from error


@cli.command()
@click.argument("folder", type=NEW)
def demo(folder):
    """Copy the invented demo trials into a new FOLDER."""
    from trialkit.publish import shipped

    if folder.exists():
        raise click.ClickException(f"{folder} exists already; name a new folder.")
    made = shutil.ignore_patterns("out", "out.*", "lab", "*.zip", "*.png")
    shutil.copytree(shipped("demo"), folder, ignore=made)
    click.echo(f"Demo trials are in {folder}. Next: trialkit report {folder / 'harbour'}")


@cli.command()
@click.argument("folder", type=NEW)
@click.option("--answers", type=FILE, help="A TOML file with the answers, for scripts.")
@click.option("--ratio", type=float, default=2.0, show_default=True, help=RATIO_HELP)
@click.option("--trials", type=click.IntRange(min=100), default=2000, show_default=True)
@click.option("--jobs", type=int, default=1, show_default=True, help="Processes to simulate with.")
@click.option("--backend", help="joblib backend, such as dask or ray; needs --jobs.")
def plan(folder, answers, ratio, trials, jobs, backend):
    """Plan a fair trial and make its new FOLDER, with the sheets to print.

    Without --answers it asks, one question after the other.
    """
    from trialkit.planning.answers import ask
    from trialkit.planning.preview import preview_plan, read_answers, write_plan
    from trialkit.planning.progress import progress_line

    if folder.exists():
        raise click.ClickException(f"{folder} exists already; name a new folder.")
    with user_errors():
        given = read_answers(answers) if answers else ask(_prompt, click.echo)
        chosen = {"ratio": ratio, "n_trials": trials, "n_jobs": jobs, "backend": backend}
        preview = preview_plan(given, **chosen, progress=progress_line("simulating"))
        answer = str(preview.answer).replace("**", "")  # markdown in a notebook, plain here
        click.echo(f"{answer}\n\n{preview.power_table}\n")
        click.echo(write_plan(preview, folder))


def _prompt(words: str) -> str:
    return click.prompt(words, default="", show_default=False, prompt_suffix=" ")


@cli.command("import")
@click.argument("table", type=FILE)
@click.argument("folder", type=NEW)
@click.option(
    "--start",
    type=click.DateTime(["%Y-%m-%dT%H:%M", "%Y-%m-%dT%H:%M:%S", "%Y-%m-%d %H:%M"]),
    prompt="When did the salt go in (such as 2031-04-02T08:00)",
    help="When the salt went in, such as 2031-04-02T08:00.",
)
@click.option("--quantity", default="clarity", show_default=True, help="What was read.")
@click.option("--unit", default="lines", show_default=True, help="Unit of the readings.")
@click.option("--tolerance", type=float, help="How much worse than purified water is still clear.")
def import_(table, folder, start, quantity, unit, tolerance):
    """Make a trial FOLDER of your own TABLE, a .csv or .xlsx file.

    Times down, vessels across: the first column is headed "hours" or "minutes", each other
    column by the mix in its vessel (two vessels of a mix have the same heading), that of purified
    water "reference".
    """
    from trialkit.own_table import import_table
    from trialkit.records.trial import TrialDataError

    options = {"quantity": quantity, "unit": unit, "tolerance": tolerance}
    with user_errors():
        try:
            click.echo(f"{import_table(table, folder, start=start, **options)}")
        except TrialDataError as error:
            # There is no folder yet that could hold a list of the rest.
            alike = error.problems.groupby(["file", "column", "message"], sort=False)
            raise TrialDataError(alike.head(3)) from None


@cli.command()
@click.argument("folder", type=FOLDER)
def seal(folder):
    """Seal the plan in FOLDER anew, after a change before the first reading."""
    from trialkit.planning.seal import seal_trial

    with user_errors():
        click.echo(f"Sealed: {seal_trial(folder)}. Publish it before the first reading.")


@cli.command()
@click.argument("folder", type=FOLDER)
@force_option
def sheets(folder, force):
    """Write readings.xlsx into FOLDER: the workbook to enter readings in, or to print empty."""
    from trialkit.records.workbook import write_workbook

    with user_errors():
        click.echo(f"{write_workbook(folder, force=force)}")


@cli.command()
@click.argument("folder", type=FOLDER)
@click.option("--json", "as_json", is_flag=True, help="Print the findings as JSON lines.")
@strict_option
@max_mb_option
def check(folder, as_json, strict, max_mb):
    """Say what is wrong in the trial FOLDER, or that nothing is."""
    from trialkit.records.check import check_trial
    from trialkit.records.problems import PROBLEMS_FILE, format_problems

    problems = check_trial(folder, strict=strict, **_given(max_mb=max_mb))
    if as_json:
        for row in problems.to_dict("records"):
            click.echo(json.dumps(row, ensure_ascii=False, default=str))
    else:
        text = format_problems(problems)
        click.echo(f"{text} Next: trialkit report" if problems.empty else text)
        if PROBLEMS_FILE in text:
            click.echo(_list_problems(problems, folder / PROBLEMS_FILE))
    if (problems["level"] == "refuse").any():
        raise click.exceptions.Exit(EXIT_REFUSED)


def _list_problems(problems, path: Path) -> str:
    """Write all problems as a file, and say where; a closed folder is no reason to fail."""
    from trialkit.records.export import write_table

    if path.is_symlink():
        return f"{path} is a link to another place, so they were not listed there."
    if path.exists() and not path.is_file():
        return f"{path} is no ordinary file, so they were not listed there."
    try:
        return f"All of them: {write_table(problems, path)}"
    except OSError as error:
        return f"{path} could not be written: {error.strerror}."


@cli.command()
@click.argument("folder", type=FOLDER)
@click.option("--out", type=NEW, help="Where the report goes [FOLDER/out].")
@force_option
@strict_option
@max_mb_option
@paper_option
def report(folder, out, force, strict, max_mb, paper):
    """Analyse the trial FOLDER and write report.pdf, results.json and the notebook."""
    from trialkit.publish import publish_trial

    out = folder / "out" if out is None else out
    options = {"force": force, "strict": strict, "paper": paper, **_given(max_mb=max_mb)}
    click.echo(f"{publish_trial(folder, out, **options) / 'report.pdf'}")


@cli.command()
@click.argument("folder", type=FOLDER)
@click.option("--out", type=NEW, help="The zip [FOLDER/TITLE.zip].")
@force_option
@strict_option
@paper_option
def bundle(folder, out, force, strict, paper):
    """Pack the trial FOLDER into one zip that a third person can re-run."""
    from trialkit.bundle import bundle_trial

    click.echo(f"{bundle_trial(folder, out, force=force, strict=strict, paper=paper)}")


@cli.command()
@click.argument("bundle", type=FILE)
def verify(bundle):
    """Compute a BUNDLE again from its inputs and say whether the same results come out."""
    from trialkit.verify import verify_bundle

    found = verify_bundle(bundle)
    click.echo(str(found))
    raise click.exceptions.Exit(found.exit_code)


@cli.command()
@click.argument("sources", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option("--out", required=True, type=NEW, help="Where it goes.")
@click.option("--scale", is_flag=True, help="Write the spread that a trial.toml may borrow.")
@click.option("--jobs", type=int, help="Processes that read [1; with 100 sources or more, all].")
@force_option
@paper_option
def pool(sources, out, scale, jobs, force, paper):
    """Pool trials: SOURCES are trial folders, or zips that bundle made.

    To pool all folders and zips that lie in one place: trialkit pool trials/* --out pooled

    The same trial given twice, as a folder and as a zip, counts once. A source that can't be read
    is named and left out, the rest is pooled, and the exit code is 1.
    """
    from trialkit.pool import describe_pool, time_taken
    from trialkit.publish_pool import SCALE_FILE, publish_pool

    begun = time.perf_counter()
    with user_errors():
        results = publish_pool(sources, out, force=force, paper=paper, n_jobs=jobs, scale=scale)
    click.echo(describe_pool(results))
    if scale:
        click.echo((out / SCALE_FILE).read_text(encoding="utf-8"))
    click.echo(time_taken(len(sources), time.perf_counter() - begun), err=True)
    click.echo(f"{out / 'report.pdf'}")
    if results.meta["n_unread"]:
        raise click.exceptions.Exit(EXIT_REFUSED)


@cli.command(context_settings={"ignore_unknown_options": True})
@click.argument("folder", type=FOLDER)
@click.argument("options", nargs=-1, type=click.UNPROCESSED)
def lab(folder, options):
    """Open the notebooks of the trial FOLDER in JupyterLab.

    What follows FOLDER is handed to JupyterLab, such as --no-browser.
    """
    from trialkit.lab import open_lab

    open_lab(folder, options=options)


def _given(**options) -> dict:
    """The options that were given; the others keep the defaults of what is called."""
    return {name: value for name, value in options.items() if value is not None}


def main():
    """Run the command; exit 0 done, 1 data refused, 2 usage, 3 internal, 130 interrupted."""
    # A command lives for seconds and makes few cycles; looking for them took a tenth of its time.
    gc.set_threshold(100_000, 50, 50)
    sys.exit(run(sys.argv[1:]))


def run(arguments: list[str]) -> int:
    """Exit code of the command with these arguments.

    Parameters
    ----------
    arguments : list of str
        What follows `trialkit` on the command line.

    Returns
    -------
    int
        0 done, 1 data refused, 2 usage, 3 a fault of the kit, 130 interrupted.
    """
    try:
        # Without click's own exits the codes below are the only ones.
        return cli.main(args=arguments, prog_name="trialkit", standalone_mode=False) or 0
    except click.exceptions.Exit as stop:
        return stop.exit_code
    except (click.Abort, KeyboardInterrupt):
        click.echo("Interrupted; nothing was written.", err=True)
        return EXIT_INTERRUPTED
    except click.UsageError as error:
        error.show()
        return EXIT_USAGE
    except click.ClickException as error:
        error.show()
        return EXIT_USAGE
    except Exception as error:
        return _explain(error)


def _explain(error: Exception) -> int:
    """Print what a user can do about the error, and choose its exit code."""
    from trialkit.records.problems import PROBLEMS_FILE
    from trialkit.records.trial import KitFaultError, TrialDataError

    if isinstance(error, KitFaultError):
        click.echo(str(error), err=True)
        return EXIT_INTERNAL
    if isinstance(error, TrialDataError):
        click.echo(str(error), err=True)
        if PROBLEMS_FILE in str(error):
            click.echo(f"trialkit check writes {PROBLEMS_FILE} with all of them.", err=True)
        return EXIT_REFUSED
    if isinstance(error, OSError) and error.errno in DENIED:
        click.echo(f"Error: {error.filename or 'a file'}: {error.strerror}.", err=True)
        return EXIT_USAGE
    click.echo("".join(traceback.format_exception(error)), err=True)
    click.echo(
        "This is a fault of trialkit, not of your data; nothing was written. Please report it "
        "with the lines above.",
        err=True,
    )
    return EXIT_INTERNAL
