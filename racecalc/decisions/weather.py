"""Days of weather to ride a race in: stated, drawn or forecast, and what is unsafe in them.

One weather holds for the whole of each ride. Days are solved one by one and not kept, since a
solved race is large: whoever asks takes from each what they need.

References
----------
.. [1] McKay MD, Beckman RJ, Conover WJ. A comparison of three methods for selecting values of input
   variables in the analysis of output from a computer code. Technometrics 1979;21:239-245 (Latin
   hypercube sampling).
"""

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING, Annotated

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.decisions.doubt import CAUSES, FURTHEST, felt, moved_air, wind_shift
from racecalc.decisions.riding import Ridden
from racecalc.decisions.sets import with_evidence
from racecalc.decisions.timing import at_temperature
from racecalc.domain.option import Option
from racecalc.domain.race import Air, Race
from racecalc.errors import InputError
from racecalc.physics.air import rider_wind_speed
from racecalc.written import HIDDEN, As, written

if TYPE_CHECKING:
    from racecalc.files.table_kinds import ForecastTable

# --- Days of weather to ride a race in -----------------------------------------------------------

WEATHER_DOUBTS = ("wind_speed", "wind_from", "temperature", "pressure", "density")
"""Fields of `Doubts` that make one day unlike another."""


@dataclass(frozen=True)
class Day:
    """Weather to ride a race in."""

    name: Annotated[str, As(day="")]
    """The time of a forecast as written, or a number for a day that was drawn."""
    air: Annotated[
        Air,
        As(
            wind_speed_m_s="wind.speed",
            wind_follows_rider="wind.follows_rider",
            wind_height_m="wind.height",
            air_density_kg_m3="density",
        ),
    ]
    """Air and mean wind."""
    gust: Annotated[float | None, HIDDEN] = None
    """Strongest gust at the rider when it begins, in the open [m/s]; None where it is not known."""
    row: Annotated[int | None, HIDDEN] = None
    """Row of the forecast it belongs to, from 0; None without a forecast."""
    drawn: Annotated[bool, HIDDEN] = False
    """Whether it was drawn about the weather that was stated or forecast."""
    clock_s: Annotated[float, HIDDEN] = math.nan
    """When it begins, on the clock of the forecast [s]; NaN where that is not known."""
    draw: Annotated[int, HIDDEN] = 0
    """Which of the draws it is of; all rows of a forecast share them."""
    later: Annotated[tuple["Day", ...], HIDDEN] = ()
    """The hours of the forecast that a ride begun then reaches; what is unsafe is judged in all."""

    @property
    def hours(self) -> tuple["Day", ...]:
        """The hour of the start, and those that the ride reaches."""
        return (self, *self.later)

    @written
    def gust_at_rider_m_s(self) -> float | None:
        """Strongest gust in the open in the hours that the ride reaches; None for unknown [m/s]."""
        return max((hour.gust for hour in self.hours if hour.gust is not None), default=None)

    @written
    def wind_from_deg(self) -> float:
        """Where the wind comes from: from north or, where it follows the rider, from ahead."""
        return math.degrees(self.air.wind.direction) % 360.0

    @written
    def wind_at_rider_m_s(self) -> float:
        """Mean wind at the rider, in the open [m/s]."""
        return rider_wind_speed(self.air.wind)

    @written
    def temperature_k(self) -> float | None:
        """Air temperature [K]; None where only the density is stated."""
        return self.air.known_temperature

    @written
    def pressure_pa(self) -> float | None:
        """Station pressure; None where that at sea level or the density is stated instead."""
        stated = self.air.density is None and not self.air.pressure_at_sea_level
        return self.air.pressure if stated else None

    @written
    def sea_level_pressure_pa(self) -> float | None:
        """Pressure reduced to sea level; None where another or the density is stated instead."""
        stated = self.air.density is None and self.air.pressure_at_sea_level
        return self.air.pressure if stated else None

    @property
    def least_gust_then(self) -> float:
        """The same in the hour of the start [m/s]."""
        return max(self.gust or 0.0, rider_wind_speed(self.air.wind))

    @property
    def least_gust(self) -> float:
        """What gusts reach at the least: the mean wind where they are not known [m/s]."""
        return max(hour.least_gust_then for hour in self.hours)


