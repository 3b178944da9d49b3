"""Salinity against published check values and a second library.

seawater implements EOS-80 and PSS-78, whose papers print these values for temperatures on
IPTS-68; 1.00024 converts them from ITS-90 (Saunders 1990, WOCE Newsletter 10).
"""

import warnings

import gsw
import numpy as np
import pytest

from trialkit.records import salinity as s

with warnings.catch_warnings():
    # It is here as the older equations' own code, not as a dependency of the kit.
    warnings.filterwarnings("ignore", "The seawater library is deprecated", UserWarning)
    import seawater

T68 = 1.00024


# Fofonoff & Millard 1983, UNESCO Tech. Pap. Mar. Sci. 44, p. 9.
@pytest.mark.parametrize(
    ("ratio", "t68", "pressure", "expected", "tolerance"),
    [
        (1.2, 20, 2000, 37.245628, 1e-5),
        (0.65, 5, 1500, 27.995347, 1e-5),
        (1.0, 15, 0, 35.000000, 1e-6),
        (1.888091, 40, 10000, 40.00000, 1e-5),
    ],
)
def test_practical_salinity_scale(ratio, t68, pressure, expected, tolerance):
    ours = s.salinity_from_conductivity(
        ratio * s.STANDARD_CONDUCTIVITY, t68 / T68, pressure_dbar=pressure
    )
    assert ours == pytest.approx(expected, abs=tolerance)
    assert seawater.salt(ratio, t68 / T68, pressure) == pytest.approx(expected, abs=tolerance)


def test_conductivity_at_25_degrees():
    # PSS-78 by arithmetic; recomputed with two libraries, not printed in the paper.
    assert s.salinity_from_conductivity(53.0, 25) == pytest.approx(34.947, abs=0.002)
    assert s.conductivity_from_salinity(35, 25) == pytest.approx(53.071, abs=0.003)
    second = seawater.salt(53.0 / seawater.constants.c3515, 25, 0)
    assert s.salinity_from_conductivity(53.0, 25) == pytest.approx(second, abs=2e-3)


# Millero & Poisson 1981, Deep-Sea Res. 28A:625-629, Table 1 (EOS-80, one atmosphere).
@pytest.mark.parametrize(
    ("sp", "t68", "expected"),
    [(35, 5, 1027.67547), (35, 25, 1023.34306), (0, 25, 997.04796)],
)
def test_density_of_eos80(sp, t68, expected):
    assert seawater.dens(sp, t68 / T68, 0) == pytest.approx(expected, abs=1e-4)
    # TEOS-10 is a later equation; the two differ by a few g/m3 here.
    assert s.density_from_salinity(sp, t68 / T68) == pytest.approx(expected, abs=0.012)


def test_teos10_reference_salinity():
    # IOC et al. 2010, Manuals and Guides 56, section 2.4.
    assert s.nominal_g_per_kg_from_salinity(35) == pytest.approx(35.16504, abs=1e-6)


def test_teos10_check_value_of_practical_salinity():
    # Check value in the documentation of the TEOS-10 toolbox, SP_from_C.
    ours = s.salinity_from_conductivity(34.5487, 28.7856, pressure_dbar=10)
    assert ours == pytest.approx(20.009869599, abs=1e-6)


def test_specific_gravity_needs_its_pair():
    # By arithmetic on TEOS-10 densities; no printed table was found.
    assert s.specific_gravity_from_salinity(35, pair="25/25") == pytest.approx(1.02637, abs=2e-5)
    assert s.specific_gravity_from_salinity(35, pair="20/4") == pytest.approx(1.02479, abs=2e-5)
    pairs = ("25/25", "20/20", "60F/60F")
    values = [s.salinity_from_specific_gravity(1.026, pair=pair) for pair in pairs]
    assert values == pytest.approx([34.51, 34.21, 33.88], abs=0.03)
    second = seawater.dens(35, 25, 0) / seawater.dens(0, 25, 0)
    assert s.specific_gravity_from_salinity(35, pair="25/25") == pytest.approx(second, abs=2e-5)


