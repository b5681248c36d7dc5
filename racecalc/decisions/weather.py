"""The race in many weathers: forecasts, start times, handling."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.decisions.doubt import CAUSES, FURTHEST, Spread, felt, moved_air, wind_shift
from racecalc.decisions.evidence.for_option import with_evidence
from racecalc.decisions.rates import at_temperature
from racecalc.decisions.riding import Ridden
from racecalc.decisions.worth import Worth, worth_of
from racecalc.domain.option import Option
from racecalc.domain.race import Air, Race
from racecalc.errors import InputError
from racecalc.files.table_kinds import ForecastTable
from racecalc.physics.air import rider_wind_speed

# --- Days of weather to ride a race in -----------------------------------------------------------

WEATHER_DOUBTS = ("wind_speed", "wind_from", "temperature", "pressure", "density")
"""Fields of `Doubts` that make one day unlike another."""


@dataclass(frozen=True)
class Day:
    """Weather to ride a race in."""

    name: str
    """The time of a forecast as written, or a number for a day that was drawn."""
    air: Air
    """Air and mean wind."""
    gust: float | None = None
    """Strongest gust at the rider, in the open [m/s]; None where it is not known."""
    row: int | None = None
    """Row of the forecast it belongs to, from 0; None without a forecast."""
    drawn: bool = False
    """Whether it was drawn about the weather that was stated or forecast."""

    @property
    def wind_at_rider(self) -> float:
        """Mean wind at the rider, in the open [m/s]."""
        return rider_wind_speed(self.air.wind)

    @property
    def least_gust(self) -> float:
        """What gusts reach at the least: the mean wind where they are not known [m/s]."""
        return max(self.gust or 0.0, self.wind_at_rider)


@dataclass(frozen=True)
class SolvedDay:
    """A day with the race ridden in it."""

    day: Day
    """Its weather."""
    base: Ridden
    """The race without any option."""
    worths: tuple[Worth, ...]
    """What each option is worth on it, in their order."""


def weather_doubts(race: Race) -> dict[str, float]:
    """Return the stated doubts of the weather that can change the time, by name."""
    return {name: doubt for name, doubt in felt(race).items() if name in WEATHER_DOUBTS}


def stated_day(race: Race, gust: float | None = None) -> Day:
    """The weather of the race file; the gust at the height of its wind [m/s]."""
    return Day("as stated", race.air, gust_at_rider(race.air, gust))


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
        raise InputError(
            "the stated doubts of the weather",
            f"they reach to a day that cannot be: {error}",
            "state smaller ones",
        ) from error
    name = f"day {number + 1}" if day.row is None else day.name
    stronger = max(0.0, rider_wind_speed(air.wind) - day.wind_at_rider)
    gust = None if day.gust is None else day.gust + stronger
    return replace(day, name=name, air=air, gust=gust, drawn=True)


def with_tests(options: Iterable[Option], base: Ridden) -> tuple[Option, ...]:
    """Options with their tests analysed, once for all days, unless the yaw of the day decides."""
    return tuple(
        option if option.trial and option.trial.is_sweep else with_evidence(option, base)
        for option in options
    )


def solved_days(
    base: Ridden, options: Iterable[Option], days: Iterable[Day]
) -> Iterator[SolvedDay]:
    """Ride the race in each weather, without and with each option, in full."""
    ready = with_tests(options, base)
    for day in days:
        try:
            there = base.variant(replace(base.race, air=day.air))
            worths = tuple(worth_of(there, option) for option in ready)
        except InputError as error:
            raise error.at(day.name) from error
        yield SolvedDay(day, there, worths)


# --- From a forecast to the days it foretells for a race -----------------------------------------


def forecast_days(
    race: Race, forecast: ForecastTable, gust: float | None = None
) -> tuple[Day, ...]:
    """Make a day of each row of a forecast."""
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


# --- The answers about a range of weather --------------------------------------------------------

NOTHING_NEW = "nothing new"
"""Name of the choice to ride with what one has."""


@dataclass(frozen=True)
class TimeOn:
    """Time [s] of the race without any option on a day."""

    day: Day
    time_s: float


@dataclass(frozen=True)
class Start:
    """A row of a forecast as a time to start at."""

    day: Day
    """The weather of the row as forecast."""
    time_s: float
    """Time in it [s]."""
    later_s: float
    """What it takes more than the first row [s]."""
    spread: Spread | None
    """Of the time, over the days drawn about the row; None where the race states no doubt."""
    later: Spread | None
    """Of the difference to the first row, forecast and first row erring alike."""


@dataclass(frozen=True)
class OptionOverDays:
    """What weather does to one option; seconds saved, positive is faster.

    Ranges are of the days on which gusts allow it, and None where they never do.
    """

    name: str
    slot: str
    """Which option."""
    saved_s: float
    """In the weather of the race file."""
    median_s: float | None
    """On half of those days it is more; away from `saved_s` where the stated weather is not the
    usual one of these days.
    """
    low_80_s: float | None
    high_80_s: float | None
    """Range that leaves out a tenth of those days on either side."""
    lowest_s: float | None
    highest_s: float | None
    """Over all of those days."""
    share_best: float
    """Share of the days on which it is the best of its slot, or without a slot better than nothing
    new; 0 where it is barred.
    """
    share_faster: float | None
    """Share of those days on which it is faster than nothing new, rules aside."""
    share_ruled_out: float
    """Share of the days on which gusts rule it out."""
    chance_faster: float | None
    """Chance by its own doubt that it is faster at all, in the weather of the race file; None where
    no doubt is stated.
    """
    barred: str
    """Why it never wins, forbidden or worth less than its owner wants of it in the weather of the
    race file; empty where it may.
    """


@dataclass(frozen=True)
class Choice:
    """One choice of a slot, kept on all days."""

    name: str
    """An option, or `NOTHING_NEW`."""
    share_best: float
    """Share of the days on which it is the best."""
    mean_regret_s: float
    worst_regret_s: float
    """Seconds lost against the best choice of each day, on average and at worst. Where gusts rule
    it out, nothing new is ridden in its place.
    """
    worst_day: Day
    """Where it loses the most."""


@dataclass(frozen=True)
class SlotOverDays:
    """The choices of a slot."""

    name: str
    """The slot; the option where it has none."""
    choices: tuple[Choice, ...]
    """`NOTHING_NEW` first, without those that are barred."""
    least_mean: str
    least_worst: str
    """Choice that loses the least on average, and at worst."""
    by_start: tuple[str, ...]
    """Best choice in each row of the forecast; empty without one."""

    @property
    def settled(self) -> bool:
        """Whether one choice is the best on every day."""
        return any(choice.share_best == 1.0 for choice in self.choices)

    @property
    def most_at_stake_s(self) -> float:
        """What the wrong choice loses at the very most [s]."""
        return max(choice.worst_regret_s for choice in self.choices)


@dataclass(frozen=True)
class RaceDay:
    """What a range of weather does to a race."""

    stated_s: float
    """Time in the weather of the race file, without any option [s]."""
    days: int
    """Days that count: those that were drawn, or the rows of the forecast where none was."""
    spread: Spread
    """Of the time without any option."""
    fastest: TimeOn
    slowest: TimeOn
    """Ends of it."""
    starts: tuple[Start, ...]
    """The rows of the forecast; empty without one."""
    options: tuple[OptionOverDays, ...]
    """In the order of the race file."""
    slots: tuple[SlotOverDays, ...]
    """In the order of their first options."""
    cautions: tuple[str, ...]
    """What to heed before any second."""
    watt_s: float
    """What a watt is worth in the weather of the race file [s]."""
    share_error: float | None
    """How far the least sure share may lie from that of many more draws, with 95 % confidence and
    as if the draws were independent; None where no day was drawn.
    """


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

JUDGED = "a conservative judgement, not a measured limit; lighter riders sooner"


def ruled_out(option: Option, day: Day) -> bool:
    """Whether gusts forbid an option on a day, as far as they are known."""
    return option.ties.catches_wind and day.least_gust >= GUST_TOO_STRONG


def weather_cautions(options: Sequence[Option], days: Sequence[Day]) -> tuple[str, ...]:
    """What to heed before any second, in sentences."""
    catching = [option.name for option in options if option.ties.catches_wind]
    return (*_gust_cautions(catching, days), *_heat_cautions(days))


def _gust_cautions(catching: Sequence[str], days: Sequence[Day]) -> list[str]:
    names = ", ".join(catching) or "deep wheels and full shrouds"
    too_strong = _which(days, lambda day: day.least_gust >= GUST_TOO_STRONG)
    strong = _which(days, lambda day: GUST_CAUTION <= day.least_gust < GUST_TOO_STRONG)
    unknown = _which(days, lambda day: day.gust is None)
    found = []
    if too_strong and catching:
        found.append(
            f"Gusts of {speed_words(GUST_TOO_STRONG)} or more at the rider {too_strong}: {names}"
            f" cannot win then, whatever the seconds say; ride the shallower choice ({JUDGED})."
        )
    elif too_strong:
        found.append(
            f"Gusts of {speed_words(GUST_TOO_STRONG)} or more at the rider {too_strong}: leave"
            f" {names} at home ({JUDGED})."
        )
    if strong:
        found.append(
            f"Gusts of {speed_words(GUST_CAUTION)} or more at the rider {strong}: take care with"
            f" {names}, most of all where side wind comes through gaps in hedges and after"
            f" lorries ({JUDGED})."
        )
    if (too_strong or strong) and not catching:
        found.append(
            "No option is marked catches_wind = true, so gusts keep none from winning; mark those"
            " that a side wind pushes about."
        )
    if unknown and catching:
        found.append(
            f"No gust is known {unknown}, so gusts are not in the numbers, but {names}"
            f" {'catches' if len(catching) == 1 else 'catch'} the wind: give --gust, or a forecast"
            " with a column 'gust [m/s]'."
        )
    return found


def speed_words(speed: float) -> str:
    """A limit in the units that forecasts use, so that nobody has to convert it."""
    return f"{speed:.0f} m/s ({3.6 * speed:.0f} km/h, {speed / MILE_AN_HOUR:.0f} mph)"


def is_hot(air: Air) -> bool:
    """Whether heat decides more than seconds do; unknown where the density itself is given."""
    return air.density is None and air.temperature > HOT


def _heat_cautions(days: Sequence[Day]) -> list[str]:
    hot = _which(days, lambda day: is_hot(day.air))
    if not hot:
        return []
    return [
        f"Warmer than 28 degC (82 degF) {hot}: power falls and more must be drunk, neither of"
        " which is in the numbers; prefer vented clothing, and stop for confusion or chills."
    ]


def _which(days: Sequence[Day], so: Callable[[Day], bool]) -> str:
    """On which days something is so, in words; empty for none."""
    found = [day for day in days if so(day)]
    if not found:
        return ""
    if found[0].row is None or any(day.drawn for day in days):
        some = f"on {len(found)} of {len(days)} days"
    else:
        some = f"in {len(found)} of {len(days)} rows"
    if found[0].row is None:
        return some
    return f"{some} ({', '.join(dict.fromkeys(day.name for day in found))})"
