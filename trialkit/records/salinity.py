"""Salinity, density and specific gravity converted into one another by TEOS-10.

Practical salinity rests on the Practical Salinity Scale 1978 (UNESCO Technical Papers in Marine
Science 44, Fofonoff & Millard 1983), density on TEOS-10 (IOC, SCOR & IAPSO 2010, Manuals and
Guides 56). Both describe reference seawater. A synthetic mix has another composition, so values
in g/kg that are derived here are nominal: what reference seawater of that practical salinity
would hold.
"""

import gsw
import numpy as np
from numpy.typing import ArrayLike

from .water_bounds import HIGHEST_SALINITY, numbers, within

# Conductivity of the standard at practical salinity 35, 15 degrees (IPTS-68) and one
# atmosphere, mS/cm (Culkin & Smith 1980, IEEE J. Oceanic Eng. 5:22-23).
STANDARD_CONDUCTIVITY = 42.914
_SIXTY_F = (60 - 32) / 1.8
# Sample temperature and water temperature of a hydrometer's scale, degrees Celsius.
REFERENCE_PAIRS = {
    "15/15": (15.0, 15.0),
    "20/20": (20.0, 20.0),
    "25/25": (25.0, 25.0),
    "60F/60F": (_SIXTY_F, _SIXTY_F),
    "20/4": (20.0, 4.0),
    "25/4": (25.0, 4.0),
}


def celsius_from_fahrenheit(fahrenheit: ArrayLike) -> np.ndarray | float:
    """Temperature in degrees Celsius.

    Examples
    --------
    >>> celsius_from_fahrenheit(77)
    25.0
    """
    return _plain((numbers("fahrenheit", fahrenheit) - 32) / 1.8)


def salinity_from_conductivity(
    conductivity: ArrayLike, temperature_c: ArrayLike, *, pressure_dbar: ArrayLike = 0.0
) -> np.ndarray | float:
    """Practical salinity of water from its conductivity at its own temperature.

    A meter that shows conductivity "compensated to 25 °C" has used one coefficient for all
    water, mostly one of dilute samples; switch that off and give the true temperature.

    Parameters
    ----------
    conductivity : array_like
        mS/cm, at the temperature of the sample.
    temperature_c : array_like
        Degrees Celsius (ITS-90).
    pressure_dbar : array_like
        Pressure above that of the atmosphere; 0 in a vessel.

    Returns
    -------
    float or ndarray
        Practical salinity (no unit); NaN where an input is NaN.

    Raises
    ------
    ValueError
        When an input is no number or lies outside what water can have, or the water would be
        saltier than practical salinity 120.

    References
    ----------
    Fofonoff & Millard 1983, UNESCO Tech. Pap. Mar. Sci. 44, pages 6-12.

    Examples
    --------
    >>> round(salinity_from_conductivity(53.0, 25.0), 2)
    34.95
    """
    values, warmth = within("conductivity", conductivity), within("temperature_c", temperature_c)
    salinity = gsw.SP_from_C(values, warmth, within("pressure_dbar", pressure_dbar))
    if np.any(salinity > HIGHEST_SALINITY):
        # Another unit or temperature, most likely.
        raise ValueError(
            f"conductivity is that of no water up to practical salinity {HIGHEST_SALINITY:g} at "
            f"its temperature; got {np.nanmax(values):g}."
        )
    return _plain(salinity)


def conductivity_from_salinity(
    salinity: ArrayLike, temperature_c: ArrayLike, *, pressure_dbar: ArrayLike = 0.0
) -> np.ndarray | float:
    """Conductivity in mS/cm of water of a practical salinity at a temperature.

    Examples
    --------
    >>> round(conductivity_from_salinity(35.0, 25.0), 2)
    53.07
    """
    salt, warmth = within("salinity", salinity), within("temperature_c", temperature_c)
    return _plain(gsw.C_from_SP(salt, warmth, within("pressure_dbar", pressure_dbar)))


