"""Course files (GPX, TCX, FIT, CSV) as recorded points."""

import io
import struct
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, TypeVar
from xml.etree.ElementTree import Element

import numpy as np
from numpy.typing import NDArray

from racecalc.arrays import FloatArray
from racecalc.errors import InputError, check_cancelled
from racecalc.files.opening import read_bytes, read_xml, reader_of, refuse_many, remembered
from racecalc.files.tables import read_table
from racecalc.quantities.kinds import ANGLE, LENGTH, RATIO, SPEED
from racecalc.quantities.measured import in_quotes
from racecalc.quantities.plain_text import one_line

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
    distance: FloatArray | None = None
    """Distance along the course [m]; CSV only, other forms give positions."""
    latitude: FloatArray | None = None
    longitude: FloatArray | None = None
    """Position on WGS84 [deg]."""
    elevation: FloatArray | None = None
    """Height above sea level [m]."""
    time: FloatArray | None = None
    """Time since the first point of a recording [s]."""
    counted: FloatArray | None = None
    """Distance that the device itself counted to the point, with positions or without [m]."""
    counted_total: float | None = None
    ascent: float | None = None
    """Distance and rise that the device counted in all [m]."""
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


@dataclass(frozen=True)
class Wanted:
    """What the user wants of a file."""

    part: int | None = None
    """Which of its tracks or rides, from 1; the first where it is not said."""
    damaged: bool = False
    """Whether a file is read whose checksum is wrong."""


AS_IT_IS = Wanted()
PART = "course.part"
"""Key of the race file that says which part is meant."""


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
    counted: float | None = None
    """Distance that the device counted [m]."""


Read = TypeVar("Read")


@dataclass(frozen=True)
class Part:
    """A track, route, activity or session of a file."""

    sport: str
    """As the file has it; empty where it does not say."""
    points: Sequence[Any]

    @property
    def cycled(self) -> bool:
        """Whether the file says that it was ridden on a bicycle."""
        said = self.sport.lower()
        return "motor" not in said and any(one in said for one in ("cycl", "bik", "ride"))


def part_of(
    parts: Iterable[Part], called: str, wanted: int | None = None, key: str = ""
) -> tuple[Part | None, tuple[str, ...]]:
    """Pick a part that has points, by its number among those that were cycled or all."""
    filled = [one for one in parts if len(one.points)]
    rides = [one for one in filled if one.cycled] or filled
    if not rides:
        return None, ()
    if (wanted or 1) > len(rides):
        problem = f"the file holds {len(rides)} {called}"
        raise InputError(key, problem, f"give 1 to {len(rides)}")
    notes = []
    if len(rides) < len(filled):
        sports = ", ".join(one_line(one.sport) or "no sport" for one in filled)
        notes.append(f"Of the parts of the file ({sports}), cycling was read.")
    if len(rides) > 1:
        which = f" ({key})" if key else ""
        notes.append(f"Of {len(rides)} {called} in the file, number {wanted or 1} was read{which}.")
    return rides[(wanted or 1) - 1], tuple(notes)


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
    path: Path, points: Sequence[TrackPoint], notes: tuple[str, ...], **totals: Any
) -> Track:
    """Make a track of points, with what the device counted in all."""
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
        latitude=latitude,
        longitude=longitude,
        elevation=_present(_column([point.elevation for point in points])),
        time=_present(time - time[np.argmax(np.isfinite(time))]),
        counted=_present(_column([point.counted for point in points])),
        notes=notes,
        **totals,
    )


# --- Courses and recordings in XML: values of points ---------------------------------------------


def _read_as(read: Callable[[str], Read], text: str | None, place: str, *wrong: str) -> Read | None:
    """A value of a point; None where the file gives none."""
    bare = (text or "").strip()
    try:
        return read(bare) if bare else None
    except ValueError as error:
        what, remedy = wrong
        raise InputError(place, f"{in_quotes(bare)} is not a {what}", remedy) from error


