"""A ride as a device recorded it, placed along the course of a race and cut into splits."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from racecalc.arrays import FloatArray
from racecalc.decisions import riding
from racecalc.decisions.measuring.signals import GAP, Signals, signals_of
from racecalc.domain.course import Course
from racecalc.domain.race import Race
from racecalc.domain.surveying.cleaning import to_plane
from racecalc.errors import InputError
from racecalc.files.recordings import Recording
from racecalc.files.table_kinds import RiddenTable
from racecalc.motion.solver import Solution
from racecalc.quantities.clock import show_duration
from racecalc.quantities.measured import printable

NEAR = 60.0
"""How far from the course a position may be [m]; our choice: satellites are off by ten metres, and
under trees by several tens."""

ASTRAY = 30.0
"""Time off the course after which the ride has left it [s]; our choice."""

GRID = 5.0
"""Distance between the places of the course that positions are compared with [m]."""

AHEAD, BEHIND = 20.0, 10.0
"""How much farther than was ridden, and how far back, the next place is looked for [m]."""

STANDING, LONGEST_STAND = 1.0, 5.0
"""Speed below which a rider stands [m/s], and for how long none does in a race [s]; our choice."""

REGAINED, BRAKING, GETTING_UP = 0.97, 100.0, 500.0
"""Share of the usual speed that is lost before and regained after a stop, and within what way
before and after it at most [m]; our choice."""

USUAL_WAY, USUAL_TIME = 1500.0, 60.0
"""Way [m] and time [s] on either side of a stop that tell the usual speed and power; our choice."""

WANDER = 5.0
"""Time before and after a point over which positions tell a speed [s]; our choice."""

MOST_BRIDGED = 0.4
"""Share of a split that stops may take; our choice."""

AT_START = 30.0
"""Way from the start on which a standing start is no stop [m]."""

SPLIT_LENGTH, FEWEST, MOST = 2000.0, 8, 20
"""Length of a split [m], and how many there are at least and at most; our choice."""

READ_TO = 2.0
"""Step of a clock that tells no better when a place was passed [s]: a position errs by some five
metres, and the power changes within a split; our choice."""

UNLIKE = 0.03
"""Share by which a ride without positions may be longer or shorter than the course; our choice."""

MOST_LOST = 0.1
"""Share of a split's time that power or speed may be missing; our choice."""

OTHERWISE = "was it begun late, or is it a ride of another course?"

FAST_START = 2.0
"""Difference of start speeds from which it is said [m/s]."""


def splits_of(recording: Recording, race: Race) -> RiddenTable:
    """Cut a ride into splits of equal length along the course.

    Raises `InputError` if it is no ride of the whole course or of its beginning, or stops leave too
    little of it.
    """
    ride = signals_of(recording)
    with_stops = _way(ride, _placed(ride, race.course))
    stops, way = _without_stops(ride, with_stops, race)
    ends = _ends(race.course.length, way.place[-1])
    limits = np.concatenate(([0.0], ends))
    _refuse_stops(recording.source, stops, limits)
    # Places must rise for their times to be looked up.
    rising = way.place + 1e-6 * np.arange(len(way.place))
    times, work, lost = (np.interp(limits, rising, one) for one in (way.time, way.work, way.lost))
    seconds = np.diff(times)
    _refuse_loss(recording.source, limits, np.diff(lost), seconds)
    return RiddenTable(
        printable(recording.source),
        tuple(range(1, len(ends) + 1)),
        ends,
        times[1:] - times[0],
        np.diff(work) / seconds,
        READ_TO,
        recorded=True,
        stopped=float(with_stops.time[-1] - way.time[-1]),
        notes=(*_notes(ride, with_stops, race), *_told(stops)),
    )


@dataclass(frozen=True)
class _Placed:
    """When [s] and where [m] the ride is along the course, from its start on; shape (n,)."""

    time: FloatArray
    place: FloatArray


@dataclass(frozen=True)
class _Way(_Placed):
    """With what was summed up to each point."""

    work: FloatArray
    lost: FloatArray
    """Work at the meter [J], and time without power or speed [s]."""


def _way(ride: Signals, placed: _Placed) -> _Way:
    """At every point of the ride, also those without a position."""
    begin, end = placed.time[[0, -1]]
    inside = ride.time[(ride.time > begin) & (ride.time < end)]
    time = np.concatenate(([begin], inside, [end]))
    missing = np.concatenate(([0.0], np.cumsum(ride.lost[1:] * np.diff(ride.time))))
    sums = (ride.at(time, one) for one in (ride.work, missing))
    place = np.maximum.accumulate(np.interp(time, placed.time, placed.place))
    return _Way(time, place, *sums)


