"""From a race file to a race."""

import math
from collections.abc import Iterable
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from typing import cast

import numpy as np

from racecalc.domain.air import RIDER_HEIGHT, Air, Wind, WindLaw
from racecalc.domain.bike import Bike, DragArea, PowerAt
from racecalc.domain.course import Course, Landmark
from racecalc.domain.doubt_reading import read_doubts
from racecalc.domain.option_reading import option_notices, read_options
from racecalc.domain.race import Race, SpeedLimits
from racecalc.domain.rider_reading import read_rider
from racecalc.domain.surveying.sections import Section
from racecalc.domain.surveying.survey import CourseWishes, made_up, survey
from racecalc.domain.terms import Purse
from racecalc.errors import Notice
from racecalc.files.course_file import read_track
from racecalc.files.race_file import Assumption, RaceFile, Table, read_race_file
from racecalc.files.track import Track
from racecalc.quantities.money import Money

SURFACE_ROUGHNESS = {
    "wooden track": 0.6,
    "smooth asphalt": 1.0,
    "chip road": 1.35,
    "worn road": 2.0,
    "cobbles": 4.0,
}
"""Factor of a surface on the Crr of smooth asphalt: rounded ratios of the middles of the ranges
that riders quote (0.0020, 0.0035, 0.0048, 0.0070 and 0.0140); common practice, no source."""

FAR_ABOVE = 300.0
"""Difference of height between weather and course that deserves a warning [m]."""

RELATIVE_WIND = {"ahead": 0.0, "right": 0.5 * math.pi, "behind": math.pi, "left": 1.5 * math.pi}


def load_race(path: Path, changes: Iterable[str] = (), text: str | None = None) -> Race:
    """Read a race file and the course it names.

    Parameters
    ----------
    path : Path
        The race file.
    changes : iterable of str
        Values to try, as `racecalc.files.race_file.read_race_file` takes them.
    text : str, optional
        Content to take instead of that of the file.

    Returns
    -------
    Race
        Everything in SI.

    Raises
    ------
    InputError
        If a file or a value will not do.
    """
    file = read_race_file(path, changes, text)
    bike = _bike(file.tables["bike"])
    course = _course(file).with_own_crr_as_roughness(bike.crr)
    race = Race(
        name=file.tables["race"].word("name") or path.stem,
        rider=read_rider(file.tables["rider"]),
        bike=bike,
        air=_air(file.tables["air"], course),
        course=course,
        limits=_limits(file.tables["course"]),
        step=file.tables["course"].number("step"),
        options=read_options(file.options, file.path.parent),
        assumptions=(*file.assumptions, *_further_assumptions(file)),
        doubts=read_doubts(file.tables),
        purse=_purse(file.tables["money"]),
        landmarks=_landmarks(file.landmarks, course.length),
    )
    notices = (
        *file.notices,
        *_course_notices(file, race),
        *option_notices(file.options, race.options),
    )
    return replace(race, notices=notices)


def _purse(table: Table) -> Purse:
    races = table.optional("races_a_season")
    return Purse(
        per_second=_more_than_nothing(table, "per_second"),
        budget=table.money("budget"),
        races_a_season=None if races is None else int(races),
        test_fee=table.money("test_fee"),
    )


def _more_than_nothing(table: Table, key: str) -> Money | None:
    money = table.money(key)
    if money is not None and not money.amount:
        raise table.wrong(key, f"'{table.given[key]}' is no price for a second", "leave it out")
    return money


def _bike(table: Table) -> Bike:
    cda = table.yaw_table("cda")
    return Bike(
        mass=table.number("mass"),
        cda=DragArea(cda.area, cda.yaw),
        crr=table.number("crr"),
        drivetrain_loss=table.number("drivetrain_loss"),
        spoke_drag=table.number("spoke_drag"),
        bearing_drag=table.number("bearing_drag"),
        bearing_drag_slope=table.number("bearing_drag_slope"),
        wheel_inertia=table.number("wheel_inertia"),
        wheel_radius=table.number("wheel_radius"),
        power_at=cast(PowerAt, table.word("power_at")),
        start_speed=table.number("start_speed"),
    )


def _air(table: Table, course: Course) -> Air:
    table.refuse_both("pressure", "sea_level_pressure")
    table.refuse_both("humidity", "dew_point")
    for key in ("temperature", "pressure", "sea_level_pressure", "humidity", "dew_point"):
        table.refuse_both("density", key)
    dew_point, temperature = table.optional("dew_point"), table.number("temperature")
    if dew_point is not None and dew_point > temperature:
        raise table.wrong(
            "dew_point", f"'{table.given['dew_point']}' lies above the temperature", "swap them?"
        )
    station = table.optional("pressure")
    return Air(
        temperature=temperature,
        pressure=station or table.number("sea_level_pressure"),
        altitude=table.number("altitude"),
        humidity=table.number("humidity"),
        dew_point=dew_point,
        pressure_at_sea_level=station is None,
        density=table.optional("density"),
        wind=_wind(table, course),
    )