def _number(text: str | None, place: str) -> float | None:
    return _read_as(float, text, place, "number", "correct it")


def _time(text: str | None, place: str, needed: bool) -> datetime | None:
    remedy = "write it as 2024-05-01T09:00:00Z"
    try:
        return _read_as(datetime.fromisoformat, text, place, "time", remedy)
    except InputError:
        if needed:
            raise
        return None


# --- Courses and recordings in GPX 1.0 and 1.1 ---------------------------------------------------


def gpx_root(path: Path) -> Element:
    """All that a GPX file holds."""
    root = read_xml(path)
    if root.tag.rpartition("}")[2] != "gpx":
        raise InputError(str(path), "this is not GPX", "save it again")
    return root


def gpx_parts(root: Element, kind: str, points: str) -> list[Part]:
    """Each track with its segments joined, or each route."""
    return [
        Part(one.findtext("{*}type") or "", one.findall(points))
        for one in root.iterfind(f"{{*}}{kind}")
    ]


TRACK = "trk", "{*}trkseg/{*}trkpt"


def gpx_point(element: Element, place: str, timed: bool = True) -> TrackPoint:
    """Position, height and time of a point; one that cannot be read is refused if `timed`."""
    north, east = (_number(element.get(name), f"{place}, {name}") for name in ("lat", "lon"))
    said = {one.tag.rpartition("}")[2]: one.text for one in element}
    height, time = _number(said.get("ele"), f"{place}, ele"), said.get("time")
    return TrackPoint(north, east, height, _time(time, f"{place}, time", timed))


def read_gpx(path: Path, wanted: Wanted) -> Track:
    """Read a course from a GPX file: of its tracks, then routes, one."""
    root = gpx_root(path)
    parts = [*gpx_parts(root, *TRACK), *gpx_parts(root, "rte", "{*}rtept")]
    part, notes = part_of(parts, "tracks and routes", wanted.part, PART)
    if part is None:
        problem, waypoints = "the file holds no track or route", len(root.findall("{*}wpt"))
        found = f" but {waypoints} single waypoints" if waypoints else ""
        raise InputError(str(path), problem + found, "export the course as a track")
    rows = enumerate(part.points, 1)
    points = [gpx_point(one, f"{path}, point {at}", timed=False) for at, one in rows]
    return track_of(path, points, notes)


# --- Courses and recordings in TCX ---------------------------------------------------------------


def tcx_point(element: Element, place: str, timed: bool = True) -> TrackPoint:
    """The same of a track point."""
    names = ("LatitudeDegrees", "LongitudeDegrees", "AltitudeMeters", "DistanceMeters", "Time")
    *numbers, time = ((element.findtext(f".//{{*}}{name}"), f"{place}, {name}") for name in names)
    north, east, height, counted = (_number(*one) for one in numbers)
    return TrackPoint(north, east, height, _time(*time, timed), counted)


def tcx_parts(elements: Iterable[Element]) -> list[Part]:
    """Each activity or course with its track points."""
    return [Part(one.get("Sport") or "", one.findall(".//{*}Trackpoint")) for one in elements]


def read_tcx(path: Path, wanted: Wanted) -> Track:
    """Read a course from a TCX file: all track points of one activity or course."""
    root = read_xml(path)
    found = [*root.findall(".//{*}Activity"), *root.findall(".//{*}Course")]
    parts = tcx_parts(found or [root])
    part, notes = part_of(parts, "activities and courses", wanted.part, PART)
    if part is None:
        problem = "the file holds no track points"
        raise InputError(str(path), problem, "export the course with its track")
    rows = enumerate(part.points, 1)
    points = [tcx_point(one, f"{path}, point {at}", timed=False) for at, one in rows]
    return track_of(path, points, notes)


# --- Recordings and courses in FIT ---------------------------------------------------------------