@pytest.mark.parametrize("pair", ["", "25", "25/20", "77F/77F"])
def test_an_unknown_pair_is_refused(pair):
    with pytest.raises(ValueError, match="pair must be one of"):
        s.salinity_from_specific_gravity(1.026, pair=pair)


def test_a_warm_sample_in_a_cold_scale_looks_too_fresh():
    shown = s.specific_gravity_from_salinity(35, pair="60F/60F", sample_c=25)
    assert shown == pytest.approx(1.02435, abs=2e-5)
    assert s.salinity_from_specific_gravity(shown, pair="60F/60F") == pytest.approx(31.74, abs=0.03)
    known = s.salinity_from_specific_gravity(shown, pair="60F/60F", sample_c=25)
    assert known == pytest.approx(35, abs=1e-6)


# Quan & Fry 1995, Appl. Opt. 34:3477-3480: their formula by arithmetic.
@pytest.mark.parametrize(("sp", "expected"), [(35, 1.339406), (0, 1.333004)])
def test_refractive_index(sp, expected):
    assert s.refractive_index_from_salinity(sp, 20) == pytest.approx(expected, abs=2e-6)


def test_artificial_seawater_recipes_weigh_what_teos10_says():
    # Kester et al. 1967, Limnol. Oceanogr. 12:176: grams and moles per kg of solution.
    anhydrous = 23.926 + 4.008 + 0.677 + 0.196 + 0.098 + 0.026 + 0.003
    moles = {"MgCl2": 0.05327, "CaCl2": 0.01033, "SrCl2": 0.00009}
    dry = {"MgCl2": 95.211, "CaCl2": 110.984, "SrCl2": 158.526}
    water = {"MgCl2": 6, "CaCl2": 2, "SrCl2": 6}
    bound = sum(moles[name] * water[name] * 18.015 for name in moles)
    anhydrous += sum(moles[name] * dry[name] for name in moles)
    assert anhydrous == pytest.approx(35.167, abs=0.01)
    assert anhydrous + bound == pytest.approx(41.306, abs=0.01)
    assert s.nominal_g_per_kg_from_salinity(35) == pytest.approx(anhydrous, abs=0.01)


def test_substitute_ocean_water_by_volume():
    # ASTM D1141-98 (list from memory, not verified), grams per litre at 20 degrees.
    grams = (24.53, 5.20, 4.09, 1.16, 0.695, 0.201, 0.101, 0.027, 0.025, 0.003)
    assert sum(grams) == pytest.approx(36.032, abs=0.01)
    litre_kg = s.density_from_salinity(35, 20) / 1000
    assert sum(grams) / litre_kg == pytest.approx(35.161, abs=0.01)


def test_salt_for_a_kilogram_of_water():
    # 35.16504 / (1 - 0.03516504)
    assert s.salt_g_per_kg_water_from_salinity(35) == pytest.approx(36.447, abs=0.002)


def test_evaporation_by_mass_balance():
    # 35.16504 g salt stay; 0.05 of 964.83496 g water leave: SR 36.9475, SP 36.774.
    assert s.salinity_after_evaporation(35, 0.05) == pytest.approx(36.774, abs=0.001)
    assert s.salinity_after_evaporation(35, 0.0) == pytest.approx(35, abs=1e-12)
    with pytest.raises(ValueError, match="water_share_lost"):
        s.salinity_after_evaporation(35, 1.0)


def test_conversions_undo_each_other():
    sp = np.array([5.0, 33.0, 35.0, 40.0])
    conductivity = s.conductivity_from_salinity(sp, 23.0)
    assert s.salinity_from_conductivity(conductivity, 23.0) == pytest.approx(sp, abs=1e-9)
    density = s.density_from_salinity(sp, 23.0)
    assert s.salinity_from_density(density, 23.0) == pytest.approx(sp, abs=1e-8)
    for pair in s.REFERENCE_PAIRS:
        gravity = s.specific_gravity_from_salinity(sp, pair=pair)
        assert s.salinity_from_specific_gravity(gravity, pair=pair) == pytest.approx(sp, abs=1e-8)


