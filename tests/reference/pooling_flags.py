"""How often pooling flags a trial of honest readings, and one of invented ones.

Run: python tests/reference/pooling_flags.py [trials a row]; the table is pooling_flags.txt. A trial
is written as a folder and read as any other, so that the intake's warnings count as they do in use.
Honest trials differ in what is read, mixes, vessels, raters, times, order of rows, rounding, how
far vessels spread (their own sigma varies by a factor of 1.35 about the common one) and in steady
temperatures, salinities and blanks. Invented ones start as such a trial, of one of the kinds that
can show the pattern, and are then changed as a person at a spreadsheet might.
"""

import sys
import tempfile
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pandas as pd

from trialkit.analysis.rerun_flags import RARE, close_agreement
from trialkit.analysis.rerun_join import join_trials
from trialkit.analysis.rerun_record import record_trial
from trialkit.records.read import read_trial

SIGMA = 0.3  # of log time between vessels of a mix: what other trials would tell
SCHEDULES = {
    "coarse": [0.5, 1, 2, 4, 8, 12, 24],
    "usual": [0.25, 0.5, 1, 1.5, 2, 3, 4, 6, 8, 10, 12, 16, 20, 24],
    "fine": [round(0.25 * k, 2) for k in range(1, 49)],
}


@dataclass(frozen=True)
class Kind:
    """What is read in a trial, and how it is written."""

    quantity: str  # lines, score, contrast, haze
    step: float
    noise: float  # steps for lines, score and contrast; a share of the value for haze


KINDS = {
    "lines": Kind("lines", 1, 0.35),
    "clear or not": Kind("score", 1, 0.0),
    "contrast, 1%": Kind("contrast", 1, 1.5),
    "contrast, 0.1%": Kind("contrast", 0.1, 1.0),
    "haze, 0.01": Kind("haze", 0.01, 0.04),
    "haze, 0.1": Kind("haze", 0.1, 0.04),
    "haze, 0.1, steady meter": Kind("haze", 0.1, 0.005),
    "haze, 3 figures": Kind("haze", 0.0, 0.03),
    "haze, steps of 0.05": Kind("haze", 0.05, 0.03),
}
RULES = {
    "lines": ("clarity", "lines", 1),
    "score": ("clarity", "score", 0),
    "contrast": ("haze", "contrast_pct", 5),
    "haze": ("haze", "NTU", 0.5),
}


def honest(kind: Kind, rng, *, schedule: str = "", vessels: int = 0) -> dict:
    """A trial: its settings, vessels and readings, drawn at random."""
    schedule = SCHEDULES[schedule or rng.choice(list(SCHEDULES))]
    mixes = int(rng.choice([1, 2, 3, 5, 8]))
    per_mix = vessels or int(rng.choice([1, 2, 3, 4]))
    names = [f"M{k + 1:02}" for k in range(mixes)]
    letters = rng.permutation(list("ABCDFGHKLNPRSTVW"))
    codes = [f"{letters[k // 8]}{13 + 11 * (k % 8)}" for k in range(mixes * per_mix)]
    mix = np.array([names[k % mixes] for k in range(len(codes))])
    sigma = SIGMA * np.exp(0.3 * rng.normal())
    location = np.log(rng.uniform(1, 10, mixes)) + 0.3 * rng.normal()
    at = np.array([names.index(m) for m in mix])
    times = np.exp(location[at] + sigma * rng.normal(size=len(codes)))
    tanks = pd.DataFrame({"vessel": codes, "mix": mix, "time": times})
    tanks["block"] = np.arange(len(codes)) // mixes + 1
    tanks["start_haze"] = rng.uniform(8, 30) * np.exp(0.1 * rng.normal(size=len(codes)))
    raters = int(rng.choice([1, 1, 2, 3])) if kind.quantity != "haze" else 1
    rows = _readings(kind, tanks, schedule, raters, rng)
    order = [["at", "vessel"], ["vessel", "at"], ["at", "rater", "turn"]][rng.integers(3)]
    readings = rows.sort_values(["quantity", *order] if rng.random() < 0.5 else order)
    return {"kind": kind, "schedule": schedule, "tanks": tanks, "readings": readings}


