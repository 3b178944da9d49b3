"""What the methods of a report cite."""

# Authors, years, titles, journals and pages were held against the reference lists of other
# publications, but for Law and Brookmeyer 1992, which stays from memory.
REFERENCES = {
    "Bland and Altman 2007": "Bland JM, Altman DG (2007). Agreement between methods of measurement "
    "with multiple observations per individual. *Journal of Biopharmaceutical Statistics* 17, "
    "571–582.",
    "Clopper and Pearson 1934": "Clopper CJ, Pearson ES (1934). The use of confidence or fiducial "
    "limits illustrated in the case of the binomial. *Biometrika* 26, 404–413.",
    "Currie 1968": "Currie LA (1968). Limits for qualitative detection and quantitative "
    "determination: application to radiochemistry. *Analytical Chemistry* 40, 586–593.",
    "Davison and Hinkley 1997": "Davison AC, Hinkley DV (1997). *Bootstrap Methods and their "
    "Application*. Cambridge University Press.",
    "Fay and Shaw 2010": "Fay MP, Shaw PA (2010). Exact and asymptotic weighted logrank tests for "
    "interval censored data: the interval R package. *Journal of Statistical Software* 36(2), "
    "1–34.",
    "Gwet 2008": "Gwet KL (2008). Computing inter-rater reliability and its variance in the "
    "presence of high agreement. *British Journal of Mathematical and Statistical Psychology* 61, "
    "29–48.",
    "Heinze and Schemper 2002": "Heinze G, Schemper M (2002). A solution to the problem of "
    "separation in logistic regression. *Statistics in Medicine* 21, 2409–2419.",
    "Helsel 2012": "Helsel DR (2012). *Statistics for Censored Environmental Data Using Minitab "
    "and R*, 2nd ed. Wiley.",
    "Holm 1979": "Holm S (1979). A simple sequentially rejective multiple test procedure. "
    "*Scandinavian Journal of Statistics* 6, 65–70.",
    "Hurlbert 1984": "Hurlbert SH (1984). Pseudoreplication and the design of ecological field "
    "experiments. *Ecological Monographs* 54, 187–211.",
    "Korn and Graubard 1998": "Korn EL, Graubard BI (1998). Confidence intervals for proportions "
    "with small expected number of positive counts estimated from survey data. *Survey "
    "Methodology* 24, 193–201.",
    "Krippendorff 2011": "Krippendorff K (2011). Computing Krippendorff's alpha-reliability. "
    "University of Pennsylvania.",
    "Law and Brookmeyer 1992": "Law CG, Brookmeyer R (1992). Effects of mid-point imputation on "
    "the analysis of doubly censored data. *Statistics in Medicine* 11, 1569–1578.",
    "Lawless 2003": "Lawless JF (2003). *Statistical Models and Methods for Lifetime Data*, 2nd "
    "ed. Wiley.",
    "McCullagh 1980": "McCullagh P (1980). Regression models for ordinal data. *Journal of the "
    "Royal Statistical Society B* 42, 109–142.",
    "Mohamad et al. 2018": "Mohamad DA, Goeman JJ, van Zwet EW (2018). Simultaneous confidence "
    "intervals for ranks with application to ranking institutions. arXiv:1812.05507.",
    "Morel et al. 2003": "Morel JG, Bokossa MC, Neerchal NK (2003). Small sample correction for "
    "the variance of GEE estimators. *Biometrical Journal* 45, 395–409.",
    "Odeh and Owen 1980": "Odeh RE, Owen DB (1980). *Tables for Normal Tolerance Limits, Sampling "
    "Plans, and Screening*. Marcel Dekker.",
    "Phipson and Smyth 2010": "Phipson B, Smyth GK (2010). Permutation p-values should never be "
    "zero: calculating exact p-values when permutations are randomly drawn. *Statistical "
    "Applications in Genetics and Molecular Biology* 9, article 39.",
    "Schuirmann 1987": "Schuirmann DJ (1987). A comparison of the two one-sided tests procedure "
    "and the power approach for assessing the equivalence of average bioavailability. *Journal of "
    "Pharmacokinetics and Biopharmaceutics* 15, 657–680.",
    "Shrout and Fleiss 1979": "Shrout PE, Fleiss JL (1979). Intraclass correlations: uses in "
    "assessing rater reliability. *Psychological Bulletin* 86, 420–428.",
    "Smyth 2004": "Smyth GK (2004). Linear models and empirical Bayes methods for assessing "
    "differential expression in microarray experiments. *Statistical Applications in Genetics and "
    "Molecular Biology* 3, article 3.",
    "Turnbull 1976": "Turnbull BW (1976). The empirical distribution function with arbitrarily "
    "grouped, censored and truncated data. *Journal of the Royal Statistical Society B* 38, "
    "290–295.",
    "Wilks 1941": "Wilks SS (1941). Determination of sample sizes for setting tolerance limits. "
    "*Annals of Mathematical Statistics* 12, 91–96.",
}


def cited(text: str) -> list[str]:
    """
    The full references that a text cites, by author.

    Parameters
    ----------
    text : str
        Cites as in "(Holm 1979; Wilks 1941)".

    Returns
    -------
    list of str

    Examples
    --------
    >>> [reference[:16] for reference in cited("by batch (Wilks 1941; Holm 1979)")]
    ['Holm S (1979). A', 'Wilks SS (1941).']
    """
    return [full for short, full in REFERENCES.items() if short in text]
