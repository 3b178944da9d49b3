"""Numbers as a reader sees them: sensible figures, open limits in words."""

import math
from collections.abc import Callable

#: What the families of the model of the times are called.
FAMILIES = {
    "lognormal": "log-normal",
    "weibull": "Weibull",
    "loglogistic": "log-logistic",
}


def print_hours(value: float) -> str:
    """
    Hours to two figures, whole from ten on; a limit without a place is "not reached".

    Parameters
    ----------
    value : float
        Hours.

    Returns
    -------
    str

    Examples
    --------
    >>> [print_hours(value) for value in (0.25, 1.437, 9.96, 23.6, float("inf"))]
    ['0.25', '1.4', '10', '24', 'not reached']
    """
    return "not reached" if value == math.inf else print_figures(value, 2)


def print_number(value: float) -> str:
    """
    A number to three figures, with no trailing zeros.

    Parameters
    ----------
    value : float

    Returns
    -------
    str

    Examples
    --------
    >>> [print_number(value) for value in (12.0, 0.0123456, -58.06, 4021, float("-inf"))]
    ['12', '0.0123', '−58.1', '4021', '−∞']
    """
    if isinstance(value, str):
        return value
    if value is None or math.isnan(value):
        return "–"
    if math.isinf(value):
        return "∞" if value > 0 else "−∞"
    text = print_figures(value, 3)
    return text.rstrip("0").rstrip(".") if "." in text else text


def print_count(value: float) -> str:
    r"""
    A whole number, thousands apart by a thin space.

    Parameters
    ----------
    value : int or float
        A whole number, or NaN for none.

    Returns
    -------
    str

    Examples
    --------
    >>> print_count(3.0), print_count(float("nan")), print_count(48211)
    ('3', '–', '48\u2009211')
    """
    if value is None or value == "" or math.isnan(float(value)):
        return "–"
    return f"{int(value):,}".replace(",", "\u2009")


def print_share(value: float) -> str:
    """
    A share as a percentage; what is near none or all never prints as none or all.

    Parameters
    ----------
    value : float
        From 0 to 1.

    Returns
    -------
    str

    Examples
    --------
    >>> [print_share(value) for value in (0.0, 0.001, 0.428, 0.998, 1.0)]
    ['0%', 'under 1%', '43%', 'over 99%', '100%']
    """
    if value is None or math.isnan(value):
        return "–"
    if 0 < value < 0.01:
        return "under 1%"
    if 0.99 < value < 1:
        return "over 99%"
    return f"{value * 100:.0f}%"


def print_p(value: float) -> str:
    """
    A p-value to three decimals, to two figures below 0.01, never as zero.

    With few vessels the p of a permutation is a simple fraction such as 1/8, whose third decimal
    counts: "can't be below 0.12" would be said of 0.125.

    Parameters
    ----------
    value : float

    Returns
    -------
    str

    Examples
    --------
    >>> [print_p(value) for value in (0.0286, 0.125, 0.0043, 0.00002, 1.0)]
    ['0.029', '0.125', '0.0043', 'under 0.001', '1.000']
    """
    if value is None or math.isnan(value):
        return "–"
    if value < 0.001:
        return "under 0.001"
    return print_figures(value, 2) if value < 0.00995 else f"{value:.3f}"


def print_figures(value: float, figures: int) -> str:
    """
    A number to so many significant figures in plain notation, with a true minus sign.

    Parameters
    ----------
    value : float
    figures : int

    Returns
    -------
    str

    Examples
    --------
    >>> print_figures(0.0996, 2), print_figures(99.6, 2), print_figures(-1.5, 2)
    ('0.10', '100', '−1.5')
    >>> print_figures(float("-inf"), 2)
    '−∞'
    """
    if value is None or math.isnan(value):
        return "–"
    if value == 0:
        return "0"
    if math.isinf(value):
        return "∞" if value > 0 else "−∞"
    # Round first: 9.96 to two figures is 10, which needs no decimal.
    rounded = float(f"{value:.{figures - 1}e}")
    decimals = max(0, figures - 1 - math.floor(math.log10(abs(rounded))))
    return f"{rounded if decimals else value:.{decimals}f}".replace("-", "−")


