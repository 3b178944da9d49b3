"""Paper for the bench: the card with protocol and cautions, and the reading sheets."""

import json
from datetime import datetime, timedelta
from pathlib import Path

import pandas as pd

from ._letters import faces, printable
from .protocol_text import CAUTIONS, amount, protocol_steps

_TEMPLATE = Path(__file__).with_name("sheets.typ")
# A tagged file that screen readers and archives take (ISO 14289-1, ISO 19005-2).
_STANDARDS = ["a-2a", "ua-1"]
_PAPERS = ("a4", "us-letter")


def render_sheets(planned, readings, path, *, paper="a4", picture=None):
    """A PDF with the bench card first and the reading sheets after, blind codes only.

    Parameters
    ----------
    planned : PlannedTrial
        The plan.
    readings : pandas.DataFrame
        From `empty_readings`: which boxes to print, in reading order.
    path : path-like
        File to write.
    paper : {"a4", "us-letter"}
        Paper size.
    picture : Picture, optional
        The bench.

    Returns
    -------
    pathlib.Path
        The file.
    """
    settings = planned.settings
    data = {
        **_head(planned, paper),
        "kind": "sheets",
        "steps": protocol_steps(planned),
        "cautions": list(CAUTIONS),
        "bench": {"svg": picture.svg, "alt": picture.alt} if picture else None,
        "sheets": _sheets(planned, readings),
        "criteria": [_criterion_words(c) for c in settings["criteria"].values()],
    }
    return _render(data, path, settings["start"])


def render_mixing_sheet(planned, path, *, paper="a4"):
    """A PDF for the person who fills the vessels: which mix goes where, and how much.

    Parameters
    ----------
    planned : PlannedTrial
        The plan, key included.
    path : path-like
        File to write.
    paper : {"a4", "us-letter"}
        Paper size.

    Returns
    -------
    pathlib.Path
        The file.
    """
    table = planned.vessels.merge(planned.key, on="vessel", how="left")
    table = table.merge(planned.mixes, on="mix", how="left")
    rows = [
        {
            "block": str(row.block),
            "place": str(row.place),
            "vessel": row.vessel,
            "mix": row.name if isinstance(row.name, str) else "purified water, no salt",
            "lot": row.lot if isinstance(row.lot, str) else "",
            "dose": _dose(row),
        }
        for row in table.sort_values(["block", "place"]).itertuples(index=False)
    ]
    data = {**_head(planned, paper), "kind": "mixing", "rows": rows, "cautions": list(CAUTIONS)}
    return _render(data, path, planned.settings["start"])


def _dose(row):
    dose = row.label_dose_g_per_l
    return "" if pd.isna(dose) else f"{dose * row.volume_l:.0f} g"


def _head(planned, paper):
    if paper not in _PAPERS:
        raise ValueError(f"paper must be one of {', '.join(_PAPERS)}; got {paper!r}.")
    settings = planned.settings
    return {
        "title": settings["title"],
        "seal": settings.get("seal", ""),
        "paper": paper,
        "start": f"{settings['start']:%Y-%m-%d %H:%M}",
        "timezone": settings["timezone"],
        "seed": str(settings["seed"]),
        "target": f"{settings['target_salinity']:g}",
    }


def _criterion_words(criterion):
    return (
        f"{criterion['label']}: {criterion['quantity']} within {amount(criterion)} of purified "
        f"water, {criterion['hold']} looks in a row"
    )


def _sheets(planned, readings):
    """One entry per reader and session: its blocks in order, its columns of boxes."""
    names = dict(zip(planned.raters["rater"], planned.raters["name"], strict=True))
    blocks = planned.vessels.set_index("vessel")
    sheets = []
    for (rater, hours), part in readings.groupby(["rater", "elapsed_h"], sort=False):
        columns = list(dict.fromkeys(zip(part["quantity"], part["position"], strict=True)))
        units = dict(zip(part["quantity"], part["unit"], strict=True))
        sheets.append(
            {
                "rater": f"{rater} {names[rater]}",
                "session": _hours_text(hours),
                "columns": [" ".join(filter(None, c)) + f", {units[c[0]]}" for c in columns],
                "blocks": _blocks(part, blocks, hours, columns),
            }
        )
    return sorted(sheets, key=lambda sheet: sheet["rater"])


def _blocks(part, vessels, hours, columns):
    codes = list(dict.fromkeys(part["vessel"]))
    asked = set(zip(part["vessel"], part["quantity"], part["position"], strict=True))
    blocks = []
    for code in codes:
        row = vessels.loc[code]
        if not blocks or blocks[-1]["block"] != str(row["block"]):
            due = datetime.fromisoformat(row["start"]) + timedelta(hours=float(hours))
            blocks.append({"block": str(row["block"]), "due": f"{due:%d %b %H:%M}", "rows": []})
        boxes = [(code, *column) in asked for column in columns]
        blocks[-1]["rows"].append({"vessel": code, "boxes": boxes})
    return blocks


def _hours_text(hours):
    return f"{hours:g} h" if hours < 72 else f"day {hours / 24:g}"


def _render(data, path, moment):
    import typst

    text = json.dumps(printable(data), ensure_ascii=False)
    names, folders = faces(text)
    pdf = typst.compile(
        str(_TEMPLATE),
        root=str(_TEMPLATE.parent),
        font_paths=[str(folder) for folder in folders],
        ignore_system_fonts=True,
        sys_inputs={"data": text, "faces": json.dumps(names)},
        pdf_standards=_STANDARDS,
        # The trial's own date: two runs give the same bytes.
        timestamp=int(moment.replace(tzinfo=None).timestamp()),
    )
    Path(path).write_bytes(pdf)
    return Path(path)
