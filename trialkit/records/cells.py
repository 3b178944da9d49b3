"""Columns of values out of columns of text cells, each faulty cell named."""

import difflib
import re
import unicodedata
from collections.abc import Callable, Collection

from .csvtext import Table
from .headings import near_heading
from .numbers import HIDDEN, parse_number, tidy
from .problems import Fault, Kept, Problem, cell_problem, show

# Letter and two digits; not E, because a spreadsheet reads 3E5 as a number.
CODE = re.compile(r"[A-DF-Z][0-9]{2}")
CODE_FIX = "Use one letter other than E and two digits, for example K17."
# Letters of other alphabets, and digits, that look like those of a code.
_LOOK_ALIKE = str.maketrans("АВСЕНКМОРТХУІЅАΒΕΖΗΙΚΜΝΟΡΤΥΧ", "ABCEHKMOPTXYISABEZHIKMNOPTYX")
_AS_DIGIT = str.maketrans("OILSB|", "011581")
# 2-Nov for 2-11, Nov-24 for 11-24, 3.00E+05 for 3E5: as spreadsheets show what they changed.
_MONTH = "(jan|feb|mar|mrz|apr|may|mai|jun|jul|aug|sep|oct|okt|nov|dec|dez)"
_MADE = re.compile(
    rf"[0-9]{{1,2}}[-. ]+{_MONTH}\.?|{_MONTH}[- ][0-9]{{2}}|[0-9](\.[0-9]+)?E[+-][0-9]+",
    re.IGNORECASE,
)
_NO_SIGN = re.compile(rf"[{HIDDEN}]")

Parse = Callable[[str], object]


def parse_column(
    table: Table, name: str, parse: Parse, found: list[Problem], *, default: object = None
) -> list:
    """A column's values; `default` where the column is absent, None where a cell is faulty.

    Each distinct cell is parsed once. `parse` returns a value, a `Fault`, or a `Kept` value
    with its warning.
    """
    if name not in table.columns:
        return [default] * len(table)
    cells = table.columns[name]
    known = {cell: parse(cell) for cell in dict.fromkeys(cells)}
    odd = {cell: outcome for cell, outcome in known.items() if isinstance(outcome, Fault | Kept)}
    if odd:
        found += [
            cell_problem(table.file, row, name, cell, odd[cell])
            for row, cell in zip(table.rows, cells, strict=True)
            if cell in odd
        ]
        known |= {cell: getattr(outcome, "value", None) for cell, outcome in odd.items()}
    return [known[cell] for cell in cells]


def need_columns(
    table: Table, needed: Collection[str], found: list[Problem], known: Collection[str] = ()
) -> bool:
    """Whether all needed columns are there; the missing ones are named.

    Headings that are not among the `known` ones are named as what may be meant.
    """
    others = [f'"{show(name)}"' for name in table.columns if name not in known] if known else []
    absent = [name for name in needed if name not in table.columns]
    for name in absent:
        near = near_heading(name, table.columns)
        fix = "Add the column."
        if near or others:
            which = f'"{show(near)}"' if near else " or ".join(others[:3])
            fix = f"Rename the heading {which} to {name}{'' if near else ', if that holds it'}."
        message = f"the column {name} is missing"
        found.append(
            Problem(table.file, table.header_row, name, "", "refuse", message, fix, rank=0)
        )
    return not absent


def warn_unknown_columns(table: Table, known: Collection[str], found: list[Problem]) -> None:
    """A warning for each column that is passed over."""
    for name in table.columns:
        if name in known:
            continue
        near = difflib.get_close_matches(name, list(known), 1, 0.7)
        fix = f"Rename it to {near[0]} if that is meant." if near else "Nothing, if it is yours."
        found.append(
            Problem(
                table.file,
                table.header_row,
                show(name),
                "",
                "warn",
                "the kit does not know this column and passes it over",
                fix,
                rank=0,
            )
        )


def parse_new_code(cell: str) -> object:
    """A code that this file introduces."""
    code = tidy(cell).upper()
    if CODE.fullmatch(code):
        return code
    if not code:
        return Fault("a code is missing", CODE_FIX)
    return Fault("this is not a code", CODE_FIX)


def known_code(what: str, known: Collection[str], home: str) -> Parse:
    """A parser for codes that another file declares.

    Parameters
    ----------
    what : str
        "vessel", "mix" or "rater".
    known : collection of str
        Declared codes.
    home : str
        The file that declares them.
    """

    def parse(cell: str) -> object:
        code = tidy(cell).upper()
        if code in known:
            return code
        if not code:
            return Fault(f"the {what} is missing", f"Write one of the codes in {home}.")
        return Fault(*_unknown(code, what, known, home))

    return parse


