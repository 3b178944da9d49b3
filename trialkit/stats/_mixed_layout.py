"""Intervals of many clusters, sorted so that sums over a cell or a cluster are slices.

A cell is one group within one cluster. Ends are on the log scale; an open end stands as a number
so far away that no probability is left beyond it, which spares every formula its own branch.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

FAR = 1e4  # log time beyond every distribution
NARROW = 1e-6  # log width under which an interval is a point


@dataclass(frozen=True, eq=False)
class Layout:
    """Sorted intervals with their cells and clusters.

    Parameters
    ----------
    low, high, weight : numpy.ndarray, shape (n,)
        Log ends and multiplicity of each different interval of a cell.
    exact : numpy.ndarray of bool, shape (n,)
        Whether the interval is a point.
    cell : numpy.ndarray of int, shape (n,)
        Cell of each interval, rising.
    cell_start, cell_group, cell_cluster : numpy.ndarray of int, shape (c,)
        First interval, group and cluster of each cell.
    cluster_start : numpy.ndarray of int, shape (k,)
        First cell of each cluster.
    """

    low: np.ndarray
    high: np.ndarray
    weight: np.ndarray
    exact: np.ndarray
    cell: np.ndarray
    cell_start: np.ndarray
    cell_group: np.ndarray
    cell_cluster: np.ndarray
    cluster_start: np.ndarray

    @property
    def n_cluster(self) -> int:
        return len(self.cluster_start)

    def by_cluster(self, of_cell: np.ndarray, n_group: int) -> np.ndarray:
        """A value of each cell as a table, clusters down and groups across; 0 without a cell."""
        table = np.zeros((self.n_cluster, n_group))
        table[self.cell_cluster, self.cell_group] = of_cell
        return table

    def pieces(self, most: int) -> Iterator[tuple[slice, slice, Layout]]:
        """Runs of whole clusters with about `most` intervals: their clusters, cells, layout."""
        first_interval = np.append(self.cell_start[self.cluster_start], len(self.low))
        begin = 0
        while begin < self.n_cluster:
            wanted = first_interval[begin] + most
            end = max(begin + 1, int(np.searchsorted(first_interval, wanted, side="right")) - 1)
            yield self._piece(begin, min(end, self.n_cluster))
            begin = end

    def _piece(self, begin: int, end: int) -> tuple[slice, slice, Layout]:
        cell_edge = np.append(self.cluster_start, len(self.cell_start))
        cells = slice(cell_edge[begin], cell_edge[end])
        edge = np.append(self.cell_start, len(self.low))
        rows = slice(edge[cells.start], edge[cells.stop])
        return (
            slice(begin, end),
            cells,
            replace(
                self,
                low=self.low[rows],
                high=self.high[rows],
                weight=self.weight[rows],
                exact=self.exact[rows],
                cell=self.cell[rows] - cells.start,
                cell_start=self.cell_start[cells] - rows.start,
                cell_group=self.cell_group[cells],
                cell_cluster=self.cell_cluster[cells] - begin,
                cluster_start=self.cluster_start[begin:end] - cells.start,
            ),
        )


def lay_out(left: np.ndarray, right: np.ndarray, group: np.ndarray, cluster: np.ndarray) -> Layout:
    """The layout of intervals (left, right] with whole-number group and cluster codes.

    The order in which intervals come makes no difference, to the last bit.

    Parameters
    ----------
    left, right : numpy.ndarray, shape (n,)
        Ends on the time scale, 0 and inf when open; those that say nothing must be gone.
    group, cluster : numpy.ndarray of int, shape (n,)
        Codes.
    """
    with np.errstate(divide="ignore"):
        low, high = np.log(left), np.log(right)
    rows = np.column_stack([cluster, group, low, high])
    rows, weight = np.unique(rows, axis=0, return_counts=True)
    cells, cell_start, cell = np.unique(rows[:, :2], axis=0, return_index=True, return_inverse=True)
    _, cluster_start, cell_cluster = np.unique(cells[:, 0], return_index=True, return_inverse=True)
    low, high = np.clip(rows[:, 2], -FAR, None), np.clip(rows[:, 3], None, FAR)
    exact = high - low < NARROW
    return Layout(
        low=np.where(exact, (low + high) / 2, low),
        high=np.where(exact, (low + high) / 2, high),
        weight=weight.astype(float),
        exact=exact,
        cell=cell.ravel(),
        cell_start=cell_start,
        cell_group=cells[:, 1].astype(int),
        cell_cluster=cell_cluster.ravel(),
        cluster_start=cluster_start,
    )
