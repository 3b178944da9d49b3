"""Which rows of the results a table or a figure is about, in which order."""

import math
import re
from typing import Any

import pandas as pd

from .direction import isolated


def primary(results: Any, criterion: str | None = None) -> str:
    """
    The criterion asked for, or the one that the report's first page answers.

    Parameters
    ----------
    results : Results
    criterion : str, optional

    Returns
    -------
    str

    Raises
    ------
    ValueError
        For a criterion that the results do not hold.
    """
    known = list(dict.fromkeys(results["times"]["criterion"]))
    chosen = results.meta["primary"] if criterion is None else criterion
    if chosen not in known:
        raise ValueError(f"criterion must be one of {', '.join(known)}; got {chosen!r}.")
    return chosen


def criterion_label(results: Any, criterion: str | None = None) -> str:
    """
    What meeting a criterion is called, such as "free of haze".

    Parameters
    ----------
    results : Results
    criterion : str, optional
        The trial's primary criterion unless named.

    Returns
    -------
    str
    """
    wanted = results.meta["primary"] if criterion is None else criterion
    criteria = results.meta.get("criteria", ())
    labels = {c["criterion"]: c.get("label") or c["criterion"] for c in criteria}
    return labels.get(wanted, wanted)


def heading_label(results: Any, criterion: str | None = None) -> str:
    """
    What meeting a criterion is called at the head of a column or panel.

    Only the first letter becomes a capital: "pH of NTU" is not "Ph of ntu".

    Parameters
    ----------
    results : Results
    criterion : str, optional

    Returns
    -------
    str
    """
    label = criterion_label(results, criterion)
    return label[:1].upper() + label[1:]


def level_words(results: Any) -> str:
    """
    The confidence level of the limits, as it is said.

    Parameters
    ----------
    results : Results

    Returns
    -------
    str
        Such as "95%".
    """
    return f"{results.meta['conf_level'] * 100:g}%"


def of_criterion(results: Any, table: str, criterion: str | None = None) -> pd.DataFrame:
    """
    Rows of a table that belong to one criterion and to mixes of the trial.

    Parameters
    ----------
    results : Results
    table : str
        A table with the columns `criterion` and `mix`.
    criterion : str, optional

    Returns
    -------
    pandas.DataFrame
    """
    frame = results[table]
    wanted = frame["criterion"] == primary(results, criterion)
    return frame[wanted & frame["mix"].isin(results["mixes"]["mix"])].reset_index(drop=True)


def of_told_criterion(results: Any, table: str, criterion: str | None = None) -> pd.DataFrame:
    """
    Rows of a table that tells of some criteria only: those of one of them, known mixes.

    Parameters
    ----------
    results : Results
    table : str
        A table with the columns `criterion` and `mix`.
    criterion : str, optional
        The first that the table tells of unless named.

    Returns
    -------
    pandas.DataFrame

    Raises
    ------
    ValueError
        For a criterion that the table does not tell of.
    """
    frame = results[table]
    frame = frame[frame["mix"].isin(mix_codes(results))]
    known = list(dict.fromkeys(frame["criterion"]))
    wanted = known[0] if criterion is None else criterion
    if wanted not in known:
        raise ValueError(f"criterion must be one of {', '.join(known)}; got {wanted!r}.")
    return frame[frame["criterion"] == wanted]


def mix_codes(results: Any) -> list[str]:
    """
    Codes of the mixes in the order of the trial's list: the order that colours follow.

    Parameters
    ----------
    results : Results

    Returns
    -------
    list of str
    """
    return list(results["mixes"]["mix"])


def mix_names(results: Any) -> dict[str, str]:
    """
    What each mix is called on paper: its name, or its code where it has none.

    Two mixes of the same name carry their codes as well.

    Parameters
    ----------
    results : Results

    Returns
    -------
    dict of str to str
    """
    mixes = results["mixes"]
    given = mixes["name"] if "name" in mixes else mixes["mix"]
    pairs = zip(mixes["mix"], given, strict=True)
    names = {mix: isolated(name.strip()) if _is_text(name) else mix for mix, name in pairs}
    shared = [name for name in names.values() if list(names.values()).count(name) > 1]
    return {mix: f"{name} ({mix})" if name in shared else name for mix, name in names.items()}


