"""Whether a set of outcomes has finite maximum-likelihood estimates at all."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.optimize import linprog

from trialkit.stats.shown import Shown

TOLERANCE = 1e-6  # of a coefficient kept within -1..1


@dataclass(frozen=True)
class Separation(Shown):
    """Which terms of a logistic model the data push to infinity.

    Attributes
    ----------
    separated : bool
        True when at least one maximum-likelihood estimate does not exist.
    directions : dict of str to str
        Term to "finite", "+inf", "-inf", or "either side" (infinite, but the data
        don't say on which side).
    """

    separated: bool
    directions: dict[str, str]

    @property
    def infinite(self) -> dict[str, str]:
        """The terms without a finite estimate, with the infinity they run to."""
        return {term: side for term, side in self.directions.items() if side != "finite"}

    def __str__(self) -> str:
        if not self.separated:
            return "no separation: every maximum-likelihood estimate is finite"
        named = ", ".join(f"{term} ({side})" for term, side in self.infinite.items())
        return f"separation: the outcome is foretold without error, no finite estimate for {named}"


def find_separation(design, outcome, terms) -> Separation:
    """The terms that separate the outcomes, found by linear programming before any fit.

    An iterative fit under separation stops somewhere on its way to infinity and reports
    a small standard error; so the question is asked first.

    Parameters
    ----------
    design : array_like, shape (n, k)
        Full design matrix, the constant included where the model has one.
    outcome : array_like, shape (n,)
        0 or 1.
    terms : sequence of str, length k
        Names of the columns.

    Returns
    -------
    Separation

    Raises
    ------
    ValueError
        When a column of the design is a combination of the others.

    References
    ----------
    Albert A, Anderson JA (1984). Biometrika 71, 1-10.
    Konis K (2007). Linear programming algorithms for detecting separated data in binary
    logistic regression models. DPhil thesis, University of Oxford.

    Examples
    --------
    >>> print(find_separation([[1, 0], [1, 0], [1, 1], [1, 1]], [0, 1, 1, 1], ["const", "mix B"]))
    separation: the outcome is foretold without error, no finite estimate for mix B (+inf)
    """
    design, outcome = np.asarray(design, float), np.asarray(outcome, float)
    rank = np.linalg.matrix_rank(design)
    if rank < design.shape[1]:
        raise ValueError(f"the columns of the design overlap: {design.shape[1]}, of rank {rank}.")
    cone = np.unique((2 * outcome - 1)[:, None] * design, axis=0)
    if np.abs(_farthest(cone, cone.sum(axis=0))).max() <= TOLERANCE:
        return Separation(False, dict.fromkeys(terms, "finite"))
    sides = [_side(cone, index) for index in range(design.shape[1])]
    return Separation(True, dict(zip(terms, sides, strict=True)))


def _farthest(cone, goal) -> np.ndarray:
    """Coefficients within -1..1, best for a goal, by which no row's likelihood falls."""
    return linprog(-goal, A_ub=-cone, b_ub=np.zeros(len(cone)), bounds=(-1, 1)).x


def _side(cone, index: int) -> str:
    """Where one coefficient can go without any row's likelihood falling (cone @ beta >= 0).

    Asked of each by itself: one optimum of the programme need not be the only one, and of 0 in 4
    against 4 in 4 it may name the difference and not the level.
    """
    goal = np.eye(cone.shape[1])[index]
    up = _farthest(cone, goal)[index] > TOLERANCE
    down = _farthest(cone, -goal)[index] < -TOLERANCE
    if up and down:
        return "either side"
    return "+inf" if up else "-inf" if down else "finite"