def _readings(kind: Kind, tanks: pd.DataFrame, schedule, raters: int, rng) -> pd.DataFrame:
    quantity, unit, _ = RULES[kind.quantity]
    # Hours from one vessel to the next, if that is noted at all.
    late = rng.choice([0.0, min(1 / 120, 0.04 / len(tanks))])
    room, drift = rng.uniform(19, 26), rng.choice([0.0, 0.02])
    digits = int(rng.choice([0, 1]))  # of temperature
    salt, loss = rng.uniform(32, 36), rng.choice([0.0, 0.01])
    rows = []
    for at, hour in enumerate(schedule):
        for turn, tank in enumerate([*tanks.itertuples(), None]):
            code = "X09" if tank is None else tank.vessel
            when = hour - late * (len(tanks) - turn)
            own = {"at": at, "vessel": code, "turn": turn, "elapsed_h": f"{when:.4g}"}
            for rater in range(1, raters + 1):
                value = _value(kind, tank, when, rng)
                rows.append({**own, "rater": f"R{rater:02}", "quantity": quantity, "unit": unit,
                             "value": value})  # fmt: skip
            if at % 4 == 0:
                warm = room + drift * hour + (0.1 * rng.normal() if digits else 0.0)
                rows.append({**own, "rater": "R01", "quantity": "temperature", "unit": "C",
                             "value": f"{warm:.{digits}f}"})  # fmt: skip
                if tank is not None:
                    salty = salt + loss * hour + 0.05 * rng.normal()
                    rows.append({**own, "rater": "R01", "quantity": "salinity", "unit": "PSU",
                                 "value": f"{salty:.1f}"})  # fmt: skip
    return pd.DataFrame(rows)


def _value(kind: Kind, tank, hour: float, rng) -> str:
    """One reading as its reader writes it; `tank` None for purified water."""
    gone = 10.0 if tank is None else hour / tank.time  # 1 when it comes clear
    noise = kind.noise * rng.normal()
    if kind.quantity == "score":
        return str(int(gone >= 1))
    if kind.quantity == "lines":
        return str(int(np.clip(round(11.5 * min(gone, 1.1) + noise), 0, 12)))
    if kind.quantity == "contrast":
        seen = np.clip(100 - 40 * np.exp(-2.1 * gone) + noise, 0, 100)
        return f"{seen:.{0 if kind.step == 1 else 1}f}"
    start = 0.0 if tank is None else tank.start_haze
    haze = (0.1 + start * np.exp(-gone * np.log(max(start, 1) / 0.4))) * np.exp(noise)
    if kind.step:
        return f"{round(haze / kind.step) * kind.step:.{1 if kind.step == 0.1 else 2}f}"
    return f"{haze:.2f}" if haze < 10 else f"{haze:.1f}"  # meters that show three figures


def write(trial: dict, folder: Path) -> Path:
    """The trial as a folder."""
    folder.mkdir()
    quantity, unit, tolerance = RULES[trial["kind"].quantity]
    (folder / "trial.toml").write_text(
        'title = "Study"\nstart = 2031-01-01T08:00:00\ntimezone = "UTC"\nwindow_h = 24\n'
        f"schedule_h = {trial['schedule']}\ntarget_salinity = 34\nseed = 1\nlicence = "
        f'"CC-BY-4.0"\n[criteria.{quantity}]\nlabel = "clear"\nquantity = "{quantity}"\n'
        f'unit = "{unit}"\ntolerance = {tolerance}\n'
    )
    tanks = trial["tanks"]
    mixes = sorted(set(tanks["mix"]))
    lines = ["mix,name,lot,label_dose_g_per_l,price_per_kg"]
    (folder / "mixes.csv").write_text(
        "\n".join(lines + [f"{m},Blend {m},,36,4" for m in mixes]) + "\n"
    )
    start = "2031-01-01T08:00:00"
    lines = ["vessel,role,block,place,volume_l,dose_g,start,mix"]
    for place, tank in enumerate(tanks.itertuples(), 1):
        lines.append(f"{tank.vessel},trial,{tank.block},{place},20,720,{start},{tank.mix}")
    lines.append(f"X09,reference,1,{len(tanks) + 1},20,0,{start},")
    (folder / "vessels.csv").write_text("\n".join(lines) + "\n")
    raters = sorted(set(trial["readings"]["rater"]))
    (folder / "raters.csv").write_text("rater,name\n" + "".join(f"{r},Reader\n" for r in raters))
    columns = ["vessel", "rater", "elapsed_h", "quantity", "value", "unit"]
    trial["readings"][columns].to_csv(folder / "readings.csv", index=False, lineterminator="\n")
    return folder


