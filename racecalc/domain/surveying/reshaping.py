"""Make another course of a course: cut, turned round, closed, repeated, stretched."""

import math
from collections.abc import Callable, Iterable
from dataclasses import replace
from typing import Any

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.domain.course import Course, Positions
from racecalc.domain.surveying.geodesy import ARM, radius_of_turn, turn_between
from racecalc.errors import InputError

PIECE_FIELDS = ("bearing", "crr", "roughness", "shelter", "max_speed")
"""Fields of a course that hold one value a piece."""

SHORTEST_PIECE = 1e-3
"""Cuts closer than this to a point fall on it [m]."""


def noted(course: Course, *notes: str) -> Course:
    """Return the course with further notes in its report."""
    report = replace(course.report, notes=(*course.report.notes, *notes))
    return replace(course, report=report)


def _moved(course: Course, change: Callable[[FloatArray], FloatArray]) -> Positions | None:
    """The positions of another course made of this one; None stays None."""
    return None if course.positions is None else course.positions.changed(change)


def cut_at(course: Course, places: Iterable[float]) -> Course:
    """Put points at given distances.

    Parameters
    ----------
    course : Course
        Before.
    places : iterable of float
        Distances along the course [m]; those outside it or at a point already are passed over.

    Returns
    -------
    Course
        The same road with more points; the curvature of bends is interpolated.
    """
    old = course.distance
    wanted = np.unique(np.asarray(list(places), dtype=float))
    wanted = wanted[(wanted > 0.0) & (wanted < course.length)]
    nearest = np.min(np.abs(wanted[:, None] - old), axis=1, initial=np.inf)
    distance = np.union1d(old, wanted[nearest > SHORTEST_PIECE])
    piece = np.searchsorted(old, distance[:-1], side="right") - 1
    curvature = np.interp(distance, old, 1.0 / course.bend_radius)
    bent = curvature > 0.0
    return replace(
        course,
        distance=distance,
        elevation=np.interp(distance, old, course.elevation),
        bend_radius=np.where(bent, 1.0 / np.where(bent, curvature, 1.0), np.inf),
        positions=course.positions_at(distance),
        **{name: getattr(course, name)[piece] for name in PIECE_FIELDS},
    )


def trimmed(course: Course, start: float, end: float) -> Course:
    """Cut off both ends.

    Parameters
    ----------
    course : Course
        Before.
    start, end : float
        Lengths to cut off [m].

    Returns
    -------
    Course
        What is left, measured from its own start.

    Raises
    ------
    InputError
        If nothing would be left.
    """
    if start == 0.0 and end == 0.0:
        return course
    finish = course.length - end
    if finish - start < 1.0:
        raise InputError(
            "course.trim_start",
            f"cutting off {start:g} m and {end:g} m leaves nothing of {course.length:.0f} m",
            "cut off less",
        )
    whole = cut_at(course, (start, finish))
    slack = SHORTEST_PIECE * 2.0
    inside = (whole.distance >= start - slack) & (whole.distance <= finish + slack)
    pieces = inside[:-1] & inside[1:]
    part = replace(
        whole,
        distance=whole.distance[inside] - whole.distance[inside][0],
        elevation=whole.elevation[inside],
        bend_radius=whole.bend_radius[inside],
        positions=_moved(whole, lambda values: values[inside]),
        **{name: getattr(whole, name)[pieces] for name in PIECE_FIELDS},
    )
    return noted(part, f"{start:g} m were cut off at the start and {end:g} m at the end.")


def turned_round(course: Course) -> Course:
    """Ride the course from its finish to its start.

    Parameters
    ----------
    course : Course
        Before.

    Returns
    -------
    Course
        The same road, bearings turned by half a circle.
    """
    pieces: dict[str, Any] = {name: getattr(course, name)[::-1] for name in PIECE_FIELDS}
    pieces["bearing"] = np.mod(pieces["bearing"] + math.pi, 2.0 * math.pi)
    return replace(
        course,
        distance=course.length - course.distance[::-1],
        elevation=course.elevation[::-1],
        bend_radius=course.bend_radius[::-1],
        positions=_moved(course, lambda values: values[::-1]),
        **pieces,
    )


