"""The three invented trials that the kit is shown and tested with."""

from dataclasses import replace
from datetime import datetime, timedelta
from math import inf
from pathlib import Path

import numpy as np
import pandas as pd

from ._draws import drawn_dose
from .folder import PlannedTrial, write_text
from .layout import randomise_blocks, vessel_codes
from .seal import SEALED_FILE, key_digest, seal_of, sealed_text
from .simulate import Event, TrialSpec, simulate_trial
from .water import Water

_NAMES = {
    "M01": ("Alder", "A-117", 36.5, 4.10),
    "M02": ("Birch", "B-2204", 38.0, 3.35),
    "M03": ("Cedar", "C-09", 35.8, 5.20),
    "M04": ("Hazel", "H-331", 37.2, 2.90),
    "M05": ("Linden", "L-58", 39.5, 1.95),
    "M06": ("Rowan", "R-1020", 36.9, 4.60),
}
_WATERS = {
    "M01": Water(clarity_h=0.8, haze_h=2.3, spread=0.25, dose_g_per_l=36.9, residue_mg=22),
    "M02": Water(clarity_h=1.7, haze_h=5.0, spread=0.30, dose_g_per_l=38.1, residue_mg=70),
    "M03": Water(clarity_h=5.0, haze_h=11.0, spread=0.03, dose_g_per_l=35.9, residue_mg=11),
    "M04": Water(clarity_h=7.0, haze_h=19.0, spread=0.35, dose_g_per_l=38.3, residue_mg=160),
    "M05": Water(
        clarity_h=inf,
        haze_h=inf,
        spread=0.3,
        dose_g_per_l=40.6,
        residue_mg=420,
        film_ntu_per_week=0.15,
    ),
    "M06": Water(clarity_h=2.6, haze_h=7.0, spread=0.30, dose_g_per_l=37.4, residue_mg=45),
}
_CLARITY = {
    "label": "clear",
    "quantity": "clarity",
    "unit": "lines",
    "tolerance": 1,
    "hold": 2,
    "rater_rule": "majority",
}
_HAZE = {
    "label": "free of haze",
    "quantity": "haze",
    "unit": "NTU",
    "tolerance": 0.3,
    "hold": 2,
    "rater_rule": "majority",
}
_INSTRUMENTS = {
    "T01": {"quantity": "haze", "unit": "NTU", "resolution": 0.01},
    "C01": {"quantity": "salinity", "unit": "PSU", "resolution": 0.1},
    "H01": {"quantity": "temperature", "unit": "C", "resolution": 0.1},
    "W01": {"quantity": "mass", "unit": "kg", "resolution": 0.01},
    "B01": {"quantity": "residue", "unit": "mg", "resolution": 1},
}


def write_demo(folder):
    """The paths of the three demo trials, written below a folder.

    Every number in them is invented and comes from the literal seeds here; two runs give the same
    bytes.

    Parameters
    ----------
    folder : path-like
        Where ``harbour``, ``rerun`` and ``single`` go.

    Returns
    -------
    list of pathlib.Path
        The three trial folders.
    """
    specs = {"harbour": harbour_spec(), "rerun": rerun_spec(), "single": single_spec()}
    folders = [simulate_trial(spec, Path(folder) / name) for name, spec in specs.items()]
    write_text(folders[0] / SEALED_FILE, sealed_text(specs["harbour"].planned.settings))
    return folders


def harbour_spec():
    """The full trial: six blends in four blocks, two raters, one meter, five weeks of storage."""
    settings = {
        "title": "Harbour culture room: six blends",
        "start": datetime(2031, 4, 2, 8),
        "timezone": "UTC",
        "window_h": 30,
        "schedule_h": [0.25, 0.5, 1, 1.5, 2, 3, 4, 6, 8, 10, 12, 16, 20, 24, 30],
        "target_salinity": 33,
        "seed": 4021,
        "licence": "CC-BY-4.0",
        "storage": {"days": [7, 14, 21, 28, 35]},
        "criteria": {"clarity": _CLARITY, "haze": _HAZE},
        "claims": _HARBOUR_CLAIMS,
        "instruments": _INSTRUMENTS,
        "detection_limits": {"residue": {"value": 10, "unit": "mg"}},
        "quantities": {"mass": {"unit": "kg", "low": 0, "high": 200}},
    }
    events = (
        Event("recloud", "M06", 3, 11.0, 22.0),
        Event("lost", "M04", 2, 4.5),
        Event("loose lid", "M02", 4),
        Event("not read", "M06", 1, 23.0, 25.0),
    )
    planned = _planned(settings, list(_NAMES), 4, 60.0, raters=("Reader one", "Reader two"))
    planned = _sealed(_with_lost(planned, events), nonce="5ea1ab1e0ddba11c0de5a17ca5cade42")
    return TrialSpec(
        planned, _WATERS, 4022, events, salinity_h=(0.5, 2, 6, 12, 24, 30), time_as="time"
    )


