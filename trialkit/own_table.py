"""A trial folder from a person's own table of readings."""

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import pandas as pd

from trialkit.planning.blocks import Told
from trialkit.planning.folder import PlannedTrial, write_csv, write_planned
from trialkit.planning.layout import vessel_codes
from trialkit.publish import whole_or_nothing
from trialkit.records.kinds import KINDS
from trialkit.records.problems import Problem, file_problem, problems_frame
from trialkit.records.trial import TrialDataError
from trialkit.records.wide import WideTable, read_wide
from trialkit.report.printing import print_measure

__all__ = ["ImportedTable", "import_table"]

REFERENCE = ("reference", "purified water")
# What a plan proposes too: one printed line, three tenths of a turbidity unit.
USUAL_TOLERANCE = {"lines": 1.0, "NTU": 0.3}
SALINITY = 35  # until its owner says which
SEED = 1  # of bootstrap and permutation; nothing was laid out by lot


@dataclass(frozen=True)
class ImportedTable(Told):
    """What `import_table` made.

    Attributes
    ----------
    folder : pathlib.Path
        The trial folder.
    columns : dict of str to list of int
        For each mix, and for "purified water", the columns of the table it was read in.
    tolerance, unit : float, str
        How much worse than purified water still counts as clear.
    above : tuple of str
        What stood alone above the headings: the first is the title, the rest was left out.
    doubts : tuple of str
        What was taken all the same, such as a formula's last result.
    """

    folder: Path
    columns: dict[str, list[int]]
    tolerance: float
    unit: str
    above: tuple[str, ...] = ()
    doubts: tuple[str, ...] = ()

    def __str__(self) -> str:
        told = [
            f"  {name}: {'column' if len(places) == 1 else 'columns'} {', '.join(map(str, places))}"
            for name, places in self.columns.items()
        ]
        return "\n".join(
            [
                f"Imported into {self.folder}:",
                *[f"  its title: {words}" for words in self.above[:1]],
                *[f"  above the headings, left out: {words}" for words in self.above[1:]],
                *told,
                *_alike(list(self.columns)),
                *[f"  Look at {line}" for line in self.doubts],
                "1. Columns of one mix have one heading; put it right in the table if they do not.",
                f"2. Look at {self.folder / 'trial.toml'}: clear is no more than "
                f"{print_measure(self.tolerance, self.unit)} worse than purified water, twice in a "
                f"row. A salinity of {SALINITY} and the licence are assumed: put yours there.",
                f"3. trialkit check {self.folder}, then trialkit report {self.folder}",
            ]
        )


def _alike(names: list[str]) -> list[str]:
    """A word on headings that differ in a number at their end only."""
    stems: dict[str, list[str]] = {}
    for name in names:
        stems.setdefault(name.rstrip("0123456789 .#-_"), []).append(name)
    return [
        f"  {' and '.join(found)} count as different mixes."
        for stem, found in stems.items()
        if stem and len(found) > 1
    ]


def import_table(
    table: str | Path,
    folder: str | Path,
    *,
    start: datetime,
    quantity: str = "clarity",
    unit: str = "lines",
    tolerance: float | None = None,
) -> ImportedTable:
    r"""A new trial folder from a table with times down and vessels across.

    Each column is headed by the mix in its vessel; several vessels of a mix have the same
    heading, and the vessel of purified water is headed "reference" or "purified water". The first
    column is headed "hours" or "minutes". One person reads, the codes are not blind, and nothing
    was sealed: the report says so.

    Parameters
    ----------
    table : str or Path
        A CSV file or a workbook (.xlsx).
    folder : str or Path
        A folder that does not exist yet.
    start : datetime
        When the salt went in, local time.
    quantity : str
        What was read, a name in `KINDS`.
    unit : str
        One of the quantity's units.
    tolerance : float, optional
        How much worse than purified water still counts as clear, in the unit; the usual one of
        a plan by default.

    Returns
    -------
    ImportedTable
        Print it for what to do next.

    Raises
    ------
    TrialDataError
        With every cell that can't be taken.
    ValueError
        A folder that exists, an unknown quantity or unit, or no tolerance where none is usual.

    Examples
    --------
    >>> import datetime, pathlib, tempfile
    >>> import trialkit as tk
    >>> place = pathlib.Path(tempfile.mkdtemp())
    >>> text = "hours,Alder,Alder,reference\n0.5,3,7,12\n1,12,11,12\n2,12,12,12\n"
    >>> _ = (place / "bench.csv").write_text(text)
    >>> moment = datetime.datetime(2031, 3, 1, 9)
    >>> found = tk.import_table(place / "bench.csv", place / "bench", start=moment)
    >>> trial = tk.read_trial(found.folder)
    >>> tk.clearing_intervals(trial)[["left_h", "right_h"]].values.tolist()
    [[0.5, 1.0], [0.5, 1.0]]
    """
    table, folder = Path(table), Path(folder)
    if folder.exists() or folder.is_symlink():
        raise ValueError(f"{folder} exists already and is left alone; name a new folder.")
    if quantity not in KINDS:
        raise ValueError(f"quantity must be one of {', '.join(KINDS)}; got {quantity!r}.")
    units = [entry.unit for entry in KINDS[quantity].ranges]
    if unit not in units:
        raise ValueError(f"unit of {quantity} must be one of {', '.join(units)}; got {unit!r}.")
    tolerance = USUAL_TOLERANCE.get(unit) if tolerance is None else tolerance
    if tolerance is None:
        raise ValueError(f"tolerance must be given for {quantity} in {unit}.")
    wide = read_wide(table)
    _refuse_unsound(table.name, wide, tolerance)
    criterion = {"label": "clear", "quantity": quantity, "unit": unit, "tolerance": tolerance}
    planned = _planned((*wide.above, table.stem)[0], wide, start, criterion)
    with whole_or_nothing(folder) as partial:
        write_planned(planned, partial)
        write_csv(_readings(wide, planned.vessels, criterion), partial / "readings.csv")
    return ImportedTable(folder, _columns(wide), tolerance, unit, wide.above, wide.doubts)


