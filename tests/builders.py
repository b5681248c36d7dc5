"""Small races, bikes and courses for the tests: plain functions that take only what matters.

Everything not named stays fixed and simple, so that a test shows the quantities it is about:
a flat, open road without bends or limits, still air of density 1.2 kg/m^3 (a round number), a
bike without spoke drag or wheel inertia. The bike and rider are invented.
"""

from dataclasses import replace
from decimal import Decimal
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from racecalc.arrays import FloatArray
from racecalc.domain.course import Course, CourseReport
from racecalc.domain.race import Air, Bike, DragArea, Race, Rider, Wind
from racecalc.motion.ride import flat_calm_speed
from racecalc.quantities.money import Money

TEN_MILES = 16_093.44
"""Ten miles [m]; exact by the international mile."""

BEARINGS = {"bearing_drag": 0.091, "bearing_drag_slope": 0.0087}
"""Bearing drag [N] and its slope [N s/m] of Martin et al. 1998, J Appl Biomech 14:276-291 (from
memory)."""


def bike(**changes: Any) -> Bike:
    """A bike of 9 kg; `cda` may be a plain number [m^2].

    Drag area 0.25 m^2, Crr 0.004, drivetrain loss 2.5 %, the bearings of Martin et al. 1998, no
    spoke drag and no wheel inertia, power at the cranks, a start at 12 m/s.
    """
    values: dict[str, Any] = {
        "mass": 9.0,
        "cda": 0.25,
        "crr": 0.004,
        "drivetrain_loss": 0.025,
        "spoke_drag": 0.0,
        **BEARINGS,
        "wheel_inertia": 0.0,
        "wheel_radius": 0.311,
        "power_at": "cranks",
        "start_speed": 12.0,
        **changes,
    }
    if not isinstance(values["cda"], DragArea):
        values["cda"] = DragArea((float(values["cda"]),))
    return Bike(**values)


def euros(amount: object) -> Money:
    """An amount, exactly as it is written."""
    return Money(Decimal(str(amount)), "EUR")


def yaw_table(degrees: ArrayLike, areas: ArrayLike) -> DragArea:
    """A drag area by yaw, with the yaw in degrees."""
    yaw = np.radians(np.asarray(degrees, dtype=float))
    return DragArea(tuple(np.asarray(areas, dtype=float).tolist()), tuple(yaw.tolist()))


def still_air(density: float = 1.2) -> Air:
    """Still air of one density [kg/m^3] everywhere."""
    return Air(density=density)


def reference_density(temperature: float, pressure: float, humidity: float) -> float:
    """Density [kg/m^3] of humid air by ASHRAE RP-1485 (Herrmann et al. 2009), in CoolProp."""
    from CoolProp.HumidAirProp import HAPropsSI

    return float(1.0 / HAPropsSI("Vha", "T", temperature, "P", pressure, "R", humidity))


def windy_air(speed: float, from_degrees: float = 0.0, density: float = 1.2, **wind: Any) -> Air:
    """Air of one density with a wind at the height of the rider.

    `from_degrees` counts clockwise from north; with `follows_rider=True` from straight ahead.
    """
    return Air(
        density=density, wind=Wind(speed=speed, direction=float(np.radians(from_degrees)), **wind)
    )


def flat_course(
    length: float, bearing: ArrayLike = np.nan, elevation: float = 0.0, **columns: ArrayLike
) -> Course:
    """A level road of one piece in one direction, given clockwise from north [rad].

    `columns` are those of `profile_course`.
    """
    return profile_course([0.0, length], [elevation, elevation], bearing=bearing, **columns)


def out_and_back(length: float, bearing: float = 0.0, **columns: ArrayLike) -> Course:
    """A level road out in one direction [rad] and back in the other, `length` [m] in all."""
    return profile_course(
        [0.0, 0.5 * length, length],
        [0.0, 0.0, 0.0],
        bearing=[bearing, bearing + np.pi],
        **columns,
    )


