"""How long the race takes, where the watts go, and what one more unit of each quantity is worth."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, fields, replace
from functools import cached_property
from itertools import pairwise
from typing import Annotated

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.decisions.riding import Ridden
from racecalc.domain.course import grade_of
from racecalc.domain.race import RIDER_HEIGHT, Air, Wind
from racecalc.motion.setting import speed_ceiling
from racecalc.motion.solver import Solution, solve
from racecalc.physics.air import apparent_wind, density_along, wind_along
from racecalc.physics.forces import air_drag, bearing_drag, rolling_drag, weight_drag
from racecalc.quantities.reading import show_direction
from racecalc.written import HIDDEN

# --- How long the race takes, split by split, and where the watts go -----------------------------

MODEL_ERROR = 2.7
"""Standard error of the model against power measured on the road [W]; Martin et al. 1998,
J Appl Biomech 14:276-291, abstract."""

SLOWEST_BALANCED = 5.0 / 3.6
"""Speed below which hardly anyone keeps a bike upright [m/s]; common practice, no source."""

LAUNCH = 50.0
"""Distance in which a standing start is still getting under way [m]."""

MOST_SPLITS = 12
ROUND_SPLITS = (0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100, 200)


@dataclass(frozen=True)
class Split:
    """One stretch of the course."""

    from_m: float
    to_m: float
    """Where it begins and ends [m]."""
    time_s: float
    """Time on it [s]."""
    elapsed_s: float
    """Time since the start at its end [s]."""
    speed_m_s: float
    """Mean speed [m/s]."""
    power_w: float
    """Mean over time of the power pedalled [W]."""
    grade: float
    """Rise over run from its beginning to its end."""
    head_wind_m_s: float
    """Mean head wind [m/s]."""
    apparent_wind_m_s: float
    """Mean speed of the air that meets the rider [m/s]."""
    yaw_deg: float
    """Mean size of the yaw, to either side [deg]."""


@dataclass(frozen=True)
class SlowedStretch:
    """A stretch on which a speed limit and not the power decides."""

    from_m: float
    to_m: float
    """Where it begins and ends [m]."""
    speed_m_s: float
    """Lowest speed on it [m/s]."""
    cause: str
    """"bend", "section limit" or "highest speed"."""


@dataclass(frozen=True)
class PowerShares:
    """Mean power over the race by what it is spent on [W]; they add up to `pedalled_w`."""

    pedalled_w: float
    drivetrain_w: float
    air_w: float
    rolling_w: float
    bearings_w: float
    climbing_w: float
    speed_gained_w: float
    braking_w: float
    """Pedalled in all, then what goes into each, [W]."""

    def percent(self, watts: float) -> float | None:
        """Share of the pedalled power [%]; None where next to nothing is pedalled."""
        return 100.0 * watts / self.pedalled_w if self.pedalled_w >= 1.0 else None


@dataclass(frozen=True)
class Timing:
    """Answer to how long the race takes."""

    time_s: float
    """Total time [s]."""
    model_error_s: float
    """What the standard error of the published model, `MODEL_ERROR`, means in time here [s]."""
    distance_m: float
    ascent_m: float
    """Length and total rise [m]."""
    mean_speed_m_s: float
    mean_power_w: float
    """Means over time [m/s], [W]."""
    air_density_kg_m3: float
    """Mean over time [kg/m^3]."""
    wind_at_rider_m_s: float
    """Mean over time of the wind at the rider [m/s]."""
    yaw_90_deg: float
    """The yaw stays below this for 90 % of the time [deg]."""
    lost_to_limits_s: float
    """Time that speed limits and bends cost [s]."""
    splits: tuple[Split, ...]
    """The course in stretches of a round length."""
    slowed: tuple[SlowedStretch, ...]
    """Where limits and bends decide."""
    shares: PowerShares
    """Where the watts go."""
    warnings: Annotated[tuple[str, ...], HIDDEN]
    """What makes the answer less sure."""


def timing(ridden: Ridden, split_length: float | None = None) -> Timing:
    """Work out the time, the splits and where the watts go."""
    if split_length is not None and not split_length > 0:
        raise ValueError("split_length must be positive")
    solution, race = ridden.solution, ridden.race
    time = solution.time
    return Timing(
        time_s=time,
        model_error_s=model_error(ridden),
        distance_m=race.course.length,
        ascent_m=race.course.ascent,
        mean_speed_m_s=race.course.length / time,
        mean_power_w=_time_mean(solution, pedalled(ridden)),
        air_density_kg_m3=_time_mean(solution, solution.ride.density),
        wind_at_rider_m_s=_time_mean(solution, np.hypot(solution.ride.head, solution.ride.cross)),
        yaw_90_deg=_below_for(solution, np.degrees(np.abs(solution.yaw)), 0.9),
        lost_to_limits_s=_lost_to_limits(solution),
        splits=splits(ridden, split_length or round_split(race.course.length)),
        slowed=slowed_stretches(ridden),
        shares=power_shares(ridden),
        warnings=(*_yaw_warnings(ridden), *_crawl_warnings(solution)),
    )


def model_error(ridden: Ridden) -> float:
    """What `MODEL_ERROR` means in time here, to first order [s]."""
    return abs(MODEL_ERROR * ridden.time_by_power)


def pedalled(ridden: Ridden) -> FloatArray:
    """Power pedalled on each step, where the power meter is [W]."""
    return np.maximum(ridden.solution.road_power, 0.0) / ridden.race.bike.efficiency


def _time_mean(solution: Solution, values: FloatArray) -> float:
    return float(np.average(values, weights=solution.step_time))


def _below_for(solution: Solution, values: FloatArray, share: float) -> float:
    order = np.argsort(values)
    elapsed = np.cumsum(solution.step_time[order])
    return float(values[order][np.searchsorted(elapsed, share * elapsed[-1])])


def _yaw_warnings(ridden: Ridden) -> Iterator[str]:
    cda = ridden.race.bike.cda
    low, high = min(cda.yaw[0], 0.0), cda.yaw[-1]
    outside = _time_mean(ridden.solution, np.where(cda.covers(ridden.solution.yaw), 0.0, 1.0))
    if len(cda.yaw) > 1 and outside:
        yield (
            f"for {100 * outside:.0f} % of the time the yaw lies outside the"
            f" {np.degrees(low):.0f} to {np.degrees(high):.0f} deg of the drag-area table; its end"
            " value is used there"
        )


def _crawl_warnings(solution: Solution) -> Iterator[str]:
    """A rider cannot balance at a crawl, whatever the equation says."""
    nodes, speed = solution.ride.nodes[1:], solution.speed[1:]
    crawling = (nodes > LAUNCH) & (speed < SLOWEST_BALANCED)
    if np.any(crawling):
        yield (
            f"the speed falls to {3.6 * np.min(speed[crawling]):.1f} km/h from kilometre"
            f" {nodes[crawling][0] / 1000:.2f} on, slower than a rider can balance"
        )


def round_split(length: float, unit: float = 1000.0) -> float:
    """Shortest round split length [m], counted in `unit`, that makes at most 12 splits."""
    return unit * next(
        (one for one in ROUND_SPLITS if length / (one * unit) <= MOST_SPLITS), ROUND_SPLITS[-1]
    )


def splits(ridden: Ridden, split_length: float) -> tuple[Split, ...]:
    """Cut the course into stretches of the given length [m]; the last may be shorter."""
    length = ridden.race.course.length
    inner = np.arange(split_length, length * (1 - 1e-9), split_length)
    return cut_at(ridden, np.concatenate(([0.0], inner, [length])))


def cut_at(ridden: Ridden, limits: FloatArray) -> tuple[Split, ...]:
    """Cut the course at limits [m] that increase, and leave out what lies outside of them."""
    solution, course = ridden.solution, ridden.race.course
    nodes = solution.ride.nodes

    def at_limits(per_second: FloatArray | float) -> FloatArray:
        grown = np.cumsum(per_second * solution.step_time)
        return np.interp(limits, nodes, np.concatenate(([0.0], grown)))

    met = apparent_wind(solution.mean_speed, solution.ride.head, solution.ride.cross)
    elapsed = at_limits(1.0)
    spent, length = np.diff(elapsed), np.diff(limits)
    columns = {
        "from_m": limits[:-1],
        "to_m": limits[1:],
        "time_s": spent,
        "elapsed_s": elapsed[1:],
        "speed_m_s": length / spent,
        "power_w": np.diff(at_limits(pedalled(ridden))) / spent,
        "grade": grade_of(np.diff(course.elevation_at(limits)) / length),
        "head_wind_m_s": np.diff(at_limits(solution.ride.head)) / spent,
        "apparent_wind_m_s": np.diff(at_limits(met)) / spent,
        "yaw_deg": np.diff(at_limits(np.degrees(np.abs(solution.yaw)))) / spent,
    }
    return tuple(
        Split(**{name: float(values[i]) for name, values in columns.items()})
        for i in range(len(spent))
    )


def power_shares(ridden: Ridden) -> PowerShares:
    """Mean power by what it is spent on; drivetrain and braking close the balance exactly."""
    solution, bike = ridden.solution, ridden.race.bike
    ride, speed = solution.ride, solution.mean_speed
    air, _ = air_drag(speed, ride.head, ride.cross, ride.density, ride.cda, ride.spoke_drag)
    rolling, _ = rolling_drag(ride.crr, ride.mass, ride.slope_sine)
    bearings, _ = bearing_drag(speed, ride.bearing_drag, ride.bearing_drag_slope)
    weight, _ = weight_drag(ride.mass, ride.slope_sine)
    power = _time_mean(solution, pedalled(ridden))
    kinetic = 0.5 * ride.inertia * np.diff(solution.speed**2)
    return PowerShares(
        pedalled_w=power,
        drivetrain_w=power * (1.0 - bike.efficiency),
        air_w=_time_mean(solution, np.asarray(air * speed)),
        rolling_w=_time_mean(solution, np.asarray(rolling * speed)),
        bearings_w=_time_mean(solution, np.asarray(bearings * speed)),
        climbing_w=_time_mean(solution, np.asarray(weight * speed)),
        speed_gained_w=float(np.sum(kinetic)) / solution.time,
        braking_w=_time_mean(solution, np.maximum(-solution.road_power, 0.0)),
    )


def _lost_to_limits(solution: Solution) -> float:
    if not np.any(solution.at_ceiling):
        return 0.0
    free = replace(solution.ride, ceiling=np.full_like(solution.ride.ceiling, np.inf))
    return solution.time - solve(free, solution.speed).time


def slowed_stretches(ridden: Ridden) -> tuple[SlowedStretch, ...]:
    """Stretches on which a speed limit or a bend decides, with the cause of each."""
    solution, found = ridden.solution, []
    nodes, speed = solution.ride.nodes, solution.speed
    edges = np.flatnonzero(np.diff(np.concatenate(([0], solution.at_ceiling, [0]))))
    for first, last in zip(edges[::2], edges[1::2], strict=True):
        lowest = first + 1 + int(np.argmin(speed[first + 1 : last + 1]))
        ends, slowest = (float(nodes[first]), float(nodes[last])), float(speed[lowest])
        found.append(SlowedStretch(*ends, slowest, _cause(ridden, lowest)))
    return tuple(found)


def _cause(ridden: Ridden, node: int) -> str:
    limits, ride = ridden.race.limits, ridden.solution.ride
    straight = replace(limits, lateral_grip=None, braking=None)
    (without_bends,) = speed_ceiling(ridden.race.course, straight, ride.nodes[node : node + 1])
    if ride.ceiling[node] < without_bends * (1 - 1e-9):
        return "bend"
    everywhere = limits.max_speed or np.inf
    return "section limit" if without_bends < everywhere * (1 - 1e-9) else "highest speed"


# --- Everything along the course at every point, and what one stretch of it amounts to -----------

WHOLE = "whole course"


@dataclass(frozen=True)
class CoursePoint:
    """The ride at one point of the course."""

    at_m: float
    """Distance from the start [m]."""
    elapsed_s: float
    """Time since the start [s]."""
    elevation_m: float
    grade: float
    """Height above sea level [m], and rise over run."""
    speed_m_s: float
    power_w: float
    """Of the rider [m/s], [W]."""
    head_wind_m_s: float
    cross_wind_m_s: float
    """Wind at the rider [m/s], positive from ahead and from the right."""
    yaw_deg: float
    """Of the apparent wind [deg]."""
    worth_s_per_w_km: float
    """Seconds that one watt more would save on each kilometre here [s/W/km]."""


@dataclass(frozen=True)
class Stretch:
    """One stretch of the course."""

    name: str
    """What it is called."""
    split: Split
    """Its time, speed, power, grade and wind."""
    seconds_per_watt: float
    """Seconds that one watt more all along it would save [s/W]."""


@dataclass(frozen=True)
class Along:
    """A ride along its course."""

    ridden: Ridden
    """The ride."""

    @property
    def length_m(self) -> float:
        """Length of the course [m]."""
        return self.ridden.race.course.length

    def curve(self, name: str, at: FloatArray) -> FloatArray:
        """A field of `CoursePoint` at distances [m], in its unit; same shape."""
        return self._curves[name](at)

    def point(self, at_m: float) -> CoursePoint:
        """Everything at one distance [m]."""
        at = np.array([min(max(at_m, 0.0), self.length_m)])
        return CoursePoint(
            **{one.name: float(self.curve(one.name, at)[0]) for one in fields(CoursePoint)}
        )

    def stretch(self, name: str, from_m: float, to_m: float) -> Stretch:
        """What a stretch between two distances [m] amounts to."""
        (split,) = cut_at(self.ridden, np.array([from_m, to_m]))
        worth = np.concatenate(([0.0], np.cumsum(self._worth)))
        start, end = np.interp([from_m, to_m], self.ridden.solution.ride.nodes, worth)
        return Stretch(name, split, float(end - start))

    def stretches(self, unit: float = 1000.0) -> tuple[Stretch, ...]:
        """The whole course, what lies between its landmarks, and splits round in a unit [m]."""
        length = self.length_m
        landmarks = self.ridden.race.landmarks
        marks = [(mark.name, mark.at) for mark in landmarks if 0.0 < mark.at < length]
        between = [
            (f"{one} to {other}", start, end)
            for (one, start), (other, end) in pairwise([("start", 0.0), *marks, ("finish", length)])
            if end > start and marks
        ]
        rounds = splits(self.ridden, round_split(length, unit))
        pieces = [("", split.from_m, split.to_m) for split in rounds]
        whole = (WHOLE, 0.0, length)
        return tuple(self.stretch(*one) for one in (whole, *between, *pieces))

    @property
    def _worth(self) -> FloatArray:
        """Seconds that a watt at the meter saves on each step [s/W], shape (k,)."""
        wheel = self.ridden.derivatives.wheel_power
        return np.asarray(-wheel * self.ridden.race.bike.efficiency)

    @cached_property
    def _curves(self) -> dict[str, Callable[[FloatArray], FloatArray]]:
        solution, course = self.ridden.solution, self.ridden.race.course
        ride = solution.ride
        nodes, middle = ride.nodes, ride.middle

        def on_steps(values: FloatArray) -> Callable[[FloatArray], FloatArray]:
            return lambda at: np.interp(at, middle, values)

        grade = grade_of(np.diff(course.elevation) / np.diff(course.distance))
        return {
            "at_m": lambda at: at,
            "elapsed_s": lambda at: np.interp(at, nodes, solution.elapsed),
            "elevation_m": course.elevation_at,
            "grade": lambda at: grade[course.piece_at(at)],
            "speed_m_s": lambda at: np.interp(at, nodes, solution.speed),
            "power_w": on_steps(pedalled(self.ridden)),
            "head_wind_m_s": on_steps(ride.head),
            "cross_wind_m_s": on_steps(ride.cross),
            "yaw_deg": on_steps(np.degrees(solution.yaw)),
            "worth_s_per_w_km": on_steps(1000.0 * self._worth / ride.step),
        }


# --- What a small change of each quantity is worth in seconds, at the race's own conditions ------

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

    Temperature and pressure are left out where the density was given, as they do nothing then.
    """
    race, ride, d = ridden.race, ridden.solution.ride, ridden.derivatives
    wind = race.air.wind
    roughness = ride.crr / race.bike.crr
    shelter = race.course.shelter[race.course.piece_at(ride.middle)]
    of_weather = (
        _rate("temperature", "degC", 1.0, time_by_temperature(ridden), "warmer air"),
        _rate("pressure", "hPa", 100.0, time_by_pressure(ridden), "more air pressure"),
    )
    return (
        _rate("power", "W", 1.0, ridden.time_by_power, "more power"),
        _rate("cda", "0.001 m^2", 0.001, _total(d.cda), "more drag area"),
        _rate("crr", "0.0001", 0.0001, _total(d.crr * roughness), "more rolling resistance (Crr)"),
        _rate("mass", "100 g", 0.1, _total(d.mass), "more mass to carry"),
        _rate("air_density", "0.01 kg/m^3", 0.01, _total(d.density), "denser air"),
        *(of_weather if race.air.density is None else ()),
        _rate("head_wind", "m/s", 1.0, _total(d.head * shelter), "more head wind all the way"),
        _rate("wind_speed", "m/s", 1.0, time_by_wind(ridden, wind.direction), _wind_words(wind)),
    )