_HARBOUR_CLAIMS = {
    "alder_two_hours": {
        "text": "Alder is clear within two hours",
        "mix": "M01",
        "criterion": "clarity",
        "within_h": 2,
        "share": 0.5,
    },
    "birch_within_hour": {
        "text": "Birch is clear within the hour",
        "mix": "M02",
        "criterion": "clarity",
        "within_h": 1,
        "share": 0.5,
    },
    "rowan_workday": {
        "text": "Rowan is free of haze within a working day",
        "mix": "M06",
        "criterion": "haze",
        "within_h": 8,
        "share": 0.5,
    },
    "alder_before_hazel": {
        "text": "Alder clears before Hazel",
        "mix": "M01",
        "criterion": "clarity",
        "before": "M04",
    },
    "linden_overnight": {
        "text": "Linden is clear overnight",
        "mix": "M05",
        "criterion": "clarity",
        "within_h": 12,
        "share": 0.9,
    },
}


def rerun_spec():
    """The smaller repeat elsewhere: three of the blends, three vessels each, one day."""
    settings = {
        "title": "Lagoon teaching laboratory: three blends again",
        "start": datetime(2031, 9, 16, 9),
        "timezone": "UTC",
        "window_h": 24,
        "schedule_h": [0.25, 0.5, 1, 1.5, 2, 3, 4, 5, 6, 8, 10, 14, 24],
        "target_salinity": 33,
        "seed": 5107,
        "licence": "CC-BY-4.0",
        "criteria": {"clarity": _CLARITY, "haze": _HAZE},
        "claims": {"alder_two_hours": _HARBOUR_CLAIMS["alder_two_hours"]},
        "instruments": {code: _INSTRUMENTS[code] for code in ("T01", "C01", "H01")},
    }
    planned = _planned(settings, ["M01", "M03", "M06"], 3, 20.0, raters=("Reader one",))
    return TrialSpec(planned, _WATERS, 5108, salinity_h=(1, 6, 24), time_as="elapsed_min")


def single_spec():
    """The hobbyist's trial: five blends, one bucket each, one pair of eyes, no meter."""
    settings = {
        "title": "Kitchen bench: five blends, one bucket each",
        "start": datetime(2031, 11, 8, 10),
        "timezone": "UTC",
        "window_h": 24,
        "schedule_h": [0.5, 1, 2, 3, 4, 6, 8, 12, 24],
        "target_salinity": 35,
        "seed": 6203,
        "licence": "CC-BY-4.0",
        "criteria": {"clarity": _CLARITY},
        "claims": {"birch_within_hour": _HARBOUR_CLAIMS["birch_within_hour"]},
    }
    mixes = ["M01", "M02", "M03", "M05", "M06"]
    planned = _planned(settings, mixes, 1, 15.0, raters=("Reader one",))
    return TrialSpec(planned, _WATERS, 6204, time_as="elapsed_h")


def _planned(settings, mixes, n_blocks, volume_l, *, raters):
    seed = settings["seed"]
    layout = randomise_blocks(mixes, n_blocks, seed=[seed, 1])
    layout.insert(0, "vessel", vessel_codes(len(layout), seed=[seed, 2]))
    is_reference = layout["mix"].eq("")
    vessels = layout.assign(
        role=np.where(is_reference, "reference", "trial"),
        volume_l=volume_l,
        dose_g=[_dose_g(mix, volume_l, settings, rng) for mix, rng in _rngs(layout, seed)],
        # Blocks start four minutes apart, so that one reader can go from block to block.
        start=[
            (settings["start"] + timedelta(minutes=4 * (block - 1))).isoformat()
            for block in layout["block"]
        ],
    )
    columns = ["vessel", "role", "block", "place", "volume_l", "dose_g", "start"]
    names = pd.DataFrame(
        [(mix, *_NAMES[mix]) for mix in mixes],
        columns=["mix", "name", "lot", "label_dose_g_per_l", "price_per_kg"],
    )
    people = [(f"R{i:02d}", name) for i, name in enumerate(raters, start=1)]
    return PlannedTrial(
        settings,
        names,
        vessels[columns],
        layout.loc[~is_reference, ["vessel", "mix"]].sort_values("vessel"),
        pd.DataFrame(people, columns=["rater", "name"]),
    )


def _rngs(layout, seed):
    rng = np.random.default_rng([seed, 3])
    return [(mix, rng) for mix in layout["mix"]]


def _dose_g(mix, volume_l, settings, rng):
    return drawn_dose(_WATERS[mix], volume_l, settings["target_salinity"], rng) if mix else 0.0


def _sealed(planned, nonce):
    """The plan with its key's digest and its seal, as `trialkit plan` makes them."""
    settings = dict(planned.settings)
    settings |= {"key_sha256": key_digest(planned.key, nonce), "key_nonce": nonce}
    settings["seal"] = seal_of(sealed_text(settings))
    tables = {name: value for name, value in settings.items() if isinstance(value, dict)}
    plain = {name: value for name, value in settings.items() if name not in tables}
    return replace(planned, settings=plain | tables)


def _with_lost(planned, events):
    lost = {(e.mix, e.block): e.from_h for e in events if e.kind == "lost"}
    mixes = planned.vessels.merge(planned.key, on="vessel", how="left")["mix"]
    hours = [
        lost.get((mix, block), "")
        for mix, block in zip(mixes, planned.vessels["block"], strict=True)
    ]
    return replace(planned, vessels=planned.vessels.assign(lost_h=hours))