def alike(trial: dict, rng) -> dict:
    """Vessels of a mix clear at one time: invented from what one vessel did."""
    tanks = trial["tanks"]
    tanks = tanks.assign(time=tanks.groupby("mix")["time"].transform("first"))
    rows = _readings(trial["kind"], tanks, trial["schedule"], 1, rng)
    return {**trial, "tanks": tanks, "readings": rows}


def liked_digits(trial: dict, rng) -> dict:
    """Last digits as people make them up: some half as common, some twice, none by a meter."""
    rows = trial["readings"].copy()
    liked = np.array([0.5, 0.8, 1.6, 1.3, 0.7, 1.6, 0.7, 1.6, 0.8, 0.4])
    step = trial["kind"].step
    judged = rows["quantity"] == RULES[trial["kind"].quantity][0]
    value = rows.loc[judged, "value"].astype(float)
    tens = np.floor(value / (10 * step))
    made = (10 * tens + rng.choice(10, len(value), p=liked / liked.sum())) * step
    rows.loc[judged, "value"] = [f"{x:.{2 if step == 0.01 else 1}f}" for x in made]
    return {**trial, "readings": rows}


def rounded(trial: dict, rng) -> dict:
    """Written to the nearest 5 of the last digit by a person in a hurry; a word now and then."""
    rows = trial["readings"].copy()
    step = trial["kind"].step
    judged = rows["quantity"] == RULES[trial["kind"].quantity][0]
    value = rows.loc[judged, "value"].astype(float)
    made = np.where(rng.random(len(value)) < 0.85, np.round(value / 5 / step) * 5 * step, value)
    rows.loc[judged, "value"] = [f"{x:.{2 if step == 0.01 else 1}f}" for x in made]
    return {**trial, "readings": rows}


def _in_sheet(trial: dict) -> tuple[pd.DataFrame, np.ndarray]:
    """Rows ordered vessel by vessel, with places of the judged readings."""
    rows = trial["readings"].sort_values(["vessel", "rater", "at"]).reset_index(drop=True)
    judged = rows.index[rows["quantity"] == RULES[trial["kind"].quantity][0]].to_numpy()
    return rows, judged


def dragged(trial: dict, rng) -> dict:
    """Eight readings of one vessel filled by dragging two."""
    rows, judged = _in_sheet(trial)
    begin = rng.integers(len(judged) - 8)
    top = float(rows.loc[judged[begin], "value"]) + 3
    digits = 2 if trial["kind"].step == 0.01 else 1
    rows.loc[judged[begin : begin + 8], "value"] = [f"{top - 0.3 * k:.{digits}f}" for k in range(8)]
    return {**trial, "readings": rows}


def filled_down(trial: dict, rng) -> dict:
    """One vessel's second reading filled down over the seven that follow."""
    rows, judged = _in_sheet(trial)
    begin = 1 + len(trial["schedule"]) * rng.integers(len(trial["tanks"]))
    rows.loc[judged[begin : begin + 8], "value"] = rows.loc[judged[begin], "value"]
    return {**trial, "readings": rows}