def weather_doubts(race: Race) -> dict[str, float]:
    """Return the stated doubts of the weather that can change the time, by name."""
    return {name: doubt for name, doubt in felt(race).items() if name in WEATHER_DOUBTS}


def stated_day(race: Race, gust: float | None = None) -> Day:
    """The weather of the race file; a gust at the height of its wind instead of its own [m/s]."""
    strongest = race.air.gusts if gust is None else gust
    return Day("as stated", race.air, gust_at_rider(race.air, strongest))


def gust_at_rider(air: Air, gust: float | None) -> float | None:
    """A gust at the rider, by the same law of height as the mean wind [m/s]."""
    return None if gust is None else rider_wind_speed(replace(air.wind, speed=gust))


def drawn_about(days: Sequence[Day], race: Race, count: int, seed: int) -> tuple[Day, ...]:
    """Draw days about each of some days, by the doubts of the weather that the race states.

    Each doubt is drawn from a normal distribution by Latin hypercube sampling [1]_, one draw
    from each of `count` equally likely strata. Every one of the days gets the same draws: a
    forecast that errs at one hour is taken to err alike at the others. A gust rises with the mean
    wind by as much, and does not fall with it.
    """
    names = list(CAUSES)
    draws = {
        name: doubt * _stratified_normals(count, [seed, names.index(name)])
        for name, doubt in weather_doubts(race).items()
    }
    return tuple(
        _moved_day(day, {name: float(values[number]) for name, values in draws.items()}, number)
        for day in days
        for number in range(count if draws else 0)
    )


def _stratified_normals(count: int, seed: Sequence[int]) -> FloatArray:
    """One standard normal number from each of `count` equally likely strata, in random order."""
    # Not at the top: this module is loaded for every time, which needs no scipy.
    from scipy.special import ndtri

    generator = np.random.default_rng(seed)
    quantile = (generator.permutation(count) + generator.random(count)) / count
    return np.asarray(np.clip(ndtri(quantile), -FURTHEST, FURTHEST))


def _moved_day(day: Day, by: dict[str, float], number: int) -> Day:
    more, turn = by.pop("wind_speed", 0.0), by.pop("wind_from", 0.0)
    blown = wind_shift(day.air.wind.speed, more, turn)
    try:
        air = moved_air(day.air, {**by, **{axis: float(value) for axis, value in blown.items()}})
    except ValueError as error:
        problem = f"they reach to a day that cannot be: {error}"
        raise InputError(
            "the stated doubts of the weather", problem, "state smaller ones"
        ) from error
    name = f"day {number + 1}" if day.row is None else day.name
    stronger = max(0.0, rider_wind_speed(air.wind) - day.wind_at_rider_m_s)
    gust = None if day.gust is None else day.gust + stronger
    return replace(day, name=name, air=air, gust=gust, drawn=True, draw=number)


def with_tests(options: Iterable[Option], base: Ridden) -> tuple[Option, ...]:
    """Options with their tests analysed, once for all days, unless the yaw of the day decides."""
    return tuple(
        option if option.trial and option.trial.is_sweep else with_evidence(option, base)
        for option in options
    )


# --- From a forecast to the days it foretells for a race -----------------------------------------


def forecast_days(
    race: Race, forecast: "ForecastTable", gust: float | None = None
) -> tuple[Day, ...]:
    """Make a day of each row of a forecast."""
    if np.any(np.isnan(race.course.bearing)):
        problem = "the course has no bearings, so the wind of a forecast cannot be placed"
        raise InputError(forecast.source, problem, race.course.needs_bearings)
    if forecast.weather and race.air.density is not None:
        raise InputError(
            forecast.source,
            f"{', '.join(forecast.weather)}: the race states air.density itself, so this changes"
            " nothing",
            "remove the density from the race file, or the column from the forecast",
        )
    days = []
    for row, (time, stated) in enumerate(zip(forecast.time, forecast.gust.tolist(), strict=True)):
        air = _forecast_air(race.air, forecast, row)
        otherwise = race.air.gusts if gust is None else gust
        strongest = gust_at_rider(air, stated if math.isfinite(stated) else otherwise)
        days.append(Day(time, air, strongest, row, clock_s=float(forecast.clock_s[row])))
    return tuple(days)


