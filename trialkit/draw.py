"""The second process of a report: it draws while the notebook's own is at its tables.

A report is a line of cells, one after the other, and its figures are half of them. From
results.json on they hang on nothing else, so that two processors can share them.
"""

import gc
import os
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, contextmanager
from pathlib import Path

from trialkit.report.shared import FOLDER, draw_last_first

__all__ = ["main", "second_drawer"]


@contextmanager
def second_drawer(out: Path, names: Sequence[str]) -> Iterator[Callable[[], None]]:
    """What starts a second process, which draws figures of the notebook run in this block.

    Parameters
    ----------
    out : pathlib.Path
        Where the notebook is going to write results.json.
    names : sequence of str
        Public functions of the figures, in the order of the notebook.

    Yields
    ------
    callable
        To be called when nothing else has to start. Without a second processor it does nothing.
    """
    with tempfile.TemporaryDirectory() as folder, ExitStack() as running:

        def start() -> None:
            if (os.cpu_count() or 1) > 1:
                running.enter_context(_started([str(out), folder, *names]))

        os.environ[FOLDER] = folder
        try:
            yield start
        finally:
            del os.environ[FOLDER]


@contextmanager
def _started(arguments: list[str]) -> Iterator[None]:
    quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
    alone = {name: value for name, value in os.environ.items() if name != FOLDER}
    command = [sys.executable, "-P", "-m", "trialkit.draw", *arguments]
    drawer = subprocess.Popen(command, stdin=subprocess.PIPE, env=alone, **quiet)
    try:
        yield
    finally:
        drawer.kill()
        drawer.wait()
        drawer.stdin.close()


def main(out: str, folder: str, *names: str) -> None:
    """Draw figures as soon as the notebook has come to its first.

    Parameters
    ----------
    out : str
        Folder of results.json.
    folder : str
        Where the two processes meet.
    *names : str
        Public functions of figures.
    """
    threading.Thread(target=_end_with_parent, daemon=True).start()
    import trialkit

    draw = [getattr(trialkit, name) for name in names]
    import matplotlib.backends.backend_svg
    import matplotlib.figure  # noqa: F401 - while there is time

    # As in the kernel: looking for the few cycles of so short a life takes a tenth of it.
    gc.disable()

    # The notebook's process asks for its first figure when it has read its results.
    while not any(Path(folder).iterdir()):
        time.sleep(0.005)
    draw_last_first(draw, trialkit.read_results(out), Path(folder))


def _end_with_parent() -> None:
    """End this process when the one that started it is gone, however it went."""
    sys.stdin.read()
    os._exit(0)


if __name__ == "__main__":
    main(*sys.argv[1:])
