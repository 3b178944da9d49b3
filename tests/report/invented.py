"""Invented results for the tests of the report: the shapes of results.json, any number of mixes."""

from dataclasses import dataclass
from statistics import NormalDist

import pandas as pd

NAMES = [
    *("Alder", "Birch", "Cedar", "Elm", "Fir", "Hazel", "Juniper", "Larch", "Maple", "Oak"),
    *("Pine", "Rowan", "Spruce", "Willow", "Yew", "Aspen", "Beech", "Cherry", "Cypress", "Ebony"),
    *("Hemlock", "Holly", "Hornbeam", "Laurel", "Linden", "Myrtle", "Olive", "Poplar"),
    *("Sycamore", "Walnut"),
]
SCHEDULE = [0.25, 0.5, 1, 1.5, 2, 3, 4, 6, 8, 10, 12, 16, 20, 24, 30]
INF = float("inf")


@dataclass(frozen=True)
class Results:
    """The two attributes of the kit's Results that the report reads."""

    meta: dict
    tables: dict

    def __getitem__(self, name):
        return self.tables[name]

    def __contains__(self, name):
        return name in self.tables


def invented_results(n_mixes=6, n_vessels=4, names=NAMES):
    """
    Results of a trial that never was.

    The last mix never clears, the third clears between the same two readings in every vessel, the
    fourth clouds again in one vessel, and one vessel of the second is lost.
    """
    mixes = [f"M{i + 1:02}" for i in range(n_mixes)]
    intervals = pd.DataFrame(
        [_interval(mix, i, j, n_mixes) for i, mix in enumerate(mixes) for j in range(n_vessels)],
        columns=["mix", "block", "vessel", "left_h", "right_h", "reclouded_h"],
    )
    intervals.insert(0, "criterion", "fully clear")
    vessels = intervals[["vessel", "mix", "block"]].assign(role="trial", place="", lost_h=INF)
    vessels.loc[vessels["vessel"] == _vessel(1, n_vessels - 1), "lost_h"] = 3.0
    intervals = intervals[intervals["vessel"].isin(vessels["vessel"])].reset_index(drop=True)
    lost = intervals["vessel"] == _vessel(1, n_vessels - 1)
    intervals.loc[lost, ["left_h", "right_h"]] = [2.0, INF]
    tables = {
        "mixes": _mixes(mixes, names),
        "vessels": vessels,
        "intervals": intervals,
        "times": _times(mixes, intervals),
        "curves": _curves(mixes),
        "steps": _steps(intervals),
        "at_risk": _at_risk(intervals),
        "fits": _fits(intervals),
        "verdicts": _verdicts(intervals, vessels),
        "problems": _problems(),
    }
    return Results(_meta(), tables)


def _vessel(i, j):
    return f"K{10 + i * 8 + j:02}" if i * 8 + j < 90 else f"L{(i * 8 + j) - 90:02}"


def _typical(i):
    return 1.2 * 1.35 ** (i % 9)


def _interval(mix, i, j, n_mixes):
    block = f"B{j + 1:02}"
    if i == n_mixes - 1:
        return mix, block, _vessel(i, j), 30.0, INF, INF
    true = 1.7 if i == 2 else _typical(i) * (0.72, 0.95, 1.08, 1.4, 0.85, 1.2)[j % 6]
    left = max([t for t in SCHEDULE if t < true], default=0.0)
    right = min(t for t in [*SCHEDULE, INF] if t >= true)
    return mix, block, _vessel(i, j), left, right, 16.0 if (i, j) == (3, 1) else INF


def _mixes(mixes, names):
    return pd.DataFrame(
        {
            "mix": mixes,
            "name": [names[i % len(names)] for i in range(len(mixes))],
            "lot": [f"L{100 + 7 * i}" for i in range(len(mixes))],
            "label_dose_g_per_l": [36.0 + 0.5 * (i % 5) for i in range(len(mixes))],
            "price_per_kg": [3.2 + 0.35 * (i % 7) for i in range(len(mixes))],
        }
    )


def _times(mixes, intervals):
    rows = []
    for i, mix in enumerate(mixes):
        own = intervals[intervals["mix"] == mix]
        events = int((own["right_h"] < INF).sum())
        middle = INF if events == 0 else _typical(i)
        for term, factor, low, high in (
            ("typical time", 1.0, 0.66, 1.5),
            ("assured time", 1.45, 0.0, 2.9),
        ):
            row = {
                "criterion": "fully clear",
                "mix": mix,
                "term": term,
                "estimate": middle * factor,
                "conf_low": _low(term, events, middle * low),
                "conf_high": middle * high,
                "conf_level": 0.95,
                "n": len(own),
                "n_event": events,
                "n_censored": len(own) - events,
                "unit": "h",
                "method": "log-normal, pooled scale, calibrated profile likelihood",
            }
            rows.append(row)
    frame = pd.DataFrame(rows)
    slowest = frame.groupby("term", as_index=False, sort=False).max().assign(mix="all mixes")
    return pd.concat([frame, slowest], ignore_index=True)


