"""Density of moist air against the reference equation of state, and the standard atmosphere."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from racecalc.physics.air import (
    BAROMETRIC_EXPONENT,
    humidity_from_dew_point,
    moist_air_density,
    pressure_at,
    saturation_vapour_pressure,
    station_pressure,
    temperature_at,
)
from racecalc.physics.forces import (
    DRY_AIR_GAS_CONSTANT,
    GRAVITY,
    LAPSE_RATE,
    STANDARD_TEMPERATURE,
)
from tests.builders import reference_density
from tests.published.calculations import STANDARD_PRESSURE, standard_density

pytestmark = pytest.mark.xdist_group("CoolProp")

PRESSURES = (60_000.0, 70_000.0, 80_000.0, 90_000.0, 101_325.0, 106_000.0)
HUMIDITIES = (0.0, 0.25, 0.5, 0.75, 1.0)

FORMULA = 22e-6
"""Relative standard uncertainty of CIPM-2007 (read in a secondary page)."""

MOLAR_MASS = 28.966 / 28.96546 - 1.0
"""Dry air of the reference equation has 28.966 g/mol, that of CIPM-2007 28.96546 g/mol: 19e-6."""

temperatures = st.floats(260.0, 315.0)
pressures = st.floats(60_000.0, 106_000.0)
humidities = st.floats(0.01, 1.0)


def worst_difference(celsius, humidities=HUMIDITIES):
    """Largest relative difference from the reference over the pressures and humidities."""
    temperature = celsius + 273.15
    return max(
        abs(
            float(moist_air_density(np.array(temperature), np.array(pressure), humidity))
            / reference_density(temperature, pressure, humidity)
            - 1.0
        )
        for pressure in PRESSURES
        for humidity in humidities
    )


class TestAgainstReferenceEquation:
    @pytest.mark.parametrize("celsius", range(0, 41, 5))
    def test_race_weather(self, celsius):
        # 41e-6 are accounted for above; saturated vapour at 40 degC adds 5e-6, as the formula is
        # stated up to 27 degC only.
        assert worst_difference(celsius) < FORMULA + MOLAR_MASS + 5e-6

    @pytest.mark.parametrize("celsius", [-10, -5, -1])
    def test_frost(self, celsius):
        # Below freezing the reference counts humidity over ice, the formula over water: at -10 degC
        # the vapour pressures differ by 0.27 hPa (2.87 and 2.60 hPa; from memory), and the density
        # by 0.378 * 0.27/600 = 1.7e-4 at 600 hPa.
        assert worst_difference(celsius) < FORMULA + MOLAR_MASS + 1.7e-4
        assert worst_difference(celsius, (0.0,)) < FORMULA + MOLAR_MASS

    def test_hot(self):
        # Saturated air at 45 degC and 600 hPa holds 16 % vapour, far outside the formula's range.
        assert worst_difference(45) < 1e-4

    def test_only_molar_mass_is_left_at_low_pressure(self):
        ours = float(moist_air_density(np.array(293.15), np.array(1000.0), 0.0))
        assert ours * (1.0 + MOLAR_MASS) == pytest.approx(
            reference_density(293.15, 1000.0, 0.0),
            rel=1e-6,  # second virial coefficients differ by 18e-6 at 1000 hPa, so 0.2e-6 here
        )

    @pytest.mark.parametrize(
        ("temperature", "dew_point", "pressure"),
        [
            (293.15, 283.15, 101_325.0),
            (303.15, 298.15, 80_000.0),
            (278.15, 275.15, 101_325.0),
            (308.15, 276.15, 70_000.0),
        ],
    )
    def test_humidity_from_dew_point(self, temperature, dew_point, pressure):
        from CoolProp.HumidAirProp import HAPropsSI

        found = humidity_from_dew_point(
            np.array(temperature), np.array(dew_point), np.array(pressure)
        )
        theirs = HAPropsSI("R", "T", temperature, "P", pressure, "D", dew_point)
        # Two formulas for saturation, each good to 2e-4 of the vapour pressure.
        assert float(found) == pytest.approx(theirs, rel=4e-4)


class TestHumidity:
    @given(temperatures, pressures, humidities)
    def test_dew_point_round_trip(self, temperature, pressure, humidity):
        def excess(dew_point):
            return (
                float(
                    humidity_from_dew_point(
                        np.array(temperature), np.array(dew_point), np.array(pressure)
                    )
                )
                - humidity
            )

        dew_point = brentq(excess, 180.0, temperature + 1e-6, xtol=1e-9)
        assert dew_point <= temperature + 1e-6
        # From Clausius and Clapeyron, independent of the formula: with L/Rv = 5420 K (2.50 MJ/kg
        # at 0 degC over 461.5 J/(kg K)); L changes by 10 % over the range.
        expected = np.exp(5420.0 * (1.0 / temperature - 1.0 / dew_point))
        assert np.log(humidity) == pytest.approx(np.log(expected), rel=0.15, abs=1e-5)
        assert excess(dew_point) == pytest.approx(0.0, abs=1e-9)

    @given(temperatures, pressures)
    def test_saturated_at_dew_point(self, temperature, pressure):
        state = np.array(temperature), np.array(temperature), np.array(pressure)
        assert float(humidity_from_dew_point(*state)) == 1.0

    @given(temperatures, pressures, st.floats(0.0, 0.99))
    def test_humid_air_is_lighter(self, temperature, pressure, humidity):
        drier, wetter = (
            float(moist_air_density(np.array(temperature), np.array(pressure), value))
            for value in (humidity, humidity + 0.01)
        )
        assert wetter < drier

    @given(temperatures, pressures)
    def test_dry_air_is_nearly_ideal(self, temperature, pressure):
        ideal = pressure / (DRY_AIR_GAS_CONSTANT * temperature)
        # Compressibility of air: 0.9993 to 1.0000 in this range.
        ours = float(moist_air_density(np.array(temperature), np.array(pressure), 0.0))
        assert 0.0 < ours / ideal - 1.0 < 9e-4

    def test_vapour_pressure_at_boiling(self):
        # Boiling point at 101325 Pa is 373.124 K (ITS-90; from memory). The formula is made for
        # weather, and so 0.5 % off here.
        assert float(saturation_vapour_pressure(np.array(373.124))) == pytest.approx(
            101_325.0, rel=5e-3
        )

    def test_shape_of_inputs(self):
        temperature = np.linspace(280.0, 300.0, 6).reshape(2, 3)
        found = moist_air_density(temperature, np.full((2, 3), 1e5), 0.5)
        assert found.shape == (2, 3)
        one = float(moist_air_density(np.array(temperature[1, 2]), np.array(1e5), 0.5))
        assert found[1, 2] == one


class TestAltitude:
    def test_exponent(self):
        # U.S. Standard Atmosphere 1976: 5.255876 (read in a secondary page), with 28.9644 g/mol for
        # dry air; ISO 2533 has 28.96442 g/mol (from memory): 4e-6, and half of the last digit.
        assert pytest.approx(5.255876, abs=4.5e-6) == BAROMETRIC_EXPONENT

    @given(st.floats(-400.0, 4000.0), st.floats(260.0, 310.0))
    def test_pressure_carries_the_air_above(self, altitude, temperature):
        """dp/dh = -rho g with the ideal gas: hydrostatic balance."""
        step = 0.5
        low, here, high = pressure_at(
            np.array([altitude - step, altitude, altitude + step]), 100.0, 9.9e4, temperature
        )
        local = float(temperature_at(np.array(altitude), 100.0, temperature))
        weight = here * GRAVITY / (DRY_AIR_GAS_CONSTANT * local)
        # The third derivative leaves (step/8000 m)^2/6 < 1e-9; rounding 1e5 Pa * 2e-16 / 12 Pa.
        assert (low - high) / (2 * step) == pytest.approx(weight, rel=1e-8)

    @given(st.floats(-400.0, 3000.0), st.floats(-400.0, 3000.0), st.floats(260.0, 310.0))
    def test_path_does_not_matter(self, middle, end, temperature):
        at_middle = float(pressure_at(np.array(middle), 0.0, 1e5, temperature))
        there = float(temperature_at(np.array(middle), 0.0, temperature))
        by_middle = float(pressure_at(np.array(end), middle, at_middle, there))
        direct = float(pressure_at(np.array(end), 0.0, 1e5, temperature))
        assert by_middle == pytest.approx(direct, rel=1e-12)  # rounding

    @given(st.floats(-400.0, 4000.0))
    def test_station_pressure_is_that_of_the_standard_atmosphere(self, altitude):
        expected = pressure_at(np.array(altitude), 0.0, STANDARD_PRESSURE, STANDARD_TEMPERATURE)
        found = station_pressure(STANDARD_PRESSURE, altitude)
        assert found == pytest.approx(float(expected), rel=1e-13)  # rounding

    @given(st.floats(-400.0, 4000.0))
    def test_standard_density_is_that_of_an_ideal_gas(self, altitude):
        temperature = STANDARD_TEMPERATURE - LAPSE_RATE * altitude
        moist = moist_air_density(
            np.array(temperature), np.array(station_pressure(STANDARD_PRESSURE, altitude)), 0.0
        )
        # The real gas is denser by 1 - Z: 4.1e-4 at sea level, 4.6e-4 at most on these heights;
        # the rest is the composition of the air of 1975 (1e-5).
        assert 3.5e-4 < float(moist) / standard_density(altitude) - 1.0 < 4.8e-4
