from .analysis.balance import add_covariates as add_covariates
from .analysis.balance import check_balance as check_balance
from .analysis.balance import vessel_covariates as vessel_covariates
from .analysis.before_after import quantity_changes as quantity_changes
from .analysis.borrowed_scale import borrowed_scale as borrowed_scale
from .analysis.borrowed_scale import scale_toml as scale_toml
from .analysis.claim_spread import claims_by_own_spread as claims_by_own_spread
from .analysis.claims import assess_claim as assess_claim
from .analysis.claims import assess_claims as assess_claims
from .analysis.clarity_kept import clarity_kept as clarity_kept
from .analysis.cleaning import cleaning_interval as cleaning_interval
from .analysis.clear_readings import clear_readings as clear_readings
from .analysis.clearing import clearing_intervals as clearing_intervals
from .analysis.comparison import compare_mixes as compare_mixes
from .analysis.comparison_plan import ComparisonPlan as ComparisonPlan
from .analysis.homogeneity import salinity_homogeneity as salinity_homogeneity
from .analysis.line_scores import line_scores as line_scores
from .analysis.mixing_time import recommend_mixing_time as recommend_mixing_time
from .analysis.overall import overall_difference as overall_difference
from .analysis.ranking import rank_mixes as rank_mixes
from .analysis.rater_alone import claims_by_rater as claims_by_rater
from .analysis.rater_alone import times_by_rater as times_by_rater
from .analysis.rater_drift import rater_drift as rater_drift
from .analysis.rater_intervals import intervals_by_rater as intervals_by_rater
from .analysis.raters import rater_agreement as rater_agreement
from .analysis.rerun import pool_trials as pool_trials
from .analysis.rerun_join import PoolingRules as PoolingRules
from .analysis.rerun_record import record_trial as record_trial
from .analysis.residue import residue_summary as residue_summary
from .analysis.residue_scores import residue_scores as residue_scores
from .analysis.results import Results as Results
from .analysis.results import read_results as read_results
from .analysis.results import write_results as write_results
from .analysis.sensitivity import sensitivity as sensitivity
from .analysis.sensitivity import sensitivity_summary as sensitivity_summary
from .analysis.storage import storage_change as storage_change
from .analysis.storage_results import storage_results as storage_results
from .analysis.storage_results import storage_tables as storage_tables
from .analysis.trial_results import trial_results as trial_results
from .analysis.uneven_spread import UnevenSpread as UnevenSpread
from .analysis.uneven_spread import uneven_spread as uneven_spread
from .bundle import bundle_trial as bundle_trial
from .own_table import ImportedTable as ImportedTable
from .own_table import import_table as import_table
from .panel import clearing_panel as clearing_panel
from .planning.incomplete import lay_out_blocks as lay_out_blocks
from .planning.plan import plan_trial as plan_trial
from .planning.power import PowerQuestion as PowerQuestion
from .planning.power import simulate_power as simulate_power
from .planning.preview import preview_plan as preview_plan
from .planning.preview import read_answers as read_answers
from .planning.preview import write_plan as write_plan
from .planning.schedule import propose_schedule as propose_schedule
from .planning.schedule import schedule_table as schedule_table
from .planning.seal import seal_trial as seal_trial
from .planning.seal_check import check_seal as check_seal
from .planning.simulate import fill_planned as fill_planned
from .planning.simulate import simulate_trial as simulate_trial
from .pool import describe_pool as describe_pool
from .pool import named_paths as named_paths
from .pool import pool_folders as pool_folders
from .records.check import check_trial as check_trial
from .records.export import write_readings as write_readings
from .records.kinds import KINDS as KINDS
from .records.kinds import ReadingKind as ReadingKind
from .records.problems import format_problems as format_problems
from .records.read import read_trial as read_trial
from .records.salinity import density_from_salinity as density_from_salinity
from .records.salinity import salinity_from_conductivity as salinity_from_conductivity
from .records.salinity import salinity_from_density as salinity_from_density
from .records.salinity import salinity_from_specific_gravity as salinity_from_specific_gravity
from .records.trial import Claim as Claim
from .records.trial import Criterion as Criterion
from .records.trial import Protocol as Protocol
from .records.trial import Trial as Trial
from .records.trial import TrialDataError as TrialDataError
from .records.workbook import write_workbook as write_workbook
from .report.balance_words import balance_words as balance_words
from .report.claim_words import claims_words as claims_words
from .report.condition_table import conditions_table as conditions_table
from .report.cover import answer as answer
from .report.curves import curve_figure as curve_figure
from .report.curves import forest_figure as forest_figure
from .report.decision_figures import claim_ratio_figure as claim_ratio_figure
from .report.decision_figures import ratio_figure as ratio_figure
from .report.decision_tables import claims_table as claims_table
from .report.decision_tables import rank_table as rank_table
from .report.decision_words import comparison_words as comparison_words
from .report.decisions import claims_figure as claims_figure
from .report.decisions import comparison_figure as comparison_figure
from .report.decisions import rank_figure as rank_figure
from .report.declared import declared_words as declared_words
from .report.definition_figure import definitions_figure as definitions_figure
from .report.definition_table import sensitivity_table as sensitivity_table
from .report.definition_words import sensitivity_words as sensitivity_words
from .report.document import ReportError as ReportError
from .report.figures import strip_figure as strip_figure
from .report.figures import vessel_figure as vessel_figure
from .report.looks import look_share_table as look_share_table
from .report.looks import look_table as look_table
from .report.looks import look_words as look_words
from .report.methods import methods as methods
from .report.one_time import one_time_words as one_time_words
from .report.own_spread import own_spread_table as own_spread_table
from .report.own_spread import own_spread_words as own_spread_words
from .report.pair_table import comparison_table as comparison_table
from .report.pooled_figures import pooled_figure as pooled_figure
from .report.pooled_tables import flags_table as flags_table
from .report.pooled_tables import influence_table as influence_table
from .report.pooled_tables import left_out_table as left_out_table
from .report.pooled_tables import pooled_answer as pooled_answer
from .report.pooled_tables import pooled_pairs_table as pooled_pairs_table
from .report.pooled_tables import pooled_spread_table as pooled_spread_table
from .report.pooled_tables import pooled_times_table as pooled_times_table
from .report.pooled_tables import pooled_trials_table as pooled_trials_table
from .report.pooled_tables import summary_pool_table as summary_pool_table
from .report.prose import findings as findings
from .report.prose import limits as limits
from .report.prose import reading_guide as reading_guide
from .report.provenance import criteria_table as criteria_table
from .report.provenance import input_table as input_table
from .report.provenance import mix_table as mix_table
from .report.provenance import problem_table as problem_table
from .report.provenance import version_table as version_table
from .report.punctuality import plan_figure as plan_figure
from .report.rater_figures import rater_figure as rater_figure
from .report.rater_pairs import rater_pair_figure as rater_pair_figure
from .report.rater_tables import agreement_table as agreement_table
from .report.rater_tables import rater_alone_table as rater_alone_table
from .report.rater_tables import rater_claims_table as rater_claims_table
from .report.rater_tables import rater_drift_table as rater_drift_table
from .report.rater_words import rater_words as rater_words
from .report.render import render_report as render_report
from .report.residue_tables import cleaning_table as cleaning_table
from .report.residue_tables import detection_table as detection_table
from .report.residue_tables import residue_pairs_table as residue_pairs_table
from .report.residue_tables import residue_table as residue_table
from .report.run import NotebookFailed as NotebookFailed
from .report.run import run_notebook as run_notebook
from .report.score_tables import look_score_table as look_score_table
from .report.score_tables import residue_score_table as residue_score_table
from .report.storage_figures import evenness_figure as evenness_figure
from .report.storage_figures import residue_figure as residue_figure
from .report.storage_series import salinity_figure as salinity_figure
from .report.storage_tables import changes_table as changes_table
from .report.storage_tables import clarity_change_table as clarity_change_table
from .report.storage_tables import dose_table as dose_table
from .report.storage_tables import drift_table as drift_table
from .report.storage_tables import evenness_table as evenness_table
from .report.storage_tables import evenness_times_table as evenness_times_table
from .report.storage_tables import kept_table as kept_table
from .report.storage_words import storage_answer as storage_answer
from .report.storage_words import storage_words as storage_words
from .report.tables import at_risk_table as at_risk_table
from .report.tables import fit_table as fit_table
from .report.tables import times_table as times_table
from .stats.aft import AftFit as AftFit
from .stats.aft import fit_aft as fit_aft
from .stats.agreement import gwet_agreement as gwet_agreement
from .stats.agreement import krippendorff_alpha as krippendorff_alpha
from .stats.agreement import weighted_kappa as weighted_kappa
from .stats.bland_altman import limits_of_agreement as limits_of_agreement
from .stats.components import variance_components as variance_components
from .stats.detection import detection_limits as detection_limits
from .stats.equivalence import equivalence_paired as equivalence_paired
from .stats.estimate import Estimate as Estimate
from .stats.estimate import proportion_exact as proportion_exact
from .stats.intraclass import intraclass_correlation as intraclass_correlation
from .stats.inverse_prediction import inverse_prediction as inverse_prediction
from .stats.logistic import fit_logistic as fit_logistic
from .stats.mixed_aft import MixedAftFit as MixedAftFit
from .stats.mixed_aft import fit_mixed_aft as fit_mixed_aft
from .stats.multiplicity import adjust_p_values as adjust_p_values
from .stats.multiplicity import compact_letters as compact_letters
from .stats.multiplicity import tukey_pairs as tukey_pairs
from .stats.nondetect import fit_nondetects as fit_nondetects
from .stats.nondetect import ros_summary as ros_summary
from .stats.ordinal import fit_ordinal as fit_ordinal
from .stats.ordinal_contrast import ordinal_contrast as ordinal_contrast
from .stats.own_scales import OwnScaleFit as OwnScaleFit
from .stats.own_scales import fit_own_scales as fit_own_scales
from .stats.own_scales import own_scales_of as own_scales_of
from .stats.pairs import pair_p_values as pair_p_values
from .stats.permutation import PermutationTest as PermutationTest
from .stats.permutation import permutation_test as permutation_test
from .stats.permutation import smallest_p_value as smallest_p_value
from .stats.pooling import PooledFit as PooledFit
from .stats.pooling import pool_estimates as pool_estimates
from .stats.ranks import rank_sets as rank_sets
from .stats.ranks import share_first as share_first
from .stats.scores import interval_scores as interval_scores
from .stats.spread import SpreadTest as SpreadTest
from .stats.spread import equal_spread_test as equal_spread_test
from .stats.turnbull import TurnbullFit as TurnbullFit
from .stats.turnbull import fit_turnbull as fit_turnbull
from .unpack import open_bundle as open_bundle
from .verify import Verification as Verification
from .verify import verify_bundle as verify_bundle

