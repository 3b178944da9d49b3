"""What stands in the place of a figure or table whose question a trial did not ask."""

from collections.abc import Callable
from functools import wraps
from typing import Any

from .blocks import Prose


def needs(
    table: str, label: str, otherwise: str, *, told: bool = False
) -> Callable[[Callable], Callable]:
    """
    Decorator: a sentence instead of an empty figure or table.

    Parameters
    ----------
    table : str
        The table of the results that must have rows.
    label : str
        Label of the piece, which references may still name.
    otherwise : str
        The sentence.
    told : bool
        Whether a printed report has the sentence too, since no other words of the section say it.

    Returns
    -------
    callable

    Examples
    --------
    >>> @needs("claims", "claims", "No claim was declared.")
    ... def claims_table(results):
    ...     return "a table"
    >>> claims_table({})
    No claim was declared.
    """

    def wrap(make: Callable) -> Callable:
        @wraps(make)
        def made(results: Any, **options: Any) -> Any:
            if table not in results or not len(results[table]):
                return Prose(otherwise, label, told)
            return make(results, **options)

        return made

    return wrap