def _wind(table: Table, course: Course) -> Wind:
    table.refuse_both("wind_speed", "wind_at_rider")
    at_rider = table.optional("wind_at_rider")
    speed = table.number("wind_speed") if at_rider is None else at_rider
    direction = table.values.get("wind_from")
    if speed == 0 and np.any(np.isnan(course.bearing)):
        direction = None
    follows = direction is None or isinstance(direction, str)
    if direction is None and speed > 0:
        key = "wind_speed" if at_rider is None else "wind_at_rider"
        raise table.wrong(
            key,
            "the wind has a speed but no direction",
            'add wind_from = "250 deg", "WSW" or, counted from the rider, "ahead" or "behind"',
        )
    if speed > 0 and not follows and np.any(np.isnan(course.bearing)):
        raise table.wrong(
            "wind_from",
            "the course has no bearings, so a wind from a compass direction cannot be placed",
            'give the course a bearing, or write wind_from = "ahead", "behind", "left" or "right"',
        )
    return Wind(
        speed=speed,
        direction=RELATIVE_WIND[str(direction or "ahead")] if follows else cast(float, direction),
        follows_rider=follows,
        height=table.number("wind_height") if at_rider is None else RIDER_HEIGHT,
        terrain=table.word("terrain"),
        law=cast(WindLaw, table.word("wind_law")),
    )


def _limits(table: Table) -> SpeedLimits:
    return SpeedLimits(
        max_speed=table.optional("max_speed"),
        lateral_grip=table.optional("lateral_grip"),
        braking=table.optional("braking"),
    )


def _course(file: RaceFile) -> Course:
    table = file.tables["course"]
    if "file" not in table and "distance" not in table:
        raise table.missing("file")
    table.refuse_both("file", "distance")
    wishes = CourseWishes(
        laps=int(table.number("laps")),
        reverse=table.flag("reverse"),
        noise=0.0 if table.word("smoothing") == "none" else table.optional("smoothing"),
        ride_flat=table.flag("flat"),
        trim_start=table.number("trim_start"),
        trim_end=table.number("trim_end"),
        official_length=table.optional("official_length"),
    )
    sections = tuple(_section(one) for one in file.sections)
    if "file" in table:
        table.refuse_both("file", "grade")
        table.refuse_both("file", "bearing")
        return _surveyed(read_track(file.path.parent / table.word("file")), wishes, sections)
    distance, grade = table.number("distance"), table.number("grade")
    altitude = file.tables["air"].number("altitude")
    return made_up(distance, grade, _bearing(table), wishes, sections, altitude)


@lru_cache(maxsize=8)
def _surveyed(track: Track, wishes: CourseWishes, sections: tuple[Section, ...]) -> Course:
    """A course cleaned once for all the changes to rider, bike and air that are tried on it."""
    return survey(track, wishes, sections)


def _bearing(table: Table) -> float | None:
    bearing = table.values.get("bearing")
    return bearing if isinstance(bearing, float) else None


def _section(table: Table) -> Section:
    start, end = table.number("from"), table.number("to")
    if not start < end:
        limits = f"from '{table.given['from']}' to '{table.given['to']}'"
        raise table.wrong("to", f"{limits} ends before it begins", "give its start, then its end")
    table.refuse_both("crr", "surface")
    surface = table.word("surface")
    return Section(
        start=start,
        end=end,
        crr=table.optional("crr"),
        roughness=SURFACE_ROUGHNESS[surface] if surface else None,
        shelter=table.optional("shelter"),
        max_speed=table.optional("max_speed"),
    )


def _landmarks(tables: Iterable[Table], length: float) -> tuple[Landmark, ...]:
    found = []
    for table in tables:
        at, name = table.number("at"), table.word("name")
        if not name:
            raise table.missing("name")
        if at > length:
            raise table.wrong(
                "at",
                f"'{table.given['at']}' lies beyond the finish at {length / 1000:.3f} km",
                "give the distance along the course as it is ridden",
            )
        found.append(Landmark(at, name, table.word("note")))
    return tuple(sorted(found, key=lambda landmark: landmark.at))


def _further_assumptions(file: RaceFile) -> Iterable[Assumption]:
    """What the numbers rest on beyond the defaults of single keys."""
    air, bike = file.tables["air"], file.tables["bike"]
    windy = air.optional("wind_speed") or air.optional("wind_at_rider")
    if windy and len(bike.yaw_table("cda").yaw) == 1:
        yield Assumption("bike.cda", "is the same at every yaw", "no table by yaw is given")
    for surface in dict.fromkeys(one.word("surface") for one in file.sections):
        if surface:
            yield Assumption(
                f"course.{surface}",
                f"multiplies crr by {SURFACE_ROUGHNESS[surface]}",
                "common practice, no source",
            )


def _course_notices(file: RaceFile, race: Race) -> Iterable[Notice]:
    air, course = file.tables["air"], race.course
    pressure, altitude = air.optional("pressure"), air.number("altitude")
    if pressure is not None and pressure > 100_000 and altitude > 300:
        yield Notice(
            air.place("pressure"),
            f"'{air.given['pressure']}' at {altitude:.0f} m looks like a value reduced to sea"
            " level; if so, name it sea_level_pressure",
        )
    middle = float(np.mean(course.elevation))
    if "density" not in air and abs(middle - altitude) > FAR_ABOVE:
        yield Notice(
            air.place("altitude"),
            f"the weather is taken at {altitude:.0f} m and carried to the course at"
            f" {middle:.0f} m by the standard atmosphere; give the altitude it was reported at",
        )