def _ends(length: float, ridden: float) -> FloatArray:
    """Ends of splits of equal length, up to where the ride goes [m]."""
    count = int(np.clip(round(length / SPLIT_LENGTH), FEWEST, MOST))
    ends = np.linspace(0.0, length, count + 1)[1:]
    return ends[ends <= ridden + 0.5 * NEAR]


def _placed(ride: Signals, course: Course) -> _Placed:
    one = ride.recording
    if course.positions is None or one.latitude is None or one.longitude is None:
        placed = _by_distance(ride, course)
    else:
        placed = _by_position(ride, course)
    source, ridden = one.source, float(placed.place[-1])
    if len(_ends(course.length, ridden)) < 2:
        ridden = max(ridden, 0.0) / 1000
        problem = f"from the start on it goes {ridden:.1f} km along the course, too little"
        raise InputError(source, problem, OTHERWISE)
    return placed


# --- By distance alone ---------------------------------------------------------------------------


def _by_distance(ride: Signals, course: Course) -> _Placed:
    """Without positions: the whole ride is the course, its length that of the course."""
    way = ride.distance if ride.recording.distance is None else ride.recording.distance
    way = np.interp(ride.time, ride.time[np.isfinite(way)], way[np.isfinite(way)])
    moving = np.flatnonzero(ride.speed >= STANDING)
    if not len(moving):
        raise InputError(ride.recording.source, "the rider never moves", "check its speed")
    inside = slice(max(int(moving[0]) - 1, 0), int(moving[-1]) + 1)
    way = way[inside] - way[inside][0]
    if abs(way[-1] / course.length - 1.0) > UNLIKE:
        problem = (
            f"it is {way[-1] / 1000:.2f} km long and the course {course.length / 1000:.2f} km,"
            " and without positions in both the start cannot be found"
        )
        raise InputError(ride.recording.source, problem, "cut the recording to the race")
    return _Placed(ride.time[inside], way * course.length / way[-1])


# --- By position ---------------------------------------------------------------------------------


def _by_position(ride: Signals, course: Course) -> _Placed:
    """The fastest of the rides from the start on that go farthest."""
    line, points = _on_a_plane(ride, course)
    begin = np.hypot(*(points - line.points[0]).T)
    found = [line.followed(ride, points, first) for first in _passes(ride, begin)]
    if not found:
        nearest = float(np.nanmin(begin))
        problem = f"it comes no nearer than {nearest:.0f} m to the start of the course"
        raise InputError(ride.recording.source, problem, OTHERWISE)
    farthest = max(one.place[-1] for one, _ in found)
    far = [pair for pair in found if pair[0].place[-1] > farthest - NEAR]
    best, astray = min(far, key=lambda pair: pair[0].time[-1] - pair[0].time[0])
    if astray:
        problem = f"it leaves the course at km {best.place[-1] / 1000:.1f}"
        raise InputError(ride.recording.source, problem, "is it the ride of this race?")
    return best


def _on_a_plane(ride: Signals, course: Course) -> tuple["_Line", FloatArray]:
    """The course and the points of the ride on one plane; points without a position are NaN."""
    north, east = ride.recording.latitude, ride.recording.longitude
    count = max(round(course.length / GRID), 2)
    distance = np.linspace(0.0, course.length, count + 1)
    places = course.positions_at(distance)
    if places is None or north is None or east is None:
        raise TypeError("positions are missing")
    known = np.isfinite(north) & np.isfinite(east)
    plane = to_plane(
        np.concatenate([places.latitude, north[known]]),
        np.concatenate([places.longitude, east[known]]),
    )
    points = np.full((len(north), 2), np.nan)
    points[known] = plane[count + 1 :]
    return _Line(distance, plane[: count + 1]), points


def _passes(ride: Signals, begin: FloatArray) -> list[int]:
    """The point nearest to the start, each time that the ride comes to it."""
    near = np.flatnonzero(begin <= NEAR)
    if not len(near):
        return []
    apart = np.flatnonzero((np.diff(near) > 1) & (np.diff(ride.time[near]) > ASTRAY))
    return [int(part[np.argmin(begin[part])]) for part in np.split(near, apart + 1)]


