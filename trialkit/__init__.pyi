from .stats.estimate import Estimate as Estimate
from .stats.estimate import proportion_exact as proportion_exact
from .stats.turnbull import TurnbullFit as TurnbullFit
from .stats.turnbull import fit_turnbull as fit_turnbull

__all__ = [
    "Estimate",
    "TurnbullFit",
    "fit_turnbull",
    "proportion_exact",
]
