"""The quantities that a trial can read, with their units, bounds and sources."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from .shown import Declared


@dataclass(frozen=True)
class UnitRange:
    """One unit in which a quantity may be written, with the values it can take.

    Attributes
    ----------
    unit : str
        As it is written in the column `unit`.
    low, high : float
        Readings outside are impossible and refused (bounds included).
    better : {"low", "high", ""}
        The direction that means clearer water; "" where neither does.
    usual_low, usual_high : float or None
        Readings outside are possible but rare, and warned about.
    aliases : tuple of str
        Other spellings of the same unit, taken silently.
    """

    unit: str
    low: float
    high: float
    better: str = ""
    usual_low: float | None = None
    usual_high: float | None = None
    aliases: tuple[str, ...] = ()


@dataclass(frozen=True)
class ReadingKind(Declared):
    """A quantity that is read from a vessel.

    Attributes
    ----------
    name, label : str
        The word in the column `quantity`, and the words on an axis.
    ranges : tuple of UnitRange
        The units in which it may be written; the first is the usual one.
    reference : str
        Where definition and bounds come from.

    Examples
    --------
    >>> KINDS["haze"].unit, KINDS["haze"].better
    ('NTU', 'low')
    >>> KINDS["haze"].range_of("contrast_pct").better
    'high'
    """

    name: str
    label: str
    ranges: tuple[UnitRange, ...]
    reference: str

    @property
    def unit(self) -> str:
        """The usual unit."""
        return self.ranges[0].unit

    @property
    def units(self) -> tuple[str, ...]:
        """All units in which the quantity may be written."""
        return tuple(entry.unit for entry in self.ranges)

    @property
    def low(self) -> float:
        """The lowest possible reading in the usual unit."""
        return self.ranges[0].low

    @property
    def high(self) -> float:
        """The highest possible reading in the usual unit."""
        return self.ranges[0].high

    @property
    def better(self) -> str:
        """The direction that means clearer water, in the usual unit."""
        return self.ranges[0].better

    def range_of(self, unit: str) -> UnitRange | None:
        """The bounds for one unit, found by its name or an alias; None when it is not one."""
        wanted = unit.casefold()
        for entry in self.ranges:
            if wanted in (name.casefold() for name in (entry.unit, *entry.aliases)):
                return entry
        return None


KINDS: Mapping[str, ReadingKind] = MappingProxyType(
    {
        "clarity": ReadingKind(
            "clarity",
            "Clarity of the printed target",
            (
                UnitRange("lines", 0, 40, "high", aliases=("line",)),
                UnitRange("score", 0, 10, "high", aliases=("scores",)),
            ),
            "legible lines of a printed target, or a declared ordinal score: common practice, "
            "no source; line steps as in Ferris et al. 1982, Am J Ophthalmol 94:91-96",
        ),
        "haze": ReadingKind(
            "haze",
            "Haze",
            (
                # Above 40 NTU the sample needs dilution (EPA Method 180.1, rev. 2.0, 1993).
                UnitRange("NTU", 0, 1000, "low", usual_high=100),
                UnitRange("FNU", 0, 1000, "low", usual_high=100),
                UnitRange("contrast_pct", 0, 100, "high"),
            ),
            "ISO 7027-1:2016; EPA Method 180.1 rev. 2.0 (1993)",
        ),
        "salinity": ReadingKind(
            "salinity",
            "Practical salinity",
            (
                UnitRange("PSU", 0, 60, usual_low=30, usual_high=40, aliases=("SP",)),
                UnitRange("ppt", 0, 60, usual_low=30, usual_high=40, aliases=("g/kg", "‰")),
                UnitRange("SG", 0.99, 1.06, usual_low=1.020, usual_high=1.030),
                UnitRange("mS/cm", 0, 90, usual_low=40, usual_high=65),
            ),
            "Practical Salinity Scale 1978 (UNESCO Tech. Pap. Mar. Sci. 44, 1983); usual ranges "
            "are common practice, no source",
        ),
        "temperature": ReadingKind(
            "temperature",
            "Temperature",
            (
                UnitRange("C", -2, 45, usual_low=15, usual_high=32, aliases=("°C", "ºC", "degC")),
                UnitRange("F", 28, 113, usual_low=59, usual_high=90, aliases=("°F", "ºF", "degF")),
            ),
            "ITS-90; liquid salt water; usual range is common practice, no source",
        ),
        "residue": ReadingKind(
            "residue",
            "Residue",
            (
                # A blank may weigh a little less than nothing: balances err both ways.
                UnitRange("mg/L", -10, 5000, "low", usual_high=500),
                UnitRange("mg", -10, 500_000, "low"),
                UnitRange("g", -0.01, 500, "low"),
            ),
            "gravimetric residue as in Standard Methods 2540 D; bounds are common practice, "
            "no source",
        ),
    }
)

POSITIONS = ("top", "middle", "bottom")
