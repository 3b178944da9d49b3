from .analysis.balance import add_covariates as add_covariates
from .analysis.balance import check_balance as check_balance
from .analysis.balance import vessel_covariates as vessel_covariates
from .records.check import check_trial as check_trial
from .records.kinds import KINDS as KINDS
from .records.kinds import ReadingKind as ReadingKind
from .records.read import read_trial as read_trial
from .records.trial import Claim as Claim
from .records.trial import Criterion as Criterion
from .records.trial import Protocol as Protocol
from .records.trial import Trial as Trial
from .records.trial import TrialDataError as TrialDataError
from .stats.aft import AftFit as AftFit
from .stats.aft import fit_aft as fit_aft
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
    "KINDS",
    "AftFit",
    "Claim",
    "Criterion",
    "Estimate",
    "PermutationTest",
    "Protocol",
    "ReadingKind",
    "Trial",
    "TrialDataError",
    "TurnbullFit",
    "add_covariates",
    "adjust_p_values",
    "check_balance",
    "check_trial",
    "compact_letters",
    "fit_aft",
    "fit_turnbull",
    "interval_scores",
    "permutation_test",
    "proportion_exact",
    "read_trial",
    "smallest_p_value",
    "tukey_pairs",
    "vessel_covariates",
]
