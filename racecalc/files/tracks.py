"""Course files (GPX, TCX, FIT, CSV) as recorded points."""

import io
import struct
from collections.abc import Callable, Mapping, Sequence, Sized
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, TypeVar
from xml.etree.ElementTree import Element

import numpy as np
from numpy.typing import NDArray

from racecalc.arrays import FloatArray
from racecalc.errors import InputError
from racecalc.files.opening import parse_xml, read_bytes, read_xml, remembered
from racecalc.files.tables import read_table
from racecalc.quantities.kinds import ANGLE, LENGTH, RATIO, SPEED
from racecalc.quantities.measured import in_quotes

# --- What a course file holds, before anything is cleaned or measured ----------------------------

LOWEST, HIGHEST = -500.0, 9000.0
"""Heights between which every road lies [m]; files mark missing ones by values outside."""


@dataclass(frozen=True, eq=False)
class Track:
    """Raw points of one course file, in the order of the file.

    Each array has shape (n,); NaN stands where a point lacks the value and None where the
    whole file does.
    """

    source: str
    """File name as the user gave it."""
    form: str
    """"gpx", "fit", "tcx" or "csv"."""
    distance: FloatArray | None = None
    """Distance along the course [m]; CSV only, other forms give positions."""
    latitude: FloatArray | None = None
    longitude: FloatArray | None = None
    """Position on WGS84 [deg]."""
    elevation: FloatArray | None = None
    """Height above sea level [m]."""
    time: FloatArray | None = None
    """Time since the first point of a recording [s]."""
    bearing: FloatArray | None = None
    """Direction of travel from this point on, clockwise from north [rad]."""
    crr: FloatArray | None = None
    """Rolling-resistance coefficient from this point on."""
    shelter: FloatArray | None = None
    """Share of the open wind that the rider feels from this point on, 0 to 1."""
    max_speed: FloatArray | None = None
    """Speed ceiling from this point on [m/s]."""
    notes: tuple[str, ...] = ()
    """What the reader chose or left out, one sentence each."""


# --- Points with positions, as GPX, TCX and FIT files give them, to a track ----------------------


@dataclass(frozen=True, slots=True)
class TrackPoint:
    """One point of a recording or route; None where the file gives no value."""

    latitude: float | None
    longitude: float | None
    """Position on WGS84 [deg]."""
    elevation: float | None
    """Height above sea level [m]."""
    time: datetime | None
    """When the point was passed; universal time unless it says otherwise."""


Line = TypeVar("Line", bound=Sized)
Read = TypeVar("Read")


def first_filled(lines: Sequence[Line], called: str) -> tuple[Line | None, tuple[str, ...]]:
    """Pick the first line of points that has any."""
    filled = [line for line in lines if len(line)]
    others = f"Of {len(filled)} {called} in the file, the first was read."
    return (filled[0] if filled else None), ((others,) if len(filled) > 1 else ())


def _column(values: list[float | None]) -> FloatArray:
    column = np.array(values, dtype=float)
    column[~np.isfinite(column)] = np.nan
    return column


def _present(column: FloatArray) -> FloatArray | None:
    return None if np.all(np.isnan(column)) else column


def stamp_of(time: datetime | None) -> float | None:
    """Seconds since 1970 in universal time [s], which a time without a zone is taken for."""
    if time is None:
        return None
    return (time if time.tzinfo else time.replace(tzinfo=UTC)).timestamp()


def _check_range(path: Path, name: str, values: FloatArray, most: float) -> None:
    for index in np.flatnonzero(np.abs(values) > most):
        raise InputError(
            f"{path}, point {index + 1}",
            f"the {name} {values[index]:g} deg is not on the globe",
            f"it must lie between -{most:g} and {most:g}",
        )


