from .analysis.balance import add_covariates as add_covariates
from .analysis.balance import check_balance as check_balance
from .analysis.balance import vessel_covariates as vessel_covariates
from .stats.estimate import Estimate as Estimate
from .stats.estimate import proportion_exact as proportion_exact
from .stats.multiplicity import adjust_p_values as adjust_p_values
from .stats.multiplicity import compact_letters as compact_letters
from .stats.multiplicity import tukey_pairs as tukey_pairs
from .stats.permutation import PermutationTest as PermutationTest
from .stats.permutation import permutation_test as permutation_test
from .stats.permutation import smallest_p_value as smallest_p_value
from .stats.scores import interval_scores as interval_scores
from .stats.turnbull import TurnbullFit as TurnbullFit
from .stats.turnbull import fit_turnbull as fit_turnbull

__all__ = [
    "Estimate",
    "PermutationTest",
    "TurnbullFit",
    "add_covariates",
    "adjust_p_values",
    "check_balance",
    "compact_letters",
    "fit_turnbull",
    "interval_scores",
    "permutation_test",
    "proportion_exact",
    "smallest_p_value",
    "tukey_pairs",
    "vessel_covariates",
]
