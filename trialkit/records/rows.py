"""Columns as plain arrays with quick grouping, for rules that look at many groups.

A rule that groups a few thousand rows ten times over spends its time in a frame's bookkeeping,
not in its sums; on arrays the same rule takes a hundredth.
"""

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import pandas as pd

# Groups are numbered by counting where their combined codes stay within so many a row.
_SPREAD = 8
# Of so few texts a dictionary knows sooner than pandas which are equal.
_FEW = 1000
# Looked up once: a type given by its name is looked up for every column.
_TEXT = pd.api.types.pandas_dtype("str")


def _coded(values: np.ndarray) -> tuple[np.ndarray, Sequence]:
    """Codes from 0 for the values of a column, and the values; those missing are one of them."""
    if values.dtype == object and len(values) < _FEW:
        numbers: dict[object, int] = {}
        codes = [numbers.setdefault(value, len(numbers)) for value in values]
        return np.array(codes, np.int64), list(numbers)
    codes, distinct = pd.factorize(values)
    if (codes < 0).any():
        return codes + 1, [None, *distinct]
    return codes, distinct


def text_column(values: list | np.ndarray) -> pd.api.extensions.ExtensionArray:
    """Texts as a frame's column."""
    return pd.array(values, dtype=_TEXT)


class Rows:
    """Columns of equal length, of which some rows can be taken without copying them all.

    Parameters
    ----------
    columns : dict of ndarray
        By name.
    """

    def __init__(self, columns: dict[str, np.ndarray]):
        self._own = dict(columns)
        self._names = tuple(columns)
        self._codings: dict[str, tuple[np.ndarray, Sequence]] = {}
        self._added: tuple[str, ...] = ()
        self._source: Rows | None = None
        self._chosen: np.ndarray | None = None
        self._frame: pd.DataFrame | None = None

    @classmethod
    def of(cls, frame: pd.DataFrame) -> "Rows":
        """The columns of a frame."""
        rows = cls({})
        rows._names, rows._frame = tuple(frame.columns), frame
        return rows

    def frame(self) -> pd.DataFrame:
        """The columns as a frame, those of objects as texts."""
        if self._frame is None:
            columns = {
                name: text_column(column) if column.dtype == object else column
                for name, column in self.columns.items()
            }
            self._frame = pd.DataFrame(columns)
        return self._frame

    @property
    def columns(self) -> dict[str, np.ndarray]:
        """All columns, by name."""
        return {name: self[name] for name in self._names}

    def __getitem__(self, name: str) -> np.ndarray:
        if name not in self._own:
            if self._source is not None:
                self._own[name] = self._source[name][self._chosen]
            elif self._frame is not None:
                self._own[name] = self._frame[name].to_numpy()
        return self._own[name]

    def __len__(self) -> int:
        return len(self[self._names[0]])

    def codes(self, name: str) -> np.ndarray:
        """Whole numbers from 0 that stand for the values of a column."""
        return self._coding(name)[0]

    def ranks(self, name: str) -> np.ndarray:
        """Whole numbers that stand for the texts of a column, in their order."""
        codes, values = self._coding(name)
        ranks = np.empty(len(values), np.int64)
        ranks[sorted(range(len(values)), key=values.__getitem__)] = np.arange(len(values))
        return ranks[codes]

    def _coding(self, name: str) -> tuple[np.ndarray, Sequence]:
        """The codes of a column, and the values that they stand for."""
        if name not in self._codings:
            if self._source is None or name in self._added:
                self._codings[name] = _coded(self[name])
            else:
                codes, values = self._source._coding(name)
                self._codings[name] = codes[self._chosen], values
        return self._codings[name]

    def _span(self, name: str) -> int:
        """How many values a column has, or that of the rows which these were taken from."""
        rows = self
        while rows._source is not None and name not in rows._added:
            rows = rows._source
        return len(rows._coding(name)[1])

    def ids(self, *names: str) -> np.ndarray:
        """The group of each row, numbered from 0, groups being equal in all named columns."""
        combined, size = np.zeros(len(self), np.int64), 1
        for name in names:
            span = self._span(name)
            if span > 1:
                combined, size = combined * span + self.codes(name), size * span
        if size > _SPREAD * len(self):
            return np.unique(combined, return_inverse=True)[1]
        present = np.zeros(size, bool)
        present[combined] = True
        return (np.cumsum(present) - 1)[combined]

    def take(self, chosen: np.ndarray) -> "Rows":
        """Some of the rows, by mask or by index."""
        part = Rows({})
        part._names, part._source, part._chosen = self._names, self, chosen
        return part

    def with_column(self, name: str, values: np.ndarray) -> "Rows":
        """The same rows with one column more."""
        wider = self.take(np.s_[:])
        wider._names = tuple(dict.fromkeys((*self._names, name)))
        wider._added, wider._own = (name,), {name: values}
        return wider

    def split(self, *names: str) -> list["Rows"]:
        """The rows of each group, in order of first appearance of the values."""
        ids = self.ids(*names)
        return [self.take(index) for index in group_indices(ids)]