def print_decimals(value: float, decimals: int) -> str:
    """
    A number to so many decimals, as the cells of one column want it; more where it has more.

    Parameters
    ----------
    value : float
    decimals : int

    Returns
    -------
    str

    Examples
    --------
    >>> print_decimals(4.1, 2), print_decimals(38, 1), print_decimals(35.85, 1)
    ('4.10', '38.0', '35.85')
    """
    if value is None or math.isnan(value):
        return "–"
    exact = f"{value:.{decimals}f}"
    return (exact if float(exact) == value else f"{value:g}").replace("-", "−")


def print_rounded(value: float, decimals: int) -> str:
    """
    A number to so many decimals, with a true minus sign.

    Parameters
    ----------
    value : float
    decimals : int

    Returns
    -------
    str

    Examples
    --------
    >>> print_rounded(0.19, 3), print_rounded(-126.04, 1), print_rounded(float("inf"), 1)
    ('0.190', '−126.0', '∞')
    """
    if value is None or not math.isfinite(value):
        return print_figures(value, 1)
    return f"{value:.{decimals}f}".replace("-", "−")


def print_measure(value: float, unit: str) -> str:
    """
    A number with its unit, which is a word in the plural for some.

    Parameters
    ----------
    value : float
    unit : str

    Returns
    -------
    str

    Examples
    --------
    >>> print_measure(1, "lines"), print_measure(2, "lines"), print_measure(0.3, "NTU")
    ('1 line', '2 lines', '0.3 NTU')
    """
    return f"{print_number(value)} {'line' if (value, unit) == (1, 'lines') else unit}"


def print_interval(low: float, high: float) -> str:
    """
    An interval of hours in words, open where the data set no limit.

    Parameters
    ----------
    low, high : float
        Hours; 0 and inf mean no limit.

    Returns
    -------
    str

    Examples
    --------
    >>> print_interval(1, 4), print_interval(18.2, float("inf")), print_interval(0, 0.5)
    ('1.0 to 4.0', 'above 18', 'under 0.50')
    """
    if low > 0 and high < math.inf:
        return f"{print_hours(low)} to {print_hours(high)}"
    if high < math.inf:
        return f"under {print_hours(high)}"
    return f"above {print_hours(low)}" if low > 0 else "no limit"


def print_span(low: float, high: float, show: Callable[[float], str] = "{:g}".format) -> str:
    """
    The two ends of what was found, or one where both print alike.

    Parameters
    ----------
    low, high : float
    show : callable
        Prints an end.

    Returns
    -------
    str

    Examples
    --------
    >>> print_span(2, 3), print_span(2, 2), print_span(1.21, 1.23, print_hours)
    ('2 to 3', '2', '1.2')
    """
    return " to ".join(dict.fromkeys([show(float(low)), show(float(high))]))


def print_time(estimate: float, low: float, high: float) -> str:
    """
    A time with its unit, or what the trial says when it can't place the time.

    Parameters
    ----------
    estimate : float
        Hours; inf when not reached, 0 when it lies before the first reading.
    low, high : float
        The limits to quote in those two cases.

    Returns
    -------
    str

    Examples
    --------
    >>> print_time(1.43, 1, 2)
    '1.4 h'
    >>> print_time(float("inf"), 30, float("inf"))
    'not reached; above 30 h'
    >>> print_time(0, 0, 0.25)
    'before the first reading; under 0.25 h'
    >>> print_time(0, 0, float("inf"))
    'before the first reading'
    """
    if estimate == math.inf:
        return f"not reached; above {print_hours(low)} h"
    if estimate <= 0:
        limit = f"; under {print_hours(high)} h" if high < math.inf else ""
        return f"before the first reading{limit}"
    return f"{print_hours(estimate)} h"


def join(words: list[str]) -> str:
    """
    Words as an English list.

    Parameters
    ----------
    words : list of str

    Returns
    -------
    str

    Examples
    --------
    >>> join([]), join(["Alder"]), join(["Alder", "Fir"]), join(["Alder", "Elm", "Fir"])
    ('', 'Alder', 'Alder and Fir', 'Alder, Elm and Fir')
    """
    return " and ".join(filter(None, [", ".join(words[:-1]), *words[-1:]]))