def _rate(quantity: str, unit: str, size: float, seconds_lost_per_si: float, meaning: str) -> Rate:
    return Rate(quantity, unit, size, -size * seconds_lost_per_si, meaning)


def _wind_words(wind: Wind) -> str:
    height = "at the rider" if wind.height == RIDER_HEIGHT else f"at {wind.height:.0f} m height"
    if wind.follows_rider:
        side = ("ahead", "the right", "behind", "the left")[round(wind.direction / (np.pi / 2)) % 4]
        return f"more wind {height}, from {side}"
    return f"more wind {height}, from {show_direction(wind.direction)}"


def _total(values: FloatArray) -> float:
    return float(np.sum(values))


def time_by_temperature(ridden: Ridden) -> float:
    """Derivative of the time with respect to the temperature [s/K]; 0 where density is given."""
    air = ridden.race.air
    return _time_by_air(
        ridden, TEMPERATURE_PROBE, lambda by: at_temperature(air, air.temperature + by)
    )


def time_by_pressure(ridden: Ridden) -> float:
    """Derivative of the time with respect to the pressure [s/Pa]; 0 where density is given."""
    air = ridden.race.air
    return _time_by_air(ridden, PRESSURE_PROBE, lambda by: replace(air, pressure=air.pressure + by))


def at_temperature(air: Air, temperature: float) -> Air:
    """The air at another temperature [K]; the dew point is lowered to it where it lies above."""
    dew_point = None if air.dew_point is None else min(air.dew_point, temperature)
    return replace(air, temperature=temperature, dew_point=dew_point)


def _time_by_air(ridden: Ridden, probe: float, moved: Callable[[float], Air]) -> float:
    """Derivative of the time by what moves the air, first order in its density."""
    height = ridden.race.course.elevation_at(ridden.solution.ride.middle)
    change = density_along(moved(probe), height) - density_along(moved(-probe), height)
    return _total(ridden.derivatives.density * change) / (2 * probe)


def time_by_wind(ridden: Ridden, direction: float) -> float:
    """Derivative of the time with respect to a wind at the height of the stated one."""
    course = ridden.race.course
    piece = course.piece_at(ridden.solution.ride.middle)
    unit_wind = replace(ridden.race.air.wind, speed=1.0, direction=direction)
    head, cross = wind_along(unit_wind, course.bearing[piece], course.shelter[piece])
    d = ridden.derivatives
    return _total(d.head * head + d.cross * cross)
