"""How far group sums of scores lie from what chance expects."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import stats


@dataclass(frozen=True)
class Measure:
    """How far sums of scores lie from what chance expects."""

    inverse: np.ndarray
    rank: int
    deviation: float

    @classmethod
    def of(cls, covariance: np.ndarray) -> Measure:
        inverse = np.linalg.pinv(covariance, rcond=1e-9, hermitian=True)
        rank = int(np.linalg.matrix_rank(covariance, hermitian=True, tol=1e-9))
        return cls(inverse, rank, float(np.sqrt(covariance[0, 0])))

    def distance(self, sums: np.ndarray) -> np.ndarray:
        return np.einsum("...i,ij,...j->...", sums, self.inverse, sums)

    def tails(self, sums, weights, observed) -> list[float]:
        """Shares of shuffles at least as far out: both tails for two groups, else the one."""
        total = weights.sum()
        if len(observed) > 2:
            far, limit = self.distance(sums), float(self.distance(observed))
            return [weights[far >= limit - 1e-6 * max(limit, 1.0)].sum() / total]
        slack = 1e-7 * max(np.abs(sums[:, 0]).max(), 1e-12)
        low = weights[sums[:, 0] <= observed[0] + slack].sum() / total
        high = weights[sums[:, 0] >= observed[0] - slack].sum() / total
        return [low, high]

    def large_sample(self, observed) -> tuple[float, float, float]:
        """Statistic, z or chi-square, and the p-value of the large-sample curve."""
        if self.rank == 0:  # all scores equal within blocks: nothing to tell
            return 0.0, 0.0, 1.0
        if len(observed) == 2:
            z = float(observed[0]) / self.deviation
            return float(observed[0]), z, float(2 * stats.norm.sf(abs(z)))
        chi2 = float(self.distance(observed))
        return chi2, chi2, float(stats.chi2.sf(chi2, self.rank))