def block_count(results: Any) -> int:
    """
    How many blocks the mixes stood in; a vessel of purified water may stand in none.

    Parameters
    ----------
    results : Results

    Returns
    -------
    int
    """
    vessels = results["vessels"]
    blocks = vessels.loc[vessels["mix"].isin(mix_codes(results)), "block"]
    return blocks[blocks.notna() & (blocks.astype(str) != "")].nunique()


def mix_order(results: Any, criterion: str | None = None) -> list[str]:
    """
    Codes of the mixes, the one with the shortest typical time first.

    Mixes with the same typical time stand by their lower limit, then in the trial's own order.

    Parameters
    ----------
    results : Results
    criterion : str, optional

    Returns
    -------
    list of str
    """
    times = of_criterion(results, "times", criterion)
    typical = times[times["term"] == "typical time"].set_index("mix")
    codes = mix_codes(results)

    def key(mix: str) -> tuple:
        if mix not in typical.index:
            return (1, 0, 0, codes.index(mix))
        row = typical.loc[mix]
        return (0, row["estimate"], row["conf_low"], codes.index(mix))

    return sorted(codes, key=key)


def time_rows(results: Any, term: str, criterion: str | None = None) -> dict[str, Any]:
    """
    The row of each mix for one kind of time, with the limits to act on.

    Where the mixes may well spread unequally, those are the wider ones of the table
    `times_to_use`.

    Parameters
    ----------
    results : Results
    term : str
        ``"typical time"`` or ``"assured time"``.
    criterion : str, optional

    Returns
    -------
    dict of str to namedtuple
        By mix code, fastest first.
    """
    times = of_criterion(results, _to_use(results, criterion), criterion)
    rows = {row.mix: row for row in times[times["term"] == term].itertuples(index=False)}
    return {mix: rows[mix] for mix in mix_order(results, criterion) if mix in rows}


def _to_use(results: Any, criterion: str | None) -> str:
    """The table of times to act on."""
    return "times_to_use" if limits_are_wider(results, criterion) else "times"


def limits_are_wider(results: Any, criterion: str | None = None) -> bool:
    """
    Whether the times of a criterion have the wider limits of one spread and of own spreads.

    Parameters
    ----------
    results : Results
    criterion : str, optional

    Returns
    -------
    bool
        True where the mixes may well spread unequally, which is asked of the first page's
        criterion only.
    """
    if "times_to_use" not in results or "spread" not in results:
        return False
    spread = results["spread"]
    own = spread[spread["criterion"] == primary(results, criterion)]
    return bool(own["matters"].any())


def floor_of(row: Any, window_h: float) -> float:
    """
    The time that an unreached time is above: its lower limit, or the window without one.

    Parameters
    ----------
    row : namedtuple
        A row of the times.
    window_h : float

    Returns
    -------
    float
        Hours.
    """
    low = row.conf_low
    return low if low > 0 and math.isfinite(low) else window_h


def with_names(results: Any, text: str) -> str:
    """
    A text in which the codes of mixes are replaced by their names.

    Parameters
    ----------
    results : Results
    text : str

    Returns
    -------
    str
    """
    names = mix_names(results)
    codes = "|".join(map(re.escape, names))
    return re.sub(rf"\b({codes})\b", lambda found: names[found.group()], text) if codes else text


def kit_version(results: Any) -> str:
    """
    Version of the kit that the results were computed with.

    Parameters
    ----------
    results : Results

    Returns
    -------
    str
        Empty when the results don't say.
    """
    meta = results.meta
    return str(meta.get("kit_version") or meta.get("versions", {}).get("trialkit", ""))


def _is_text(value: Any) -> bool:
    return isinstance(value, str) and bool(value.strip())