def test_missing_stays_missing_and_the_impossible_is_refused():
    assert np.isnan(s.salinity_from_density(np.nan, 25))
    assert np.isnan(s.salinity_from_conductivity(np.nan, 25))
    with pytest.raises(ValueError, match="no salt water"):
        s.salinity_from_specific_gravity(0.99, pair="25/25")
    with pytest.raises(ValueError, match="conductivity must lie"):
        s.salinity_from_conductivity(-1, 25)


def test_density_agrees_with_the_toolbox_check_value():
    # IOC et al. 2010: rho of 34.7118 g/kg at 28.8099 degrees (conservative) and 10 dbar.
    assert gsw.rho(34.7118, 28.8099, 10) == pytest.approx(1021.83993574, abs=1e-6)


BEYOND = [
    (s.salinity_from_conductivity, (53000, 25), "conductivity must lie from 0 to 300 mS/cm"),
    (s.salinity_from_conductivity, (-1, 25), "conductivity must lie"),
    (s.salinity_from_conductivity, (53, 77), "temperature_c must lie from -5 to 50 °C; got 77"),
    (s.salinity_from_conductivity, (53, None), "temperature_c must be a number"),
    (s.salinity_from_conductivity, (290, 0), "no water up to practical salinity 120"),
    (s.salinity_from_conductivity, (np.inf, 25), "got inf"),
    (s.conductivity_from_salinity, (-1, 25), "salinity must lie from 0 to 120; got -1"),
    (s.conductivity_from_salinity, (35, np.inf), "temperature_c must lie"),
    (s.density_from_salinity, ([35, -1], 25), "salinity must lie from 0 to 120; got -1"),
    (s.density_from_salinity, (35, -300), "temperature_c must lie"),
    (s.density_from_salinity, ("abc", 25), "salinity must be a number or numbers; got 'abc'"),
    (s.salinity_from_density, (1023, 77), "temperature_c must lie"),
    (s.salinity_from_density, (1.0234, 25), "no salt water has the density"),
    (s.nominal_g_per_kg_from_salinity, (-1,), "salinity must lie"),
    (s.salt_g_per_kg_water_from_salinity, (1e6,), "salinity must lie"),
    (s.salinity_after_evaporation, (-35, 0.1), "salinity must lie"),
    (s.salinity_after_evaporation, (35, 1), "water_share_lost must lie from 0 to below 1; got 1"),
    (s.refractive_index_from_salinity, (35, 99), "temperature_c must lie"),
    (s.celsius_from_fahrenheit, ("warm",), "fahrenheit must be a number"),
]


@pytest.mark.parametrize(("function", "inputs", "words"), BEYOND)
def test_what_no_water_has_is_refused_by_name_and_value(function, inputs, words):
    with pytest.raises(ValueError, match=words):
        function(*inputs)


@pytest.mark.parametrize("sample_c", [77, -40, np.inf])
def test_a_samples_temperature_is_one_of_water(sample_c):
    for function, value in (
        (s.specific_gravity_from_salinity, 35),
        (s.salinity_from_specific_gravity, 1.026),
    ):
        with pytest.raises(ValueError, match="sample_c must lie from -5 to 50 °C"):
            function(value, pair="25/25", sample_c=sample_c)


def test_arrays_keep_their_shape_and_what_is_missing():
    values = s.density_from_salinity([[0.0, np.nan], [35.0, 40.0]], 25)
    assert values.shape == (2, 2)
    assert np.isnan(values[0, 1])
    assert s.salinity_from_density([], 25).shape == (0,)
    with pytest.raises(ValueError, match="wavelength_nm must lie from 400 to 700 nm; got 0"):
        s.refractive_index_from_salinity(35, 20, wavelength_nm=0)
