"""Rides as devices record them (FIT, TCX, GPX, CSV): power, speed, place, laps and sensors."""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise
from pathlib import Path
from typing import Any
from xml.etree.ElementTree import Element

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.errors import InputError
from racecalc.files.opening import read_xml, reader_of
from racecalc.files.table_kinds import A_DAY, clock_seconds
from racecalc.files.tables import CsvTable, read_table
from racecalc.files.tracks import (
    TRACK,
    FitMessage,
    TrackPoint,
    fit_messages,
    fit_part,
    gpx_parts,
    gpx_point,
    gpx_root,
    part_of,
    stamp_of,
    tcx_parts,
    tcx_point,
)
from racecalc.quantities.kinds import ANGLE, LENGTH, POWER, RATIO, SPEED, Kind
from racecalc.quantities.measured import QuantityError, in_quotes, unit_scale

# --- What a recording holds ----------------------------------------------------------------------


@dataclass(frozen=True)
class Lap:
    """One lap of the device."""

    start: float
    end: float
    """On the clock of the recording [s]."""


@dataclass(frozen=True, eq=False)
class Recording:
    """One ride as it was recorded.

    Each array has shape (n,), in rising time; NaN stands where a point lacks the value and None
    where the whole file does.
    """

    source: str
    """File name as the user gave it."""
    time: FloatArray
    """Seconds since 1970 in universal time, or since the start where `has_clock` is false [s]."""
    has_clock: bool
    """Whether the time of day is known."""
    ahead: float
    """How far the clock that its times are written in is ahead of universal time [s]."""
    power: FloatArray | None = None
    """Mean of the time that ends at the point [W]."""
    speed: FloatArray | None = None
    """[m/s]."""
    distance: FloatArray | None = None
    """Since the start of the recording [m]."""
    cadence: FloatArray | None = None
    """[1/min]."""
    elevation: FloatArray | None = None
    """[m]."""
    latitude: FloatArray | None = None
    longitude: FloatArray | None = None
    """Position on WGS84 [deg]."""
    air_speed: FloatArray | None = None
    """What a sensor of the air speed reads [m/s]."""
    yaw: FloatArray | None = None
    """What a sensor of the yaw reads [rad]."""
    laps: tuple[Lap, ...] = ()
    """As the device counts them, from 1."""
    columns: tuple[str, ...] = ()
    """Names of all fields that hold numbers."""
    notes: tuple[str, ...] = ()
    """What the reader chose or left out, one sentence each."""


SPELLINGS: Mapping[str, tuple[str, ...]] = {
    "power": ("power", "watts", "powerinwatts"),
    "speed": ("enhanced_speed", "speed"),
    "distance": ("distance", "distancemeters"),
    "cadence": ("cadence", "cad"),
}
"""Names of fields in the public formats, small letters; [W], [m/s], [m] and [1/min] (from memory).
"""


@dataclass(frozen=True)
class Wanted:
    """Names of the fields of sensors that no format fixes; None where there is none."""

    air_speed: str | None = None
    yaw: str | None = None
    damaged: bool | None = None
    """Whether a FIT file whose checksum is wrong is read; None where it cannot be asked for."""


@dataclass
class _Point:
    at: TrackPoint
    values: dict[str, float]
    """By names in small letters."""


# --- From points to columns ----------------------------------------------------------------------


def _recording(
    path: Path,
    points: Sequence[_Point],
    laps: Sequence[Lap],
    wanted: Wanted,
    units: Mapping[str, str],
    notes: tuple[str, ...] = (),
) -> Recording:
    stamps = [stamp_of(one.at.time) for one in points]
    timed = np.array([np.nan if one is None else one for one in stamps], dtype=float)
    kept, more = _rising(path, timed)
    picked = [points[row] for row in kept]
    first = picked[0].at.time
    offset = first.utcoffset() if first else None
    names = tuple(dict.fromkeys(name for one in picked for name in one.values))

    def column(spellings: Iterable[str]) -> FloatArray | None:
        found = [
            next((one.values[name] for name in spellings if name in one.values), np.nan)
            for one in picked
        ]
        return _filled(np.array(found, dtype=float))

    def sensor(flag: str, name: str | None, kind: Kind, default: str) -> FloatArray | None:
        if name is None:
            return None
        values = column([_known(path, flag, name, names)])
        unit = units.get(name.lower()) or default
        return None if values is None else _in_si(path, name, unit, kind)(values)

    def place(name: str) -> FloatArray | None:
        given = [getattr(one.at, name) for one in picked]
        return _filled(np.array(given, dtype=float))

    return Recording(
        source=str(path),
        time=timed[kept],
        has_clock=True,
        ahead=offset.total_seconds() if offset else 0.0,
        **{name: column(spellings) for name, spellings in SPELLINGS.items()},
        **{name: place(name) for name in ("elevation", "latitude", "longitude")},
        air_speed=sensor("--air-speed", wanted.air_speed, SPEED, "m/s"),
        yaw=sensor("--yaw", wanted.yaw, ANGLE, "deg"),
        laps=tuple(laps),
        columns=names,
        notes=notes + more,
    )


