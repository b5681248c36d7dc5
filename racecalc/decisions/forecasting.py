"""From a forecast to the days it foretells for a race."""

from dataclasses import replace

import numpy as np

from racecalc.decisions.days import Day, gust_at_rider
from racecalc.decisions.rates import at_temperature
from racecalc.domain.air import Air
from racecalc.domain.race import Race
from racecalc.errors import InputError
from racecalc.files.forecast_table import ForecastTable


def forecast_days(
    race: Race, forecast: ForecastTable, gust: float | None = None
) -> tuple[Day, ...]:
    """Make a day of each row of a forecast.

    Parameters
    ----------
    race : Race
        Gives what the forecast does not say, and height, terrain and law of its wind.
    forecast : ForecastTable
        What was read.
    gust : float, optional
        Strongest gust where a row states none, at the height of the wind [m/s].

    Returns
    -------
    tuple of Day
        In the order of the rows.

    Raises
    ------
    InputError
        If the course has no bearings to place the wind by, the race states the density that a
        column would change, or a dew point lies above the temperature of the race file.
    """
    if np.any(np.isnan(race.course.bearing)):
        raise InputError(
            forecast.source,
            "the course has no bearings, so the wind of a forecast cannot be placed",
            "give the course a bearing",
        )
    if forecast.weather and race.air.density is not None:
        raise InputError(
            forecast.source,
            f"{', '.join(forecast.weather)}: the race states air.density itself, so this changes"
            " nothing",
            "remove the density from the race file, or the column from the forecast",
        )
    return tuple(_forecast_day(race, forecast, row, gust) for row in range(len(forecast.time)))


def _forecast_day(race: Race, forecast: ForecastTable, row: int, gust: float | None) -> Day:
    air = _forecast_air(race.air, forecast, row)
    stated = float(forecast.gust[row])
    strongest = gust_at_rider(air, stated if np.isfinite(stated) else gust)
    return Day(forecast.time[row], air, strongest, row)


def _forecast_air(air: Air, forecast: ForecastTable, row: int) -> Air:
    weather = {name: float(values[row]) for name, values in forecast.weather.items()}
    given = {name: value for name, value in weather.items() if np.isfinite(value)}
    if "temperature" in given:
        air = at_temperature(air, given["temperature"])
    for name in ("pressure", "sea_level_pressure"):
        if name in given:
            at_sea_level = name == "sea_level_pressure"
            air = replace(air, pressure=given[name], pressure_at_sea_level=at_sea_level)
    if "humidity" in given:
        air = replace(air, humidity=given["humidity"], dew_point=None)
    if "dew_point" in given:
        if given["dew_point"] > air.temperature:
            raise InputError(
                forecast.place(row),
                "the dew point lies above the temperature of the race file",
                "add the column 'temperature [degC]'",
            )
        air = replace(air, dew_point=given["dew_point"])
    speed, direction = float(forecast.wind_speed[row]), float(forecast.wind_from[row])
    wind = replace(air.wind, speed=speed, direction=direction, follows_rider=False)
    return replace(air, wind=wind)


def under_forecast(race: Race, forecast: ForecastTable) -> Race:
    """The race without the assumptions that a forecast puts its own values in place of."""
    replaced = {"wind_speed", *forecast.weather}
    if "pressure" in replaced:
        replaced.add("sea_level_pressure")
    if "dew_point" in replaced:
        replaced.add("humidity")
    left = [one for one in race.assumptions if one.key.removeprefix("air.") not in replaced]
    return replace(race, assumptions=tuple(left))
