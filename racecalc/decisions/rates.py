"""What a small change of each quantity is worth in seconds, at the race's own conditions."""

from dataclasses import dataclass, replace

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.decisions.riding import Ridden
from racecalc.domain.air import RIDER_HEIGHT, Air, Wind
from racecalc.physics.atmosphere import density_along, wind_along

TEMPERATURE_PROBE = 0.01
PRESSURE_PROBE = 1.0


@dataclass(frozen=True)
class Rate:
    """Worth of a change.

    Parameters
    ----------
    quantity : str
        What is changed.
    unit : str
        By how much.
    seconds_per_unit : float
        Seconds saved by one unit more; negative where one unit more costs time.
    meaning : str
        In plain words.
    """

    quantity: str
    unit: str
    seconds_per_unit: float
    meaning: str


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
    roughness = ride.crr / race.bike.crr
    shelter = race.course.shelter[race.course.piece_at(ride.middle)]
    return (
        Rate("power", "W", -_total(d.wheel_power) * race.bike.efficiency, "one watt more"),
        Rate("cda", "0.001 m^2", -1e-3 * _total(d.cda), "a thousandth more drag area"),
        Rate("crr", "0.0001", -1e-4 * _total(d.crr * roughness), "a ten-thousandth more Crr"),
        Rate("mass", "100 g", -0.1 * _total(d.mass), "100 g more to carry"),
        Rate("air_density", "0.01 kg/m^3", -0.01 * _total(d.density), "denser air"),
        *_weather_rates(ridden),
        Rate(
            "head_wind",
            "m/s",
            -_total(d.head * shelter),
            "more wind from straight ahead all the way",
        ),
        Rate("wind_speed", "m/s", -_wind_speed(ridden), _wind_words(race.air.wind)),
    )


def _wind_words(wind: Wind) -> str:
    if wind.follows_rider:
        return "more wind, as stated from the rider's side"
    height = "at the rider" if wind.height == RIDER_HEIGHT else f"at {wind.height:.0f} m"
    return f"more wind {height} from {np.degrees(wind.direction):.0f} deg"


def _total(values: FloatArray) -> float:
    return float(np.sum(values))


def _weather_rates(ridden: Ridden) -> tuple[Rate, ...]:
    air = ridden.race.air
    if air.density is not None:
        return ()
    warmer = _at_temperature(air, air.temperature + TEMPERATURE_PROBE)
    colder = _at_temperature(air, air.temperature - TEMPERATURE_PROBE)
    higher = replace(air, pressure=air.pressure + PRESSURE_PROBE)
    lower = replace(air, pressure=air.pressure - PRESSURE_PROBE)
    by_kelvin = _density_change(ridden, warmer, colder) / (2 * TEMPERATURE_PROBE)
    by_pascal = _density_change(ridden, higher, lower) / (2 * PRESSURE_PROBE)
    density = ridden.derivatives.density
    return (
        Rate("temperature", "degC", -_total(density * by_kelvin), "one degree warmer"),
        Rate("pressure", "hPa", -100 * _total(density * by_pascal), "one hectopascal more"),
    )


def _at_temperature(air: Air, temperature: float) -> Air:
    dew_point = None if air.dew_point is None else min(air.dew_point, temperature)
    return replace(air, temperature=temperature, dew_point=dew_point)


def _density_change(ridden: Ridden, more: Air, less: Air) -> FloatArray:
    height = ridden.race.course.elevation_at(ridden.solution.ride.middle)
    return density_along(more, height) - density_along(less, height)


def _wind_speed(ridden: Ridden) -> float:
    """Derivative of the time with respect to the wind speed as it was stated [s per m/s]."""
    course = ridden.race.course
    piece = course.piece_at(ridden.solution.ride.middle)
    unit_wind = replace(ridden.race.air.wind, speed=1.0)
    head, cross = wind_along(unit_wind, course.bearing[piece], course.shelter[piece])
    d = ridden.derivatives
    return _total(d.head * head + d.cross * cross)
