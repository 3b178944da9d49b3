"""Locations of a clustered fit without each cluster in turn, by one step of Newton's method."""

from __future__ import annotations

import numpy as np

from ._mixed_fit import Search, variances
from ._mixed_information import Working
from ._mixed_quadrature import adapt, evaluate


def one_step_without(search: Search, location: np.ndarray, theta: np.ndarray) -> np.ndarray:
    """Locations without each cluster, shape (cluster, group), the spreads left as they are.

    At the maximum the slopes of all clusters add up to 0; without one, what is left has minus its
    slope, and the information that is left says how far that moves the locations.

    Parameters
    ----------
    search : Search
        At its end.
    location : numpy.ndarray, shape (g,)
        Locations found.
    theta : numpy.ndarray
        All parameters found.
    """
    spread = search.spread(theta)
    size, n_group = variances(spread), len(location)
    whole = search.working.information(size, n_group)
    moved, row = [], 0
    for *_, piece in search.layout.pieces(1):
        nodes = adapt(piece, location, spread, search.points)
        slope = evaluate(piece, location, spread, nodes)[1][:n_group]
        noise = search.working.noise[row : row + len(piece.low)]
        row += len(piece.low)
        rest = whole - Working(piece, noise).information(size, n_group)
        moved.append(location - np.linalg.pinv(rest, hermitian=True) @ slope)
    return np.array(moved)
