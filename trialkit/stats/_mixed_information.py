"""What the data of a clustered fit know about locations, and about the spreads.

A censored time stands as a point with extra noise: an interval that keeps the share e of the
information on its location has the variance sigma^2 / e, of which sigma^2 (1 / e - 1) is counted
as noise of reading, fixed while sigma varies. With points this is the exact theory of the linear
mixed model, so that the penalty below is restricted maximum likelihood (Harville 1977) and the
degrees of freedom are Satterthwaite's (Giesbrecht & Burns 1985).

References
----------
Giesbrecht, F. G. & Burns, J. C. (1985). Biometrics 41, 477-486.
Harville, D. A. (1977). Journal of the American Statistical Association 72, 320-338.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ._mixed_layout import Layout

_MOST = 200_000  # numbers in one padded array


@dataclass(frozen=True, eq=False)
class Working:
    """A layout with the noise of reading of each interval, in squared log units."""

    layout: Layout
    noise: np.ndarray

    @classmethod
    def of(cls, layout: Layout, known: np.ndarray, sigma: float) -> Working:
        """The working data of intervals that keep the share `known` of their information."""
        with np.errstate(divide="ignore"):
            return cls(layout, sigma**2 * (1 / known - 1))

    def usual_noise(self, sigma2: float) -> float:
        """Noise of reading of an interval that knows as much as all do on average."""
        weight = self.layout.weight
        return float(weight.sum() / (weight / (sigma2 + self.noise)).sum() - sigma2)

    def information(self, variances: np.ndarray, n_group: int) -> np.ndarray:
        """Information matrix of the locations, shape (g, g), at sigma^2, omega^2, tau^2."""
        table, shared = self.told(variances, n_group)
        return np.diag(table.sum(axis=0)) - (table * shared[:, None]).T @ table

    def of_clusters(self, variances: np.ndarray, n_group: int) -> np.ndarray:
        """What each cluster adds to the information matrix, shape (k, g, g)."""
        table, shared = self.told(variances, n_group)
        alone = table[:, :, None] * np.eye(n_group)
        return alone - (table * shared[:, None])[:, :, None] * table[:, None, :]

    def told(self, variances: np.ndarray, n_group: int):
        """What each cell tells of its location, clusters down, and what their shift takes off."""
        layout = self.layout
        kappa = np.add.reduceat(layout.weight / (variances[0] + self.noise), layout.cell_start)
        table = layout.by_cluster(kappa / (1 + variances[1] * kappa), n_group)
        return table, variances[2] / (1 + variances[2] * table.sum(axis=1))

    def penalty(self, variances: np.ndarray, n_group: int) -> float:
        """What restricted likelihood adds to the likelihood."""
        return -0.5 * float(np.linalg.slogdet(self.information(variances, n_group))[1])

    def spread_covariance(self, variances: np.ndarray, n_group: int, free: list[int]):
        """Covariance of the estimates of the variances in `free` (0 sigma^2, 1 omega^2, 2 tau^2).

        The inverse of the expected restricted information, tr(P V_a P V_b) / 2.
        """
        inner = np.zeros((3, 3))
        once = np.zeros((3, n_group, n_group))
        twice = np.zeros((3, 3, n_group, n_group))
        for block in self._blocks():
            inverse, parts, design = block.matrices(variances, n_group)
            solved = inverse[:, None] @ parts
            right = inverse @ design
            pressed = np.swapaxes(right, 1, 2)[:, None] @ parts
            once += (pressed @ right[:, None]).sum(axis=0)
            for b in range(3):
                inner[:, b] += np.einsum("kaij,kji->a", solved, solved[:, b])
                twice[:, b] += (pressed @ (solved[:, b] @ right)[:, None]).sum(axis=0)
        cov = np.linalg.pinv(self.information(variances, n_group))
        across = np.einsum("ij,ajk,kl,bli->ab", cov, once, cov, once)
        info = 0.5 * (inner - 2 * np.einsum("ij,abji->ab", cov, twice) + across)
        return np.linalg.pinv(info[np.ix_(free, free)])

    def _blocks(self):
        """The intervals again, one row each, a padded table of clusters at a time."""
        layout = self.layout
        times = layout.weight.astype(int)
        cell = np.repeat(layout.cell, times)
        noise = np.repeat(self.noise, times)
        cluster = layout.cell_cluster[cell]
        size = np.bincount(cluster, minlength=layout.n_cluster)
        start = np.cumsum(size) - size
        # Clusters of about one size together, so that a large one doesn't widen all the others.
        order = np.argsort(size, kind="stable")
        begin = 0
        while begin < len(order):
            end = begin + max(1, _MOST // int(size[order[begin]] + 8) ** 2)
            end = min(end, int(np.searchsorted(size[order], 2 * size[order[begin]] + 8)))
            chosen = order[begin : max(end, begin + 1)]
            inside = np.arange(size[chosen].max())
            at = np.minimum(start[chosen][:, None] + inside, len(cell) - 1)
            real = inside < size[chosen][:, None]
            yield _Block(np.where(real, noise[at], np.inf), cell[at], layout.cell_group[cell[at]])
            begin = max(end, begin + 1)


@dataclass(frozen=True, eq=False)
class _Block:
    """Clusters padded to one size, shape (cluster, interval); padding has infinite noise."""

    noise: np.ndarray
    cell: np.ndarray
    group: np.ndarray

    def matrices(self, variances: np.ndarray, n_group: int):
        """Inverse covariance, its derivatives by the variances, and the design."""
        sigma2, omega2, tau2 = variances
        kappa = 1 / (sigma2 + self.noise)
        same = (self.cell[:, :, None] == self.cell[:, None, :]).astype(float)
        n = kappa.shape[1]
        parts = np.stack([np.broadcast_to(np.eye(n), same.shape), same, np.ones_like(same)], axis=1)
        # (K^-1 + U)^-1 = K (I + U K)^-1 holds for the zeros of the padding as well.
        mixed = np.eye(n) + (omega2 * same + tau2) * kappa[:, None, :]
        inverse = kappa[:, :, None] * np.linalg.inv(mixed)
        design = (self.group[:, :, None] == np.arange(n_group)).astype(float)
        return inverse, parts, design
