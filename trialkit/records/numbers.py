"""A number out of one cell of text, or the reason why it is not one."""

import re
from dataclasses import dataclass
from functools import lru_cache

from .problems import Fault

# Spaces that people cannot see: no-break, figure, thin, narrow no-break, ideographic.
SPACES = " \t\u00a0\u2007\u2009\u202f\u3000"

# Zero-width, direction and byte order marks, the soft hyphen: a cell can hold them unseen.
HIDDEN = "\u00ad\u200b-\u200f\u202a-\u202e\u2060-\u2064\u2066-\u2069\ufeff"

# A decimal point, with or without a digit before it.
POINT = re.compile(r"[0-9]\.[0-9]|^\s*[<>]?\.[0-9]")

# ASCII digits only: float() would also take Arabic digits, underscores, "inf" and "1e5".
_NUMBER = re.compile(
    r"(?P<limit>[<>]?)\s*(?P<digits>[+-]?(?:[0-9]+(?:\.[0-9]+)?|\.[0-9]+))"
    r"(?P<exponent>[eE][+-][0-9]{1,2})?\s*(?P<unit>(?![oOlIS]$)[A-Za-z%‰°ºµ][^0-9]*)?"
)

_EMPTY_FIX = "Leave the cell empty when nothing was read."
_DATE = (
    r"[0-9]{1,4}([-/.])[0-9]{1,2}\1[0-9]{1,4}.*"
    r"|[0-9]{1,2}[-. /]*(jan|feb|m[aä]r|apr|ma[iy]|jun|jul|aug|sep|o[ck]t|nov|de[cz])[a-z]*"
    r"[-. /]*[0-9]*"
    r"|(jan|feb|m[aä]r|apr|ma[iy]|jun|jul|aug|sep|o[ck]t|nov|de[cz])[a-z]*[-. /]*[0-9]+"
)
# In this order: the first that fits the whole cell names the fault.
_FAULTS: tuple[tuple[re.Pattern, str, str], ...] = tuple(
    (re.compile(pattern, re.IGNORECASE), message, fix)
    for pattern, message, fix in (
        (
            r"n[/.]?a\.?|nan|null|none|nil|-+|–|—|\.+|…|\?+|missing|not (read|taken|measured)|nr",
            "a word or sign for 'nothing' stands where a number belongs",
            _EMPTY_FIX,
        ),
        (
            r"nd|n\.d\.|bdl|bd|lod|<\s*lod|trace|tr",
            "'below detection' stands without its limit",
            "Write < and the limit, for example <0.1.",
        ),
        (
            r"o\.?l\.?|over(load|range|flow)?|over range|hi(gh)?|lo(w)?|under(range)?|under range",
            "a meter's word for beyond its range stands without the limit",
            "Write > and the highest value that it shows, or < and the lowest, for example >99.",
        ),
        (
            r"#.*",
            "a spreadsheet's error value stands in the cell",
            "Mend the formula, or type the reading itself.",
        ),
        (
            r"=.*",
            "a formula stands in the cell",
            "Type the reading itself.",
        ),
        (
            r"true|false|wahr|falsch|vrai|faux|yes|no|y|n",
            "a yes or no stands where a number belongs",
            "Write the number that was read.",
        ),
        (
            r"[+-]?inf(inity)?",
            "infinity is not a reading",
            "Write > and the highest value that can be read, for example >99.",
        ),
        (
            r".*[0-9]:[0-9].*",
            "a clock time stands where a number belongs",
            "Write a number; times go into their own columns.",
        ),
        (
            r"[<>]?\s*[0-9]\.[0-9]*\.[0-9]*|[0-9.]*\.\.[0-9.]*",
            "the number has more than one point",
            "Write it with one point at most.",
        ),
        (
            _DATE,
            "a date stands where a number belongs; a spreadsheet may have changed it",
            "Set the column's format to text or number and type the reading again.",
        ),
        (
            r"[+-]?[0-9]+(\.[0-9]+)?e[+-]?[0-9]+",
            "the number is written with an exponent; a spreadsheet may have changed a code",
            "Write the number out in full.",
        ),
        (
            r"[<>]?\s*[+-]?[0-9]{1,3}([,'’´ .\u00a0\u2009\u202f][0-9]{3})+([.,][0-9]+)?",
            "a mark for thousands stands in the number, or is it a decimal comma",
            "Write plain digits with a point for decimals, for example 1234.5.",
        ),
        (
            r"[<>]?\s*[+-]?[0-9]*,[0-9]+.*",
            "a comma stands in the number while other numbers of the file have a point",
            "Use a point for decimals in every number, or a comma in every number.",
        ),
        (
            r"[<>]?\s*[+-]?0[0-9]+(\.[0-9]*)?.*",
            "the number starts with a needless 0; a decimal point may have been lost",
            "Write the number as it was read, for example 0.52 or 52.",
        ),
        (
            r"[<>]?\s*[+-]?[0-9]+\.",
            "the number ends in its point; digits may have been lost",
            "Write the number in full, for example 5 or 5.0.",
        ),
        (
            r"[<>]?\s*[+-]?[0-9.]*[oOlIS|][0-9.oOlIS|]*",
            "a letter that looks like a digit stands in the number",
            "Type the digits 0, 1 or 5 in place of the letters O, l, I or S.",
        ),
        (
            r"[0-9.]+\s*(-|–|—|to|\.\.\.|…|/)\s*[0-9.]+",
            "a range stands where one number belongs",
            "Write the one value that was read, or < or > with its limit.",
        ),
        (
            r"[~≈]\s*[0-9.]+|(ca\.?|about|approx\.?)\s*[0-9.]+|[0-9.]+\s*[?!*~±].*",
            "the number carries a mark of doubt",
            "Write the number alone and put the remark into the column note.",
        ),
        (
            r"[≤≥⩽⩾].*|<=.*|>=.*|[0-9.]+\s*[<>]|[<>]\s*|[<>]{2,}.*",
            "the limit sign is not one that the kit reads",
            "Write < or > before the number, for example <0.1.",
        ),
        (
            r".*[0-9]\s+[0-9].*",
            "a space stands inside the number",
            "Write the number without spaces.",
        ),
        (
            r".*(?![0-9])\d.*",
            "digits of another script stand in the number",
            "Type the number again with the digits 0 to 9.",
        ),
        (
            r".*[€$£¥¢].*",
            "a currency sign stands in the number",
            "Write the number alone.",
        ),
        (
            rf".*[{HIDDEN}].*",
            "a character that cannot be seen stands in the number",
            "Delete the cell and type the number again.",
        ),
        (
            r"[0-9.,+-]*[^\x00-\x7f][0-9.,+-]*",
            "a character that only looks like a digit or sign stands in the number",
            "Type the number again with the digits 0 to 9.",
        ),
    )
)