def through_the_ride(days: Sequence[Day], times: FloatArray) -> tuple[Day, ...]:
    """Days with the hours of the forecast that a ride of so many seconds reaches.

    A row holds from half way to the row before it until half way to the next. Without clock times
    that can be read the next row counts.
    """
    alike: dict[tuple[bool, int], list[Day]] = {}
    for day in days:
        if day.row is not None:
            alike.setdefault((day.drawn, day.draw), []).append(day)
    return tuple(
        day
        if day.row is None
        else replace(day, later=_reached(day, float(time), alike[day.drawn, day.draw]))
        for day, time in zip(days, times, strict=True)
    )


def _reached(day: Day, time: float, rows: Sequence[Day]) -> tuple[Day, ...]:
    if math.isnan(day.clock_s):
        return tuple(one for one in rows if one.row == (day.row or 0) + 1)
    hours = sorted((one for one in rows if one.clock_s >= day.clock_s), key=lambda one: one.clock_s)
    end = day.clock_s + time
    return tuple(
        one for before, one in pairwise(hours) if end >= 0.5 * (before.clock_s + one.clock_s)
    )


def _forecast_air(air: Air, forecast: "ForecastTable", row: int) -> Air:
    weather = {name: float(values[row]) for name, values in forecast.weather.items()}
    given = {name: value for name, value in weather.items() if np.isfinite(value)}
    if "temperature" in given:
        air = at_temperature(air, given["temperature"])
    for name in ("pressure", "sea_level_pressure"):
        if name in given:
            reduced = name.startswith("sea_level")
            air = replace(air, pressure=given[name], pressure_at_sea_level=reduced)
    if "humidity" in given:
        air = replace(air, humidity=given["humidity"], dew_point=None)
    if "dew_point" in given:
        if given["dew_point"] > air.temperature:
            problem = "the dew point lies above the temperature of the race file"
            remedy = "add the column 'temperature [degC]'"
            raise InputError(forecast.place(row), problem, remedy)
        air = replace(air, dew_point=given["dew_point"])
    speed, direction = float(forecast.wind_speed[row]), float(forecast.wind_from[row])
    wind = replace(air.wind, speed=speed, direction=direction, follows_rider=False)
    return replace(air, wind=wind)


def under_forecast(race: Race, forecast: "ForecastTable") -> Race:
    """The race without the assumptions that a forecast puts its own values in place of."""
    alike = {"pressure": "sea_level_pressure", "dew_point": "humidity"}
    given = {"wind_speed", *forecast.weather}
    replaced = given | {other for name, other in alike.items() if name in given}
    left = [one for one in race.assumptions if one.key.removeprefix("air.") not in replaced]
    return replace(race, assumptions=tuple(left))


# --- Weather in which seconds are not what decides -----------------------------------------------

GUST_CAUTION = 11.0
"""Gust at the height of the rider from which what catches the wind needs care [m/s]; a
conservative judgement, not a measured limit, and too high for a light rider."""

GUST_TOO_STRONG = 14.0
"""Gust at the height of the rider from which the shallower choice is advised whatever the
seconds say [m/s]; a conservative judgement, not a measured limit, and too high for a light
rider."""

HOT = 301.15
"""Air temperature above which power falls and drinking decides, 28 degC [K]; common practice,
no source."""

MILE_AN_HOUR = 0.44704
"""[m/s], exact."""

DEEP = "deep wheels and full shrouds"
"""What usually catches the wind."""

JUDGED = "a conservative judgement, not a measured limit; lighter riders sooner"


