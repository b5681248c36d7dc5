"""What a small change of each quantity is worth in seconds, at the race's own conditions."""

from dataclasses import dataclass, replace

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.decisions.riding import Ridden
from racecalc.domain.race import RIDER_HEIGHT, Air, Wind
from racecalc.physics.air import density_along, wind_along
from racecalc.quantities.reading import show_direction

TEMPERATURE_PROBE = 0.01
PRESSURE_PROBE = 1.0


@dataclass(frozen=True)
class Rate:
    """Worth of a change."""

    quantity: str
    """What is changed."""
    unit: str
    """By how much."""
    size: float
    """The same in SI."""
    seconds_per_unit: float
    """Seconds saved by one unit more; negative where one unit more costs time."""
    meaning: str
    """In plain words."""


def rates(ridden: Ridden) -> tuple[Rate, ...]:
    """Seconds saved by one more unit of each quantity, from the exact derivatives.

    Rates hold for small changes: ten times the change is not quite ten times the seconds.

    Parameters
    ----------
    ridden : Ridden
        A solved race.

    Returns
    -------
    tuple of Rate
        Power, cda, crr, mass, air_density, temperature, pressure, head_wind and wind_speed;
        without temperature and pressure where the density was given, as they do nothing then.
    """
    race, ride, d = ridden.race, ridden.solution.ride, ridden.derivatives
    wind = race.air.wind
    roughness = ride.crr / race.bike.crr
    shelter = race.course.shelter[race.course.piece_at(ride.middle)]
    return (
        _rate("power", "W", 1.0, ridden.time_by_power, "more power"),
        _rate("cda", "0.001 m^2", 0.001, _total(d.cda), "more drag area"),
        _rate("crr", "0.0001", 0.0001, _total(d.crr * roughness), "more rolling resistance (Crr)"),
        _rate("mass", "100 g", 0.1, _total(d.mass), "more mass to carry"),
        _rate("air_density", "0.01 kg/m^3", 0.01, _total(d.density), "denser air"),
        *_weather_rates(ridden),
        _rate("head_wind", "m/s", 1.0, _total(d.head * shelter), "more wind in the face all along"),
        _rate("wind_speed", "m/s", 1.0, time_by_wind(ridden, wind.direction), _wind_words(wind)),
    )


def _rate(quantity: str, unit: str, size: float, seconds_lost_per_si: float, meaning: str) -> Rate:
    return Rate(quantity, unit, size, -size * seconds_lost_per_si, meaning)


def _wind_words(wind: Wind) -> str:
    height = "at the rider" if wind.height == RIDER_HEIGHT else f"{wind.height:.0f} m up"
    if wind.follows_rider:
        side = ("ahead", "the right", "behind", "the left")[round(wind.direction / (np.pi / 2)) % 4]
        return f"more wind {height}, from {side}"
    return f"more wind {height}, from {show_direction(wind.direction)}"


def _total(values: FloatArray) -> float:
    return float(np.sum(values))


def _weather_rates(ridden: Ridden) -> tuple[Rate, ...]:
    if ridden.race.air.density is not None:
        return ()
    return (
        _rate("temperature", "degC", 1.0, time_by_temperature(ridden), "warmer air"),
        _rate("pressure", "hPa", 100.0, time_by_pressure(ridden), "more air pressure"),
    )


def time_by_temperature(ridden: Ridden) -> float:
    """Derivative of the time with respect to the temperature [s/K]; 0 where density is given."""
    air = ridden.race.air
    warmer = at_temperature(air, air.temperature + TEMPERATURE_PROBE)
    colder = at_temperature(air, air.temperature - TEMPERATURE_PROBE)
    return _time_by_air(ridden, warmer, colder) / (2 * TEMPERATURE_PROBE)


def time_by_pressure(ridden: Ridden) -> float:
    """Derivative of the time with respect to the pressure [s/Pa]; 0 where density is given."""
    air = ridden.race.air
    higher = replace(air, pressure=air.pressure + PRESSURE_PROBE)
    lower = replace(air, pressure=air.pressure - PRESSURE_PROBE)
    return _time_by_air(ridden, higher, lower) / (2 * PRESSURE_PROBE)


def at_temperature(air: Air, temperature: float) -> Air:
    """The air at another temperature [K]; the dew point is lowered to it where it lies above."""
    dew_point = None if air.dew_point is None else min(air.dew_point, temperature)
    return replace(air, temperature=temperature, dew_point=dew_point)


def _time_by_air(ridden: Ridden, more: Air, less: Air) -> float:
    """Time that one air takes more than another, first order in their densities [s]."""
    height = ridden.race.course.elevation_at(ridden.solution.ride.middle)
    change = density_along(more, height) - density_along(less, height)
    return _total(ridden.derivatives.density * change)


def time_by_wind(ridden: Ridden, direction: float) -> float:
    """Derivative of the time with respect to a wind at the height of the stated one.

    Parameters
    ----------
    ridden : Ridden
        A solved race.
    direction : float
        Where the added wind comes from [rad], counted as that of the race.

    Returns
    -------
    float
        [s per m/s]
    """
    course = ridden.race.course
    piece = course.piece_at(ridden.solution.ride.middle)
    unit_wind = replace(ridden.race.air.wind, speed=1.0, direction=direction)
    head, cross = wind_along(unit_wind, course.bearing[piece], course.shelter[piece])
    d = ridden.derivatives
    return _total(d.head * head + d.cross * cross)
