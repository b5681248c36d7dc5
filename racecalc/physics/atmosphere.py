"""The air and the wind of the day carried along a course."""

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.domain.air import RIDER_HEIGHT, ROUGHNESS_LENGTH, Air, Wind
from racecalc.physics import air as formulas
from racecalc.physics.wind import height_factor, wind_components


def local_pressure(air: Air) -> float:
    """Station pressure at the altitude of the weather report [Pa]."""
    if air.pressure_at_sea_level:
        return formulas.station_pressure(air.pressure, air.altitude)
    return air.pressure


def local_humidity(air: Air) -> float:
    """Relative humidity at the altitude of the weather report, 0 to 1."""
    if air.dew_point is None:
        return air.humidity
    return float(
        formulas.humidity_from_dew_point(
            np.asarray(air.temperature), np.asarray(air.dew_point), np.asarray(local_pressure(air))
        )
    )


def density_along(air: Air, altitude: FloatArray) -> FloatArray:
    """Air density at each altitude.

    Temperature and pressure change with altitude as in ISO 2533; that relative humidity stays
    the same along the course is an assumption.

    Parameters
    ----------
    air : Air
        State of the air at one altitude.
    altitude : FloatArray
        Where the density is wanted [m], any shape.

    Returns
    -------
    FloatArray
        Density [kg/m^3], same shape.
    """
    if air.density is not None:
        return np.full(np.shape(altitude), air.density)
    pressure = formulas.pressure_at(altitude, air.altitude, local_pressure(air), air.temperature)
    temperature = formulas.temperature_at(altitude, air.altitude, air.temperature)
    return formulas.moist_air_density(temperature, pressure, local_humidity(air))


def rider_wind_speed(wind: Wind) -> float:
    """Mean wind speed at the height of the rider in the open [m/s]."""
    if wind.height == RIDER_HEIGHT:
        return wind.speed
    roughness = ROUGHNESS_LENGTH[wind.terrain]
    return wind.speed * height_factor(wind.height, RIDER_HEIGHT, roughness, wind.law)


def wind_along(
    wind: Wind, bearing: FloatArray, shelter: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Head wind and cross wind on each piece of a course.

    Parameters
    ----------
    wind : Wind
        Mean wind of the day.
    bearing : FloatArray
        Direction of travel [rad]; not used where the wind follows the rider.
    shelter : FloatArray
        Share of the open wind that is felt, 0 to 1.

    Returns
    -------
    head, cross : FloatArray
        Against the rider, and from the right [m/s].
    """
    felt = rider_wind_speed(wind) * shelter
    if wind.speed == 0:
        return felt, felt
    if wind.follows_rider:
        return wind_components(felt, wind.direction, np.zeros_like(bearing))
    return wind_components(felt, wind.direction, bearing)
