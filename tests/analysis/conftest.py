"""Small trials built by hand, so that a test can show every reading it rests on."""

from dataclasses import replace
from datetime import datetime

import numpy as np
import pandas as pd
import pytest

from trialkit.records.trial import Criterion, Protocol, Trial

CLARITY = Criterion("clarity", "clear", "clarity", "lines", 0, 2, "majority", "high")
HAZE = Criterion("haze", "free of haze", "haze", "NTU", 0.3, 1, "majority", "low")
COLUMNS = ["vessel", "rater", "session", "elapsed_h", "quantity", "value", "limit", "unit"]


def _protocol(schedule_h, criteria) -> Protocol:
    return Protocol(
        title="Hand-made",
        start=datetime(2031, 1, 1),
        timezone="UTC",
        window_h=max(schedule_h),
        schedule_h=tuple(schedule_h),
        target_salinity=33,
        criteria={c.name: c for c in criteria},
        seed=1,
        licence="CC0-1.0",
    )


def _vessels(mixes: dict[str, str]) -> pd.DataFrame:
    rows = [("V00", "reference", "", "", np.inf)]
    rows += [(v, "trial", mix, f"{i % 4}", np.inf) for i, (v, mix) in enumerate(mixes.items())]
    return pd.DataFrame(rows, columns=["vessel", "role", "mix", "block", "lost_h"])


def _readings(rows, vessels) -> pd.DataFrame:
    frame = pd.DataFrame(rows, columns=COLUMNS).merge(vessels, on="vessel")
    return frame.assign(phase="mixing", position="", repeat=1, instrument="", note="", row=2)


@pytest.fixture
def hand_trial():
    """A function: readings of one quantity, `{vessel: {rater: [value per session]}}`, to a Trial.

    The reference vessel is V00; None is a look that was not made. Sessions are read on the hour.
    """

    def make(values, *, criterion=CLARITY, reference=10, mixes=None, **changes):
        criterion = replace(criterion, **changes)
        mixes = mixes or dict.fromkeys(values, "M01")
        vessels = _vessels(mixes)
        raters = sorted({rater for looks in values.values() for rater in looks})
        n_session = max(len(s) for looks in values.values() for s in looks.values())
        looks = {"V00": dict.fromkeys(raters, [reference] * n_session), **values}
        rows = [
            (vessel, rater, s, s + 1.0, criterion.quantity, value, "", criterion.unit)
            for vessel, by_rater in looks.items()
            for rater, series in by_rater.items()
            for s, value in enumerate(series)
            if value is not None
        ]
        return Trial(
            protocol=_protocol(range(1, n_session + 1), [criterion]),
            mixes=pd.DataFrame({"mix": sorted(set(mixes.values()))}).assign(name="A"),
            vessels=vessels,
            raters=pd.DataFrame({"rater": raters, "name": raters}),
            readings=_readings(rows, vessels),
            intervals=None,
            problems=pd.DataFrame(),
            sources=pd.DataFrame(),
        )

    return make


@pytest.fixture
def clarity() -> Criterion:
    """Lines legible, no tolerance, two successive readings, majority of raters."""
    return CLARITY


@pytest.fixture
def haze() -> Criterion:
    """Turbidity within 0.3 NTU of the reference, one reading enough."""
    return HAZE
