"""Courses and recordings in TCX."""

from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from racecalc.errors import InputError
from racecalc.files.opening import parse_xml, read_xml
from racecalc.files.points import Point, first_filled, track_of
from racecalc.files.track import Track
from racecalc.quantities.numerals import quoted

if TYPE_CHECKING:
    from xml.etree.ElementTree import Element


def _number(point: "Element", name: str, place: str) -> float | None:
    text = (point.findtext(f".//{{*}}{name}") or "").strip()
    try:
        return float(text) if text else None
    except ValueError as error:
        raise InputError(
            f"{place}, {name}", f"{quoted(text)} is not a number", "correct it"
        ) from error


def _time(point: "Element", place: str) -> datetime | None:
    text = (point.findtext("{*}Time") or "").strip()
    try:
        return datetime.fromisoformat(text) if text else None
    except ValueError as error:
        raise InputError(
            f"{place}, Time", f"{quoted(text)} is not a time", "write it as 2024-05-01T09:00:00Z"
        ) from error


def _point(element: "Element", place: str) -> Point:
    return Point(
        _number(element, "LatitudeDegrees", place),
        _number(element, "LongitudeDegrees", place),
        _number(element, "AltitudeMeters", place),
        _time(element, place),
    )


def read_tcx(path: Path) -> Track:
    """Read a course from a TCX file: all track points of its first activity or course.

    Parameters
    ----------
    path : Path
        The file.

    Returns
    -------
    Track
        Positions, with elevation and time where the file gives them.

    Raises
    ------
    InputError
        If the file cannot be read, or holds fewer than two points.
    """
    root = parse_xml(path, read_xml(path))
    parts = [*root.findall(".//{*}Activity"), *root.findall(".//{*}Course")]
    lines = [part.findall(".//{*}Trackpoint") for part in parts or [root]]
    line, notes = first_filled(lines, "activities and courses")
    if line is None:
        raise InputError(
            str(path), "the file holds no track points", "export the course with its track"
        )
    points = [_point(element, f"{path}, point {number}") for number, element in enumerate(line, 1)]
    return track_of(path, "tcx", points, notes)