HEAT = (
    "Above 28 degC (82 degF) power falls and you must drink more; the numbers include neither."
    " Ride softer, drink, prefer vented clothing, leave no bottle at home for seconds, and stop if"
    " you feel confused or have chills."
)
"""What heat asks of a rider."""


def gust_limit(option: Option) -> float | None:
    """Gust at the rider from which an option cannot be ridden [m/s]; None where none matters."""
    stated = option.restrictions.gust_limit
    return GUST_TOO_STRONG if stated is None and option.restrictions.catches_wind else stated


def care_from(limit: float) -> float:
    """Gust at the rider from which something with such a limit needs care [m/s]."""
    return limit * GUST_CAUTION / GUST_TOO_STRONG


def unsafe(option: Option, day: Day) -> str:
    """Why an option is not to be used in the weather of a day; empty where it may be."""
    return too_windy(option, day) or too_hot(option, day)


def too_windy(option: Option, day: Day) -> str:
    """Why the wind of a day forbids an option; empty where it does not.

    Where no gust is known, a mean wind from which gusts would want care is enough, in the same
    proportion for a limit that its owner states.
    """
    limit = gust_limit(option)
    if limit is None:
        return ""
    rests = JUDGED if option.restrictions.gust_limit is None else f"its limit is {limit:.3g} m/s"
    hours = sorted(day.hours, key=lambda hour: -hour.least_gust_then)
    for hour in hours:
        mean, gust = hour.wind_at_rider_m_s, hour.gust
        if mean >= limit:
            words = f"the mean wind is {speed_words(mean)} at the rider, too strong for it"
        elif gust is not None and gust >= limit:
            words = f"gusts of {speed_words(gust)} at the rider are too strong for it"
        elif gust is None and mean >= care_from(limit):
            words = (
                f"the mean wind is {speed_words(mean)} at the rider, and gusts, which are not"
                " stated, will be too strong for it"
            )
        else:
            continue
        return f"{words} ({rests})"
    return ""


def too_hot(option: Option, day: Day) -> str:
    """Why the heat of a day forbids an option; empty where it does not, or is not known."""
    limit, known = option.restrictions.heat_limit, [hour.temperature_k for hour in day.hours]
    hottest = max((one for one in known if one is not None), default=None)
    if limit is None or hottest is None or hottest < limit:
        return ""
    return (
        f"it is {_degrees(hottest)}, and from {_degrees(limit)} on it must not be used: heat"
        " matters more than seconds"
    )


def _degrees(kelvin: float) -> str:
    celsius = kelvin - 273.15
    return f"{celsius:.0f} degC ({1.8 * celsius + 32.0:.0f} degF)"


def unsafe_now(base: Ridden, option: Option) -> str:
    """Why an option is not to be used in the weather of its race; empty where it may be."""
    return unsafe(option, stated_day(base.race))


@dataclass(frozen=True)
class TooMuch:
    """Options that a weather forbids, with the days on which it does."""

    names: tuple[str, ...]
    """The options; empty where none is known."""
    limit: float
    """From where on: a gust at the rider [m/s], or an air temperature [K]."""
    days: str
    """On which days, in words."""