def _filled(values: FloatArray) -> FloatArray | None:
    values = np.where(np.isfinite(values), values, np.nan)
    return None if np.all(np.isnan(values)) else values


def _known(path: Path, flag: str, name: str, names: Sequence[str]) -> str:
    if name.lower() not in names:
        held = ", ".join(names) or "no numbers"
        raise InputError(f"{path}, {flag}", f"it has no field {in_quotes(name)}", f"it has {held}")
    return name.lower()


def _in_si(path: Path, name: str, unit: str, kind: Kind) -> Callable[[FloatArray], FloatArray]:
    try:
        return unit_scale(unit, kind)
    except QuantityError as error:
        raise InputError(f"{path}, field {name}", error.problem, error.remedy) from error


def _rising(path: Path, time: FloatArray) -> tuple[np.ndarray[Any, Any], tuple[str, ...]]:
    """Rows whose time is later than all before, and what is said of the others."""
    known = np.flatnonzero(np.isfinite(time))
    if len(known) < 2:
        problem = "fewer than two of its points have a time"
        raise InputError(str(path), problem, "a recording needs the time of each point")
    so_far = np.maximum.accumulate(np.concatenate(([-np.inf], time[known][:-1])))
    kept = known[time[known] > so_far]
    lost = len(time) - len(kept)
    said = f"{lost} points whose time is missing or not after the point before are left out."
    return kept, ((said,) if lost else ())


# --- Readers, one a format -----------------------------------------------------------------------


def _fit(path: Path, wanted: Wanted) -> Recording:
    names = ("record", "lap", "session")
    offer = "" if wanted.damaged is None else ", or add --damaged to read what is in it"
    messages, lacks = fit_messages(path, *names, damaged=bool(wanted.damaged), offer=offer)
    records, session, notes = fit_part(messages)
    sensors = [name.lower() for name in (wanted.air_speed, wanted.yaw) if name]
    points, units = [], dict[str, str]()
    for one in records:
        values = {
            name: value for name, value in one.numbers.items() if name in _READ or name in sensors
        }
        if sensors:
            units |= one.units
        points.append(_Point(one.point, values))
    laps = [*_fit_laps([one for one in messages if one.name == "lap"])]
    if session and sum(one.name == "session" for one in messages) > 1:
        begin, end = session.span
        laps = [one for one in laps if begin <= (one.start + one.end) / 2 <= end]
    return _recording(path, points, laps, wanted, units, lacks + notes)


_READ = frozenset(name for names in SPELLINGS.values() for name in names)


def _fit_laps(messages: Iterable[FitMessage]) -> Iterator[Lap]:
    """Laps from their start and their length, as their own stamp may be minutes off.

    Starts are whole seconds, lengths are not: a lap begins where the one before ended, if near.
    """
    end = -np.inf
    for one in messages:
        start, length = stamp_of(one.time("start_time")), one.numbers.get("total_elapsed_time")
        if start is None or length is None:
            continue
        begin = end if abs(start - end) <= 1.0 else start
        end = begin + length
        yield Lap(begin, end)


def _tcx(path: Path, wanted: Wanted) -> Recording:
    root = read_xml(path)
    activities = root.findall(".//{*}Activity")
    parts = tcx_parts(activities)
    part, notes = part_of(parts, "activities")
    if part is None:
        raise InputError(str(path), "the file holds no recorded activity", "export the ride")
    points = [
        _Point(tcx_point(one, f"{path}, point {number}"), _numbers_in(one))
        for number, one in enumerate(part.points, 1)
    ]
    laps = []
    for one in activities[parts.index(part)].findall(".//{*}Lap"):
        started, length = one.get("StartTime"), one.findtext("{*}TotalTimeSeconds")
        try:
            start = stamp_of(datetime.fromisoformat(started or ""))
            laps.append(Lap(start or 0.0, (start or 0.0) + float(length or "")))
        except ValueError as error:
            problem = "a lap of it has no start or no length that can be read"
            raise InputError(str(path), problem, "export it again") from error
    return _recording(path, points, laps, wanted, {}, notes)


def _numbers_in(element: Element) -> dict[str, float]:
    """All that has a number in an element, by its name without the namespace."""
    found: dict[str, float] = {}
    for one in element.iter():
        try:
            found.setdefault(str(one.tag).rpartition("}")[2].lower(), float(one.text or ""))
        except ValueError:
            continue
    return found


