"""Figures of one notebook, drawn by two processes that leave each other what they have done."""

import json
import os
import time
from collections.abc import Callable, Iterable
from functools import wraps
from pathlib import Path
from typing import Any

from .blocks import Figure, Prose

#: Environment variable of the process that shows the figures: the folder where they meet.
FOLDER = "TRIALKIT_FIGURES"

_PATIENCE_S = 30.0
_LOOK_S = 0.004


def shared(draw: Callable) -> Callable:
    """
    Decorator: a figure that another process may have drawn already, from the same results.

    Without the folder that `FOLDER` names, the function is as it was.

    Parameters
    ----------
    draw : callable
        Takes the results; returns a figure, or the sentence that stands for it.

    Returns
    -------
    callable
    """

    @wraps(draw)
    def made(results: Any, **options: Any) -> Any:
        folder = os.environ.get(FOLDER)
        if not folder or options:
            return draw(results, **options)
        place = Path(folder) / draw.__name__
        found = None if _is_mine(place) else _left_at(place)
        return found or draw(results)

    return made


def draw_last_first(draw: Iterable[Callable], results: Any, folder: Path) -> None:
    """
    Draw what nobody has begun, the last first, until the two processes meet.

    Parameters
    ----------
    draw : iterable of callable
        The functions of the figures in the order of the notebook.
    results : Results
    folder : pathlib.Path
        Where they meet.
    """
    for one in reversed(list(draw)):
        place = folder / one.__name__
        if _is_mine(place):
            _leave(place, one(results))


def _is_mine(place: Path) -> bool:
    """Whether this process is the first to ask for a figure."""
    try:
        place.touch(exist_ok=False)
    except FileExistsError:
        return False
    return True


def _leave(place: Path, piece: Figure | Prose) -> None:
    """Leave a figure where the other process finds it whole or not at all."""
    unfinished = place.with_suffix(".unfinished")
    unfinished.write_text(json.dumps(piece.to_json()), encoding="utf-8")
    unfinished.replace(place.with_suffix(".json"))


def _left_at(place: Path) -> Figure | Prose | None:
    """What the other process has left; None if nothing comes."""
    file, until = place.with_suffix(".json"), time.monotonic() + _PATIENCE_S
    while not file.exists():
        if time.monotonic() > until:
            return None
        time.sleep(_LOOK_S)
    block = json.loads(file.read_text(encoding="utf-8"))
    kind = block.pop("kind")
    return Figure(**block) if kind == "figure" else Prose(**block)
