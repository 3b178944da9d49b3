"""Layout, schedule and seal of a trial, from checked answers."""

import secrets
from datetime import timedelta
from math import ceil

import numpy as np
import pandas as pd

from .folder import PlannedTrial
from .incomplete import lay_out_blocks
from .layout import vessel_codes
from .schedule import propose_schedule
from .seal import key_digest, seal_of, sealed_text

_READING_MIN = 0.5  # one look at one vessel, in minutes: about what a practised reader takes


def build_plan(answers, nonce):
    """Layout, schedule and seal from checked answers, nothing written.

    Parameters
    ----------
    answers : dict
        From `check_answers`.
    nonce : str
        Hexadecimal random text.

    Returns
    -------
    PlannedTrial
        With the seal in its settings.
    """
    seed = answers["seed"] if answers["seed"] >= 0 else secrets.randbelow(10**6)
    mixes = _mix_frame(answers["mixes"])
    layout = lay_out_blocks(
        list(mixes["mix"]),
        _blocks(answers),
        places=answers["places"] or len(mixes),
        seed=[seed, int(nonce, 16), 1],
    )
    vessels = _vessel_frame(layout, answers, seed)
    key = vessels.loc[vessels["mix"] != "", ["vessel", "mix"]].sort_values("vessel")
    settings = _settings(answers, mixes, seed, vessels)
    settings["key_sha256"] = key_digest(key, nonce)
    settings = {"seal": seal_of(sealed_text(settings)), **settings}
    raters = [(f"R{i:02d}", name) for i, name in enumerate(answers["raters"], start=1)]
    return PlannedTrial(
        _plain_first(settings),
        mixes,
        vessels.drop(columns="mix"),
        key.reset_index(drop=True),
        pd.DataFrame(raters, columns=["rater", "name"]),
    )


def _plain_first(settings):
    tables = {k: v for k, v in settings.items() if isinstance(v, dict)}
    return {k: v for k, v in settings.items() if k not in tables} | tables


def _blocks(answers):
    """Blocks that give every mix its number of vessels, or a little more in incomplete ones."""
    n_mixes, places = len(answers["mixes"]), answers["places"]
    wanted = answers["vessels_per_mix"]
    return ceil(wanted * n_mixes / places) if places else wanted


def _mix_frame(mixes):
    rows = [
        {
            "mix": f"M{i:02d}",
            "name": mix["name"],
            "lot": mix["lot"],
            "label_dose_g_per_l": mix["label_dose_g_per_l"],
            "price_per_kg": mix["price_per_kg"] or "",
        }
        for i, mix in enumerate(mixes, start=1)
    ]
    return pd.DataFrame(rows)


def _vessel_frame(layout, answers, seed):
    # Blocks start one after another, so that each can be read at its own planned time.
    minutes = ceil(_READING_MIN * layout.groupby("block").size().max() + 0.5)
    starts = [answers["start"] + timedelta(minutes=minutes * (b - 1)) for b in layout["block"]]
    return pd.DataFrame(
        {
            "vessel": vessel_codes(len(layout), seed=[seed, 2]),
            "role": np.where(layout["mix"] == "", "reference", "trial"),
            "block": layout["block"],
            "place": layout["place"],
            "volume_l": answers["volume_l"],
            "dose_g": "",
            "start": [moment.isoformat(timespec="seconds") for moment in starts],
            "mix": layout["mix"],
        }
    )


def _settings(answers, mixes, seed, vessels):
    settings = {
        "title": answers["title"],
        "start": answers["start"],
        "timezone": answers["timezone"],
        "window_h": answers["window_h"],
        "schedule_h": answers["schedule_h"] or _proposal(answers, vessels),
        "target_salinity": answers["target_salinity"],
        "seed": seed,
        "licence": answers["licence"],
        "criteria": _criteria(answers),
        "claims": _claims(answers, mixes),
        "instruments": {
            "C01": {"quantity": "salinity", "unit": "PSU", "resolution": 0.1},
            "H01": {"quantity": "temperature", "unit": "C", "resolution": 0.1},
        },
    }
    if answers["control"]:
        settings |= {"comparisons": "control", "control": _code(answers["control"], mixes)}
    if answers["haze_meter"]:
        settings["instruments"]["T01"] = {"quantity": "haze", "unit": "NTU", "resolution": 0.01}
    if answers["storage_days"]:
        settings["storage"] = {"days": answers["storage_days"]}
        settings["instruments"]["W01"] = {"quantity": "mass", "unit": "kg", "resolution": 0.01}
        settings["quantities"] = {"mass": {"unit": "kg", "low": 0, "high": 10000}}
    return settings


def _proposal(answers, vessels):
    per_block = vessels.groupby("block").size().max()
    return list(
        propose_schedule(
            [mix["expected_h"] for mix in answers["mixes"]],
            answers["spread"],
            n_readings=answers["n_readings"],
            window_h=answers["window_h"],
            gap_h=_READING_MIN * per_block * vessels["block"].nunique() / 60,
            hold=answers["hold"],
        )
    )


def _criteria(answers):
    common = {"hold": answers["hold"], "rater_rule": "majority"}
    clarity = {
        "label": "clear",
        "quantity": "clarity",
        "unit": "lines",
        "tolerance": answers["tolerance_lines"],
    }
    haze = {
        "label": "free of haze",
        "quantity": "haze",
        "unit": "NTU",
        "tolerance": answers["tolerance_ntu"],
    }
    criteria = {"clarity": clarity | common}
    return criteria | ({"haze": haze | common} if answers["haze_meter"] else {})


def _claims(answers, mixes):
    """The labels' claims and those of answers.toml, mixes named by code."""
    claims = {
        f"label_{code.lower()}": {
            "text": f"{mix['name']} is clear within {mix['claimed_h']:g} h",
            "mix": code,
            "criterion": "clarity",
            "within_h": mix["claimed_h"],
            "share": 0.5,
        }
        for code, mix in zip(mixes["mix"], answers["mixes"], strict=True)
        if mix["claimed_h"]
    }
    for name, claim in answers["claims"].items():
        named = {k: _code(claim[k], mixes) for k in ("mix", "before") if k in claim}
        claims[name] = {**claim, **named}
    return claims


def _code(name, mixes):
    """The code of a mix that is given by name or by code."""
    found = mixes.loc[(mixes["name"] == name) | (mixes["mix"] == name), "mix"]
    if len(found) != 1:
        allowed = ", ".join(mixes["name"])
        raise ValueError(f"a claim or control must name one of {allowed}; got {name!r}.")
    return found.iloc[0]
