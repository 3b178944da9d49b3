"""Where two results of one trial differ, number by number."""

import math

import pandas as pd

from trialkit.analysis.results import Results

__all__ = ["TOLERANCE", "compare_results", "version_changes"]

#: Relative difference up to which two numbers count as the same; next to 0, a billionth does.
TOLERANCE = 1e-6
_SMALL = 1e-3  # of a smaller number the distance counts as if it were this
_LONGEST = 60  # letters of a text that a line shows

COLUMNS = ["table", "row", "column", "bundled", "here", "apart"]

# What may differ although nothing that was found does.
NOT_COMPARED = {"versions", "python", "kit_version"}

# Columns that say which row it is, in the order of a sentence.
NAMING = (
    "criterion",
    "mix",
    "mix_a",
    "mix_b",
    "claim",
    "rater",
    "vessel",
    "term",
    "time_h",
    "session",
)


def compare_results(bundled: Results | None, here: Results | None) -> pd.DataFrame:
    """One row a number or word of the bundled results that is another here.

    Tables that only the newer kit has are no difference; a table, row or column that is missing
    here is one.

    Parameters
    ----------
    bundled, here : Results or None
        Two results of the same inputs; None for no comparison, an empty frame.

    Returns
    -------
    pandas.DataFrame
        `table`, `row`, `column`, `bundled`, `here`, `apart`: the relative difference, inf where
        it is not one of two finite numbers. Largest first.

    Examples
    --------
    >>> import pandas as pd
    >>> then = Results({}, {"times": pd.DataFrame({"mix": ["M01"], "estimate": [2.0]})})
    >>> now = Results({}, {"times": pd.DataFrame({"mix": ["M01"], "estimate": [2.1]})})
    >>> compare_results(then, now).round(6).values.tolist()
    [['times', 'M01', 'estimate', '2', '2.1', 0.05]]
    """
    rows = []
    if bundled is not None and here is not None:
        rows += _meta_differences(bundled.meta, here.meta)
        for name, table in bundled.tables.items():
            rows += _table_differences(name, table, here.tables.get(name))
    frame = pd.DataFrame(rows, columns=COLUMNS).astype({"apart": float})
    return frame.sort_values("apart", ascending=False, kind="stable", ignore_index=True)


def version_changes(bundled: Results, here: Results) -> list[str]:
    """Python and libraries whose version differs, each as "numpy 2.4.6 (bundle: 2.4.5)".

    Parameters
    ----------
    bundled, here : Results
        Two results.

    Returns
    -------
    list of str
        Empty when all versions are the same.
    """
    then, now = _versions(bundled), _versions(here)
    return [
        f"{name} {now.get(name, 'none')} (bundle: {then.get(name, 'none')})"
        for name in sorted(then.keys() | now.keys())
        if then.get(name) != now.get(name)
    ]


def _versions(results: Results) -> dict[str, str]:
    held = results.meta.get("versions", {})
    versions = dict(held) if isinstance(held, dict) else {}
    return versions | {"python": str(results.meta.get("python", versions.get("python", "none")))}


def _meta_differences(then: dict, now: dict) -> list[tuple]:
    differences = []
    for key in sorted((then.keys() | now.keys()) - NOT_COMPARED):
        if key in then and then[key] != now.get(key):
            apart = _apart(then[key], now.get(key))
            if apart > 0:
                differences.append(("meta", "", key, _text(then[key]), _text(now.get(key)), apart))
    return differences


def _table_differences(name: str, then: pd.DataFrame, now: pd.DataFrame | None) -> list[tuple]:
    if now is None:
        return [(name, "", "the table", "there", "missing", math.inf)]
    if len(then) != len(now):
        return [(name, "", "number of rows", str(len(then)), str(len(now)), math.inf)]
    gone = [(name, "", c, "there", "missing", math.inf) for c in then if c not in now]
    shared = [column for column in then if column in now]
    return gone + [
        (name, _row_name(then, index), column, _text(old), _text(new), apart)
        for column in shared
        for index, (old, new) in enumerate(zip(then[column], now[column], strict=True))
        if (apart := _apart(old, new)) > 0
    ]


def _row_name(table: pd.DataFrame, index: int) -> str:
    """What tells the row from others, in words."""
    named = [c for c in NAMING if c in table.columns]
    words = [_text(table[c].iloc[index]) for c in named]
    return ", ".join(word for word in words if word) or f"row {index + 1}"


def _apart(old: object, new: object) -> float:
    """0 for the same within the tolerance, else the relative difference, inf for words."""
    if _is_number(old) and _is_number(new):
        return _numbers_apart(float(old), float(new))
    same = (pd.isna(old) and pd.isna(new)) if _scalar(old) and _scalar(new) else old == new
    return 0.0 if same or old == new else math.inf


def _numbers_apart(old: float, new: float) -> float:
    if old == new or (math.isnan(old) and math.isnan(new)):
        return 0.0
    if not (math.isfinite(old) and math.isfinite(new)):
        return math.inf
    distance = abs(new - old)
    if distance <= TOLERANCE * max(abs(old), abs(new), _SMALL):
        return 0.0
    # Of a number next to 0 the distance counts, not how many times as large the other is.
    return distance / max(abs(old), _SMALL) if old else math.inf


def _is_number(value: object) -> bool:
    return isinstance(value, (int, float)) or hasattr(value, "dtype")


def _scalar(value: object) -> bool:
    return value is None or isinstance(value, (str, float, int))


def _text(value: object) -> str:
    """A value as a line can show it."""
    if value is None or (isinstance(value, float) and math.isnan(value)):
        return ""
    text = f"{value:.8g}" if isinstance(value, float) else str(value)
    shown = text if len(text) <= _LONGEST else f"{text[: _LONGEST - 1]}…"
    return "".join(c if c.isprintable() else "?" for c in shown)
