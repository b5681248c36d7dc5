"""From the raw points of a course file, or a few numbers, to a course."""

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.domain.course import Course, CourseReport, Gap
from racecalc.domain.surveying.cleaning import STEEPEST
from racecalc.domain.surveying.geodesy import along, bend_radius
from racecalc.domain.surveying.levels import check_steepness, flat_levels, smooth_levels
from racecalc.domain.surveying.placed_points import Account
from racecalc.domain.surveying.reshaping import (
    closed,
    extended,
    noted,
    repeated,
    scaled,
    trimmed,
    turned_round,
)
from racecalc.domain.surveying.roads import Road, measured_road, placed_road
from racecalc.domain.surveying.sections import Section, with_sections
from racecalc.errors import InputError
from racecalc.files.track import Track

LOOP = 30.0
"""Distance from finish to start within which a course is a loop [m]."""

LAP = 100.0
"""Distance from finish to start within which a course may be ridden in laps [m]."""

MOST_MISMATCH = 30.0
"""Most that the finish of a loop may lie above or below its start [m]; drift is less."""

STEEPEST_MISMATCH = 0.02
"""The same, as a share of its length."""

MOST_LAPS = 1000
"""More laps than any race has."""


@dataclass(frozen=True)
class CourseWishes:
    """What the user wants done to a course file.

    Parameters
    ----------
    laps : int
        How often the course is ridden.
    reverse : bool
        Whether it is ridden from the end of the file to its start.
    noise : float or None
        Standard deviation of the elevation noise to smooth away [m]; None estimates it, 0
        leaves the elevations as they are.
    ride_flat : bool
        Whether all elevations are taken as equal.
    trim_start, trim_end : float
        Lengths to cut off, in the direction of the file [m].
    official_length : float or None
        Length of the whole course, all laps, that distances are scaled to [m].

    Raises
    ------
    InputError
        If a value is out of its range.
    """

    laps: int = 1
    reverse: bool = False
    noise: float | None = None
    ride_flat: bool = False
    trim_start: float = 0.0
    trim_end: float = 0.0
    official_length: float | None = None

    def __post_init__(self) -> None:
        if not 1 <= self.laps <= MOST_LAPS:
            raise InputError(
                "course.laps", f"{self.laps} laps cannot be ridden", f"give 1 to {MOST_LAPS}"
            )
        for name in ("noise", "trim_start", "trim_end"):
            value = getattr(self, name)
            if value is not None and not 0.0 <= value < math.inf:
                raise InputError(f"course.{name}", f"{value:g} m will not do", "give 0 m or more")
        if self.official_length is not None and not 0.0 < self.official_length < math.inf:
            raise InputError(
                "course.official_length",
                f"{self.official_length:g} m is no length",
                "give one above 0 m",
            )


def _along_surface(road: Road, elevation: FloatArray) -> FloatArray:
    if road.plane is None:
        return road.distance
    steps = np.hypot(np.diff(road.distance), np.diff(elevation))
    return np.concatenate([[0.0], np.cumsum(steps)])


def _assembled(
    road: Road, distance: FloatArray, elevation: FloatArray, report: CourseReport
) -> Course:
    pieces = len(distance) - 1
    unknown = np.full(pieces, np.nan)
    shelter, max_speed = (road.pieces.get(name, unknown) for name in ("shelter", "max_speed"))
    straight = np.full(len(distance), np.inf)
    return Course(
        distance=distance,
        elevation=elevation,
        bearing=road.bearing,
        crr=road.pieces.get("crr", unknown),
        roughness=np.ones(pieces),
        shelter=np.where(np.isnan(shelter), 1.0, shelter),
        max_speed=np.where(np.isnan(max_speed), np.inf, max_speed),
        bend_radius=straight if road.plane is None else bend_radius(road.distance, road.plane),
        report=report,
        positions=road.positions,
    )


def _link(road: Road, course: Course, start: float, end: float) -> FloatArray | None:
    """Way from the finish to the start after trimming [m], east and north; None if unknown."""
    if road.plane is None:
        return None
    places = along(course.distance, road.plane, np.array([start, course.length - end]))
    way: FloatArray = places[0] - places[1]
    return way


def _mismatch(course: Course) -> str | None:
    """What forbids to close the course by spreading its difference of height."""
    rise = float(course.elevation[-1] - course.elevation[0])
    if abs(rise) <= min(MOST_MISMATCH, STEEPEST_MISMATCH * course.length):
        return None
    return f"the finish lies {abs(rise):.0f} m {'above' if rise > 0 else 'below'} the start"


def _closed_if_loop(course: Course, link: FloatArray | None) -> Course:
    if link is None or np.hypot(*link) > min(LOOP, course.length / 4.0):
        return course
    mismatch = _mismatch(course)
    if mismatch:
        return noted(course, f"This looks like a loop, but {mismatch}: check the elevations.")
    return closed(course)