def density_from_salinity(salinity: ArrayLike, temperature_c: ArrayLike) -> np.ndarray | float:
    """Density in kg/m3 at the pressure of the atmosphere, taken as reference seawater.

    Parameters
    ----------
    salinity : array_like
        Practical salinity.
    temperature_c : array_like
        Degrees Celsius.

    Returns
    -------
    float or ndarray
        kg/m3; NaN where an input is NaN.

    References
    ----------
    IOC, SCOR & IAPSO 2010, The international thermodynamic equation of seawater, Manuals and
    Guides 56, UNESCO.

    Examples
    --------
    >>> round(density_from_salinity(35.0, 25.0), 2), round(density_from_salinity(0.0, 25.0), 2)
    (1023.34, 997.05)
    """
    salt, warmth = within("salinity", salinity), within("temperature_c", temperature_c)
    return _plain(gsw.rho_t_exact(gsw.SR_from_SP(salt), warmth, 0.0))


def salinity_from_density(density: ArrayLike, temperature_c: ArrayLike) -> np.ndarray | float:
    """Practical salinity from density in kg/m3 at a temperature in degrees Celsius.

    Parameters
    ----------
    density : array_like
        kg/m3 at the pressure of the atmosphere.
    temperature_c : array_like
        Degrees Celsius.

    Returns
    -------
    float or ndarray
        Practical salinity (no unit); NaN where an input is NaN.

    Raises
    ------
    ValueError
        When a density is that of no water between fresh and practical salinity 120.

    Examples
    --------
    >>> round(salinity_from_density(1023.344, 25.0), 2)
    35.0
    """
    pairs = np.broadcast(numbers("density", density), within("temperature_c", temperature_c))
    solved = [_solve_density(float(rho), float(t)) for rho, t in pairs]
    return _plain(np.array(solved).reshape(pairs.shape))


def specific_gravity_from_salinity(
    salinity: ArrayLike, *, pair: str, sample_c: ArrayLike | None = None
) -> np.ndarray | float:
    """What a hydrometer with a given scale shows in water of a practical salinity.

    Parameters
    ----------
    salinity : array_like
        Practical salinity.
    pair : str
        The scale's temperatures of sample and water: "25/25", "20/20", "15/15", "60F/60F",
        "20/4" or "25/4".
    sample_c : array_like, optional
        Temperature of the sample, degrees Celsius, when it is not that of the scale. The
        expansion of the hydrometer's glass is left out.

    Examples
    --------
    >>> round(specific_gravity_from_salinity(35.0, pair="25/25"), 4)
    1.0264
    >>> round(specific_gravity_from_salinity(35.0, pair="60F/60F", sample_c=25.0), 4)
    1.0244
    """
    own_c, water_c = _pair(pair)
    sample = own_c if sample_c is None else within("sample_c", sample_c)
    return _plain(density_from_salinity(salinity, sample) / density_from_salinity(0.0, water_c))


def salinity_from_specific_gravity(
    specific_gravity: ArrayLike, *, pair: str, sample_c: ArrayLike | None = None
) -> np.ndarray | float:
    """Practical salinity from a specific gravity, which means nothing without its pair.

    "35 ppt is about 1.026" is common practice and holds only to rounding: 1.026 is a
    practical salinity of 34.5, 34.2 or 33.9 on scales of 25/25, 20/20 and 60F/60F.

    Parameters
    ----------
    specific_gravity : array_like
        As the hydrometer shows it.
    pair : str
        The scale's temperatures, as in `specific_gravity_from_salinity`.
    sample_c : array_like, optional
        Temperature of the sample when it is not that of the scale.

    Returns
    -------
    float or ndarray
        Practical salinity (no unit).

    Raises
    ------
    ValueError
        When the pair is unknown, or the water would be lighter than fresh.

    Examples
    --------
    >>> [round(salinity_from_specific_gravity(1.026, pair=p), 1)
    ...  for p in ("25/25", "20/20", "60F/60F")]
    [34.5, 34.2, 33.9]
    """
    own_c, water_c = _pair(pair)
    sample = own_c if sample_c is None else within("sample_c", sample_c)
    gravity = numbers("specific_gravity", specific_gravity)
    density = gravity * density_from_salinity(0.0, water_c)
    return salinity_from_density(density, sample)


def nominal_g_per_kg_from_salinity(salinity: ArrayLike) -> np.ndarray | float:
    """Reference salinity in g/kg, nominal for a synthetic mix.

    Examples
    --------
    >>> round(nominal_g_per_kg_from_salinity(35.0), 5)
    35.16504
    """
    return _plain(gsw.SR_from_SP(within("salinity", salinity)))


