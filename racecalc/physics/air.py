"""Density of moist air, pressure over height, and the wind at the rider.

References
----------
.. [1] Picard A, Davis RS, Glaeser M, Fujii K. Revised formula for the density of moist air
   (CIPM-2007). Metrologia 2008;45:149-155. doi:10.1088/0026-1394/45/2/004
.. [2] ISO 2533:1975, Standard atmosphere.
.. [3] Troen I, Petersen EL. European Wind Atlas. Risoe National Laboratory, 1989: logarithmic law;
   power law fitted to it locally with exponent 1/ln(z/z0).
"""

import math

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.domain.race import RIDER_HEIGHT, ROUGHNESS_LENGTH, Air, Wind, WindLaw
from racecalc.physics.forces import (
    DRY_AIR_GAS_CONSTANT,
    GRAVITY,
    LAPSE_RATE,
    STANDARD_TEMPERATURE,
    ZERO_CELSIUS,
)

# --- From the forecast wind to the air that meets the rider --------------------------------------


def height_factor(
    from_height: float, to_height: float, roughness: float, law: WindLaw = "log"
) -> float:
    """Ratio of mean wind speeds at two heights [m] above open, even terrain [3]_.

    ``ln(to/z0) / ln(from/z0)``, or by the power law ``(to/from)**(1/ln(from/z0))``; both heights
    above the roughness length z0 [m].

    >>> round(height_factor(10.0, 1.0, 0.03), 2)
    0.60
    """
    if min(from_height, to_height) <= roughness:
        raise ValueError("heights must lie above the roughness length")
    if law == "log":
        return math.log(to_height / roughness) / math.log(from_height / roughness)
    return float((to_height / from_height) ** (1.0 / math.log(from_height / roughness)))