def copied_vessel(trial: dict, rng) -> dict:
    """One vessel's readings standing under the next as well."""
    rows, judged = _in_sheet(trial)
    codes = rows.loc[judged, "vessel"].unique()
    first, second = codes[:2]
    own = rows.loc[judged]
    values = own.loc[own["vessel"] == first, "value"].tolist()
    rows.loc[own.index[own["vessel"] == second], "value"] = values
    return {**trial, "readings": rows}


def copied_round(trial: dict, rng) -> dict:
    """A round of readings standing twice, from the part where vessels still change."""
    rows = trial["readings"].sort_values(["at", "vessel", "rater"]).reset_index(drop=True)
    quantity = RULES[trial["kind"].quantity][0]
    at = 1 + int(rng.integers(2))
    own = rows[rows["quantity"] == quantity]
    rows.loc[own.index[own["at"] == at + 1], "value"] = own.loc[own["at"] == at, "value"].tolist()
    return {**trial, "readings": rows}


def all_equal(trial: dict, rng) -> dict:
    """One value for all vessels and times of salinity to two digits, as nobody reads it."""
    rows = trial["readings"].copy()
    rows.loc[rows["quantity"] == "salinity", "value"] = "34.27"
    return {**trial, "readings": rows}


METERS = ("haze, 0.01", "haze, 0.1")
#: Change, kinds that it is made of, schedule, vessels a mix (0: any).
INVENTED = {
    "vessels alike, 4 a mix, fine": (alike, ("lines", "haze, 0.01"), "fine", 4),
    "vessels alike, 3 a mix, usual": (alike, ("lines", "haze, 0.01"), "usual", 3),
    "vessels alike, 3 a mix, coarse": (alike, ("lines", "haze, 0.01"), "coarse", 3),
    "last digits made up": (liked_digits, METERS, "fine", 3),
    "last digits rounded": (rounded, METERS, "fine", 3),
    "8 readings dragged": (dragged, METERS, "", 0),
    "8 readings filled down": (filled_down, METERS, "usual", 0),
    "a vessel copied": (copied_vessel, METERS, "usual", 2),
    "a round copied": (copied_round, METERS, "usual", 2),
    "salinity all one value": (all_equal, METERS, "", 0),
}


def messages(trial: dict, place: Path) -> set[str]:
    """What pooling would flag in the trial, among others whose spread is the common one."""
    record = record_trial(read_trial(write(trial, place)))
    found = set(record.patterns)
    vessels = join_trials([record]).vessels
    if close_agreement(vessels, record.schedule_h, SIGMA) < RARE:
        found.add("close agreement")
    return found


def _row(name: str, count: int, make) -> None:
    seen: dict[str, int] = {}
    flagged = 0
    with tempfile.TemporaryDirectory() as place:
        for k in range(count):
            found = messages(make(k), Path(place) / f"{k}")
            flagged += bool(found)
            for words in found:
                seen[words] = seen.get(words, 0) + 1
    most = sorted(seen.items(), key=lambda item: -item[1])[:3]
    told = "; ".join(f"{words} {n}" for words, n in most)
    print(f"{name:32} {count:6} {flagged:7} {flagged / count:7.3f}  {told}", flush=True)


def main(count: int = 200) -> None:
    print(f"{'trials':32} {'number':>6} flagged  share    most common")
    for number, (name, kind) in enumerate(KINDS.items()):

        def one(k, kind=kind, number=number):
            return honest(kind, np.random.default_rng([1, number, k]))

        _row(f"honest: {name}", count, one)
    for number, (name, (change, kinds, schedule, vessels)) in enumerate(INVENTED.items()):

        def made(k, number=number, change=change, kinds=kinds, schedule=schedule, vessels=vessels):
            rng = np.random.default_rng([2, number, k])
            kind = KINDS[kinds[k % len(kinds)]]
            trial = honest(replace(kind), rng, schedule=schedule, vessels=vessels)
            return change(trial, rng)

        _row(name, max(count // 5, 10), made)


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