@dataclass(frozen=True)
class _Line:
    """The course as points on a plane [m], shape (n, 2), and how far along they are, shape (n,)."""

    distance: FloatArray
    points: FloatArray

    def followed(self, ride: Signals, points: FloatArray, first: int) -> tuple[_Placed, bool]:
        """Where the ride is from a point near the start on, and whether it leaves the course."""
        step, last = self.distance[1], len(self.distance) - 1
        at, seen, rows, places = 0, first, [], []
        astray = False
        for row in range(first, len(points)):
            if np.isnan(points[row, 0]):
                continue
            moved = 1.2 * (ride.distance[row] - ride.distance[seen])
            low = max(at - int(BEHIND / step), 0)
            high = min(at + int((moved + AHEAD) / step) + 2, last + 1)
            away = np.hypot(*(self.points[low:high] - points[row]).T)
            nearest = int(np.argmin(away))
            if away[nearest] > NEAR:
                astray = ride.time[row] - ride.time[seen] > ASTRAY
                if astray:
                    break
                continue
            at, seen = low + nearest, row
            rows.append(row)
            places.append(self._place(at, points[row]))
            if places[-1] >= self.distance[-1]:
                break
        time, place = ride.time[rows], np.array(places)
        standing = np.flatnonzero((ride.speed[rows] < STANDING) & (place < AT_START))
        begin = int(standing[-1]) if len(standing) else 0
        time, place = time[begin:], place[begin:]
        if not len(standing):
            # Passed at speed, the start lies a little before or after the nearest point.
            time[0] -= place[0] / max(float(ride.speed[rows[0]]), STANDING)
        return _Placed(time, np.concatenate(([0.0], place[1:]))), astray

    def _place(self, at: int, point: FloatArray) -> float:
        """Distance along the course of the foot of a point next to a place of the line."""
        low, high = max(at - 1, 0), min(at + 1, len(self.distance) - 1)
        way = self.points[high] - self.points[low]
        length = float(np.hypot(*way))
        along = float((point - self.points[at]) @ way) / length if length else 0.0
        return float(self.distance[at]) + along


# --- Stops ---------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Stop:
    """A stretch on which the rider brakes, stands and gets back to speed."""

    first: int
    last: int
    """Points of the ride along the course at which it begins and ends."""
    begin: float
    end: float
    """The same along the course [m]."""
    place: float
    """Where the rider stood longest [m]."""
    stood: float
    """How long in all [s]."""
    usual: float
    """Speed of the road next to it over that of the race as planned."""

    def with_next(self, other: "_Stop") -> "_Stop":
        """Both as one, where the rider was not back to speed between them."""
        longer = self if self.stood >= other.stood else other
        last, end = max(self.last, other.last), max(self.end, other.end)
        stood = self.stood + other.stood
        return replace(longer, first=self.first, last=last, begin=self.begin, end=end, stood=stood)


def _without_stops(ride: Signals, way: _Way, race: Race) -> tuple[list[_Stop], _Way]:
    """Where the rider stood, and the way without that; none where no longer than any racer does."""
    steps, moved = np.diff(way.time), np.diff(way.place)
    speed = _speed(ride, way)
    stood = np.where(steps > GAP, moved < 2.0 * STANDING * steps, speed[1:] < STANDING)
    stood &= way.place[1:] > AT_START
    stood &= way.place[1:] < way.place[-1] - AT_START
    if float(np.sum(steps[stood])) <= LONGEST_STAND:
        return [], way
    solution = riding.ride(race).solution
    rows = np.flatnonzero(stood)
    found: list[_Stop] = []
    for part in np.split(rows, np.flatnonzero(np.diff(rows) > 1) + 1):
        one = _stop(way, speed, part, solution)
        if found and one.first <= found[-1].last:
            one = found.pop().with_next(one)
        found.append(one)
    for one in reversed(found):
        way = _moving(way, one, solution)
    return found, way


def _speed(ride: Signals, way: _Way) -> FloatArray:
    """At each point [m/s]; where it is that of positions, which wander, over some seconds."""
    if ride.speed_from != "positions":
        return ride.at(way.time, ride.speed)
    ends = (way.time + by for by in (-WANDER, WANDER))
    before, after = (np.interp(one, way.time, way.place) for one in ends)
    return np.asarray((after - before) / (2.0 * WANDER))


def _stop(way: _Way, speed: FloatArray, stood: NDArray[np.intp], solution: Solution) -> _Stop:
    """The stretch about the steps on which the rider stood."""
    at = float(way.place[stood[0] + 1])
    planned = np.interp(way.place, solution.ride.nodes, solution.speed)
    near = (np.abs(way.place - at) < USUAL_WAY) & (speed >= STANDING)
    usual = float(np.median(speed[near] / planned[near]))
    fast = speed >= REGAINED * usual * planned
    before = np.flatnonzero((fast | (way.place < at - BRAKING))[: stood[0] + 1])
    after = np.flatnonzero((fast | (way.place > at + GETTING_UP))[stood[-1] + 1 :])
    first = int(before[-1]) if len(before) else 0
    last = int(stood[-1] + 1 + after[0]) if len(after) else len(fast) - 1
    seconds = float(np.sum(np.diff(way.time)[stood]))
    begin, end = float(way.place[first]), float(way.place[last])
    return _Stop(first, last, begin, end, at, seconds, usual)


