"""Locations of a clustered fit without each cluster in turn, by one step of Newton's method."""

from __future__ import annotations

import numpy as np

from ._mixed_fit import Search, variances
from ._mixed_quadrature import adapt, slopes_of_cells

_PIECE = 2000  # intervals evaluated together


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
    spread, n_group = search.spread(theta), len(location)
    size = variances(spread)
    whole = search.working.information(size, n_group)
    slopes, layout = [], search.layout
    for *_, piece in layout.pieces(_PIECE):
        nodes = adapt(piece, location, spread, search.points)
        slopes.append(slopes_of_cells(piece, location, spread, nodes))
    slope = layout.by_cluster(np.concatenate(slopes), n_group)
    rest = whole - search.working.of_clusters(size, n_group)
    step = np.linalg.pinv(rest, hermitian=True) @ slope[:, :, None]
    return location - step[:, :, 0]