__all__ = [
    "KINDS",
    "AftFit",
    "Claim",
    "ComparisonPlan",
    "Criterion",
    "Estimate",
    "ImportedTable",
    "MixedAftFit",
    "NotebookFailed",
    "OwnScaleFit",
    "PermutationTest",
    "PooledFit",
    "PoolingRules",
    "PowerQuestion",
    "Protocol",
    "ReadingKind",
    "ReportError",
    "Results",
    "SpreadTest",
    "Trial",
    "TrialDataError",
    "TurnbullFit",
    "UnevenSpread",
    "Verification",
    "add_covariates",
    "adjust_p_values",
    "agreement_table",
    "answer",
    "assess_claim",
    "assess_claims",
    "at_risk_table",
    "balance_words",
    "borrowed_scale",
    "bundle_trial",
    "changes_table",
    "check_balance",
    "check_seal",
    "check_trial",
    "claim_ratio_figure",
    "claims_by_own_spread",
    "claims_by_rater",
    "claims_figure",
    "claims_table",
    "claims_words",
    "clarity_change_table",
    "clarity_kept",
    "cleaning_interval",
    "cleaning_table",
    "clear_readings",
    "clearing_intervals",
    "clearing_panel",
    "compact_letters",
    "compare_mixes",
    "comparison_figure",
    "comparison_table",
    "comparison_words",
    "conditions_table",
    "criteria_table",
    "curve_figure",
    "declared_words",
    "definitions_figure",
    "density_from_salinity",
    "describe_pool",
    "detection_limits",
    "detection_table",
    "dose_table",
    "drift_table",
    "equal_spread_test",
    "equivalence_paired",
    "evenness_figure",
    "evenness_table",
    "evenness_times_table",
    "fill_planned",
    "findings",
    "fit_aft",
    "fit_logistic",
    "fit_mixed_aft",
    "fit_nondetects",
    "fit_ordinal",
    "fit_own_scales",
    "fit_table",
    "fit_turnbull",
    "flags_table",
    "forest_figure",
    "format_problems",
    "gwet_agreement",
    "import_table",
    "influence_table",
    "input_table",
    "interval_scores",
    "intervals_by_rater",
    "intraclass_correlation",
    "inverse_prediction",
    "kept_table",
    "krippendorff_alpha",
    "lay_out_blocks",
    "left_out_table",
    "limits",
    "limits_of_agreement",
    "line_scores",
    "look_score_table",
    "look_share_table",
    "look_table",
    "look_words",
    "methods",
    "mix_table",
    "named_paths",
    "one_time_words",
    "open_bundle",
    "ordinal_contrast",
    "overall_difference",
    "own_scales_of",
    "own_spread_table",
    "own_spread_words",
    "pair_p_values",
    "permutation_test",
    "plan_figure",
    "plan_trial",
    "pool_estimates",
    "pool_folders",
    "pool_trials",
    "pooled_answer",
    "pooled_figure",
    "pooled_pairs_table",
    "pooled_spread_table",
    "pooled_times_table",
    "pooled_trials_table",
    "preview_plan",
    "problem_table",
    "proportion_exact",
    "propose_schedule",
    "quantity_changes",
    "rank_figure",
    "rank_mixes",
    "rank_sets",
    "rank_table",
    "rater_agreement",
    "rater_alone_table",
    "rater_claims_table",
    "rater_drift",
    "rater_drift_table",
    "rater_figure",
    "rater_pair_figure",
    "rater_words",
    "ratio_figure",
    "read_answers",
    "read_results",
    "read_trial",
    "reading_guide",
    "recommend_mixing_time",
    "record_trial",
    "render_report",
    "residue_figure",
    "residue_pairs_table",
    "residue_score_table",
    "residue_scores",
    "residue_summary",
    "residue_table",
    "ros_summary",
    "run_notebook",
    "salinity_figure",
    "salinity_from_conductivity",
    "salinity_from_density",
    "salinity_from_specific_gravity",
    "salinity_homogeneity",
    "scale_toml",
    "schedule_table",
    "seal_trial",
    "sensitivity",
    "sensitivity_summary",
    "sensitivity_table",
    "sensitivity_words",
    "share_first",
    "simulate_power",
    "simulate_trial",
    "smallest_p_value",
    "storage_answer",
    "storage_change",
    "storage_results",
    "storage_tables",
    "storage_words",
    "strip_figure",
    "summary_pool_table",
    "times_by_rater",
    "times_table",
    "trial_results",
    "tukey_pairs",
    "uneven_spread",
    "variance_components",
    "verify_bundle",
    "version_table",
    "vessel_covariates",
    "vessel_figure",
    "weighted_kappa",
    "write_plan",
    "write_readings",
    "write_results",
    "write_workbook",
]
