"""The command `trialkit`: thin wrappers around the public functions."""

import json
import shutil
import sys
import traceback
from pathlib import Path

import click

__all__ = ["main"]

# Libraries that take long to import are imported inside the commands, so that --help is quick.

EXIT_REFUSED, EXIT_USAGE, EXIT_INTERNAL, EXIT_INTERRUPTED = 1, 2, 3, 130

FOLDER = click.Path(exists=True, file_okay=False, path_type=Path)


@click.group(context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="trialkit")
def cli():
    """Fair side-by-side trials of sea-salt mixes, from readings to a report.

    The order of work: `demo` to look at a finished trial; `check` your own folder until nothing
    is refused; `report` to publish it.
    """


@cli.command()
@click.argument("folder", type=FOLDER)
@click.option("--json", "as_json", is_flag=True, help="Print the findings as JSON lines.")
@click.option("--strict", is_flag=True, help="Refuse what is otherwise only warned about.")
def check(folder, as_json, strict):
    """Say what is wrong in the trial FOLDER, or that nothing is."""
    from trialkit.records.check import check_trial, format_problems

    problems = check_trial(folder, strict=strict)
    if as_json:
        for row in problems.to_dict("records"):
            click.echo(json.dumps(row, ensure_ascii=False, default=str))
    else:
        click.echo(format_problems(problems))
    if (problems["level"] == "refuse").any():
        raise click.exceptions.Exit(EXIT_REFUSED)


@cli.command()
@click.argument("folder", type=FOLDER)
@click.option("--out", type=click.Path(path_type=Path), help="Where the report goes [FOLDER/out].")
@click.option("--force", is_flag=True, help="Replace an earlier report in that place.")
@click.option("--strict", is_flag=True, help="Refuse what is otherwise only warned about.")
@click.option("--paper", type=click.Choice(["a4", "us-letter"]), default="a4", show_default=True)
def report(folder, out, force, strict, paper):
    """Analyse the trial FOLDER and write report.pdf, results.json and the notebook."""
    from trialkit.publish import publish_trial

    out = folder / "out" if out is None else out
    path = publish_trial(folder, out, force=force, strict=strict, paper=paper)
    click.echo(f"{path / 'report.pdf'}")


@cli.command()
@click.argument("folder", type=click.Path(path_type=Path))
def demo(folder):
    """Copy the invented demo trials into a new FOLDER."""
    from trialkit.publish import shipped

    if folder.exists():
        raise click.ClickException(f"{folder} exists already; name a new folder.")
    shutil.copytree(shipped("demo"), folder, ignore=shutil.ignore_patterns("out", "out.partial"))
    click.echo(f"Demo trials are in {folder}. Next: trialkit report {folder / 'harbour'}")


def main():
    """Run the command; exit 0 done, 1 data refused, 2 usage, 3 internal, 130 interrupted."""
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
    from trialkit.records.trial import TrialDataError

    if isinstance(error, TrialDataError):
        click.echo(str(error), err=True)
        return EXIT_REFUSED
    click.echo("".join(traceback.format_exception(error)), err=True)
    click.echo(
        "This is a fault of trialkit, not of your data; nothing was written. Please report it "
        "with the lines above.",
        err=True,
    )
    return EXIT_INTERNAL
