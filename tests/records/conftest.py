"""A tiny sound trial folder that tests may damage."""

from pathlib import Path

import pytest

TOML = """\
title = "Two blends on a bench"
start = 2031-04-02T08:00:00
timezone = "UTC"
window_h = 8
schedule_h = [0.5, 1, 2, 4, 8]
target_salinity = 33
seed = 11
licence = "CC-BY-4.0"

[storage]
days = [7]

[criteria.clarity]
label = "clear"
quantity = "clarity"
unit = "lines"
tolerance = 0
hold = 2
rater_rule = "majority"

[criteria.haze]
label = "free of haze"
quantity = "haze"
unit = "NTU"
tolerance = 0.3
hold = 2
rater_rule = "majority"

[claims.within_hour]
text = "Clear within the hour"
mix = "M02"
criterion = "clarity"
within_h = 1
share = 0.5

[instruments.T01]
quantity = "haze"
unit = "NTU"
resolution = 0.01

[detection_limits]
residue = { value = 2.5, unit = "mg/L" }
"""
MIXES = """\
mix,name,lot,label_dose_g_per_l,price_per_kg
M01,Alder,A1,38,4.5
M02,Birch,B7,39.5,3.9
"""
VESSELS = """\
vessel,role,block,place,volume_l,dose_g,start,mix
K01,trial,1,a,20,760,2031-04-02T08:00:00,M01
K02,trial,1,b,20,790,2031-04-02T08:05:00,M02
K03,trial,2,c,20,760,2031-04-02T08:10:00,M01
K04,trial,2,d,20,790,2031-04-02T08:15:00,M02
K05,reference,,e,20,,2031-04-02T08:00:00,
"""
RATERS = "rater,name\nR01,Ada\nR02,Ben\n"
SCHEDULE_H = (0.5, 1, 2, 4, 8)
CLARITY = {
    "K01": (3, 6, 10, 12, 12),
    "K02": (2, 3, 5, 8, 11),
    "K03": (2, 7, 11, 12, 12),
    "K04": (3, 4, 5, 7, 10),
    "K05": (12, 12, 12, 12, 12),
}
HAZE = {
    "K01": (21.3, 9.87, 2.31, 0.28, 0.17),
    "K02": (33.8, 21.4, 12.65, 6.02, 2.98),
    "K03": (24.1, 8.72, 1.94, 0.31, 0.19),
    "K04": (31.5, 19.95, 11.87, 6.63, 3.41),
    "K05": (0.12, 0.13, 0.11, 0.12, 0.14),
}


def readings_text() -> str:
    """The readings as a person would type them, session by session."""
    lines = ["vessel,rater,elapsed_h,quantity,value,unit,position,repeat,instrument,note"]
    for session, hours in enumerate(SCHEDULE_H):
        for vessel, values in CLARITY.items():
            for rater, step in (("R01", 0), ("R02", -(session % 2) * (vessel < "K05"))):
                lines.append(f"{vessel},{rater},{hours},clarity,{values[session] + step},lines,,,,")
        for vessel, values in HAZE.items():
            lines.append(f"{vessel},R01,{hours},haze,{values[session]},NTU,,,T01,")
    for vessel in CLARITY:
        if vessel != "K05":
            lines.append(f"{vessel},R01,168,salinity,33.{vessel[-1]},PSU,top,,,lid was closed")
            lines.append(f"{vessel},R01,168,salinity,33.{vessel[-1]},PSU,bottom,,,")
    return "\n".join(lines) + "\n"


def write_folder(path: Path, **texts: str | bytes | None) -> Path:
    """A sound folder; `readings="..."` puts another text in, None leaves the file out."""
    files = {
        "trial.toml": TOML,
        "mixes.csv": MIXES,
        "vessels.csv": VESSELS,
        "raters.csv": RATERS,
        "readings.csv": readings_text(),
    }
    suffix = {"trial": "trial.toml"}
    files |= {suffix.get(name, f"{name}.csv"): text for name, text in texts.items()}
    path.mkdir(parents=True, exist_ok=True)
    for name, text in files.items():
        if isinstance(text, bytes):
            (path / name).write_bytes(text)
        elif text is not None:
            (path / name).write_text(text, encoding="utf-8", newline="")
    return path


@pytest.fixture
def folder(tmp_path):
    """A sound folder on disk."""
    return write_folder(tmp_path / "bench")


@pytest.fixture
def make_folder(tmp_path):
    """A maker of folders that differ from the sound one in the files named."""
    return lambda **texts: write_folder(tmp_path / "bench", **texts)