def _gpx(path: Path, wanted: Wanted) -> Recording:
    part, notes = part_of(gpx_parts(gpx_root(path), *TRACK), "tracks")
    if part is None:
        raise InputError(str(path), "the file holds no track", "export the ride as a track")
    points = []
    for number, one in enumerate(part.points, 1):
        values: dict[str, float] = {}
        # Speed is a field of its own in GPX 1.0 alone.
        for more in (*one.findall("{*}speed"), *one.findall("{*}extensions")):
            values |= _numbers_in(more)
        points.append(_Point(gpx_point(one, f"{path}, point {number}"), values))
    return _recording(path, points, (), wanted, {}, notes)


KINDS: Mapping[str, Kind] = {
    "power": POWER,
    "speed": SPEED,
    "distance": LENGTH,
    "elevation": LENGTH,
    "latitude": ANGLE,
    "longitude": ANGLE,
}
"""Kinds of the columns of a CSV recording; cadence is per minute."""


def _csv(path: Path, wanted: Wanted) -> Recording:
    table = read_table(path)
    time, ahead = _csv_times(table)
    kept, notes = _rising(path, time)
    names = tuple(one.name for one in table.columns)

    def column(name: str, kind: Kind) -> FloatArray | None:
        if not table.has(name):
            return None
        return _filled(table.numbers(name, kind, gaps=True)[kept])

    def sensor(flag: str, name: str | None, kind: Kind) -> FloatArray | None:
        return None if name is None else column(_known(path, flag, name, names), kind)

    columns = {name: column(name, kind) for name, kind in KINDS.items()}
    for name in ("latitude", "longitude"):
        angle = columns[name]
        columns[name] = None if angle is None else np.degrees(angle)
    has_rate = table.has("cadence")
    return Recording(
        source=str(path),
        time=time[kept],
        has_clock=ahead is not None,
        ahead=ahead or 0.0,
        **columns,
        cadence=_filled(_plain_numbers(table, "cadence")[kept]) if has_rate else None,
        air_speed=sensor("--air-speed", wanted.air_speed, SPEED),
        yaw=sensor("--yaw", wanted.yaw, ANGLE),
        laps=_csv_laps(table, kept, time) if table.has("lap") else (),
        columns=names,
        notes=notes,
    )


def _plain_numbers(table: CsvTable, name: str) -> FloatArray:
    """A column of numbers, its unit taken as it is."""
    try:
        return np.array([float(cell) if cell else np.nan for cell in table.texts(name)])
    except ValueError as error:
        problem = f"a cell of the column '{name}' is not a number"
        raise InputError(table.source, problem, "write plain numbers") from error


def _csv_times(table: CsvTable) -> tuple[FloatArray, float | None]:
    """Times of the rows [s], and how far their clock is ahead; None without a time of day."""
    if table.column("time").unit:
        remedy = "write seconds or minutes and seconds since the start"
        return np.array(table.clock_times("time", remedy, lambda _: None), dtype=float), None
    texts, remedy = table.texts("time"), "write date and time, as 2026-05-03T06:00:01Z"
    seconds = np.full(len(texts), np.nan)
    for row, text in enumerate(texts):
        try:
            seconds[row] = clock_seconds(text)
        except ValueError as error:
            remedy = f"{remedy}, or 'time [s]' as the heading"
            raise table.wrong(row, "time", f"{in_quotes(text)} is no time", remedy) from error
    if seconds[0] < A_DAY:
        return seconds, 0.0
    offset = datetime.fromisoformat(texts[0]).utcoffset()
    return seconds, offset.total_seconds() if offset else 0.0


def _csv_laps(table: CsvTable, kept: np.ndarray[Any, Any], time: FloatArray) -> tuple[Lap, ...]:
    """Laps from a column that counts them: each ends at its last point."""
    counted = table.numbers("lap", RATIO)[kept]
    edges = np.flatnonzero(np.diff(counted)) + 1
    ends = [*(time[kept][edges - 1]), time[kept][-1]]
    return tuple(Lap(float(a), float(b)) for a, b in pairwise([float(time[kept][0]), *ends]))


READERS: Mapping[str, Callable[[Path, Wanted], Recording]] = {
    ".fit": _fit,
    ".tcx": _tcx,
    ".gpx": _gpx,
    ".csv": _csv,
}
"""Reader for each file name ending, in small letters."""


def read_recording(path: Path, wanted: Wanted | None = None) -> Recording:
    """Read a ride with its power and speed."""
    found = reader_of(path, READERS, "a recording")(path, wanted or Wanted())
    _refuse_without(found)
    return found


def _refuse_without(one: Recording) -> None:
    """Refuse a recording that cannot be measured, with what is missing."""
    held = f"its fields are: {', '.join(one.columns) or 'none'}"
    if one.power is None:
        raise InputError(one.source, "it has no power", held)
    if not np.any(np.nan_to_num(one.power) > 0):
        raise InputError(one.source, "its power is 0 throughout", "was a power meter paired?")
    if one.speed is None and one.distance is None and one.latitude is None:
        raise InputError(one.source, "it has neither speed, distance nor positions", held)
