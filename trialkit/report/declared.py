"""Whether criteria and claims were declared before the first reading, in words."""

from typing import Any

from .blocks import Prose


def declared_words(results: Any) -> Prose:
    """
    What the seal shows about the plan and the key.

    Parameters
    ----------
    results : Results
        With `declared` in its meta data, the sentence that `check_seal` gives.

    Returns
    -------
    Prose
    """
    return Prose(results.meta.get("declared") or "Whether the plan was sealed was not checked.")