def wind_components(
    wind_speed: FloatArray | float, wind_from: float, bearing: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Head wind (tail wind negative) and wind from the right [m/s].

    The direction that the wind comes from and that of travel are clockwise from north [rad].
    """
    angle = wind_from - bearing
    return wind_speed * np.cos(angle), wind_speed * np.sin(angle)


def yaw_angle(speed: FloatArray, head: FloatArray, cross: FloatArray) -> FloatArray:
    """Angle of the apparent wind to the direction of travel [rad], from speeds in m/s.

    Positive from the right; beyond a right angle the air comes from behind.
    """
    return np.arctan2(cross, speed + head)


def apparent_wind(speed: FloatArray, head: FloatArray, cross: FloatArray) -> FloatArray:
    """Speed of the air that meets the rider [m/s], same arguments as `yaw_angle`."""
    return np.hypot(speed + head, cross)


# --- Density of moist air, and pressure and temperature by altitude ------------------------------

BAROMETRIC_EXPONENT = GRAVITY / (DRY_AIR_GAS_CONSTANT * LAPSE_RATE)
"""Exponent of the pressure ratio under a constant lapse rate, 5.2559 [-]; ISO 2533."""


def saturation_vapour_pressure(temperature: FloatArray) -> FloatArray:
    """Saturation vapour pressure over water [Pa] by temperature [K], CIPM-2007 equation A1.1 [1]_.

    >>> round(float(saturation_vapour_pressure(np.array(293.15))), 2)
    2339.16
    """
    t = temperature
    return np.exp(1.2378847e-5 * t**2 - 1.9121316e-2 * t + 33.93711047 - 6.3431645e3 / t)


def _enhancement(temperature: FloatArray, pressure: FloatArray) -> FloatArray:
    celsius = temperature - ZERO_CELSIUS
    return 1.00062 + 3.14e-8 * pressure + 5.6e-7 * celsius**2


def humidity_from_dew_point(
    temperature: FloatArray, dew_point: FloatArray, pressure: FloatArray
) -> FloatArray:
    """Relative humidity, 0 to 1, by air temperature and dew point [K] and station pressure [Pa].

    CIPM-2007 equation A1.2 [1]_.
    """
    at_dew_point = _enhancement(dew_point, pressure) * saturation_vapour_pressure(dew_point)
    return at_dew_point / (
        _enhancement(temperature, pressure) * saturation_vapour_pressure(temperature)
    )


def moist_air_density(
    temperature: FloatArray, pressure: FloatArray, humidity: FloatArray | float
) -> FloatArray:
    """Density of moist air [kg/m^3] by CIPM-2007 [1]_ at 400 ppm of carbon dioxide.

    Temperature [K], station pressure, that at the place itself [Pa], relative humidity, 0 to 1.

    The formula is stated for 600 to 1100 hPa and 15 to 27 degC with a relative standard
    uncertainty of 22e-6. Outside that range it stays within 5e-5 of the reference equation of
    state for humid air between 0 and 40 degC, within 1e-4 at 45 degC, and within 2.1e-4 down to
    -10 degC, where that equation counts humidity over ice; far below any doubt in the weather.

    >>> round(float(moist_air_density(np.array(293.15), np.array(101325.0), 0.5)), 6)
    1.199314
    """
    t = temperature - ZERO_CELSIUS
    vapour = (
        humidity
        * _enhancement(temperature, pressure)
        * saturation_vapour_pressure(temperature)
        / pressure
    )
    ratio = pressure / temperature
    compressibility = (
        1.0
        - ratio
        * (
            1.58123e-6
            - 2.9331e-8 * t
            + 1.1043e-10 * t**2
            + (5.707e-6 - 2.051e-8 * t) * vapour
            + (1.9898e-4 - 2.376e-6 * t) * vapour**2
        )
        + ratio**2 * (1.83e-11 - 0.765e-8 * vapour**2)
    )
    return 3.483740e-3 * ratio / compressibility * (1.0 - 0.3780 * vapour)


def pressure_at(
    altitude: FloatArray, reference_altitude: float, reference_pressure: float, temperature: float
) -> FloatArray:
    """Pressure [Pa] at altitudes [m] in air with the lapse rate of ISO 2533 [2]_.

    The temperature [K] is that at the reference altitude.
    """
    there = temperature_at(altitude, reference_altitude, temperature)
    return reference_pressure * (there / temperature) ** BAROMETRIC_EXPONENT


def temperature_at(
    altitude: FloatArray, reference_altitude: float, temperature: float
) -> FloatArray:
    """Temperature [K] at another altitude [m] under the lapse rate of ISO 2533 [2]_."""
    return temperature - LAPSE_RATE * (altitude - reference_altitude)


def station_pressure(sea_level_pressure: float, altitude: float) -> float:
    """Station pressure from the sea-level pressure of a weather report.

    Weather services reduce the pressure of a station to sea level; this undoes the reduction
    with the standard atmosphere [2]_, as the altimeter setting does. Pressures [Pa], altitude [m].

    >>> round(station_pressure(101325.0, 1000.0), 0)
    89875.0
    """
    ratio = 1.0 - LAPSE_RATE * altitude / STANDARD_TEMPERATURE
    return float(sea_level_pressure * ratio**BAROMETRIC_EXPONENT)


# --- The air and the wind of the day carried along a course --------------------------------------


def local_pressure(air: Air) -> float:
    """Station pressure at the altitude of the weather report [Pa]."""
    if air.pressure_at_sea_level:
        return station_pressure(air.pressure, air.altitude)
    return air.pressure


def local_humidity(air: Air) -> float:
    """Relative humidity at the altitude of the weather report, 0 to 1."""
    if air.dew_point is None:
        return air.humidity
    return float(
        humidity_from_dew_point(
            np.asarray(air.temperature), np.asarray(air.dew_point), np.asarray(local_pressure(air))
        )
    )


def density_along(air: Air, altitude: FloatArray) -> FloatArray:
    """Air density [kg/m^3] at altitudes [m].

    Temperature and pressure change with altitude as in ISO 2533; that relative humidity stays
    the same along the course is an assumption.
    """
    if air.density is not None:
        return np.full(np.shape(altitude), air.density)
    pressure = pressure_at(altitude, air.altitude, local_pressure(air), air.temperature)
    temperature = temperature_at(altitude, air.altitude, air.temperature)
    return moist_air_density(temperature, pressure, local_humidity(air))


def rider_wind_speed(wind: Wind) -> float:
    """Mean wind speed at the height of the rider in the open [m/s]."""
    if wind.height == RIDER_HEIGHT:
        return wind.speed
    roughness = ROUGHNESS_LENGTH[wind.terrain]
    return wind.speed * height_factor(wind.height, RIDER_HEIGHT, roughness, wind.law)


def wind_along(
    wind: Wind, bearing: FloatArray, shelter: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Head wind, and wind from the right, on each piece of a course [m/s].

    By the direction of travel [rad], which a wind that follows the rider ignores, and the share of
    the open wind that is felt there, 0 to 1.
    """
    felt = rider_wind_speed(wind) * shelter
    if wind.speed == 0:
        return felt, felt
    if wind.follows_rider:
        return wind_components(felt, wind.direction, np.zeros_like(bearing))
    return wind_components(felt, wind.direction, bearing)
