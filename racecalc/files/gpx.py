"""Courses in GPX 1.0 and 1.1."""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from racecalc.errors import InputError
from racecalc.files.opening import parse_xml, read_xml
from racecalc.files.points import Point, first_filled, track_of
from racecalc.files.track import Track

if TYPE_CHECKING:
    from gpxpy.gpx import GPX, GPXRoutePoint, GPXTrackPoint


def _parse(path: Path) -> "GPX":
    import gpxpy
    from gpxpy.gpx import GPXException, GPXXMLSyntaxException

    text = read_xml(path)
    try:
        return gpxpy.parse(text)
    except GPXXMLSyntaxException as error:
        parse_xml(path, text)
        raise InputError(str(path), "this is not GPX", "save it again") from error
    except (GPXException, ValueError, TypeError, OverflowError) as error:
        raise InputError(
            str(path), f"a value in it cannot be read ({error})", "correct it, or export it again"
        ) from error


def read_gpx(path: Path) -> Track:
    """Read a course from a GPX file.

    All segments of the first track that has points are joined; where no track has any, the
    first route that does is taken. Further tracks and routes are left out, since files that
    hold several mostly hold alternatives, and the notes of the track say so.

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
    gpx = _parse(path)
    tracks = [[point for part in track.segments for point in part.points] for track in gpx.tracks]
    lines: list[Sequence[GPXTrackPoint | GPXRoutePoint]] = [
        *tracks,
        *(route.points for route in gpx.routes),
    ]
    line, notes = first_filled(lines, "tracks and routes")
    if line is None:
        problem = "the file holds no track or route"
        found = f" but {len(gpx.waypoints)} single waypoints" if gpx.waypoints else ""
        raise InputError(str(path), problem + found, "export the course as a track")
    points = [Point(point.latitude, point.longitude, point.elevation, point.time) for point in line]
    return track_of(path, "gpx", points, notes)
