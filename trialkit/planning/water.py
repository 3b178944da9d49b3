"""What the water of one simulated vessel does over time."""

from dataclasses import dataclass, field
from math import inf

import numpy as np

LINES = 12  # printed lines of the target behind the vessel, largest first
HAZE_TOLERANCE = 0.3  # NTU above the reference at which the last haze counts as gone
DOSED_TO = 33.0  # practical salinity that `Water.dose_g_per_l` gives
REFERENCE_HAZE = 0.12  # NTU of purified water in a clean vessel
# Legibility runs a little past the smallest line, so that clear water is read as 12 of 12 with
# room for a reader's error, as in a row of lines that a good eye could carry on.
_TOP = LINES + 0.6
_CLEAR = LINES - 1.5  # rounds to 11 lines: within one line of the reference


@dataclass(frozen=True)
class Water:
    """How one mix behaves, over all its vessels.

    Parameters
    ----------
    clarity_h, haze_h : float
        Median time in hours until the target is legible to within one line of the reference, and
        until the haze is within 0.3 NTU of it; inf for a mix that never gets there.
    spread : float
        Standard deviation between vessels of the natural log of both times.
    dose_g_per_l : float
        Salt that practical salinity 33 takes; differs between mixes by the water bound in it.
    residue_mg : float
        Median residue left on a vessel after storage.
    film_ntu_per_week : float
        Haze that storage adds.
    """

    clarity_h: float
    haze_h: float
    spread: float
    dose_g_per_l: float
    residue_mg: float = 60.0
    film_ntu_per_week: float = 0.02


@dataclass(frozen=True)
class VesselWater:
    """One vessel's own times and amounts, drawn once.

    Parameters
    ----------
    clarity_h, haze_h : float
        This vessel's times, inf for never.
    start_haze : float
        NTU above the reference when the salt goes in.
    salinity : float
        Practical salinity once all is dissolved.
    mass_kg : float
        Mass of the water at the end of mixing.
    loss_kg_per_week : float
        Water that evaporates past the lid.
    residue_mg, film_ntu_per_week : float
        As in `Water`.
    recloud : tuple of float
        Hours between which haze returns; empty for never.
    """

    clarity_h: float = 0.0
    haze_h: float = 0.0
    start_haze: float = 0.0
    salinity: float = 0.0
    mass_kg: float = 0.0
    loss_kg_per_week: float = 0.0
    residue_mg: float = 0.0
    film_ntu_per_week: float = 0.0
    recloud: tuple[float, ...] = field(default=())


def lines(vessel, hours):
    """Legible lines before any reader's error, on a continuous scale where 12.6 is clear water.

    Rises as ``1 - 6**-(t/T)**1.5``, which passes 10.5 (read as 11 of 12) at the vessel's own
    clearing time T. An invented curve with a slow start and a saturating end, not a law.

    Parameters
    ----------
    vessel : VesselWater
        The vessel.
    hours : float
        Hours since the salt went in.

    Returns
    -------
    float
        Legible lines.

    Examples
    --------
    >>> round(lines(VesselWater(clarity_h=2.0), 2.0), 6)
    10.5
    """
    if vessel.clarity_h == 0:
        return _TOP
    if vessel.clarity_h == inf:
        return 8.0 * (1 - np.exp(-hours / 3.0))
    share = 1 - (_TOP / (_TOP - _CLEAR)) ** -((hours / vessel.clarity_h) ** 1.5)
    return _TOP * share - (3.5 if _clouded(vessel, hours) else 0.0)


def haze(vessel, hours):
    """Turbidity in NTU before any meter error: exponential decay to that of purified water.

    Parameters
    ----------
    vessel : VesselWater
        The vessel.
    hours : float
        Hours since the salt went in; storage included.

    Returns
    -------
    float
        NTU; 0.3 above the reference at the vessel's own haze time.

    Examples
    --------
    >>> round(haze(VesselWater(haze_h=4.0, start_haze=20.0), 4.0), 6)
    0.42
    """
    film = vessel.film_ntu_per_week * hours / 168
    if vessel.haze_h == 0:
        return REFERENCE_HAZE + film
    if vessel.haze_h == inf:
        return REFERENCE_HAZE + 2.2 + (vessel.start_haze - 2.2) * np.exp(-hours / 3.0) + film
    decay = (HAZE_TOLERANCE / vessel.start_haze) ** (hours / vessel.haze_h)
    again = 1.1 if _clouded(vessel, hours) else 0.0
    return REFERENCE_HAZE + vessel.start_haze * decay + again + film


def _clouded(vessel, hours):
    return bool(vessel.recloud) and vessel.recloud[0] < hours <= vessel.recloud[1]


def salinity(vessel, hours, position):
    """Practical salinity at one height: brine lies at the bottom until the pump has mixed it.

    Evaporation in storage raises it as ``S m / (m - loss)``, the balance of salt when only water
    leaves.

    Parameters
    ----------
    vessel : VesselWater
        The vessel.
    hours : float
        Hours since the salt went in.
    position : {"top", "middle", "bottom"}
        Height of the sample.

    Returns
    -------
    float
        Practical salinity.

    Examples
    --------
    >>> tank = VesselWater(clarity_h=1.0, salinity=35.0, mass_kg=100.0, loss_kg_per_week=5.0)
    >>> round(float(salinity(tank, 168.0, "middle")), 3)  # 5 of 100 kg gone
    36.842
    """
    slowness = 0.4 * min(vessel.clarity_h, 6.0)
    dissolved = 1 - np.exp(-hours / slowness) if slowness else 1.0
    layer = 4.0 * np.exp(-hours / (1.5 * slowness)) if slowness else 0.0
    mean = vessel.salinity * dissolved * vessel.mass_kg / mass(vessel, hours)
    return mean + {"top": -layer, "middle": 0.0, "bottom": layer}[position]


def mass(vessel, hours):
    """Mass of the water in kg after evaporation since the salt went in."""
    return vessel.mass_kg - vessel.loss_kg_per_week * hours / 168