DEGREES = 180.0 / 2**31
"""One semicircle [deg], the unit of positions in the public FIT protocol."""

DECODER_SLIPS = (AssertionError, LookupError, OverflowError, TypeError, ValueError, struct.error)
"""What the decoder itself stumbles over in damaged files that have a right checksum."""


FIRST_TIME, EPOCH = 0x10000000, 631_065_600
"""Least value of a field that is a time, and the Unix time of its zero, 31 December 1989 [s]."""


@dataclass(frozen=True, slots=True)
class FitMessage:
    """A message of a FIT file."""

    name: str
    numbers: Mapping[str, float]
    """By the names of its fields in small letters; of two with one name the sent one."""
    units: Mapping[str, str]
    """Of these fields, where the file gives them."""
    sport: str
    """As the file names it; empty where it does not."""

    @classmethod
    def of(cls, frame: Any, units: Mapping[str, str]) -> "FitMessage":
        """A message of fitdecode with all that is a number in it."""
        sent, derived = dict[str, float](), dict[str, float]()
        for field in frame.fields:
            value = field.value
            if isinstance(value, (int, float)):
                found = derived if field.field_def is None else sent
                found.setdefault(field.name.lower(), float(value))
        sport = frame.get_value("sport", fallback="") if frame.has_field("sport") else ""
        return cls(frame.name, derived | sent, units, str(sport or ""))

    def time(self, name: str) -> datetime | None:
        """Value of a field that is a time."""
        value = self.numbers.get(name, 0.0)
        return datetime.fromtimestamp(EPOCH + value, UTC) if value >= FIRST_TIME else None

    @property
    def point(self) -> TrackPoint:
        """Position, height and time of a record."""
        known = self.numbers
        place = [known.get(name) for name in ("position_lat", "position_long")]
        north, east = (None if value is None else value * DEGREES for value in place)
        height = known.get("enhanced_altitude", known.get("altitude"))
        return TrackPoint(north, east, height, self.time("timestamp"), known.get("distance"))

    @property
    def span(self) -> tuple[float, float]:
        """When a session began and ended [s]; without end where the file does not say."""
        start, stamp = (stamp_of(self.time(name)) for name in ("start_time", "timestamp"))
        length = self.numbers.get("total_elapsed_time")
        if start is not None:
            return start, np.inf if length is None else start + length
        if stamp is None or length is None:
            return -np.inf, np.inf
        # Stamps are whole seconds, lengths are not.
        return np.floor(stamp - length), stamp


def fit_messages(
    path: Path, *names: str, damaged: bool = False, offer: str = ""
) -> tuple[list[FitMessage], tuple[str, ...]]:
    """The messages of a FIT file that have one of some names, in its order, and what it lacks.

    Of a file that breaks off, all that are whole; of a damaged one only if asked for.
    """
    import fitdecode

    content, found, wrong, ended = read_bytes(path), list[FitMessage](), False, ""
    begin, end, values, units = 0, 0, 0, dict[Any, dict[str, str]]()
    try:
        # To check each value as it comes, and to process those that nobody asks for, takes half of
        # the time.
        with fitdecode.FitReader(
            io.BytesIO(content),
            processor=None,
            check_crc=fitdecode.CrcCheck.DISABLED,
            error_handling=fitdecode.ErrorHandling.IGNORE,
        ) as reader:
            for frame in _while_wanted(reader):
                # A frame is work for eight fields of its own.
                values += 8 + len(getattr(frame, "fields", getattr(frame, "field_defs", ())))
                refuse_many(path, values)
                if isinstance(frame, fitdecode.FitDataMessage) and frame.name in names:
                    kind = frame.def_mesg
                    units[kind] = units.get(kind) or _units_in(frame)
                    found.append(FitMessage.of(frame, units[kind]))
                elif isinstance(frame, fitdecode.FitHeader):
                    begin, end = end, end + frame.header_size + frame.body_size
                    wrong |= frame.crc_matched is False
                elif isinstance(frame, fitdecode.FitCRC):
                    wrong |= frame.crc != _checksum(content[begin:end])
                    end += CHECKSUM_BYTES
    except InputError:
        raise
    except (fitdecode.FitError, *DECODER_SLIPS) as error:
        broken = isinstance(error, fitdecode.FitEOFError)
        if not found or not (broken or damaged):
            problem = f"this is not FIT, or it is damaged ({str(error) or 'lengths disagree'})"
            remedy = "copy it again" + (offer if found else "")
            raise InputError(str(path), problem, remedy) from error
        ended = "breaks off" if broken else "cannot be read to its end"
    if wrong and not damaged:
        problem = "the checksum is wrong, so the file is damaged"
        raise InputError(str(path), problem, "copy it again" + (offer if found else ""))
    notes = ["The checksum of the file is wrong; it was read as asked for."] if wrong else []
    if ended:
        notes.append(f"The file {ended}: what is whole was read, {len(found)} messages.")
    return found, tuple(notes)


