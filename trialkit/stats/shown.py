"""How a result shows itself: its sentence, in a notebook over its table."""

import re
from dataclasses import fields
from html import escape

_MOST_ROWS = 20


class Shown:
    """Gives a result a short look at a prompt and a rich one in notebooks.

    A class that holds whole frames or batches leaves its ``__repr__`` to this one.
    """

    def __repr__(self) -> str:
        return f"<{type(self).__name__}: {_sentence(self)}>"

    def _repr_html_(self) -> str:
        frame = self.tidy() if hasattr(self, "tidy") else _scalars(self)
        looks = {"index": False, "border": 0, "max_rows": _MOST_ROWS, "float_format": _short}
        table = frame.to_html(**looks) if len(frame) else ""
        return f"<p>{escape(_sentence(self))}</p>{table}"


def _sentence(result: object) -> str:
    """What the result says of itself, or the words of its name."""
    if type(result).__str__ is not object.__str__:
        return str(result)
    return re.sub(r"(?<!^)(?=[A-Z])", " ", type(result).__name__).capitalize()


def _short(value: float) -> str:
    return f"{value:.4g}".replace("inf", "∞").replace("-", "−")


def _scalars(result: object):
    """The plain values of a result in one row; what holds many values is left to its methods."""
    import pandas as pd

    found = {field.name: getattr(result, field.name) for field in fields(result)}
    plain = {
        name: value
        for name, value in found.items()
        if isinstance(value, bool | int | float | str) and not name.startswith("_")
    }
    return pd.DataFrame([plain] if plain else [])
