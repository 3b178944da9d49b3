"""A line that tells how far a long calculation is."""

import sys
import time


def progress_line(words, stream=None):
    """A function to give as ``progress``: one line on stderr, written over on a terminal.

    Parameters
    ----------
    words : str
        What is being done.
    stream : text file, optional
        Where to write; stderr when None.

    Returns
    -------
    callable
        Called with what is done and what there is in all. Away from a terminal it writes a line
        for each tenth.

    Examples
    --------
    >>> tell = progress_line("simulating", sys.stdout)
    >>> tell(5, 10)
    simulating: 5 of 10
    """
    stream = sys.stderr if stream is None else stream
    state = {"tenth": -1, "start": time.monotonic()}

    def tell(done, total):
        tenth = 10 * done // total
        if stream.isatty():
            end = "\n" if done == total else ""
            took = time.monotonic() - state["start"]
            stream.write(f"\r{words}: {done} of {total}, {took:.0f} s{end}")
        elif tenth > state["tenth"]:
            stream.write(f"{words}: {done} of {total}\n")
        state["tenth"] = tenth
        stream.flush()

    return tell
