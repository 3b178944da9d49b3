"""One vessel's own times and amounts, drawn around those of its mix."""

from math import inf

import numpy as np
from scipy.special import ndtri

from .water import DOSED_TO, VesselWater

_KG_A_LITRE = 1.02  # salt water at room temperature, for the mass of a filled vessel


def normal(rng):
    """One standard normal number, by inversion: only ``random`` keeps its stream (NEP 19)."""
    return float(ndtri(1.0 - rng.random()))


def draw_vessel(row, spec, events, rng):
    """What the water of one vessel will do, from its row of the plan.

    Both clearing times share most of the vessel's luck (a pump a little weaker, water a little
    colder), so a vessel slow to clear is slow to lose its haze.
    """
    luck = [normal(rng) for _ in range(6)]
    lost = 0.9 if any(e.kind == "loose lid" for e in events) else 0.12
    common = {
        "mass_kg": row.volume_l * (_KG_A_LITRE if row.mix else 0.998),
        "loss_kg_per_week": lost * row.volume_l / 60 * float(np.exp(0.25 * luck[2])),
    }
    if not row.mix:
        return VesselWater(residue_mg=4.0, **common)
    water = spec.waters[row.mix]
    return VesselWater(
        clarity_h=_time(water.clarity_h, water.spread * luck[0]),
        haze_h=_time(water.haze_h, water.spread * (0.8 * luck[0] + 0.6 * luck[1])),
        start_haze=22.0 * float(np.exp(0.15 * luck[3])),
        salinity=DOSED_TO * row.dose_g / (water.dose_g_per_l * row.volume_l) + 0.08 * luck[4],
        residue_mg=water.residue_mg * float(np.exp(0.5 * luck[5])),
        film_ntu_per_week=water.film_ntu_per_week,
        recloud=next(((e.from_h, e.to_h) for e in events if e.kind == "recloud"), ()),
        **common,
    )


def drawn_dose(water, volume_l, target, rng):
    """Salt in g that was added until the meter showed the target, a little off as people are."""
    exact = water.dose_g_per_l * (target / DOSED_TO) * volume_l
    return round(exact * (1 + 0.003 * normal(rng)), 0)


def _time(median, log_shift):
    return median if median == inf else float(median * np.exp(log_shift))