def _one_lap(source: str, course: Course, link: FloatArray | None) -> Course:
    """The course as a lap that ends where it began."""
    apart = 0.0 if link is None else float(np.hypot(*link))
    problem = _mismatch(course)
    if apart > min(LAP, course.length / 4.0):
        problem = f"the finish lies {apart:.0f} m from the start"
    if problem:
        raise InputError(
            source,
            f"{problem}, so it cannot be ridden in laps",
            "trim the file to one lap, or ride it once",
        )
    lap = closed(course)
    return lap if link is None or apart <= 1.0 else extended(lap, apart, math.atan2(*link))


def _ridden(source: str, whole: Course, link: FloatArray | None, wishes: CourseWishes) -> Course:
    """The part of the file that is ridden, as often as it is."""
    part = trimmed(whole, wishes.trim_start, wishes.trim_end)
    if wishes.laps > 1:
        return repeated(_one_lap(source, part, link), wishes.laps)
    return part if part is whole else _closed_if_loop(part, link)


def _finished(course: Course, wishes: CourseWishes) -> Course:
    if wishes.reverse:
        course = noted(turned_round(course), "The course is ridden in reverse.")
    return scaled(course, wishes.official_length)


def survey(
    track: Track, wishes: CourseWishes | None = None, sections: Iterable[Section] = ()
) -> Course:
    """Turn the points of a course file into a course.

    Jumps, pauses and repeated places are dropped, positions and elevations smoothed, lengths
    and bearings taken along geodesics of WGS84 and then along the road's slope; distances that
    the file gives are kept. A loop whose finish and start disagree in height is closed. Then the
    sections are laid on the road, and the course is trimmed, repeated, turned round and scaled,
    in this order, as wished.

    Parameters
    ----------
    track : Track
        Points as read. A value of a table holds from its point on; where a cell is empty the
        bike's own resistance, the open wind and no ceiling hold.
    wishes : CourseWishes, optional
        What the user wants done; nothing unless given.
    sections : iterable of Section
        Stretches with their own values, measured along the whole file.

    Returns
    -------
    Course
        Its report says all that was done.

    Raises
    ------
    InputError
        If the points make no road, or a wish cannot be met.
    """
    wishes = wishes or CourseWishes()
    account = Account(notes=list(track.notes))
    road = placed_road(track, account) if track.distance is None else measured_road(track, account)
    levels = (
        flat_levels(road, account)
        if wishes.ride_flat
        else smooth_levels(track.source, road, wishes.noise, account)
    )
    distance = _along_surface(road, levels.elevation)
    check_steepness(track.source, distance, levels.elevation, account)
    report = CourseReport(
        track.source,
        points_read=road.points_read,
        points_kept=len(distance),
        gaps=tuple(Gap(*gap) for gap in road.gaps),
        ascent_before=levels.ascent_before,
        noise=levels.noise,
        noise_given=wishes.noise is not None,
    )
    whole = _assembled(road, distance, levels.elevation, account.into(report))
    whole = _closed_if_loop(whole, _link(road, whole, 0.0, 0.0))
    whole = replace(whole, report=replace(whole.report, ascent_after=whole.ascent))
    link = _link(road, whole, wishes.trim_start, wishes.trim_end)
    whole = with_sections(whole, sections)
    return _finished(_ridden(track.source, whole, link, wishes), wishes)


def made_up(
    distance: float,
    grade: float = 0.0,
    bearing: float | None = None,
    wishes: CourseWishes | None = None,
    sections: Iterable[Section] = (),
    altitude: float = 0.0,
) -> Course:
    """Straight course of constant grade, as given in a race file.

    Parameters
    ----------
    distance : float
        Length along the road of one lap [m].
    grade : float
        Tangent of the slope angle; the rise is distance times the sine of that angle.
    bearing : float or None
        Direction of travel, clockwise from north [rad]; None where not known.
    wishes : CourseWishes, optional
        What else the user wants; several laps only where the course is level.
    sections : iterable of Section
        Stretches with their own values, measured along one lap.
    altitude : float
        Height of the start above sea level [m].

    Returns
    -------
    Course
        One piece a lap, cut where sections begin and end.

    Raises
    ------
    InputError
        If a value is out of its range, or a wish cannot be met.
    """
    wishes = wishes or CourseWishes()
    grade = 0.0 if wishes.ride_flat else grade
    if not 1.0 <= distance < math.inf:
        raise InputError("course.distance", f"{distance:g} m is no course", "give 1 m or more")
    if not abs(grade) <= STEEPEST:
        raise InputError(
            "course.grade", f"{grade:.1%} is no road", f"give a grade up to {STEEPEST:.0%}"
        )
    if wishes.laps > 1 and grade != 0.0:
        raise InputError(
            "course.laps", f"a lap with a grade of {grade:.1%} does not close", "give one lap"
        )
    ends = np.array([0.0, distance])
    elevation = altitude + ends * math.sin(math.atan(grade))
    direction = math.nan if bearing is None else bearing % (2.0 * math.pi)
    road = Road(ends, elevation, None, np.array([direction]))
    rise = max(float(elevation[-1] - elevation[0]), 0.0)
    report = CourseReport("race file", 2, 2, ascent_before=rise, ascent_after=rise)
    course = with_sections(_assembled(road, ends, elevation, report), sections)
    course = repeated(trimmed(course, wishes.trim_start, wishes.trim_end), wishes.laps)
    return _finished(course, wishes)
