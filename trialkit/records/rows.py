"""Readings as plain arrays with quick grouping, for rules that look at many groups.

A rule that groups a few thousand rows ten times over spends its time in a frame's bookkeeping,
not in its sums; on arrays the same rule takes a hundredth.
"""

import numpy as np
import pandas as pd

# Groups are numbered by counting where their combined codes stay within so many a row.
_SPREAD = 8
# Looked up once: a type given by its name is looked up for every column.
_TEXT = pd.api.types.pandas_dtype("str")


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
        self._codes: dict[str, np.ndarray] = {}
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
        """Whole numbers that stand for the values of a column."""
        if name not in self._codes:
            source = self._source
            self._codes[name] = (
                pd.factorize(self[name])[0] if source is None else source.codes(name)[self._chosen]
            )
        return self._codes[name]

    def ids(self, *names: str) -> np.ndarray:
        """The group of each row, numbered from 0, groups being equal in all named columns."""
        combined, size = np.zeros(len(self), np.int64), 1
        for name in names:
            codes = self.codes(name) + 1  # what is missing has -1
            span = int(codes.max(initial=0)) + 1
            combined, size = combined * span + codes, size * span
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
        wider._names, wider._own = (*self._names, name), {name: values}
        return wider

    def split(self, *names: str) -> list["Rows"]:
        """The rows of each group, in order of first appearance of the values."""
        ids = self.ids(*names)
        return [self.take(index) for index in group_indices(ids)]


def group_indices(ids: np.ndarray) -> list[np.ndarray]:
    """The rows of each group, in their order."""
    order = np.argsort(ids, kind="stable")
    edges = np.flatnonzero(np.diff(ids[order])) + 1
    return np.split(order, edges) if len(ids) else []


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
    edges = np.flatnonzero(np.diff(np.concatenate(([0], flags.astype(int), [0]))))
    return [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]