_AMONG_COMMAS = Fault(
    "a point stands in the number while other numbers of the file have a comma",
    "Use a comma for decimals in every number, or a point in every number.",
)


@dataclass(frozen=True)
class Number:
    """A number as it was written.

    Attributes
    ----------
    value : float
    limit : {"", "<", ">"}
        Whether the true value lies below or above.
    decimals : int
        Digits after the point.
    unit : str
        A unit that was repeated in the cell, or "".
    exponent : bool
        Whether it was written as 1.2E-05.
    """

    value: float
    limit: str = ""
    decimals: int = 0
    unit: str = ""
    exponent: bool = False


def tidy(text: str) -> str:
    """A cell without the spaces around it, visible or not."""
    return text.strip(SPACES)


@lru_cache(maxsize=65_536)
def parse_number(text: str, decimal: str = ".") -> Number | Fault:
    """The number that a cell holds, or why it holds none.

    One reading only is ever taken: spaces around, an apostrophe before and a unit after the
    number are passed over, everything else that a spreadsheet or a hand can do to a number is
    named. An empty cell is the caller's business.

    Parameters
    ----------
    text : str
        The cell.
    decimal : {".", ","}
        The decimal mark of the whole file.

    Returns
    -------
    Number or Fault

    Examples
    --------
    >>> parse_number(" <0.1 ")
    Number(value=0.1, limit='<', decimals=1, unit='', exponent=False)
    >>> parse_number("0.52 NTU").unit
    'NTU'
    >>> parse_number("1,234.5").message
    'a mark for thousands stands in the number, or is it a decimal comma'
    """
    cell = tidy(text).removeprefix("'").strip(SPACES).replace("\u2212", "-")
    plain = cell
    if decimal == ",":
        plain = cell.replace(".", "\0").replace(",", ".")
    match = _NUMBER.fullmatch(plain)
    if match is None or _needless_zero(match["digits"]):
        if decimal == "," and _NUMBER.fullmatch(cell):
            return _AMONG_COMMAS
        return _why_not(cell)
    digits = match["digits"]
    return Number(
        value=float(digits + (match["exponent"] or "")),
        limit=match["limit"],
        decimals=len(digits.partition(".")[2]),
        unit=tidy(match["unit"] or ""),
        exponent=match["exponent"] is not None,
    )


def decimal_mark(cells: list[str]) -> tuple[str, bool]:
    """The decimal mark that the number cells of one file share.

    Parameters
    ----------
    cells : list of str
        Distinct cells of all columns that hold numbers.

    Returns
    -------
    mark : {".", ","}
        A comma when more numbers have one than have a point, so that the fewer are named.
    sure : bool
        False when every comma stands before exactly three digits, so that it could mark
        thousands.

    Examples
    --------
    >>> decimal_mark(["0,5", "12", "3,25"])
    (',', True)
    >>> decimal_mark(["0,5", "1.5"])
    ('.', True)
    >>> decimal_mark(["0,5", "1.5", "2,5"])
    (',', True)
    >>> decimal_mark(["1,500", "12"])
    (',', False)
    """
    commas = [cell for cell in cells if re.search(r"[0-9],[0-9]", cell)]
    points = [cell for cell in cells if POINT.search(cell)]
    thousands = re.compile(r"[^0-9]*[1-9][0-9]{0,2},[0-9]{3}[^0-9]*")
    marked = all(thousands.fullmatch(cell) for cell in commas)
    if len(commas) <= len(points) or (points and marked):
        return ".", True
    return ",", not marked


def _needless_zero(digits: str) -> bool:
    """Whether a whole number's leading zero hints at a lost decimal point (052 for 0.52)."""
    whole = digits.lstrip("+-").partition(".")[0]
    return len(whole) > 1 and whole[0] == "0"


def _why_not(cell: str) -> Fault:
    """The first fault that describes the whole cell."""
    for pattern, message, fix in _FAULTS:
        if pattern.fullmatch(cell):
            return Fault(message, fix)
    return Fault("this is not a number", f"Write a number, <x or >x. {_EMPTY_FIX}")