def _while_wanted(frames: Iterable[Any]) -> Iterator[Any]:
    for number, frame in enumerate(frames):
        if number % 1000 == 0:
            check_cancelled()
        yield frame


def _units_in(frame: Any) -> dict[str, str]:
    return {field.name.lower(): field.units or "" for field in frame.fields}


CHECKSUM_BYTES = 2


def _checksum(content: bytes) -> int:
    """The checksum of the public FIT protocol, by the values of fitdecode for single bytes."""
    from fitdecode.utils import compute_crc

    of_byte, found = [compute_crc(bytes([one])) for one in range(256)], 0
    for byte in content:
        found = found >> 8 ^ of_byte[(found ^ byte) & 0xFF]
    return found


def fit_part(
    messages: Sequence[FitMessage], wanted: int | None = None, key: str = ""
) -> tuple[list[FitMessage], FitMessage | None, tuple[str, ...]]:
    """Records of the session that was cycled, the session's own message, and what was chosen."""
    records = [one for one in messages if one.name == "record"]
    sessions = [one for one in messages if one.name == "session"]
    if len(sessions) < 2:
        return records, sessions[0] if sessions else None, ()
    times = np.array([stamp_of(one.time("timestamp")) for one in records], dtype=float)
    parts = []
    for one in sessions:
        begin, end = one.span
        inside = (times >= begin) & (times <= end)
        parts.append(Part(one.sport, [records[row] for row in np.flatnonzero(inside)]))
    part, notes = part_of(parts, "rides", wanted, key)
    if part is None:
        return records, None, ()
    return list(part.points), sessions[parts.index(part)], notes


def read_fit(path: Path, wanted: Wanted) -> Track:
    """Read a course from the record messages of a FIT file."""
    offer = ", or write damaged = true under [course] to read what is in it"
    names = ("record", "session")
    messages, lacks = fit_messages(path, *names, damaged=wanted.damaged, offer=offer)
    records, session, notes = fit_part(messages, wanted.part, PART)
    totals = {
        name: None if session is None else session.numbers.get(field)
        for name, field in (("counted_total", "total_distance"), ("ascent", "total_ascent"))
    }
    return track_of(path, [one.point for one in records], lacks + notes, **totals)


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


def read_course_csv(path: Path, _: Wanted) -> Track:
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
    return Track(source=table.source, **columns)


# --- A course file of any form to a track --------------------------------------------------------

READERS: Mapping[str, Callable[[Path, Wanted], Track]] = {
    ".gpx": read_gpx,
    ".fit": read_fit,
    ".tcx": read_tcx,
    ".csv": read_course_csv,
}
"""Reader for each file name ending, in small letters."""


@remembered
def read_track(path: Path, wanted: Wanted = AS_IT_IS) -> Track:
    """Read the points of a course file."""
    return reader_of(path, READERS, "a course file")(path, wanted)
