"""A pacing card as waypoints: what to ride from each place on."""

import numpy as np

from racecalc.decisions.pacing.card import Card
from racecalc.domain.course import Course
from racecalc.errors import InputError
from racecalc.files.gpx_waypoints import Waypoint, waypoints_gpx
from racecalc.quantities.clock import show_duration
from racecalc.quantities.showing import System, show, show_number, shown_unit
from racecalc.views.card_page import ADVICE


def card_gpx(card: Card, course: Course, units: System) -> str:
    """Start of each section and the finish as the text of a GPX 1.1 file.

    Parameters
    ----------
    card : Card
        What the rider takes along.
    course : Course
        The road it was made for.
    units : {"metric", "imperial"}
        System of units of the words; positions are in degrees, elevations in metres.

    Returns
    -------
    str
        XML; a waypoint is called as "250 W", the last one "Finish".

    Raises
    ------
    InputError
        If the course has no positions.
    """
    at = np.array([*(target.from_m for target in card.targets), card.targets[-1].to_m])
    where = course.positions_at(at)
    if where is None:
        raise _without_positions(course)
    unit = shown_unit("course_distance", units)
    words = [
        (
            show(target.power_w, "power", units),
            f"to {unit} {show_number(target.to_m, 'course_distance', units, 1)},"
            f" {show_duration(target.elapsed_s)} elapsed",
            "power target",
        )
        for target in card.targets
    ]
    words.append(("Finish", f"{show_duration(card.time_s)} elapsed", "finish"))
    points = [
        Waypoint(float(latitude), float(longitude), float(elevation), *texts)
        for latitude, longitude, elevation, texts in zip(
            where.latitude, where.longitude, course.elevation_at(at), words, strict=True
        )
    ]
    return waypoints_gpx(points, card.race, f"{card.limit}. {ADVICE}")


def refuse_without_positions(course: Course) -> None:
    """Refuse a course that has no positions, before the long work.

    Raises
    ------
    InputError
        As said.
    """
    if course.positions_at(np.zeros(1)) is None:
        raise _without_positions(course)


def _without_positions(course: Course) -> InputError:
    return InputError(
        course.report.source,
        "the course has distances but no positions, so there are no waypoints",
        "take the course from a GPX, FIT or TCX file",
    )
