"""Runs the blocks of a document in order, as its reader would.

A block of console holds commands after ``$`` and, below each, what it prints; ``...`` stands for
what may be otherwise. A block of Python runs. Any other block whose first line is a comment with a
file name is written to that file.
"""

import contextlib
import io
import re
import shlex
import shutil
import sys
from dataclasses import dataclass
from pathlib import Path
from unittest import mock

from trialkit.cli import run

BLOCK = re.compile(r"^```(\w+)\n(.*?)^```$", re.MULTILINE | re.DOTALL)
NAME = re.compile(r"# ([\w./-]+)\n")
# The nonce that hides a key is drawn anew each time; here it is not, so that numbers can be shown.
NONCE = "5ea1ab1e0ddba11c0de5a17ca5cade42"


@dataclass(frozen=True)
class Step:
    """One command with what the document says it prints and what it did print."""

    command: str
    said: str
    printed: str
    code: int

    @property
    def holds(self):
        """Whether what was printed is what the document says."""
        wild = [
            re.escape(part.strip()) for part in re.split(r"^\.\.\.$|\.\.\.", self.said, flags=re.M)
        ]
        return (
            re.fullmatch(r"\s*" + r".*?".join(wild) + r"\s*", self.printed, re.DOTALL) is not None
        )


def run_document(path, place):
    """The commands of a document, each run below `place`."""
    steps, names, text = [], {}, Path(path).resolve().read_text(encoding="utf-8")
    with contextlib.chdir(place), mock.patch("secrets.token_hex", return_value=NONCE):
        for language, block in BLOCK.findall(text):
            file = NAME.match(block)
            if language == "console":
                steps += [_command(*told) for told in _commands(block)]
            elif language == "python":
                exec(compile(block, str(path), "exec"), names)
            elif file:
                Path(file.group(1)).write_text(block[file.end() :], encoding="utf-8")
    return steps


def _commands(text):
    """Each command of a console block with the lines below it."""
    for told in re.split(r"^\$ ", text, flags=re.MULTILINE)[1:]:
        command, _, said = told.partition("\n")
        yield command, said


def _command(command, said):
    program, *arguments = shlex.split(command)
    out = io.StringIO()
    with (
        contextlib.redirect_stdout(out),
        contextlib.redirect_stderr(io.StringIO() if program != "trialkit" else _Refusals(out)),
    ):
        code = 0
        if program == "trialkit":
            code = run(arguments)
        elif program == "mv":
            *sources, target = arguments
            for source in sources:
                shutil.move(source, target)
        else:
            raise AssertionError(f"the document uses a command that its test can't run: {program}")
    return Step(command, said, out.getvalue(), code)


class _Refusals(io.TextIOBase):
    """What goes to stderr belongs to what a person sees, but for lines that count up."""

    def __init__(self, out):
        self.out = out

    def write(self, text):
        if not re.match(r"(simulating|running|reading)", text):
            self.out.write(text)
        return len(text)


if __name__ == "__main__":
    for step in run_document(sys.argv[1], sys.argv[2]):
        held = "" if step.holds else ", NOT AS SAID"
        print(f"$ {step.command}   [{step.code}{held}]\n{step.printed}")