def closed(course: Course) -> Course:
    """Spread the difference of elevation between finish and start evenly over a loop.

    Parameters
    ----------
    course : Course
        A loop.

    Returns
    -------
    Course
        Its finish as high as its start; the report says what was spread.
    """
    mismatch = course.elevation[-1] - course.elevation[0]
    if abs(mismatch) < 0.01:
        return course
    level = course.elevation - mismatch * course.distance / course.length
    level[-1] = level[0]
    return noted(
        replace(course, elevation=level),
        f"The loop was closed: its finish lay {abs(mismatch):.1f} m "
        f"{'above' if mismatch > 0 else 'below'} its start, which was spread over its length.",
    )


def extended(course: Course, length: float, bearing: float) -> Course:
    """Add a level piece from the finish to the start, with the last piece's surface.

    Parameters
    ----------
    course : Course
        Before.
    length : float
        Length of the piece [m].
    bearing : float
        Its direction [rad].

    Returns
    -------
    Course
        After; the report says so.
    """
    pieces: dict[str, Any] = {
        name: np.append(getattr(course, name), getattr(course, name)[-1]) for name in PIECE_FIELDS
    }
    pieces["bearing"][-1] = bearing % (2.0 * math.pi)
    return noted(
        replace(
            course,
            distance=np.append(course.distance, course.length + length),
            elevation=np.append(course.elevation, course.elevation[-1]),
            bend_radius=np.append(course.bend_radius, np.inf),
            positions=_moved(course, lambda values: np.append(values, values[0])),
            **pieces,
        ),
        f"The {length:.0f} m from the finish to the start were added to each lap.",
    )


def _joint(course: Course) -> float:
    """Radius of the bend from the end of one lap into the next; infinite where not known."""
    turn = turn_between(course.bearing[-1:], course.bearing[:1])
    step = np.diff(course.distance)
    return float(radius_of_turn(np.array([max(ARM, min(step[0], step[-1]))]), turn)[0])


def repeated(course: Course, laps: int) -> Course:
    """Ride a closed course several times.

    Parameters
    ----------
    course : Course
        One lap, its finish as high as its start.
    laps : int
        How often, at least 1.

    Returns
    -------
    Course
        All laps as one road.
    """
    if laps == 1:
        return course

    def in_laps(values: FloatArray) -> FloatArray:
        return np.append(np.tile(values[:-1], laps), values[-1])

    starts = course.length * np.arange(laps)
    pieces: dict[str, Any] = {name: np.tile(getattr(course, name), laps) for name in PIECE_FIELDS}
    radius = np.concatenate([[_joint(course)], course.bend_radius[1:-1]])
    ends = np.full(laps * len(radius) + 1, np.inf)
    ends[1:-1] = np.tile(radius, laps)[1:]
    distance = (starts[:, None] + course.distance[:-1]).ravel()
    return noted(
        replace(
            course,
            distance=np.append(distance, course.length * laps),
            elevation=in_laps(course.elevation),
            bend_radius=ends,
            positions=_moved(course, in_laps),
            **pieces,
        ),
        f"The course is {laps} laps of {course.length / 1000:.3f} km.",
    )


def scaled(course: Course, length: float | None) -> Course:
    """Stretch a course to its official length.

    Parameters
    ----------
    course : Course
        Before.
    length : float or None
        Length of the whole course by the organiser [m]; None leaves it.

    Returns
    -------
    Course
        Distances scaled, elevations kept; the report says by how much.

    Raises
    ------
    InputError
        If the lengths are more than a fifth apart.
    """
    if length is None:
        return course
    ratio = length / course.length
    lengths = f"{course.length / 1000:.3f} km against the official {length / 1000:.3f} km"
    if not 0.8 < ratio < 1.25 or np.any(np.abs(course.slope_sine) >= 0.99 * ratio):
        raise InputError(
            "course.official_length",
            f"the course is too far from its official length: {lengths}",
            "check laps, trimming and the file",
        )
    doubt = " More than 1 % apart: check which is right." if abs(ratio - 1.0) > 0.01 else ""
    return noted(
        replace(course, distance=course.distance * ratio),
        f"Distances were scaled by {ratio:.4f}: {lengths}.{doubt}",
    )
