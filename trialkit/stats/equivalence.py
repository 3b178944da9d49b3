"""Two one-sided tests of whether a mean difference is shown to be negligible."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike
from scipy.stats import t
from statsmodels.stats.weightstats import DescrStatsW

from .estimate import check_conf_level
from .shown import Shown


@dataclass(frozen=True)
class Equivalence(Shown):
    """Whether a mean difference lies within a margin.

    Attributes
    ----------
    estimate, conf_low, conf_high : float
        Mean difference; limits at `conf_level`.
    test_low, test_high : float
        Limits at 1 - 2 alpha: within the margin exactly when the tests reject.
    margin, conf_level, p_value : float
        Declared margin; level; larger of the two one-sided p values.
    n : int
        Independent differences.
    method : str
        How it was done, or why it could not be.
    """

    estimate: float
    conf_low: float
    conf_high: float
    test_low: float
    test_high: float
    margin: float
    conf_level: float
    p_value: float
    n: int
    method: str

    @property
    def decision(self) -> str:
        """What the tests settle: "equivalent", "different" or "not settled".

        Different is a mean difference whose whole interval lies beyond the margin.
        """
        if self.p_value < (1 - self.conf_level):
            return "equivalent"
        if self.conf_low > self.margin or self.conf_high < -self.margin:
            return "different"
        return "not settled"

    def tidy(self) -> pd.DataFrame:
        """One row: estimate, limits, margin, p_value, n, decision, method."""
        row = {name: value for name, value in vars(self).items() if not name.startswith("test_")}
        return pd.DataFrame([row | {"decision": self.decision}])


def equivalence_paired(
    differences: ArrayLike, margin: float, *, conf_level: float = 0.95, resolution: float = 0.0
) -> Equivalence:
    """Two one-sided t tests of paired differences against a margin.

    "Not significantly different" is no evidence of sameness; this is. Rounded readings can
    agree to the last digit and still differ: the standard deviation is not taken smaller
    than rounding alone makes it, resolution / sqrt(6) for a difference of two readings.

    Parameters
    ----------
    differences : array_like, shape (n,)
        One a unit of replication.
    margin : float
        Largest difference that does not matter, above 0.
    conf_level : float
        1 - alpha of each one-sided test and level of the interval given.
    resolution : float
        Smallest step of the instrument, 0 when not rounded.

    Returns
    -------
    Equivalence
        With fewer than two differences nothing is settled: p is 1, limits are infinite.

    Raises
    ------
    ValueError
        When the margin is not above 0.

    References
    ----------
    Schuirmann DJ (1987). Journal of Pharmacokinetics and Biopharmaceutics 15, 657-680.

    Examples
    --------
    >>> found = equivalence_paired([0.1, -0.1, 0.0, 0.1], 0.5)
    >>> found.decision, round(found.p_value, 4)
    ('equivalent', 0.0011)
    """
    check_conf_level(conf_level)
    differences = np.asarray(differences, float)
    if not margin > 0:
        raise ValueError(f"margin must be above 0; got {margin}.")
    n = differences.size
    middle = float(differences.mean()) if n else 0.0
    if n < 2:
        limits = (-np.inf, np.inf, -np.inf, np.inf)
        method = "one vessel or none: nothing can be tested"
        return Equivalence(middle, *limits, margin, conf_level, 1.0, n, method)
    floor, sd = resolution / np.sqrt(6), float(differences.std(ddof=1))
    if sd > floor:
        p_value, method = DescrStatsW(differences).ttost_mean(-margin, margin)[0], "t"
    else:
        sd = floor
        p_value, method = _floor_p(middle, margin, sd, n), "t, spread by rounding"
    error = sd / np.sqrt(n)
    reach, narrow = t.ppf([(1 + conf_level) / 2, conf_level], n - 1) * error
    return Equivalence(
        middle, float(middle - reach), float(middle + reach),
        float(middle - narrow), float(middle + narrow),
        margin, conf_level, float(p_value), n, f"two one-sided {method}",
    )  # fmt: skip


def _floor_p(middle: float, margin: float, sd: float, n: int) -> float:
    room = margin - abs(middle)
    if sd == 0:
        return 0.0 if room > 0 else 1.0
    return float(t.sf(room / (sd / np.sqrt(n)), n - 1))
