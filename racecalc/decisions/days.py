"""Days of weather to ride a race in: drawn from the stated doubts, or taken from a forecast.

One weather holds for the whole of each ride. Days are solved one by one and not kept, since a
solved race is large: whoever asks takes from each what they need.

References
----------
.. [1] McKay MD, Beckman RJ, Conover WJ. A comparison of three methods for selecting values of
   input variables in the analysis of output from a computer code. Technometrics
   1979;21:239-245 (Latin hypercube sampling).
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.decisions.doubt import CAUSES, FURTHEST, felt
from racecalc.decisions.evidence.for_option import with_evidence
from racecalc.decisions.riding import Ridden
from racecalc.decisions.surrogate import moved_air, wind_shift
from racecalc.decisions.worth import Worth, worth_of
from racecalc.domain.air import Air
from racecalc.domain.option import Option
from racecalc.domain.race import Race
from racecalc.errors import InputError
from racecalc.physics.atmosphere import rider_wind_speed

WEATHER_DOUBTS = ("wind_speed", "wind_from", "temperature", "pressure", "density")
"""Fields of `Doubts` that make one day unlike another."""


@dataclass(frozen=True)
class Day:
    """Weather to ride a race in.

    Parameters
    ----------
    name : str
        The time of a forecast as written, or a number for a day that was drawn.
    air : Air
        Air and mean wind.
    gust : float or None
        Strongest gust at the rider, in the open [m/s]; None where it is not known.
    row : int or None
        Row of the forecast it belongs to, from 0; None without a forecast.
    drawn : bool
        Whether it was drawn about the weather that was stated or forecast.
    """

    name: str
    air: Air
    gust: float | None = None
    row: int | None = None
    drawn: bool = False

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
    """A day with the race ridden in it.

    Parameters
    ----------
    day : Day
        Its weather.
    base : Ridden
        The race without any option.
    worths : tuple of Worth
        What each option is worth on it, in their order.
    """

    day: Day
    base: Ridden
    worths: tuple[Worth, ...]


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

    Parameters
    ----------
    days : sequence of Day
        What to draw about.
    race : Race
        States the doubts.
    count : int
        How many days about each.
    seed : int
        Seed of the random numbers; the same seed gives the same days.

    Returns
    -------
    tuple of Day
        All draws about the first day, then all about the next; empty where nothing is stated.

    Raises
    ------
    InputError
        If the doubts reach to air that cannot be.
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
    """Options with their tests analysed, once for all days, unless the yaw of the day decides.

    Parameters
    ----------
    options : iterable of Option
        As the race file states them.
    base : Ridden
        The race in the weather of its file.

    Returns
    -------
    tuple of Option
        Those tested by a sweep over yaw as they were.

    Raises
    ------
    InputError
        If a test tells nothing about its option.
    """
    return tuple(
        option if option.trial and option.trial.is_sweep else with_evidence(option, base)
        for option in options
    )


def solved_days(
    base: Ridden, options: Iterable[Option], days: Iterable[Day]
) -> Iterator[SolvedDay]:
    """Ride the race in each weather, without and with each option, in full.

    Parameters
    ----------
    base : Ridden
        The race in the weather of its file.
    options : iterable of Option
        What is tried, as the race file states it: the yaw of each day weights a sweep anew.
    days : iterable of Day
        Weather.

    Yields
    ------
    SolvedDay
        In the order of the days, on the nodes of `base`.

    Raises
    ------
    InputError
        If a test tells nothing, or the race cannot be ridden on a day.
    """
    ready = with_tests(options, base)
    for day in days:
        try:
            there = base.variant(replace(base.race, air=day.air))
            worths = tuple(worth_of(there, option) for option in ready)
        except InputError as error:
            raise error.at(day.name) from error
        yield SolvedDay(day, there, worths)