def track_of(
    path: Path, form: str, points: Sequence[TrackPoint], notes: tuple[str, ...] = ()
) -> Track:
    """Make a track of points."""
    latitude = _column([point.latitude for point in points])
    longitude = _column([point.longitude for point in points])
    placed = int(np.count_nonzero(np.isfinite(latitude) & np.isfinite(longitude)))
    if placed < 2:
        held = {0: "no point", 1: "only one point"}[placed]
        raise InputError(
            str(path),
            f"the file holds {held} with a position, of {len(points)} in all",
            "a course needs at least a start and a finish",
        )
    _check_range(path, "latitude", latitude, 90.0)
    _check_range(path, "longitude", longitude, 180.0)
    time = _column([stamp_of(point.time) for point in points])
    return Track(
        source=str(path),
        form=form,
        latitude=latitude,
        longitude=longitude,
        elevation=_present(_column([point.elevation for point in points])),
        time=_present(time - time[np.argmax(np.isfinite(time))]),
        notes=notes,
    )


# --- Courses in GPX 1.0 and 1.1 ------------------------------------------------------------------


def parse_gpx(path: Path) -> Any:
    """Read a GPX file as gpxpy gives it."""
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
    """
    gpx = parse_gpx(path)
    tracks = [[point for part in track.segments for point in part.points] for track in gpx.tracks]
    lines = [*tracks, *(route.points for route in gpx.routes)]
    line, notes = first_filled(lines, "tracks and routes")
    if line is None:
        problem = "the file holds no track or route"
        found = f" but {len(gpx.waypoints)} single waypoints" if gpx.waypoints else ""
        raise InputError(str(path), problem + found, "export the course as a track")
    points = [TrackPoint(one.latitude, one.longitude, one.elevation, one.time) for one in line]
    return track_of(path, "gpx", points, notes)


# --- Courses and recordings in TCX ---------------------------------------------------------------


def tcx_point(element: Element, place: str) -> TrackPoint:
    """Position, height and time of a track point."""

    def value(name: str, read: Callable[[str], Read], what: str, remedy: str) -> Read | None:
        text = (element.findtext(f".//{{*}}{name}") or "").strip()
        try:
            return read(text) if text else None
        except ValueError as error:
            problem = f"{in_quotes(text)} is not a {what}"
            raise InputError(f"{place}, {name}", problem, remedy) from error

    names = ("LatitudeDegrees", "LongitudeDegrees", "AltitudeMeters")
    north, east, height = (value(name, float, "number", "correct it") for name in names)
    time = value("Time", datetime.fromisoformat, "time", "write it as 2024-05-01T09:00:00Z")
    return TrackPoint(north, east, height, time)


def read_tcx(path: Path) -> Track:
    """Read a course from a TCX file: all track points of its first activity or course."""
    root = parse_xml(path, read_xml(path))
    parts = [*root.findall(".//{*}Activity"), *root.findall(".//{*}Course")]
    lines = [part.findall(".//{*}Trackpoint") for part in parts or [root]]
    line, notes = first_filled(lines, "activities and courses")
    if line is None:
        problem = "the file holds no track points"
        raise InputError(str(path), problem, "export the course with its track")
    points = [tcx_point(one, f"{path}, point {number}") for number, one in enumerate(line, 1)]
    return track_of(path, "tcx", points, notes)


# --- Recordings and courses in FIT ---------------------------------------------------------------

DEGREES = 180.0 / 2**31
"""One semicircle [deg], the unit of positions in the public FIT protocol."""

DECODER_SLIPS = (AssertionError, LookupError, OverflowError, TypeError, ValueError, struct.error)
"""What the decoder itself stumbles over in damaged files that have a right checksum."""


def fit_number(record: Any, *names: str) -> float | None:
    """Value of the first field that has one, sent ones before those derived from other fields."""
    for name in names:
        fields = sorted(record.get_fields(name), key=lambda field: field.field_def is None)
        for field in fields:
            if isinstance(field.value, int | float):
                return float(field.value)
    return None


def fit_point(record: Any) -> TrackPoint:
    """Position, height and time of a record message."""
    place = [fit_number(record, name) for name in ("position_lat", "position_long")]
    north, east = (None if value is None else value * DEGREES for value in place)
    height = fit_number(record, "enhanced_altitude", "altitude")
    time = record.get_value("timestamp", fallback=None)
    return TrackPoint(north, east, height, time if isinstance(time, datetime) else None)


def fit_messages(path: Path, *names: str) -> list[Any]:
    """The messages of a FIT file that have one of some names, in its order."""
    import fitdecode

    content = read_bytes(path)
    try:
        with fitdecode.FitReader(
            io.BytesIO(content),
            check_crc=fitdecode.CrcCheck.RAISE,
            error_handling=fitdecode.ErrorHandling.IGNORE,
        ) as reader:
            return [
                frame
                for frame in reader
                if isinstance(frame, fitdecode.FitDataMessage) and frame.name in names
            ]
    except fitdecode.FitCRCError as error:
        raise InputError(
            str(path), "the checksum is wrong, so the file is damaged", "copy it again"
        ) from error
    except (fitdecode.FitError, *DECODER_SLIPS) as error:
        raise InputError(
            str(path),
            f"this is not FIT, or the file breaks off ({str(error) or 'lengths disagree'})",
            "copy it again from the device",
        ) from error


def read_fit(path: Path) -> Track:
    """Read a course from the record messages of a FIT file."""
    return track_of(path, "fit", [fit_point(frame) for frame in fit_messages(path, "record")])


# --- Courses typed or exported as a CSV table ----------------------------------------------------

FAR = 5e6
"""Distance beyond any race [m]."""


HEIGHTS = f"give {LOWEST:g} m to {HIGHEST:g} m"


def _falls(values: FloatArray) -> NDArray[np.bool_]:
    return np.concatenate([[False], np.diff(values) < 0])


WRONG_UNIT = "check the unit of the heading"

CHECKS: tuple[tuple[str, Callable[[FloatArray], NDArray[np.bool_]], str, str], ...] = (
    (
        "elevation",
        lambda z: (z < LOWEST) | (z > HIGHEST),
        "is not the elevation of a road",
        HEIGHTS,
    ),
    ("distance", lambda x: abs(x) > FAR, "is longer than any race", WRONG_UNIT),
    ("distance", _falls, "is less than the line before", "distances must go up line by line"),
    ("crr", lambda c: (c <= 0) | (c > 0.1), "cannot be a rolling resistance", "write one as 0.004"),
    ("shelter", lambda s: (s < 0) | (s > 1), "is not a share", "write 0 (no wind) to 1 (open)"),
    ("max_speed", lambda v: v <= 0, "is not above zero", "leave the cell empty for none"),
)


def read_course_csv(path: Path) -> Track:
    """Read a course table: distance and elevation, and what the road is like from there on."""
    table = read_table(path)
    needed = {name: table.numbers(name, LENGTH) for name in ("distance", "elevation")}
    kinds = {"bearing": ANGLE, "crr": RATIO, "shelter": RATIO, "max_speed": SPEED}
    more = {name: table.numbers(name, kinds[name], gaps=True) for name in kinds if table.has(name)}
    if len(table.rows) < 2:
        raise InputError(
            f"{table.source}, line {table.lines[0]}",
            "this is the only point",
            "a course needs at least a start and a finish",
        )
    columns: dict[str, Any] = needed | more
    for name, wrong, problem, remedy in CHECKS:
        if name in columns:
            table.refuse(name, wrong(columns[name]), problem, remedy)
    table.refuse_kilometres("distance", needed["distance"])
    return Track(source=table.source, form="csv", **columns)


# --- A course file of any form to a track --------------------------------------------------------

READERS: Mapping[str, Callable[[Path], Track]] = {
    ".gpx": read_gpx,
    ".fit": read_fit,
    ".tcx": read_tcx,
    ".csv": read_course_csv,
}
"""Reader for each file name ending, in small letters."""


@remembered
def read_track(path: Path) -> Track:
    """Read the points of a course file."""
    reader = READERS.get(path.suffix.lower())
    if reader is None:
        ending = f"the ending '{path.suffix}' is" if path.suffix else "a name without ending is"
        raise InputError(
            str(path), f"{ending} not that of a course file", "read are " + ", ".join(READERS)
        )
    return reader(path)