def salt_g_per_kg_water_from_salinity(salinity: ArrayLike) -> np.ndarray | float:
    """Anhydrous salt in g per kg of water for a practical salinity, nominal for a mix.

    A mix that holds bound water needs more of it: divide by its share of anhydrous salt.

    Examples
    --------
    >>> round(salt_g_per_kg_water_from_salinity(35.0), 3)
    36.447
    """
    grams = np.asarray(gsw.SR_from_SP(within("salinity", salinity)))
    return _plain(grams / (1 - grams / 1000))


def salinity_after_evaporation(salinity: ArrayLike, water_share_lost: ArrayLike) -> np.ndarray:
    """Practical salinity after a share of the water has left and all salt has stayed.

    Parameters
    ----------
    salinity : array_like
        Practical salinity before.
    water_share_lost : array_like
        Mass of water lost as a share of the mass of water before, from 0 to below 1.

    Raises
    ------
    ValueError
        When a share lies outside [0, 1).

    Examples
    --------
    >>> round(salinity_after_evaporation(35.0, 0.05), 3)
    36.774
    """
    lost = numbers("water_share_lost", water_share_lost)
    outside = lost[(lost < 0) | (lost >= 1)]
    if outside.size:
        raise ValueError(f"water_share_lost must lie from 0 to below 1; got {outside[0]:g}.")
    salt = np.asarray(gsw.SR_from_SP(within("salinity", salinity))) / 1000
    return _plain(gsw.SP_from_SR(1000 * salt / (1 - lost * (1 - salt))))


def refractive_index_from_salinity(
    salinity: ArrayLike, temperature_c: ArrayLike, *, wavelength_nm: float = 589.3
) -> np.ndarray | float:
    """Refractive index of seawater, to tell how far a refractometer's scale can be trusted.

    One whole step of a hand refractometer is about 1 in salinity (common practice, no
    source). A scale made for sodium chloride brine reads about 1.5 too high at 35: setting
    its zero in purified water does not mend its slope, setting it in a standard of 35 does
    near 35.

    Parameters
    ----------
    salinity : array_like
        0 to 35 (the fit's range; a little beyond is an extrapolation).
    temperature_c : array_like
        0 to 30 degrees Celsius.
    wavelength_nm : float
        400 to 700; the sodium line by default.

    References
    ----------
    Quan & Fry 1995, Applied Optics 34:3477-3480.

    Examples
    --------
    >>> round(refractive_index_from_salinity(35.0, 20.0), 4)
    1.3394
    """
    s, t = within("salinity", salinity), within("temperature_c", temperature_c)
    w = within("wavelength_nm", wavelength_nm)
    return _plain(
        1.31405
        + (1.779e-4 - 1.05e-6 * t + 1.6e-8 * t**2) * s
        - 2.02e-6 * t**2
        + (15.868 + 0.01155 * s - 0.00423 * t) / w
        - 4382 / w**2
        + 1.1455e6 / w**3
    )


def _pair(pair: str) -> tuple[float, float]:
    """The two temperatures of a hydrometer's scale."""
    if not isinstance(pair, str) or pair not in REFERENCE_PAIRS:
        choices = ", ".join(REFERENCE_PAIRS)
        raise ValueError(f"pair must be one of {choices}; got {pair!r}.")
    return REFERENCE_PAIRS[pair]


def _solve_density(density: float, temperature_c: float) -> float:
    """The practical salinity at which water has this density; NaN for NaN."""
    # Imported here: reading a trial without a hydrometer needs no solver.
    from scipy.optimize import brentq

    if np.isnan(density) or np.isnan(temperature_c):
        return np.nan

    def excess(salinity: float) -> float:
        return float(density_from_salinity(salinity, temperature_c)) - density

    if abs(excess(0.0)) < 1e-9:
        return 0.0
    if excess(0.0) > 0 or excess(HIGHEST_SALINITY) < 0:
        raise ValueError(
            f"no salt water has the density {density:.2f} kg/m3 at {temperature_c:g} °C."
        )
    return float(brentq(excess, 0.0, HIGHEST_SALINITY, xtol=1e-10))


def _plain(values: ArrayLike) -> np.ndarray | float:
    """A float for a single value, an array for several."""
    array = np.asarray(values, float)
    return float(array) if array.ndim == 0 else array