def _moving(way: _Way, stop: _Stop, solution: Solution) -> _Way:
    """As if there had been no stop: at the usual speed and power of the road next to it."""
    place = np.linspace(0.0, stop.end - stop.begin, int((stop.end - stop.begin) / GRID) + 2)
    speed = stop.usual * np.interp(stop.begin + place, solution.ride.nodes, solution.speed)
    steps = 0.5 * (1.0 / speed[1:] + 1.0 / speed[:-1]) * np.diff(place)
    time = np.append(0.0, np.cumsum(steps))
    inside = time, place, _usual_power(way, stop) * time, 0.0 * time
    columns = (way.time, way.place, way.work, way.lost)
    return _Way(*(_put_in(stop, *pair) for pair in zip(columns, inside, strict=True)))


def _usual_power(way: _Way, stop: _Stop) -> float:
    """Mean power before and after a stop [W]."""
    begin, end = way.time[[stop.first, stop.last]]
    ends = np.array([begin - USUAL_TIME, begin, end, end + USUAL_TIME])
    ends = np.clip(ends, way.time[0], way.time[-1])
    work, seconds = np.diff(np.interp(ends, way.time, way.work)), np.diff(ends)
    return float((work[0] + work[2]) / (seconds[0] + seconds[2]))


def _put_in(stop: _Stop, column: FloatArray, inside: FloatArray) -> FloatArray:
    """A running sum with another course of it on the stretch of a stop."""
    before, after = column[: stop.first], column[stop.last + 1 :]
    begin = column[stop.first]
    return np.concatenate([before, begin + inside, after - column[stop.last] + begin + inside[-1]])


# --- What is refused and said --------------------------------------------------------------------


def _refuse_loss(source: str, limits: FloatArray, lost: FloatArray, seconds: FloatArray) -> None:
    if not np.any(lost > MOST_LOST * seconds):
        return
    row = int(np.argmax(lost / seconds))
    problem = (
        f"power or speed is missing for {lost[row]:.0f} s from km {limits[row] / 1000:.1f} to"
        f" {limits[row + 1] / 1000:.1f}"
    )
    raise InputError(source, problem, "give splits in a table, without the power")


def _refuse_stops(source: str, stops: Sequence[_Stop], limits: FloatArray) -> None:
    """Refuse a split of which stops leave too little."""
    for begin, end in pairwise(limits.tolist()):
        own = [(max(one.begin, begin), min(one.end, end)) for one in stops]
        bridged = sum(max(last - first, 0.0) for first, last in own)
        if bridged > MOST_BRIDGED * (end - begin):
            problem = (
                f"from km {begin / 1000:.1f} to {end / 1000:.1f} stops, with braking and getting"
                f" back to speed, take {bridged:.0f} m, which leaves too little to review"
            )
            raise InputError(source, problem, "review a ride with fewer stops")


def _told(stops: Sequence[_Stop]) -> Iterator[str]:
    if stops:
        longest = max(stops, key=lambda one: one.stood)
        stood = show_duration(sum(one.stood for one in stops))
        where = f"at km {longest.place / 1000:.1f}"
        if len(stops) > 1:
            where = f"in {len(stops)} places, longest {where} ({show_duration(longest.stood)})"
        yield (
            f"The rider stood for {stood} {where}. That is taken out, with what braking and getting"
            " back to speed cost."
        )


def _notes(ride: Signals, placed: _Placed, race: Race) -> list[str]:
    """What was left out, and what does not fit the race file."""
    before, said = placed.time[0] - ride.time[0], []
    if before >= 1.0:
        said.append(f"The first {show_duration(before)} of the recording are before the start.")
    passed = float(np.interp(placed.time[0], ride.time, ride.speed))
    if abs(passed - race.bike.start_speed) > FAST_START:
        said.append(
            f"The ride passes the start at {3.6 * passed:.0f} km/h, the race file at"
            f' {3.6 * race.bike.start_speed:.0f}: try --set bike.start_speed="{3.6 * passed:.0f}'
            ' km/h".'
        )
    return [*ride.recording.notes, *said]
