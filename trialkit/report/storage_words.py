"""What was found about storage, in words."""

import re
from typing import Any

import pandas as pd

from .blocks import Answer, Column, Prose, Table
from .marks import mix_marks
from .selection import mix_codes, mix_names
from .storage_cells import (
    print_amount,
    print_signed,
)


def storage_words(results: Any, topic: str) -> Prose:
    """
    The finding on one topic of storage in words, or why there is none.

    Parameters
    ----------
    results : Results
        With the table `storage_words`.
    topic : str
        "storage", "homogeneity", "salinity", "residue" or "clarity".

    Returns
    -------
    Prose

    Raises
    ------
    KeyError
        For a topic that the results don't hold.
    """
    words = results["storage_words"].set_index("topic")["sentence"]
    return Prose(_escaped(_with_names(words[topic], mix_names(results))))


def storage_answer(results: Any) -> Answer:
    """
    The cover of a report on storage: what stood out, with one row a mix.

    Parameters
    ----------
    results : Results
        What `storage_results` returned.

    Returns
    -------
    Answer
    """
    meta, names = results.meta, mix_names(results)
    words = results["storage_words"].set_index("topic")["sentence"]
    topics = ["residue", "clarity"] if len(results["storage_words"]) else []
    sentence = " ".join(_with_names(words[topic], names) for topic in topics)
    rows = [(names[mix], *_cells(results, mix)) for mix in mix_codes(results)]
    heads = [
        Column("Mix"), Column("Residue, typical vessel"), Column("Still clear"),
        Column("Salinity change"), Column("of it not water lost"),
    ]  # fmt: skip
    note = (
        "The order is that of the trial's list of mixes. A dash: nothing was read, or no vessel "
        "was clear to begin with."
    )
    marks = [mix_marks(mix_codes(results))[mix].to_json() for mix in mix_codes(results)]
    return Answer(
        title=meta["title"],
        subtitle=_with_names(words["storage"], names),
        sentence=sentence,
        table=Table("storage-answer", "What storage did", heads, rows, note, marks),
        facts=[("Licence", str(meta.get("licence") or ""))],
        date=str(meta.get("start", ""))[:10],
    )


def _cells(results: Any, mix: str) -> tuple[str, str, str, str]:
    residue = _of(results["residue"], mix)
    kept = _of(results["clarity_kept"], mix)
    kept = kept[kept["day"] == kept["day"].max()]
    drift = _of(results["storage"], mix).set_index("term")["estimate"]
    left = "–"
    if len(residue):
        row = residue.iloc[0]
        left = f"{print_amount(row['estimate'], row['conf_high'])} {row['unit']}"
    clear = "; ".join(f"{r.criterion} {r.n_clear} of {r.n}" for r in kept.itertuples()) or "–"
    parts = [print_signed(drift[t]) if t in drift else "–" for t in ("change in all", "the rest")]
    return left, clear, *parts


def _of(frame: pd.DataFrame, mix: str) -> pd.DataFrame:
    return frame[frame["mix"] == mix]


def _with_names(text: str, names: dict[str, str]) -> str:
    """The sentence with names, which tell a reader more than codes."""
    for mix, name in names.items():
        text = re.sub(rf"\b{re.escape(mix)}\b", lambda _, name=name: name, text)
    return text


def _escaped(text: str) -> str:
    """The sentence as markdown that shows its own characters."""
    return "".join(f"\\{c}" if c in "*_[]`<>$" else c for c in text)
