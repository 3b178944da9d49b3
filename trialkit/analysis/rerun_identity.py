"""The identity of a mix over trials: its name with its maker's lot, however they are spelt."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import pandas as pd

from trialkit.analysis.rerun_record import TrialRecord

__all__ = ["identities", "mixes_table", "spelt_alike"]


def spelt_alike(records: list[TrialRecord]) -> list[TrialRecord]:
    """The records with one spelling of each name and lot: capital letters don't part a mix.

    Of several spellings the most common stands, of equally common ones the first by letter.
    """
    spelt = [
        dict(_usual_spelling(name for record in records for name in record.mixes[column]))
        for column in ("name", "lot")
    ]
    return [
        replace(
            record,
            mixes=record.mixes.assign(
                name=[spelt[0][name.casefold()] for name in record.mixes["name"]],
                lot=[spelt[1][lot.casefold()] for lot in record.mixes["lot"]],
            ),
        )
        for record in records
    ]


def _usual_spelling(texts) -> list[tuple[str, str]]:
    """Each spelling by its small letters, the one to be kept last, as a dict keeps the last."""
    ranked = sorted(Counter(texts).items(), key=lambda item: (-item[1], item[0]), reverse=True)
    return [(text.casefold(), text) for text, _ in ranked]


def identities(mixes: pd.DataFrame, by_lot: bool) -> list[str]:
    """What each mix of a trial is called in the pool."""
    rows = zip(mixes["name"], mixes["lot"], strict=True)
    return [f"{name}, lot {lot}" if by_lot and lot else name for name, lot in rows]


def mixes_table(records: list[TrialRecord], vessels: pd.DataFrame, by_lot: bool) -> pd.DataFrame:
    """What each identity stands for, with how often it was tried."""
    known = {}
    for record in records:
        names, lots = record.mixes["name"], record.mixes["lot"]
        for mix, name, lot in zip(identities(record.mixes, by_lot), names, lots, strict=True):
            known[mix] = (name, lot if by_lot else "")
    counts = vessels.groupby("mix")["trial"].agg(n_trials="nunique", n="size").reset_index()
    told = pd.DataFrame([known[mix] for mix in counts["mix"]], columns=["name", "lot"])
    return pd.concat([counts["mix"], told, counts[["n_trials", "n"]]], axis=1)