def _unknown(code: str, what: str, known: Collection[str], home: str) -> tuple[str, str]:
    """Words about a code that nothing declares, with the likely reason."""
    # Full-width letters and digits have plain ones to stand for.
    twin = unicodedata.normalize("NFKC", code).translate(_LOOK_ALIKE)
    twin = twin[:1] + twin[1:].translate(_AS_DIGIT)
    if twin in known:
        return (
            f"this {what} code holds a character that only looks right",
            f"Type {twin} again with plain letters and digits.",
        )
    seen = tidy(_NO_SIGN.sub("", code))
    if seen in known:
        return (
            f"this {what} code holds a character that cannot be seen",
            f"Delete the cell and type {seen} again.",
        )
    if re.fullmatch(r"[A-Z][0-9]", code):
        return (
            f"this {what} code has lost a digit, perhaps its 0",
            f"Write the code as it stands in {home}.",
        )
    if re.fullmatch(r"[0-9.,]+(E[+-]?[0-9]+)?|[0-9]+[-./][0-9A-Z]+.*|[0-9]+[A-Z]{3}.*", code):
        return (
            f"this is no {what} code; a spreadsheet may have changed it",
            f"Set the column's format to text and type the code as it stands in {home}.",
        )
    near = difflib.get_close_matches(code, list(known), 3, 0.6)
    hint = f" Near to it: {', '.join(near)}." if near else ""
    return f"no such {what} is declared in {home}", f"Correct the code, or declare it.{hint}"


def number_between(
    low: float, high: float, *, decimal: str = ".", empty: object = None, unit: str = ""
) -> Parse:
    """A parser for plain numbers within bounds, without a limit sign.

    Parameters
    ----------
    low, high : float
        Bounds, included.
    decimal : {".", ","}
    empty : object
        What an empty cell means; None refuses it.
    unit : str
        Unit for the message.
    """

    def parse(cell: str) -> object:
        if not tidy(cell):
            return Fault("a number is missing", "Write the number.") if empty is None else empty
        number = parse_number(cell, decimal)
        if isinstance(number, Fault):
            return number
        if number.unit and number.unit.casefold() != unit.casefold():
            fix = f"Write the number in {unit}, without its unit." if unit else "Write it alone."
            return Fault("a unit or a remark stands in the cell", fix)
        if number.limit or number.exponent:
            return Fault("only a plain number may stand here", "Write the number alone.")
        if not low <= number.value <= high:
            bounds = f"{low:g} to {high:g} {unit}".rstrip()
            return Fault(f"the number lies outside {bounds}", "Correct the number.")
        return number.value

    return parse


def one_of(what: str, choices: Collection[str]) -> Parse:
    """A parser for a word out of a short list, whatever its capitals."""

    def parse(cell: str) -> object:
        word = tidy(cell).casefold()
        if word in choices:
            return word
        if not word:
            return Fault(f"the {what} is missing", f"Use one of: {', '.join(choices)}.")
        near = difflib.get_close_matches(word, list(choices), 1, 0.6)
        hint = f" Did you mean {near[0]}?" if near else ""
        listed = ", ".join(choice or "an empty cell" for choice in choices)
        return Fault(f"this {what} is not known", f"Use one of: {listed}.{hint}")

    return parse


def parse_label(cell: str) -> object:
    """Free text that stands in a line of a report: a name, a block, a place."""
    if len(cell.splitlines()) > 1 or "\t" in cell:
        return Fault("a line break or tab stands in the cell", "Write it in one line.")
    return parse_text(cell)


def parse_lot(cell: str) -> object:
    """A maker's lot, which a spreadsheet takes for a date or a number all too easily.

    Examples
    --------
    >>> parse_lot("B-2204"), parse_lot("2-Nov").level
    ('B-2204', 'warn')
    """
    text = parse_label(cell)
    if isinstance(text, str) and _MADE.fullmatch(tidy(text)):
        message = "this looks like a date or number that a spreadsheet made of another text"
        return Kept(text, message, "Compare it with the bag; nothing if it reads so there.")
    return text


def parse_text(cell: str) -> str:
    """Free text, with the mark that keeps a spreadsheet from running it taken off.

    Examples
    --------
    >>> parse_text("'=1+1"), parse_text("plain")
    ('=1+1', 'plain')
    """
    return cell[1:] if re.match(r"'+[=+\-@\t\r]", cell) else cell


def defuse_text(text: str) -> str:
    """Text that no spreadsheet takes for a formula; `parse_text` gives the original back.

    Only for columns of text: a negative number starts with a minus rightly.

    Examples
    --------
    >>> defuse_text("=cmd|x"), parse_text(defuse_text("'=1"))
    ("'=cmd|x", "'=1")
    """
    return "'" + text if re.match(r"'*[=+\-@\t\r]", text) else text
