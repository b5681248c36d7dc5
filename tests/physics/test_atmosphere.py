"""The air and the wind of the day carried along a course."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from racecalc.domain.race import REPORT_HEIGHT, RIDER_HEIGHT, ROUGHNESS_LENGTH, Air, Wind
from racecalc.physics.air import (
    density_along,
    humidity_from_dew_point,
    local_humidity,
    local_pressure,
    moist_air_density,
    rider_wind_speed,
    station_pressure,
    wind_along,
)

SUMMER = {"temperature": 294.15, "altitude": 250.0, "humidity": 0.6}


class TestDensityAlong:
    def test_density_of_weather_station_at_its_altitude(self):
        air = Air(pressure=98_000.0, **SUMMER)
        expected = moist_air_density(np.array(294.15), np.array(98_000.0), 0.6)
        assert density_along(air, np.array([250.0]))[0] == float(expected)

    def test_sea_level_pressure_is_taken_to_the_station(self):
        air = Air(pressure=101_000.0, pressure_at_sea_level=True, **SUMMER)
        assert local_pressure(air) == station_pressure(101_000.0, 250.0)
        same = Air(pressure=station_pressure(101_000.0, 250.0), **SUMMER)
        heights = np.array([0.0, 250.0, 900.0])
        np.testing.assert_array_equal(density_along(air, heights), density_along(same, heights))

    def test_given_density_holds_everywhere(self):
        found = density_along(Air(density=1.19), np.array([[-50.0, 0.0], [800.0, 2500.0]]))
        np.testing.assert_array_equal(found, np.full((2, 2), 1.19))

    @given(st.floats(265.0, 310.0), st.floats(0.0, 1.0), st.floats(0.0, 2000.0))
    def test_thinner_with_height(self, temperature, humidity, altitude):
        air = Air(temperature=temperature, humidity=humidity, altitude=altitude, pressure=9e4)
        low, here, high = density_along(air, altitude + np.array([-100.0, 0.0, 100.0]))
        # d ln(rho)/dh = -(g/R - L)/T: 9.0 to 10.5 % per km between 265 and 310 K; vapour, up to
        # 6 % of hot saturated air, condenses out on the way up and takes up to 0.6 % per km off.
        thinning = np.log(low / high) / 0.2
        expected = (9.80665 / 287.05287 - 0.0065) * 1000.0 / temperature
        assert thinning == pytest.approx(expected, rel=0.13)
        assert low > here > high

    def test_dew_point_in_place_of_humidity(self):
        pressure = 99_000.0
        by_dew_point = Air(temperature=295.15, pressure=pressure, dew_point=285.15, humidity=0.01)
        humidity = humidity_from_dew_point(np.array(295.15), np.array(285.15), np.array(pressure))
        by_humidity = Air(temperature=295.15, pressure=pressure, humidity=float(humidity))
        heights = np.array([0.0, 400.0])
        assert local_humidity(by_dew_point) == float(humidity)
        np.testing.assert_array_equal(
            density_along(by_dew_point, heights), density_along(by_humidity, heights)
        )

    def test_dew_point_refers_to_the_station_pressure(self):
        high = {"temperature": 295.15, "dew_point": 285.15, "altitude": 1500.0}
        reduced = Air(pressure=101_325.0, pressure_at_sea_level=True, **high)
        station = Air(pressure=station_pressure(101_325.0, 1500.0), **high)
        assert local_humidity(reduced) == local_humidity(station)


class TestWindOfTheDay:
    @pytest.mark.parametrize("terrain", ROUGHNESS_LENGTH)
    def test_forecast_wind_is_stronger_than_the_rider_feels(self, terrain):
        forecast = Wind(speed=6.0, height=REPORT_HEIGHT, terrain=terrain)
        roughness = ROUGHNESS_LENGTH[terrain]
        expected = 6.0 * np.log(RIDER_HEIGHT / roughness) / np.log(REPORT_HEIGHT / roughness)
        assert rider_wind_speed(forecast) == pytest.approx(expected, rel=1e-14)
        assert 0.0 < rider_wind_speed(forecast) < 6.0

    @pytest.mark.parametrize("law", ["log", "power"])
    def test_own_wind_is_taken_as_it_is(self, law):
        assert rider_wind_speed(Wind(speed=3.3, height=RIDER_HEIGHT, law=law)) == 3.3

    def test_power_law_is_close_to_the_logarithm_near_its_height(self):
        speeds = [
            rider_wind_speed(Wind(speed=5.0, height=1.1, law=law, terrain="short grass"))
            for law in ("log", "power")
        ]
        # They share value and slope at the known height; the curvature leaves (ln 1.1)^2/2 times
        # alpha^2 = 0.0002.
        assert speeds[0] == pytest.approx(speeds[1], rel=2.5e-4)
        assert speeds[0] != speeds[1]

    def test_wind_from_straight_ahead_follows_the_bends(self):
        wind = Wind(speed=4.0, direction=0.0, follows_rider=True)
        head, cross = wind_along(wind, np.array([0.3, np.nan, 5.0]), np.ones(3))
        np.testing.assert_array_equal(head, [4.0, 4.0, 4.0])
        np.testing.assert_array_equal(cross, [0.0, 0.0, 0.0])

    def test_wind_by_the_compass(self):
        westerly = Wind(speed=4.0, direction=np.radians(270.0))
        bearings = np.radians([270.0, 90.0, 0.0, 180.0])
        head, cross = wind_along(westerly, bearings, np.array([1.0, 1.0, 1.0, 0.5]))
        np.testing.assert_allclose(head, [4.0, -4.0, 0.0, 0.0], atol=1e-14)
        # Northwards the west lies on the left, southwards on the right.
        np.testing.assert_allclose(cross, [0.0, 0.0, -4.0, 2.0], atol=1e-14)

    def test_shelter_scales_the_forecast(self):
        wind = Wind(speed=5.0, direction=1.0, height=10.0)
        bearing = np.array([0.2, 0.2, 0.2])
        open_road, _, hidden = np.transpose(wind_along(wind, bearing, np.array([1.0, 0.5, 0.0])))
        assert np.hypot(*open_road) == pytest.approx(rider_wind_speed(wind), rel=1e-14)
        np.testing.assert_array_equal(hidden, [0.0, 0.0])

    def test_no_wind_needs_no_bearing(self):
        head, cross = wind_along(Wind(), np.array([np.nan, np.nan]), np.array([1.0, 0.5]))
        np.testing.assert_array_equal(head, [0.0, 0.0])
        np.testing.assert_array_equal(cross, [0.0, 0.0])