def group_indices(ids: np.ndarray) -> list[np.ndarray]:
    """The rows of each group, in their order."""
    order = np.argsort(ids, kind="stable")
    ends = np.cumsum(np.bincount(ids)).tolist()
    return [order[start:end] for start, end in pairwise([0, *ends]) if start < end]


def group_sizes(ids: np.ndarray) -> np.ndarray:
    """For each row the size of its group."""
    return np.bincount(ids)[ids] if len(ids) else ids


def group_quantile(ids: np.ndarray, values: np.ndarray, share: float) -> np.ndarray:
    """For each row a quantile (an observed value) of its group; NaN are the largest.

    Examples
    --------
    >>> group_quantile(np.array([0, 0, 0, 1]), np.array([3.0, 1.0, 2.0, 9.0]), 0.5).tolist()
    [2.0, 2.0, 2.0, 9.0]
    """
    if not len(ids):
        return values
    order = np.lexsort((values, ids))
    sizes = np.bincount(ids)
    starts = np.cumsum(sizes) - sizes
    picked = starts + np.floor(share * (sizes - 1) + 1e-9).astype(int)
    return values[order][picked][ids]


def group_median(ids: np.ndarray, values: np.ndarray, groups: int) -> np.ndarray:
    """The median of each group, NaN for one without values.

    Examples
    --------
    >>> group_median(np.array([0, 0, 2]), np.array([1.0, 4.0, 7.0]), 3).tolist()
    [2.5, nan, 7.0]
    """
    ordered = values[np.lexsort((values, ids))]
    sizes = np.bincount(ids, minlength=groups)
    present, starts = sizes > 0, np.cumsum(sizes) - sizes
    medians = np.full(groups, np.nan)
    low, high = starts + (sizes - 1) // 2, starts + sizes // 2
    medians[present] = (ordered[low[present]] + ordered[high[present]]) / 2
    return medians


def others_span(ids: np.ndarray, values: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """For each row the least and greatest value of the other rows of its group; NaN alone.

    Examples
    --------
    >>> low, high = others_span(np.array([0, 0, 0]), np.array([1.0, 5.0, 2.0]))
    >>> low.tolist(), high.tolist()
    ([2.0, 1.0, 1.0], [5.0, 2.0, 5.0])
    """
    order = np.lexsort((values, ids))
    ordered, sizes = values[order], np.bincount(ids)
    starts = np.cumsum(sizes) - sizes
    rank = np.arange(len(ids)) - starts[ids[order]]
    last = sizes[ids[order]] - 1
    begin = starts[ids[order]]
    alone = last == 0
    low = ordered[np.where(alone, begin, np.where(rank == 0, begin + 1, begin))]
    end = begin + last
    high = ordered[np.where(alone, end, np.where(rank == last, end - 1, end))]
    out_low, out_high = np.empty(len(ids)), np.empty(len(ids))
    out_low[order] = np.where(alone, np.nan, low)
    out_high[order] = np.where(alone, np.nan, high)
    return out_low, out_high


def runs_of(flags: np.ndarray) -> list[tuple[int, int]]:
    """Start and end (excluded) of each run of True.

    Examples
    --------
    >>> runs_of(np.array([True, True, False, True]))
    [(0, 2), (3, 4)]
    """
    edges = (np.flatnonzero(flags[1:] != flags[:-1]) + 1).tolist()
    begins = [0] if flags[:1].any() else []
    ends = [len(flags)] if flags[-1:].any() else []
    edges = begins + edges + ends
    return list(zip(edges[::2], edges[1::2], strict=True))
