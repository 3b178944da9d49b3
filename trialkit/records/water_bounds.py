"""Numbers about water kept within what water can be, the argument named where they are not."""

import numpy as np
from numpy.typing import ArrayLike

# Wider than any trial, narrow enough to catch a number in another unit: 53000 is no mS/cm, 1.026
# no salinity of the sea, 77 no temperature of a vessel in degrees Celsius. PSS-78 was fitted from
# 2 to 42, and from -2 to 35 degrees (Fofonoff & Millard 1983); beyond it extrapolates.
HIGHEST_SALINITY = 120.0
_BOUNDS = {
    "salinity": (0.0, HIGHEST_SALINITY, ""),
    "temperature_c": (-5.0, 50.0, "°C"),
    "sample_c": (-5.0, 50.0, "°C"),
    "conductivity": (0.0, 300.0, "mS/cm"),
    "pressure_dbar": (-10.0, 12000.0, "dbar"),
    "wavelength_nm": (400.0, 700.0, "nm"),
}


def numbers(name: str, values: ArrayLike) -> np.ndarray:
    """Numbers as an array; NaN stands for what is not known.

    Raises
    ------
    ValueError
        When they are no numbers.
    """
    try:
        array = None if values is None else np.asarray(values, float)
    except (TypeError, ValueError):
        array = None
    if array is None:
        raise ValueError(f"{name} must be a number or numbers; got {repr(values)[:40]}.")
    return array


def within(name: str, values: ArrayLike) -> np.ndarray:
    """Numbers as an array, each NaN or within the bounds of what `name` says they are.

    Raises
    ------
    ValueError
        When they are no numbers, or one lies outside.
    """
    array = numbers(name, values)
    low, high, unit = _BOUNDS[name]
    outside = array[(array < low) | (array > high)]
    if outside.size:
        span = f"{low:g} to {high:g} {unit}".rstrip()
        raise ValueError(f"{name} must lie from {span}; got {outside[0]:g}.")
    return array