@dataclass(frozen=True)
class Cautions:
    """What to heed before any second, with the days on which it holds; "" where on none."""

    catching: tuple[str, ...]
    """Options that the wind forbids at some gust."""
    too_strong: tuple[TooMuch, ...]
    """Where it does, by the limit; without such options where gusts reach `GUST_TOO_STRONG`."""
    strong: str
    """Where gusts reach `GUST_CAUTION` and forbid nothing."""
    unknown: str
    """Where no gust is known."""
    hot: str
    """Where it is warmer than `HOT`."""
    too_hot: tuple[TooMuch, ...]
    """Where heat forbids options, by the limit."""

    @classmethod
    def on(cls, days: Sequence[Day], options: Sequence[Option]) -> "Cautions":
        """What is to be heeded on some days with some options."""
        catching = [option for option in options if gust_limit(option) is not None]

        def forbids(day: Day) -> bool:
            if not catching:
                return day.least_gust >= GUST_TOO_STRONG
            return any(too_windy(option, day) for option in catching)

        too_strong = _by_limit(days, options, gust_limit, too_windy)
        if not catching and (which := _which(days, forbids)):
            too_strong = (TooMuch((), GUST_TOO_STRONG, which),)
        return cls(
            tuple(option.name for option in catching),
            too_strong,
            _which(days, lambda day: day.least_gust >= GUST_CAUTION and not forbids(day)),
            _which(days, lambda day: any(hour.gust is None for hour in day.hours)),
            _which(days, lambda day: any(is_hot(hour.air) for hour in day.hours)),
            _by_limit(days, options, lambda option: option.restrictions.heat_limit, too_hot),
        )

    def sentences(self) -> Iterator[str]:
        """All of it in full."""
        names = ", ".join(self.catching) or DEEP
        for one in self.too_strong:
            those = ", ".join(one.names)
            so = f"{those} cannot be chosen then, whatever they save; ride the shallower choice"
            so = so if those else f"leave {DEEP} at home"
            yield (
                f"Gusts of {speed_words(one.limit)} or more at the rider {one.days}: {so}"
                f" ({JUDGED})."
            )
        if self.strong:
            yield (
                f"Gusts of {speed_words(GUST_CAUTION)} or more at the rider {self.strong}: take"
                f" care with {names}, most of all where side wind comes through gaps in hedges and"
                f" after lorries ({JUDGED})."
            )
        if self.unmarked:
            yield (
                "No option is marked catches_wind = true, so gusts rule out none; mark those that"
                " are sensitive to side wind."
            )
        if self.unknown and self.catching:
            yield (
                f"Gusts are unknown {self.unknown}, so they are not in the numbers, but {names}"
                f" {'is' if len(self.catching) == 1 else 'are'} sensitive to side wind: state"
                " --gust, or give a forecast with a column 'gust [m/s]'."
            )
        for one in self.too_hot:
            yield (
                f"{_degrees(one.limit)} or more {one.days}: {', '.join(one.names)} cannot be used"
                " then, whatever the seconds say."
            )
        if self.hot:
            yield (
                f"Warmer than 28 degC (82 degF) {self.hot}: power falls and you must drink more,"
                " which the numbers do not include; prefer vented clothing, and stop if you feel"
                " confused or have chills."
            )

    @property
    def unmarked(self) -> bool:
        """Whether there are gusts and no option says that it catches them."""
        return bool(self.too_strong or self.strong) and not self.catching


def _by_limit(
    days: Sequence[Day],
    options: Sequence[Option],
    limit_of: Callable[[Option], float | None],
    forbids: Callable[[Option, Day], str],
) -> tuple[TooMuch, ...]:
    """Options that some of the days forbid, those with the same limit together."""
    alike: dict[float, list[Option]] = {}
    for option in options:
        if (limit := limit_of(option)) is not None:
            alike.setdefault(limit, []).append(option)

    def on(option: Option) -> str:
        return _which(days, lambda day: bool(forbids(option, day)))

    found = (
        TooMuch(tuple(option.name for option in those), limit, on(those[0]))
        for limit, those in alike.items()
    )
    return tuple(one for one in found if one.days)


def speed_words(speed: float) -> str:
    """A limit in the units that forecasts use, so that nobody has to convert it."""
    return f"{speed:.0f} m/s ({3.6 * speed:.0f} km/h, {speed / MILE_AN_HOUR:.0f} mph)"


def is_hot(air: Air) -> bool:
    """Whether heat decides more than seconds do; unknown where only the density is given."""
    return (air.known_temperature or 0.0) > HOT


def _which(days: Sequence[Day], so: Callable[[Day], bool]) -> str:
    """On which days something is so, in words; empty for none."""
    found = [day for day in days if so(day)]
    if not found:
        return ""
    count = f"{len(found)} of {len(days)}"
    drawn = any(day.drawn for day in days)
    if found[0].row is None:
        return f"on {count} days"
    some = f"on {count} days" if drawn else f"in {count} rows"
    return f"{some} ({', '.join(dict.fromkeys(day.name for day in found))})"