def _low(term, events, low):
    if term == "assured time":
        return 0.0
    return low if events else 24.6


def _curves(mixes):
    normal = NormalDist()
    rows = []
    for i, mix in enumerate(mixes[:-1]):
        for k in range(61):
            hour = 0.125 * 240 ** (k / 60)
            z = NormalDist(0, 1).inv_cdf(0.5) + _z(hour, _typical(i))
            ends = [normal.cdf(z + shift) for shift in (0.0, -1.0, 1.0)]
            rows.append(("fully clear", mix, hour, *ends, 0.95))
    columns = ["criterion", "mix", "time_h", "estimate", "conf_low", "conf_high", "conf_level"]
    return pd.DataFrame(rows, columns=columns)


def _z(hour, typical):
    from math import log

    return log(hour / typical) / 0.3


def _steps(intervals):
    rows = []
    for mix, own in intervals.groupby("mix"):
        seen = own[own["right_h"] < INF].sort_values("right_h")
        for row in seen.drop_duplicates("right_h").itertuples():
            share = (seen["right_h"] <= row.right_h).sum() / len(own)
            rows.append(("fully clear", mix, row.left_h, row.right_h, share))
    columns = ["criterion", "mix", "left_h", "right_h", "estimate"]
    return pd.DataFrame(rows, columns=columns)


def _at_risk(intervals):
    rows = []
    for mix, own in intervals.groupby("mix"):
        for hour in SCHEDULE:
            clear = int((own["right_h"] <= hour).sum())
            waiting = int((own["left_h"] >= hour).sum())
            unknown = len(own) - clear - waiting
            rows.append(("fully clear", mix, hour, waiting, clear, unknown))
    columns = ["criterion", "mix", "time_h", "n_not_clear", "n_clear", "n_unknown"]
    return pd.DataFrame(rows, columns=columns)


def _fits(intervals):
    n, cleared = len(intervals), int((intervals["right_h"] < INF).sum())
    columns = ["criterion", "family", "scale", "loglik", "n", "n_event", "converged", "note"]
    rows = [
        ("fully clear", "lognormal", 0.301, -31.92, n, cleared, True, "used in this report"),
        ("fully clear", "weibull", 0.262, -32.48, n, cleared, True, ""),
        ("fully clear", "loglogistic", 0.171, -32.2, n, cleared, True, ""),
    ]
    return pd.DataFrame(rows, columns=columns)


def _verdicts(intervals, vessels):
    lost = vessels.set_index("vessel")["lost_h"]
    rows = []
    for row in intervals.itertuples():
        for k, hour in enumerate(SCHEDULE):
            verdict = "clear" if hour >= row.right_h else "not clear"
            if hour >= row.reclouded_h:
                verdict = "not clear"
            if hour >= lost[row.vessel] or (row.vessel == "K10" and hour == 8):
                verdict = "not read"
            rows.append(("clarity", row.vessel, row.mix, k, hour, verdict))
            hazy = verdict if hour > row.right_h or verdict == "not read" else "not clear"
            rows.append(("haze", row.vessel, row.mix, k, hour, hazy))
    columns = ["criterion", "vessel", "mix", "session", "elapsed_h", "verdict"]
    return pd.DataFrame(rows, columns=columns)


def _problems():
    columns = ["file", "row", "column", "value", "level", "message", "fix"]
    rows = [
        (
            "readings.csv",
            212,
            "value",
            "48",
            "warn",
            "haze of 48 NTU is above 40 NTU",
            "dilute such a sample and read it again",
        ),
        ("readings.csv", 377, "value", "", "note", "empty: not read", ""),
    ]
    return pd.DataFrame(rows, columns=columns)


def _meta():
    digest = "9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08"
    files = ["trial.toml", "mixes.csv", "vessels.csv", "key.csv", "raters.csv", "readings.csv"]
    return {
        "title": "Harbour culture room: six blends",
        "start": "2031-04-02T08:00:00",
        "timezone": "UTC",
        "window_h": 30.0,
        "target_salinity": 33.0,
        "conf_level": 0.95,
        "family": "lognormal",
        "seed": 4021,
        "licence": "CC-BY-4.0",
        "primary": "fully clear",
        "criteria": [
            {"criterion": "fully clear", "label": "fully clear"},
            {
                "criterion": "clarity",
                "label": "clear",
                "quantity": "clarity",
                "unit": "lines",
                "tolerance": 0.0,
                "hold": 2,
                "rater_rule": "majority",
            },
            {
                "criterion": "haze",
                "label": "free of haze",
                "quantity": "haze",
                "unit": "NTU",
                "tolerance": 0.3,
                "hold": 2,
                "rater_rule": "majority",
            },
        ],
        "inputs": [
            {"file": name, "sha256": digest, "bytes": 812 + 4021 * i}
            for i, name in enumerate(files)
        ],
        "versions": {"trialkit": "0.1.0", "numpy": "2.3.4", "pandas": "3.0.1", "scipy": "1.16.3"},
        "python": "3.11.7",
    }