def profile_course(distances: ArrayLike, elevations: ArrayLike, **columns: ArrayLike) -> Course:
    """A road through points given by distance along the road and elevation [m].

    `columns` are `bearing` [rad], `crr`, `roughness`, `shelter` and `max_speed` [m/s], one value
    for all or one a piece, and `bend_radius` [m], one for all or one a point. Left out they are
    unknown, unknown, 1, 1, infinite and infinite.
    """
    distance = np.asarray(distances, dtype=float)
    pieces = len(distance) - 1

    def column(name: str, unless_given: float, count: int) -> FloatArray:
        given = np.asarray(columns.pop(name, unless_given), dtype=float)
        return np.array(np.broadcast_to(given, (count,)))

    course = Course(
        distance=distance,
        elevation=np.asarray(elevations, dtype=float),
        bearing=column("bearing", np.nan, pieces),
        crr=column("crr", np.nan, pieces),
        roughness=column("roughness", 1.0, pieces),
        shelter=column("shelter", 1.0, pieces),
        max_speed=column("max_speed", np.inf, pieces),
        bend_radius=column("bend_radius", np.inf, len(distance)),
        report=CourseReport("made up"),
    )
    if columns:
        raise TypeError(f"a course has no {', '.join(columns)}")
    return course


def graded_course(*pieces: tuple[float, float], **columns: ArrayLike) -> Course:
    """A road of pieces, each (length along the road [m], grade as rise over run)."""
    lengths = np.array([length for length, _ in pieces], dtype=float)
    grades = np.array([grade for _, grade in pieces], dtype=float)
    rises = lengths * np.sin(np.arctan(grades))
    return profile_course(
        np.concatenate(([0.0], np.cumsum(lengths))),
        np.concatenate(([0.0], np.cumsum(rises))),
        **columns,
    )


def race(**changes: Any) -> Race:
    """A race of 10 flat km at 250 W for a rider of 71 kg on `bike()`, 80 kg in all.

    No limits, still air of density 1.2. `changes` are the fields of `Race`, and for short
    `power` [W], `rider_mass` [kg] and any field of `Bike` such as `cda` or `start_speed`.
    """
    rider = changes.pop("rider", Rider(mass=71.0, power=250.0))
    if "power" in changes:
        rider = replace(rider, power=changes.pop("power"))
    if "rider_mass" in changes:
        rider = replace(rider, mass=changes.pop("rider_mass"))
    of_race = {name: changes.pop(name) for name in tuple(changes) if name in _RACE_FIELDS}
    ridden = of_race.pop("bike", None)
    if ridden is None:
        ridden = bike(**changes)
    elif changes:
        raise TypeError(f"give the bike whole or by {', '.join(changes)}, not both")
    return Race(
        **{
            "name": "made up",
            "rider": rider,
            "bike": ridden,
            "air": still_air(),
            "course": flat_course(10_000.0),
            **of_race,
        }
    )


_RACE_FIELDS = tuple(Race.__dataclass_fields__)


def steady_start(built: Race, density: float | None = None) -> Race:
    """The same race begun at the speed that its power holds on a flat, calm road.

    `density` is that of the air where the race does not give one [kg/m^3].
    """
    in_air = built.air.density if density is None else density
    if in_air is None:
        raise TypeError("the race has weather and no density: give one")
    speed = flat_calm_speed(built.bike, built.total_mass, built.rider.power, in_air)
    return replace(built, bike=replace(built.bike, start_speed=speed))


def reference_race(**changes: Any) -> Race:
    """The invented rider of the check values: 10 miles at 262 W, 81 kg in all.

    Drag area 0.243 m^2, Crr 0.0039, drivetrain loss 2.5 %, bearings as in Martin et al. 1998,
    air of 1.225 kg/m^3, no spoke drag, no wheel inertia, started at steady speed.
    """
    values: dict[str, Any] = {
        "power": 262.0,
        "rider_mass": 72.0,
        "cda": 0.243,
        "crr": 0.0039,
        "air": still_air(1.225),
        "course": flat_course(TEN_MILES),
        **changes,
    }
    built = race(**values)
    return built if "start_speed" in changes or "bike" in changes else steady_start(built)
