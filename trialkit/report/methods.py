"""The methods of a report, in a form that a paper can take over."""

from collections.abc import Callable
from typing import Any

from .blocks import Prose
from .markdown import escape
from .own_spread import declared_scale_words
from .printing import FAMILIES, print_hours, print_number
from .references import cited
from .selection import block_count, kit_version, level_words, mix_codes

_LIMITS_PAGE = "Wilks 1941"  # cited where the report says what the trial can't show


def methods(results: Any) -> Prose:
    """
    What was done and computed, with references; only of what the report holds.

    Parameters
    ----------
    results : Results
        With the tables `mixes`, `vessels`; each other table brings its own paragraph.

    Returns
    -------
    Prose
        Paragraphs with a list of references.
    """
    parts = [_design(results), _COMING_CLEAR, _curves(results), _limits(results)]
    parts += [_told(words, results) for tables, words in _PARAGRAPHS if _hold(results, tables)]
    parts.append(_reproduction(results))
    references = cited(f"{' '.join(parts)} {_LIMITS_PAGE}")
    listed = "\n".join(f"- {reference}" for reference in references)
    return Prose("\n\n".join([*parts, "**References**", listed]))


def _hold(results: Any, tables: tuple[str, ...]) -> bool:
    return any(table in results and len(results[table]) for table in tables)


def _told(words: str | Callable[[Any], str], results: Any) -> str:
    return words if isinstance(words, str) else words(results)


def _design(results: Any) -> str:
    meta, vessels, blocks = results.meta, results["vessels"], block_count(results)
    count = int(vessels["mix"].isin(mix_codes(results)).sum())
    layout = f" in {blocks} blocks" if blocks > 1 else ""
    target = meta.get("target_salinity")
    salinity = f" at a practical salinity of {print_number(target)}" if target else ""
    return (
        f"**Design.** {len(results['mixes'])} mixes were prepared in {count} vessels{layout}, each "
        f"vessel one batch{salinity}, and watched for {print_hours(float(meta['window_h']))} h. "
        "The vessel is the unit of replication: readings, raters and positions within a vessel are "
        "sub-samples (Hurlbert 1984)."
    )


_COMING_CLEAR = (
    "**Coming clear.** A reading met a criterion when it was no worse, by more than the "
    "tolerance, than the reading of a vessel of purified water in the same session. A vessel "
    "came clear at the first of the required number of successive sessions that met the "
    "criterion; a single such reading at the end did not count. Each vessel gives an interval "
    "(L, R]: not clear at L, clear at R; R is infinite when this was not seen."
)


def _curves(results: Any) -> str:
    family = FAMILIES.get(results.meta["family"], results.meta["family"])
    return (
        "**Curves.** The share clear over time was estimated without a model by the "
        "nonparametric maximum-likelihood estimate for interval-censored data (Turnbull 1976), "
        f"and with a {family} accelerated failure-time model with one scale for all mixes, fitted "
        "by maximum likelihood (Lawless 2003)."
    )


def _limits(results: Any) -> str:
    level, declared = level_words(results), declared_scale_words(results)
    if declared:
        return (
            f"**Limits.** Limits at {level} are profile-likelihood limits with a scale that was "
            f"not estimated but declared: {escape(declared)}. The deviance is compared with "
            "chi-square. A limit that the data can't place is reported as such. The assured time "
            f"is the upper limit of the 90% time at a one-sided confidence of {level}."
        )
    return (
        f"**Limits.** Limits at {level} are profile-likelihood limits, calibrated for few vessels: "
        "a value is inside when its deviance is at most Ne · log(1 + t²/df), with t the Student "
        "quantile, Ne the vessels that cleared in mixes with any clearing, and df = Ne less the "
        "number of such mixes. A limit that the data can't place, or that lies 10,000 times off "
        "the middle of the data, is reported as no limit. The assured time is the upper end of a "
        "one-sided profile-likelihood interval of the 90% time, its deviance calibrated so that "
        "with times known exactly it is the tolerance bound by the noncentral t distribution (Odeh "
        f"and Owen 1980): 90% of batches, confidence {level}."
    )


