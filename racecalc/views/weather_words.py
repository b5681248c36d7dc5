"""Weather and its doubts in words."""

import math
from collections.abc import Mapping

from racecalc.decisions.doubt import CAUSES
from racecalc.decisions.weather import Day
from racecalc.domain.race import RIDER_HEIGHT, Air, Wind
from racecalc.physics.air import rider_wind_speed
from racecalc.quantities.reading import show_direction
from racecalc.quantities.showing import System, What, show


def from_words(wind: Wind) -> str:
    """Where a wind comes from: over ground, or counted from the direction of travel."""
    if not wind.follows_rider:
        return show_direction(wind.direction)
    degrees = round(math.degrees(wind.direction)) % 360
    return {0: "ahead", 90: "the right", 180: "behind", 270: "the left"}.get(
        degrees, f"{degrees}° clockwise from ahead"
    )


def day_words(day: Day, units: System) -> str:
    """The weather of a day in one line."""
    wind = day.air.wind
    parts = [f"wind {show(wind.speed, 'wind_speed', units)} from {from_words(wind)}"]
    if day.gust is not None:
        parts.append(f"gusts of {show(day.gust, 'wind_speed', units)} at the rider")
    return ", ".join([*parts, *_air_parts(day.air, units)])


def _air_parts(air: Air, units: System) -> list[str]:
    if air.density is not None:
        return [f"air {show(air.density, 'density', units)}"]
    at = " at sea level" if air.pressure_at_sea_level else ""
    return [
        show(air.temperature, "temperature", units),
        show(air.pressure, "pressure", units) + at,
    ]


def doubts_words(doubts: Mapping[str, float], units: System) -> str:
    """One standard uncertainty of each part of the weather."""
    shown_as: dict[str, What] = {
        "wind_speed": "wind_speed",
        "temperature": "temperature_change",
        "pressure": "pressure",
        "density": "density",
    }
    return ", ".join(
        f"{CAUSES[name]} "
        + (
            show(doubt, shown_as[name], units)
            if name in shown_as
            else f"{math.degrees(doubt):.0f}°"
        )
        for name, doubt in doubts.items()
    )


def wind_height_words(wind: Wind, units: System, forecast: bool) -> str:
    """Where the wind of all days blows, and what of it is left at the rider."""
    if wind.height == RIDER_HEIGHT:
        said = "Winds are taken as met by the rider, as in the race file."
        if not forecast:
            return said
        return said + (
            " A forecast is usually for 10 m above ground, where it blows harder: if so, state"
            " wind_speed instead of wind_at_rider."
        )
    left = rider_wind_speed(Wind(1.0, height=wind.height, terrain=wind.terrain, law=wind.law))
    return (
        f"Winds blow {show(wind.height, 'length', units, 0)} above {wind.terrain};"
        f" {100 * left:.0f} % of them, gusts too, is left at the rider in the open."
    )
