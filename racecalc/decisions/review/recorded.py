"""A ride as a device recorded it, placed along the course of a race and cut into splits."""

from dataclasses import dataclass

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.decisions.measuring.signals import GAP, Signals, signals_of
from racecalc.domain.course import Course
from racecalc.domain.race import Race
from racecalc.domain.surveying.cleaning import to_plane
from racecalc.errors import InputError
from racecalc.files.recordings import Recording
from racecalc.files.table_kinds import RiddenTable
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

    Raises
    ------
    InputError
        If it is no ride of the whole course or of its beginning without a stop.
    """
    ride = signals_of(recording)
    placed = _placed(ride, race.course)
    _refuse_stops(ride, placed)
    ends = _ends(race.course.length, placed.place[-1])
    limits = np.concatenate(([0.0], ends))
    # Places must rise for their times to be looked up.
    rising = np.maximum.accumulate(placed.place) + 1e-6 * np.arange(len(placed.place))
    times = np.interp(limits, rising, placed.time)
    work, seconds = np.diff(ride.at(times, ride.work)), np.diff(times)
    missing = np.concatenate(([0.0], np.cumsum(ride.lost[1:] * np.diff(ride.time))))
    lost = np.diff(ride.at(times, missing))
    if np.any(lost > MOST_LOST * seconds):
        row = int(np.argmax(lost / seconds))
        problem = (
            f"power or speed is missing for {lost[row]:.0f} s from km {limits[row] / 1000:.1f} to"
            f" {limits[row + 1] / 1000:.1f}"
        )
        raise InputError(recording.source, problem, "give splits in a table, without the power")
    return RiddenTable(
        printable(recording.source),
        tuple(range(1, len(ends) + 1)),
        ends,
        times[1:] - times[0],
        work / seconds,
        READ_TO,
        recorded=True,
        notes=tuple(_notes(ride, placed, race)),
    )


@dataclass(frozen=True)
class _Placed:
    """Where the ride is along the course, from its start on; each of shape (n,)."""

    time: FloatArray
    """[s]."""
    place: FloatArray
    """[m]."""


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
    """The course as places on a plane."""

    distance: FloatArray
    """Along it [m]; shape (n,)."""
    points: FloatArray
    """[m]; shape (n, 2)."""

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


# --- What is refused and said --------------------------------------------------------------------


def _refuse_stops(ride: Signals, placed: _Placed) -> None:
    steps, way = np.diff(placed.time), np.diff(placed.place)
    speed = np.interp(placed.time[1:], ride.time, ride.speed)
    stood = np.where(steps > GAP, way < 2.0 * STANDING * steps, speed < STANDING)
    stood &= placed.place[1:] > AT_START
    stood &= placed.place[1:] < placed.place[-1] - AT_START
    seconds = float(np.sum(steps[stood]))
    if seconds > LONGEST_STAND:
        where = placed.place[1:][stood][0] / 1000
        problem = f"the rider stands for {seconds:.0f} s, first at km {where:.1f}"
        remedy = "a stop is in no plan: review a ride without one"
        raise InputError(ride.recording.source, problem, remedy)


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