def _is_reference(heading: str) -> bool:
    return heading.casefold() in REFERENCE


def _refuse_unsound(file: str, wide: WideTable, tolerance: float) -> None:
    found: list[Problem] = []
    if not any(map(_is_reference, wide.headings)):
        message = "no column is headed reference: clear is judged against purified water"
        fix = (
            'Head the column of the vessel of purified water "reference"; without such a vessel '
            "add a column with what the clearest water would read."
        )
        found.append(file_problem(file, message, fix))
    if all(map(_is_reference, wide.headings)):
        fix = "Head each column with the mix in its vessel."
        found.append(file_problem(file, "no column is headed by a mix", fix))
    values = {cell for row in wide.cells for cell in row if cell}
    if values <= {"0", "1"} and tolerance >= 1:
        message = f"all readings are 0 or 1, so with a tolerance of {tolerance:g} all are clear"
        found.append(file_problem(file, message, "Give a tolerance of 0 (--tolerance 0)."))
    if len(set(wide.hours)) < len(wide.hours):
        message, fix = "a time stands in two rows", "Put the readings of one time into one row."
        found.append(file_problem(file, message, fix))
    if found:
        raise TrialDataError(problems_frame(found))


def _columns(wide: WideTable) -> dict[str, list[int]]:
    places: dict[str, list[int]] = {}
    for place, heading in enumerate(wide.headings, start=2):
        name = "purified water" if _is_reference(heading) else heading
        places.setdefault(name, []).append(place)
    return places


def _planned(title: str, wide: WideTable, start: datetime, criterion: dict) -> PlannedTrial:
    hours = sorted(wide.hours)
    names = [name for name in dict.fromkeys(wide.headings) if not _is_reference(name)]
    codes = {name: f"M{number:02}" for number, name in enumerate(names, start=1)}
    settings = {
        "title": title,
        "start": start,
        "timezone": "UTC",
        "window_h": hours[-1],
        "schedule_h": [float(f"{hour:.6g}") for hour in hours],
        "target_salinity": SALINITY,
        "seed": SEED,
        "licence": "CC-BY-4.0",
        "criteria": {criterion["quantity"]: criterion | {"hold": 2, "rater_rule": "majority"}},
    }
    vessels = pd.DataFrame(
        {
            "vessel": vessel_codes(len(wide.headings), seed=SEED),
            "role": ["reference" if _is_reference(h) else "trial" for h in wide.headings],
            "block": 1,
            "place": range(1, len(wide.headings) + 1),
            "volume_l": "",
            "dose_g": "",
            "start": start.isoformat(timespec="seconds"),
            "mix": [codes.get(heading, "") for heading in wide.headings],
        }
    )
    mixes = pd.DataFrame({"mix": codes.values(), "name": codes.keys()})
    raters = pd.DataFrame({"rater": ["R01"], "name": ["Reader"]})
    return PlannedTrial(settings, mixes, vessels, vessels[["vessel", "mix"]][:0], raters)


def _readings(wide: WideTable, vessels: pd.DataFrame, criterion: dict) -> pd.DataFrame:
    rows = [
        (vessel, "R01", f"{hour:.6g}", criterion["quantity"], value, criterion["unit"])
        for hour, cells in zip(wide.hours, wide.cells, strict=True)
        for vessel, value in zip(vessels["vessel"], cells, strict=True)
    ]
    columns = ["vessel", "rater", "elapsed_h", "quantity", "value", "unit"]
    # Empty columns say that nothing of the kind was noted; missing ones would be asked about.
    return pd.DataFrame(rows, columns=columns).assign(position="", repeat=1, instrument="", note="")