def _comparisons(results: Any) -> str:
    return (
        "**Differences.** Two mixes are compared by the ratio of their times, with a "
        "likelihood-ratio test calibrated in the same way; p-values are adjusted over the declared "
        "comparisons (Holm 1979), and two mixes are called different when the adjusted p-value is "
        f"at most {1 - results.meta['conf_level']:.2g}. Beside them stand permutation tests on "
        "scores of the intervals, vessels exchanged within blocks (Fay and Shaw 2010), exact where "
        "the arrangements can be counted, otherwise with p-values that are never zero (Phipson and "
        "Smyth 2010)."
    )


_CLAIMS = (
    "**Claims.** A claim is supported when the limits of the time it speaks of lie wholly on its "
    "side, contradicted when they lie wholly on the other, and otherwise not settled. Claims were "
    "not adjusted for each other."
)
_RANKS = (
    "**Ranks.** The ranks left open are simultaneous over all mixes and follow from the adjusted "
    "comparisons (Mohamad et al. 2018)."
)
_SPREAD = (
    "**Spread.** Whether the vessels of all mixes spread alike was tested by a parametric "
    "bootstrap (Davison and Hinkley 1997); scales of each mix's own are drawn toward their pool "
    "(Smyth 2004). Unless that test finds nothing (p above 0.5), each limit of a time is the wider "
    "of the one by the common scale and the one by the mix's own."
)
_LOOKS = (
    "**Single looks.** How likely one look finds a vessel clear was modelled by logistic "
    "regression on the logarithm of time with vessels as clusters (Morel et al. 2003); where the "
    "outcome was separated, by penalised likelihood (Heinze and Schemper 2002)."
)
_SCORES = (
    "**Ordered scores.** Lines and scores were compared by proportional odds (McCullagh 1980), "
    "with p-values and limits from the ways to deal the scores out between two mixes."
)
_SENSITIVITY = (
    "**Other definitions.** Tolerance, successive readings, rater rule and family of the model "
    "were varied together. The middle of each interval taken for the exact time is shown as a "
    "warning only, since it is biased (Law and Brookmeyer 1992)."
)
_RATERS = (
    "**Raters.** Agreement was computed from joint looks with limits from the spread between "
    "vessels (Korn and Graubard 1998): share of like calls, AC1 (Gwet 2008), kappa, Krippendorff's "
    "alpha (Krippendorff 2011), the intraclass correlation (Shrout and Fleiss 1979) and limits of "
    "agreement (Bland and Altman 2007)."
)
_STORAGE = (
    "**Storage.** Top and bottom of a vessel were called alike only when two one-sided tests "
    "against the declared margin showed it (Schuirmann 1987). Residue below the detection limit "
    "(Currie 1968) was taken as below it, by censored regression, means by regression on order "
    "statistics (Helsel 2012). Shares of vessels have exact limits (Clopper and Pearson 1934); "
    "changes are means over vessels with t limits."
)

# What brings a paragraph into the report: any of these tables with a row.
_PARAGRAPHS: tuple[tuple[tuple[str, ...], str | Callable[[Any], str]], ...] = (
    (("claims",), _CLAIMS),
    (("comparisons",), _comparisons),
    (("ranks",), _RANKS),
    (("spread",), _SPREAD),
    (("look_times",), _LOOKS),
    (("look_scores", "residue_scores"), _SCORES),
    (("sensitivity",), _SENSITIVITY),
    (("agreement",), _RATERS),
    (("homogeneity", "residue", "clarity_kept", "storage"), _STORAGE),
)


def _reproduction(results: Any) -> str:
    return (
        f"**Reproduction.** Computed with trialkit {kit_version(results)} and seed "
        f"{results.meta.get('seed')}; the same files give the same report, byte for byte."
    )
