"""Textbook sample sizes to hold the simulated ones against."""

from math import ceil, comb, log, sqrt

from scipy.stats import nct, norm, t


def power_t(n, difference, *, alpha=0.05):
    """Chance that a two-sided two-sample t test finds a difference, n a group.

    Parameters
    ----------
    n : int
        Observations a group.
    difference : float
        Of the means, in standard deviations.
    alpha : float
        Level of the test.

    Returns
    -------
    float
        Power, the far tail counted too.

    Examples
    --------
    >>> round(power_t(20, 1.0), 4)  # R: power.t.test(n = 20, delta = 1)
    0.869
    """
    df = 2 * n - 2
    return power_contrast(difference * sqrt(n / 2), df, alpha=alpha)


def power_contrast(shift, df, *, alpha=0.05):
    """Chance that a two-sided t test on df degrees of freedom finds a shift.

    Parameters
    ----------
    shift : float
        Contrast over its standard error.
    df : float
        Degrees of freedom of the pooled spread.
    alpha : float
        Level of the test.

    Returns
    -------
    float
        Power.

    Examples
    --------
    >>> round(power_contrast(0.0, 10), 4)
    0.05
    """
    critical = t.isf(alpha / 2, df)
    return float(nct.sf(critical, df, shift) + nct.cdf(-critical, df, shift))


def power_shares(n, first, second, *, alpha=0.05):
    """Chance that two shares are told apart, n a group, by the normal approximation.

    Parameters
    ----------
    n : int
        Vessels a group.
    first, second : float
        True shares.
    alpha : float
        Level of the two-sided test; the far tail is not counted.

    Returns
    -------
    float
        Power.

    References
    ----------
    Fleiss, Levin & Paik (2003), Statistical Methods for Rates and Proportions, 3rd ed., section
    4.2 (section number from memory, not verified).

    Examples
    --------
    >>> round(power_shares(50, 0.5, 0.75), 4)  # R: power.prop.test(n = 50, p1 = .5, p2 = .75)
    0.7402
    """
    mean = (first + second) / 2
    wide = norm.isf(alpha / 2) * sqrt(2 * mean * (1 - mean))
    spread = sqrt(first * (1 - first) + second * (1 - second))
    return float(norm.cdf((sqrt(n) * abs(first - second) - wide) / spread))


def events_schoenfeld(hazard_ratio, power, *, alpha=0.05):
    """Vessels that must clear, over two equal groups, for a log-rank test with that power.

    Parameters
    ----------
    hazard_ratio : float
        Ratio of clearing rates.
    power : float
        Wanted chance.
    alpha : float
        Level of the two-sided test.

    Returns
    -------
    float
        Events, not rounded.

    References
    ----------
    Schoenfeld (1981), Biometrika 68:316-319.

    Examples
    --------
    >>> round(events_schoenfeld(2, 0.8), 2)
    65.35
    """
    return 4 * _quantiles(power, alpha) ** 2 / log(hazard_ratio) ** 2


def events_freedman(hazard_ratio, power, *, alpha=0.05):
    """The same by Freedman's approximation, a little more cautious.

    Parameters
    ----------
    hazard_ratio, power, alpha : float
        As in `events_schoenfeld`.

    Returns
    -------
    float
        Events, not rounded.

    References
    ----------
    Freedman (1982), Statistics in Medicine 1:121-129.

    Examples
    --------
    >>> round(events_freedman(2, 0.8), 2)
    70.64
    """
    return (_quantiles(power, alpha) * (hazard_ratio + 1) / (hazard_ratio - 1)) ** 2


def vessels_noether(chance_faster, power, *, alpha=0.05):
    """Vessels in all, over two equal groups, for a rank-sum test with that power.

    Parameters
    ----------
    chance_faster : float
        Chance that a vessel of one mix clears before one of the other.
    power : float
        Wanted chance.
    alpha : float
        Level of the two-sided test.

    Returns
    -------
    float
        Vessels, not rounded.

    References
    ----------
    Noether (1987), Journal of the American Statistical Association 82:645-647.

    Examples
    --------
    >>> round(vessels_noether(0.7, 0.8), 2)
    65.41
    """
    return _quantiles(power, alpha) ** 2 / (3 * (chance_faster - 0.5) ** 2)


def _quantiles(power, alpha):
    return float(norm.isf(alpha / 2) + norm.ppf(power))


def smallest_p(n, *, blocked=True):
    """Smallest two-sided p that a permutation test of two mixes can give, n vessels each.

    Within complete blocks only the two labels of each block can swap: 2**n arrangements; without
    blocks there are as many as ways to choose n of 2n.

    Parameters
    ----------
    n : int
        Vessels a mix, which is also the number of blocks.
    blocked : bool
        Whether labels are swapped within blocks only.

    Returns
    -------
    float
        The smallest p.

    Examples
    --------
    >>> smallest_p(3, blocked=False), smallest_p(4)
    (0.1, 0.125)
    """
    return min(1.0, 2 / (2**n if blocked else comb(2 * n, n)))


def vessels_distribution_free(share, conf_level):
    """Vessels whose slowest is, with confidence, above the time by which a share is clear.

    Parameters
    ----------
    share : float
        Share of batches.
    conf_level : float
        Confidence.

    Returns
    -------
    int
        Smallest n with ``1 - share**n >= conf_level``.

    References
    ----------
    Wilks (1941), Annals of Mathematical Statistics 12:91-96.

    Examples
    --------
    >>> vessels_distribution_free(0.9, 0.95)
    29
    """
    return ceil(log(1 - conf_level) / log(share))


def tolerance_factor(n, share=0.9, conf_level=0.95, *, df=None):
    """How many standard deviations above the mean log time the assured time lies.

    Parameters
    ----------
    n : int
        Vessels of the mix.
    share : float
        Share of batches to be clear.
    conf_level : float
        One-sided confidence.
    df : float, optional
        Degrees of freedom of the spread, when pooled over mixes; else n - 1.

    Returns
    -------
    float
        The one-sided normal tolerance factor, by the noncentral t distribution.

    References
    ----------
    ISO 16269-6:2014, Statistical interpretation of data, part 6.

    Examples
    --------
    >>> round(tolerance_factor(5), 4)
    3.4066
    """
    df = n - 1 if df is None else df
    return float(nct.ppf(conf_level, df, norm.ppf(share) * sqrt(n)) / sqrt(n))
