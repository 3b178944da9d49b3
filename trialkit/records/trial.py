"""The trial as every analysis receives it: frozen values and tidy frames."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime

import pandas as pd

from .kinds import KINDS, ReadingKind
from .problems import format_problems
from .shown import Declared, rows_html


class TrialDataError(ValueError):
    """A trial folder that cannot be read; every reason is in `.problems`.

    Parameters
    ----------
    problems : DataFrame
        Columns file, row, column, value, level, message, fix; at least one row has the
        level "refuse".
    """

    def __init__(self, problems: pd.DataFrame):
        super().__init__(problems)
        self.problems = problems

    def __str__(self) -> str:
        return format_problems(self.problems)


class KitFaultError(RuntimeError):
    """The kit itself failed on a folder: neither its data nor a verdict on them can be given."""


@dataclass(frozen=True)
class Criterion(Declared):
    """What counts as clear, as declared before the first reading.

    Attributes
    ----------
    name, label : str
        The key in trial.toml and the words for a report.
    quantity, unit : str
        What is read, and in which unit.
    tolerance : float
        How much worse than the reference still counts as met, in the unit.
    hold : int
        How many successive scheduled readings must meet it.
    rater_rule : str
        "majority", "all", "any", or one rater's code.
    better : {"low", "high"}
        The direction that means clearer water.
    """

    name: str
    label: str
    quantity: str
    unit: str
    tolerance: float
    hold: int
    rater_rule: str
    better: str


@dataclass(frozen=True)
class Claim(Declared):
    """A statement about a mix that the trial tests.

    Attributes
    ----------
    name, text : str
        The key in trial.toml and the statement in words.
    mix, criterion : str
        The mix that it is about and the criterion that decides ("fully clear" for all).
    within_h : float or None
        "clear within this many hours".
    share : float
        Share of batches that the claim is about.
    before : str or None
        "clear before this other mix".
    """

    name: str
    text: str
    mix: str
    criterion: str
    within_h: float | None = None
    share: float = 0.5
    before: str | None = None


@dataclass(frozen=True)
class Instrument:
    """A declared instrument.

    Attributes
    ----------
    name, quantity, unit : str
        Its code, what it reads and in which unit.
    resolution : float or None
        The smallest step that it shows, in the unit.
    reference_pair : str
        For a hydrometer: the temperatures of sample and water on its scale, as "25/25".
    """

    name: str
    quantity: str
    unit: str
    resolution: float | None = None
    reference_pair: str = ""


@dataclass(frozen=True)
class DetectionLimit:
    """The smallest value of a quantity that its method tells from none, with its unit."""

    value: float
    unit: str


@dataclass(frozen=True)
class Author:
    """One of those who made the trial.

    Attributes
    ----------
    name : str
        Of a body, or of a person who goes by one name; "" where the two below are given.
    given_names, family_names, affiliation : str
        Of a person.
    orcid : str
        Address of the ORCID iD, or "".
    """

    name: str
    given_names: str = ""
    family_names: str = ""
    affiliation: str = ""
    orcid: str = ""


@dataclass(frozen=True)
class Protocol(Declared):
    """What was declared in trial.toml.

    Attributes
    ----------
    title, licence : str
    start : datetime
        Start of the trial, with its time zone.
    timezone : str
        IANA name of the zone in which clock times are written.
    window_h : float
        Hours after a vessel's start in which it is watched.
    schedule_h : tuple of float
        Planned reading times, hours since the vessel's start.
    storage_days : tuple of float
        Planned storage readings, days since the vessel's start.
    target_salinity : float
        Practical salinity.
    criteria, claims, instruments, detection_limits, quantities : dict
        By name; `quantities` holds the built-in kinds and those that trial.toml adds.
    seed : int
    authors : tuple of Author
        In the order in which they are cited.
    conf_level : float
    family : {"lognormal", "weibull", "loglogistic"}
    comparisons : {"all pairs", "control"}
    control : str or None
        The mix that others are compared with.
    declared_scale : float or None
        Standard deviation between vessels on the log scale, from other trials.
    scale_source, key_sha256, key_nonce, seal : str
        Where that came from; the marks left on the planning day; "" when absent.
    extra : dict
        Keys that this version of the kit does not know.
    """

    title: str
    start: datetime
    timezone: str
    window_h: float
    schedule_h: tuple[float, ...]
    target_salinity: float
    criteria: Mapping[str, Criterion]
    seed: int
    licence: str
    storage_days: tuple[float, ...] = ()
    claims: Mapping[str, Claim] = field(default_factory=dict)
    authors: tuple[Author, ...] = ()
    conf_level: float = 0.95
    family: str = "lognormal"
    comparisons: str = "all pairs"
    control: str | None = None
    declared_scale: float | None = None
    scale_source: str = ""
    key_sha256: str = ""
    key_nonce: str = ""
    seal: str = ""
    instruments: Mapping[str, Instrument] = field(default_factory=dict)
    detection_limits: Mapping[str, DetectionLimit] = field(default_factory=dict)
    quantities: Mapping[str, ReadingKind] = field(default_factory=lambda: dict(KINDS))
    extra: Mapping[str, object] = field(default_factory=dict)


@dataclass(frozen=True)
class Trial:
    """A sound trial: what was declared, and what was read.

    Attributes
    ----------
    protocol : Protocol
    mixes : DataFrame
        mix, name, lot, label_dose_g_per_l, price_per_kg.
    vessels : DataFrame
        vessel, role ("trial" or "reference"), mix ("" for a reference, and for all while
        blinded), block, place, volume_l, dose_g, start_h (after the trial's start),
        lost_h (after the vessel's start; inf when not lost).
    raters : DataFrame
        rater, name.
    readings : DataFrame
        One row a reading: vessel, mix, role, block, rater, phase, session, elapsed_h,
        quantity, value (NaN when not read), limit, unit, position, repeat, instrument,
        note, row (of the file it was written in).
    intervals : DataFrame or None
        vessel, criterion, left_h, right_h from intervals.csv, when there is one.
    problems : DataFrame
        Warnings and notes: file, row, column, value, level, message, fix.
    sources : DataFrame
        file, sha256, bytes of every file that was read.
    """

    protocol: Protocol
    mixes: pd.DataFrame
    vessels: pd.DataFrame
    raters: pd.DataFrame
    readings: pd.DataFrame
    intervals: pd.DataFrame | None
    problems: pd.DataFrame
    sources: pd.DataFrame

    @property
    def blinded(self) -> bool:
        """Whether the vessels' mixes are still unknown."""
        trial = self.vessels["role"] == "trial"
        return bool((self.vessels.loc[trial, "mix"] == "").any())

    @property
    def has_storage(self) -> bool:
        """Whether anything was read in storage."""
        read = self.readings["value"].notna()
        return bool(((self.readings["phase"] == "storage") & read).any())

    @property
    def judged(self) -> list[str]:
        """Criteria that are judged by readings: those whose intervals were not given."""
        given = set() if self.intervals is None else set(self.intervals["criterion"])
        return [name for name in self.protocol.criteria if name not in given]

    def __repr__(self) -> str:
        vessels = int((self.vessels["role"] == "trial").sum())
        return (
            f"Trial {self.protocol.title!r}: {len(self.mixes)} mixes in {vessels} vessels, "
            f"{len(self.readings)} readings{', blinded' if self.blinded else ''}"
        )

    def _repr_html_(self) -> str:
        protocol, count = self.protocol, self.problems["level"].value_counts()
        warned = f"{count.get('warn', 0)} warnings, {count.get('note', 0)} notes"
        rows = [
            ("criteria", ", ".join(protocol.criteria)),
            ("window", f"{protocol.window_h:g} h, {len(protocol.schedule_h)} sessions"),
            ("raters", ", ".join(self.raters["rater"])),
            ("check", f"{warned} (.problems)"),
            *zip(self.mixes["mix"], self._mix_words(), strict=True),
        ]
        return rows_html(repr(self), rows)

    def _mix_words(self) -> list[str]:
        """Name of each mix, with the number of its vessels once it is known."""
        names = self.mixes["name"].where(self.mixes["name"].notna(), "").astype(str)
        if self.blinded:
            return list(names)
        counts = self.vessels["mix"].value_counts()
        words = [counts.get(mix, 0) for mix in self.mixes["mix"]]
        return [f"{name}, {n} vessels" for name, n in zip(names, words, strict=True)]
