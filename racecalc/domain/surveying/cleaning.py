"""Recorded points made into a road: pauses, jumps and gaps, distances on the ellipsoid.

References
----------
.. [1] Karney CFF. Algorithms for geodesics. J Geod 2013;87:43-55. doi:10.1007/s00190-012-0578-z
   (the method inside pyproj.Geod).
"""

import math
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from racecalc.arrays import FloatArray
from racecalc.domain.course import CourseReport, PointGap, Positions
from racecalc.domain.surveying.smoothing import smooth_line
from racecalc.errors import InputError
from racecalc.files.tracks import Track

# --- Positions on the globe ----------------------------------------------------------------------

EARTH_RADIUS = 6371008.8
"""Mean radius of the Earth [m], IUGG; for the plane only, lengths are geodesic."""

ARM = 10.0
"""Length of road to either side of a point over which its bend is measured [m]."""

CORNER = math.radians(60.0)
"""Turn at one point that is a corner even where points are sparse [rad]."""


def geodesic_steps(latitude: FloatArray, longitude: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Length and bearing of the geodesic from each point to the next on WGS84 [1]_.

    Examples
    --------
    >>> length, bearing = geodesic_steps(np.array([0.0, 1.0]), np.array([0.0, 0.0]))
    >>> round(float(length[0])), float(bearing[0])
    (110574, 0.0)
    """
    from pyproj import Geod

    azimuth, _, length = Geod(ellps="WGS84").inv(
        longitude[:-1], latitude[:-1], longitude[1:], latitude[1:]
    )
    return np.asarray(length), np.radians(np.mod(azimuth, 360.0))


def _metres_per_degree(latitude: FloatArray) -> tuple[float, float]:
    north = math.radians(EARTH_RADIUS)
    return max(north * math.cos(math.radians(float(np.median(latitude)))), 1.0), north


def to_plane(latitude: FloatArray, longitude: FloatArray) -> FloatArray:
    """Lay positions on a plane that is true at their median latitude."""
    east, north = _metres_per_degree(latitude)
    return np.column_stack([np.unwrap(longitude, period=360.0) * east, latitude * north])


def from_plane(plane: FloatArray, latitude: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Turn plane coordinates back into positions."""
    east, north = _metres_per_degree(latitude)
    return np.clip(plane[:, 1] / north, -90.0, 90.0), plane[:, 0] / east


def along(distance: FloatArray, plane: FloatArray, at: FloatArray) -> FloatArray:
    """Places on a line at given distances along it."""
    return np.column_stack([np.interp(at, distance, plane[:, k]) for k in (0, 1)])


def turn_between(first: FloatArray, second: FloatArray) -> FloatArray:
    """Angle between two directions of travel, 0 to pi [rad], any shape."""
    return np.abs(np.mod(second - first + np.pi, 2.0 * np.pi) - np.pi)


def radius_of_turn(arm: FloatArray, turn: FloatArray) -> FloatArray:
    """Radius of the circle on which two equal chords meet at an angle.

    A chord of length c spans the angle of the turn: sin(turn / 2) = c / (2 R), elementary
    geometry. Unlike the circle through three points it also holds for a full turn back.
    """
    sine = np.sin(turn / 2.0)
    bent = (sine > 1e-6) & (arm > 0.0)
    return np.where(bent, arm / np.where(bent, 2.0 * sine, 1.0), np.inf)


def bend_radius(distance: FloatArray, plane: FloatArray) -> FloatArray:
    """Radius of the road at each point, from the chords to the road `ARM` before and after.

    Where points are farther apart than that, the chords reach to the nearer neighbour, so that a
    long bend drawn with few points keeps its radius; but a turn of more than `CORNER` at one
    point is a corner, with chords of `ARM`.
    """
    radius = np.full(len(distance), np.inf)
    here, step = distance[1:-1], np.diff(distance)
    nearer = np.minimum(step[:-1], step[1:])
    bearing = np.arctan2(*np.diff(plane, axis=0).T)
    corner = turn_between(bearing[:-1], bearing[1:]) > CORNER
    reach = np.where(corner, ARM, np.maximum(ARM, nearer))
    to_here = plane[1:-1] - along(distance, plane, here - reach)
    from_here = along(distance, plane, here + reach) - plane[1:-1]
    arm = (np.hypot(*to_here.T) + np.hypot(*from_here.T)) / 2.0
    turn = turn_between(np.arctan2(*to_here.T), np.arctan2(*from_here.T))
    radius[1:-1] = radius_of_turn(arm, turn)
    return radius


# --- The points of a recording or route while they are being cleaned, and the report of it ------

Mask: TypeAlias = NDArray[np.bool_]

FASTEST = 40.0
"""Speed that no rider reaches [m/s]."""


@dataclass(frozen=True)
class Points:
    """Placed points of a track."""

    latitude: FloatArray
    longitude: FloatArray
    """Positions [deg], all finite; shape (n,)."""
    elevation: FloatArray
    """Height above sea level [m]; NaN where missing; shape (n,)."""
    time: FloatArray | None
    """Time [s], never going back; None where it cannot be used; shape (n,)."""
    counted: FloatArray
    """Distance that the device counted [m]; NaN where missing; shape (n,)."""

    def __len__(self) -> int:
        return len(self.latitude)

    @property
    def plane(self) -> FloatArray:
        """Metres east and north, shape (n, 2)."""
        return to_plane(self.latitude, self.longitude)

    def keep(self, mask: Mask) -> "Points":
        """Return the points where the mask is true."""
        time = None if self.time is None else self.time[mask]
        places = self.latitude[mask], self.longitude[mask]
        return Points(*places, self.elevation[mask], time, self.counted[mask])


def _usable_time(time: FloatArray, plane: FloatArray, report: CourseReport) -> FloatArray | None:
    known = np.isfinite(time)
    if np.count_nonzero(known) < 2:
        return None
    filled = np.interp(np.arange(len(time)), np.flatnonzero(known), time[known])
    if np.any(np.diff(filled) < 0):
        report.note("The times of the points go back, so they were not used.")
        return None
    steps = np.hypot(*np.diff(plane, axis=0).T)
    duration = float(filled[-1] - filled[0])
    if np.median(steps) * len(steps) > FASTEST * duration:
        report.note(
            f"The times of the points give {np.sum(steps) / 1000:.1f} km within {duration:.0f} s, "
            "so they were not used."
        )
        return None
    return filled


def column_or_missing(column: FloatArray | None, count: int) -> FloatArray:
    """Return the column, or as many NaN where the file has none."""
    return np.full(count, np.nan) if column is None else column


def placed_points(track: Track, report: CourseReport) -> Points:
    """Points of a track that have a position."""
    longitude = column_or_missing(track.longitude, 0)
    latitude = column_or_missing(track.latitude, len(longitude))
    nowhere = (latitude == 0.0) & (longitude == 0.0)
    placed = np.isfinite(latitude) & np.isfinite(longitude) & ~nowhere
    report.drop("no position", ~placed)
    elevation, counted = (
        column_or_missing(values, len(latitude))[placed]
        for values in (track.elevation, track.counted)
    )
    points = Points(latitude[placed], longitude[placed], elevation, None, counted)
    if track.time is None or len(points) < 2:
        return points
    return replace(points, time=_usable_time(track.time[placed], points.plane, report))


def far_enough(steps_from: FloatArray, least: float) -> Mask:
    """Mark points at least so far from the last one marked."""
    keep = np.zeros(len(steps_from), dtype=bool)
    keep[0] = True
    rows = steps_from.tolist()
    last = rows[0]
    for index, row in enumerate(rows):
        if sum((a - b) ** 2 for a, b in zip(row, last, strict=True)) >= least**2:
            keep[index] = True
            last = row
    return keep


# --- Take out of a recording what is not road ----------------------------------------------------

Indices: TypeAlias = NDArray[np.intp]

UNTIMED_JUMP = 500.0
"""Least step out and back that is a jump where times are missing [m]."""

A_MINUTE = 60.0
"""Coarsest step to which times are rounded [s]."""

STANDING_WINDOW = 10.0
"""Time over which standing still is looked for [s]."""

STANDING_REACH = 5.0
"""Distance within which a rider stands still over the window [m]: 0.5 m/s, and room for jitter."""

STEEPEST = 0.45
"""Grade that no road has; steeper ones up and down again are spikes of the elevation."""

LONGEST_EXCURSION = 5
"""Most points in a row that a jump or spike may hold."""


def excursions(
    count: int,
    leaves: Callable[[Indices, Indices], Mask],
    returns: Callable[[Indices, Indices], Mask],
) -> Mask:
    """Mark short runs of points that leave the line and come back to it."""
    marked = np.zeros(count, dtype=bool)
    for length in range(1, LONGEST_EXCURSION + 1):
        before = np.arange(max(count - length - 1, 0))
        after = before + length + 1
        starts = before[leaves(before, before + 1) & leaves(after - 1, after)]
        starts = starts[returns(starts, starts + length + 1)]
        free = starts[~marked[starts] & ~marked[starts + length + 1]]
        for offset in range(1, length + 1):
            marked[free + offset] = True
    return marked


def _apart(plane: FloatArray, first: Indices, second: Indices) -> FloatArray:
    return np.asarray(np.hypot(*(plane[second] - plane[first]).T))


def _tick(time: FloatArray) -> float:
    """Least time to be counted between points, whose times may be rounded [s]."""
    apart = np.diff(time)
    return max(1.0, float(np.min(apart[apart > 0.0], initial=A_MINUTE)))


def drop_jumps(points: Points, report: CourseReport) -> Points:
    """Drop points to which and from which the rider would have had to fly.

    With times, a step faster than `FASTEST` leaves the line; without, one that is both longer
    than `UNTIMED_JUMP` and than fifty usual steps, and the return must come to a tenth of that.
    """
    if len(points) < 3:
        return points
    plane, time = points.plane, points.time
    usual = float(np.median(np.hypot(*np.diff(plane, axis=0).T)))
    tick = 1.0 if time is None else _tick(time)

    def limit(first: Indices, second: Indices) -> FloatArray:
        if time is None:
            return np.full(len(first), max(UNTIMED_JUMP, 50.0 * usual))
        return FASTEST * np.maximum(time[second] - time[first], tick)

    nearness = 0.1 if time is None else 1.0
    jumps = excursions(
        len(points),
        lambda first, second: _apart(plane, first, second) > limit(first, second),
        lambda first, second: _apart(plane, first, second) <= nearness * limit(first, second),
    )
    report.drop("jump away from the road and back", jumps)
    return points.keep(~jumps)


LONG_STEP = 10.0
"""Usual steps from which a step at an end may be a jump, where the times make it one."""

ONLY_STEP = 20.0
"""Times the longest step of the road from which one at an end is a jump where times are missing."""

END_SHARE = 0.1
"""Most of the points that may be dropped at an end."""


def drop_false_ends(points: Points, report: CourseReport) -> Points:
    """Drop points before the start and after the finish from which the rider would have to fly.

    With times, the step to the road is faster than `FASTEST`, and so is the way to it from each
    point where these are more than `LONGEST_EXCURSION`: a receiver that hung is none. Without, the
    step is longer than `UNTIMED_JUMP`, than a hundred usual ones and than `ONLY_STEP` of the
    longest one of the road, and `LONGEST_EXCURSION` points are dropped at most.
    """
    most = int(END_SHARE * len(points))
    if not most:
        return points
    first = _false_start(points.plane, points.time, most)
    back = None if points.time is None else -points.time[::-1]
    last = _false_start(points.plane[::-1], back, most)
    if points.time is None and (first or last):
        ends = " and ".join(
            f"{dropped} at the {where}"
            for dropped, where in ((first, "start"), (last, "finish"))
            if dropped
        )
        report.warn(f"Points far from all others were dropped, {ends}: check both ends.")
    index = np.arange(len(points))
    false = (index < first) | (index >= len(points) - last)
    report.drop("jump away from the road at its start or finish", false)
    return points.keep(~false)


def _false_start(plane: FloatArray, time: FloatArray | None, most: int) -> int:
    """How many points lie before the start of the road."""
    steps = np.hypot(*np.diff(plane, axis=0).T)
    usual, few = float(np.median(steps)), min(LONGEST_EXCURSION, most)
    if time is None:
        longest = float(np.max(steps[few : len(steps) - few]))
        least = max(UNTIMED_JUMP, 100.0 * usual, ONLY_STEP * longest)
        flown = steps[:few] > least
        return int(np.max(np.flatnonzero(flown), initial=-1)) + 1
    tick = _tick(time)
    flown = steps > np.maximum(FASTEST * np.maximum(np.diff(time), tick), LONG_STEP * usual)
    for after in np.flatnonzero(flown[:most])[::-1] + 1:
        way = np.hypot(*(plane[:after] - plane[after]).T)
        far = way > FASTEST * np.maximum(time[after] - time[:after], tick)
        if after <= LONGEST_EXCURSION or np.all(far):
            return int(after)
    return 0


def _standing(plane: FloatArray, time: FloatArray) -> Mask:
    """Whether each point stays within reach over the window before it or after it."""
    stays = np.zeros(len(time), dtype=bool)
    for window in (-STANDING_WINDOW, STANDING_WINDOW):
        other = time + window
        moved = np.hypot(*(along(time, plane, other) - plane).T)
        stays |= (moved < STANDING_REACH) & (other >= time[0]) & (other <= time[-1])
    index = np.arange(len(time))
    before = np.maximum.accumulate(np.where(stays, index, 0))
    after = np.minimum.accumulate(np.where(stays, index, len(time) - 1)[::-1])[::-1]
    bridged = stays[before] & stays[after] & (time[after] - time[before] <= STANDING_WINDOW)
    return np.asarray(stays | bridged)


def collapse_pauses(points: Points, report: CourseReport) -> Points:
    """Keep one point of each stretch of time in which the rider stood still.

    Standing means staying within `STANDING_REACH` over `STANDING_WINDOW`, before or after; a
    turn at a cone is none, because both its sides move away. Where a stretch creeps farther
    than that reach, its last point is kept as well.
    """
    time = points.time
    if time is None or len(points) < 3 or time[-1] - time[0] < STANDING_WINDOW:
        return points
    plane = points.plane
    edges = np.diff(np.concatenate([[False], _standing(plane, time), [False]]).astype(int))
    starts, ends = np.flatnonzero(edges == 1), np.flatnonzero(edges == -1) - 1
    keep = np.ones(len(points), dtype=bool)
    for start, end in zip(starts, ends, strict=True):
        crept = np.hypot(*(plane[end] - plane[start])) > STANDING_REACH
        keep[start + 1 : end if crept else end + 1] = False
    lasting = (time[ends] - time[starts])[time[ends] - time[starts] >= STANDING_WINDOW / 2.0]
    report.pauses += len(lasting)
    report.paused_time += float(np.sum(lasting))
    report.drop("standing still", ~keep)
    road = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(plane[keep], axis=0).T))])
    return _bridged(points, starts, ends, road[np.cumsum(keep) - 1], report).keep(keep)


PAUSE_RISE = 3.0
PAUSE_GRADE = 0.15
"""Change of height during a pause that is none of the road [m], and more for each metre crept."""


def _bridged(
    points: Points, starts: Indices, ends: Indices, road: FloatArray, report: CourseReport
) -> Points:
    """Take what the height changed by while the rider stood still from all later heights.

    `road` is the distance along the road at each point [m], for the note.
    """
    change = points.elevation[ends] - points.elevation[starts]
    crept = _apart(points.plane, starts, ends)
    drifted = np.abs(change) > PAUSE_RISE + PAUSE_GRADE * crept
    if not np.any(drifted):
        return points
    change, starts = change[drifted], starts[drifted]
    later = np.zeros(len(points))
    np.add.at(later, starts + 1, change)
    most, count = float(np.max(np.abs(change))), len(change)
    report.note(
        f"The height changed by up to {most:.0f} m during {count} pause{'s' * (count > 1)}, first "
        f"at km {road[starts[0]] / 1000:.2f}; later heights were moved to bridge it."
    )
    return replace(points, elevation=points.elevation - np.cumsum(later))


def without_spikes(
    distance: FloatArray, elevation: FloatArray, noise: float, report: CourseReport
) -> FloatArray:
    """Elevations with short spikes replaced by the line across them.

    A spike is steeper than `STEEPEST` up and down again, or down and up, within
    `LONGEST_EXCURSION` points, and stands out by 2 m and by five times the noise.
    """
    least = max(2.0, 5.0 * noise)

    def beyond(first: Indices, second: Indices) -> Mask:
        run, rise = distance[second] - distance[first], elevation[second] - elevation[first]
        return np.asarray(np.abs(rise) > np.maximum(STEEPEST * run, least))

    spikes = excursions(len(distance), beyond, lambda first, second: ~beyond(first, second))
    count = int(np.count_nonzero(spikes))
    if not count or count > len(distance) - 2:
        return elevation
    first = distance[np.argmax(spikes)] / 1000.0
    report.note(
        f"Spikes of the elevation were removed, {count} in all, the first at km {first:.2f}."
    )
    return np.interp(distance, distance[~spikes], elevation[~spikes])


END_REACH = 300.0
"""Distance from the start or finish within which a step of the height is the device's [m]."""


def without_false_ends(
    distance: FloatArray, elevation: FloatArray, noise: float, report: CourseReport
) -> FloatArray:
    """Heights with steps near start and finish, where a device finds its height, taken out.

    A step is steeper than `STEEPEST` and more than 2 m and than five times the noise of a
    difference of two heights.
    """
    run, rise = np.diff(distance), np.diff(elevation)
    step = np.abs(rise) > np.maximum(STEEPEST * run, max(2.0, 5.0 * math.sqrt(2.0) * noise))
    reach = min(END_REACH, distance[-1] / 4.0)
    first = np.where(step & (distance[1:] <= reach), rise, 0.0)
    last = np.where(step & (distance[:-1] >= distance[-1] - reach), rise, 0.0)
    for where, steps in (("start", first), ("finish", last)):
        if np.any(steps):
            moved = abs(float(np.sum(steps)))
            report.note(f"A step of the height by {moved:.0f} m at the {where} was bridged.")
    before = np.append(np.cumsum(first[::-1])[::-1], 0.0)
    return np.asarray(elevation + before - np.append(0.0, np.cumsum(last)))


# --- The line of a course ------------------------------------------------------------------------

GAP = 200.0
"""Distance between points from which the report calls it a gap [m]."""

CLOSEST = 1.0
"""Least distance between points with positions [m]; nearer ones hold more error than road."""

CLOSEST_TYPED = 0.01
"""Least distance between points of a table, and between smoothed positions [m]."""


@dataclass(frozen=True)
class Road:
    """The line of a track before its elevations are looked at."""

    distance: FloatArray
    """Horizontal distance [m], or along the road where the file gives distances; shape (n,)."""
    elevation: FloatArray
    """As in the file [m]; NaN where missing; shape (n,)."""
    plane: FloatArray | None
    """Metres east and north; None where the file gives no positions; shape (n, 2)."""
    bearing: FloatArray
    """Direction of travel of each piece [rad]; NaN where not known; shape (n - 1,)."""

    pieces: dict[str, FloatArray] = field(default_factory=dict)
    """Further columns of the file, one value a piece; NaN where a cell was empty."""
    positions: Positions | None = None
    """Of the n points, cleaned as the plane is; None where the file gives none."""
    lost: FloatArray = field(default_factory=lambda: np.zeros(2))
    """Road that the device counted and no positions show [m]: before the first point, more than
    each piece that is a gap, and after the last point; shape (n + 1,), or (2,) for none."""


def _clean(track: Track, report: CourseReport) -> Points:
    points = placed_points(track, report)
    if len(points) >= 2:
        points = drop_false_ends(drop_jumps(points, report), report)
        points = collapse_pauses(points, report)
        apart = far_enough(points.plane, CLOSEST)
        report.drop("same place as the point before", ~apart)
        points = points.keep(apart)
    return _enough(track, points)


def _enough(track: Track, points: Points) -> Points:
    if len(points) < 2:
        problem = "all points are at one place once errors are dropped"
        raise InputError(track.source, problem, "export the course again")
    return points


def _straightened(points: Points, report: CourseReport) -> Points:
    """Positions without the jitter of the receiver."""
    plane = points.plane
    steps = np.hypot(*np.diff(plane, axis=0).T)
    smoothed, noise = smooth_line(np.concatenate([[0.0], np.cumsum(steps)]), plane)
    if noise == 0.0:
        return points
    latitude, longitude = from_plane(smoothed, points.latitude)
    before = float(np.sum(geodesic_steps(points.latitude, points.longitude)[0]))
    after = float(np.sum(geodesic_steps(latitude, longitude)[0]))
    report.note(
        f"Jitter of the positions from point to point, {noise:.2f} m, was smoothed away, "
        f"which took the length from {before / 1000:.3f} to {after / 1000:.3f} km."
    )
    return replace(points, latitude=latitude, longitude=longitude)


def placed_road(track: Track, report: CourseReport) -> Road:
    """Line of a track that gives positions."""
    points = _straightened(_clean(track, report), report)
    steps, _ = geodesic_steps(points.latitude, points.longitude)
    merged = np.append(False, steps <= CLOSEST_TYPED)
    report.drop("same place as the point before", merged)
    points = _enough(track, points.keep(~merged))
    steps, bearing = geodesic_steps(points.latitude, points.longitude)
    distance = np.concatenate([[0.0], np.cumsum(steps)])
    wide = np.flatnonzero(steps > GAP)
    report.gaps = tuple(PointGap(float(distance[one]), float(steps[one])) for one in wide)
    report.points_read = len(column_or_missing(track.latitude, 0))
    positions = Positions(points.latitude, np.unwrap(points.longitude, period=360.0))
    lost = _lost(track, points.counted, steps, report)
    return Road(distance, points.elevation, points.plane, bearing, positions=positions, lost=lost)


LEAST_LOST = 100.0
"""Road without positions that is worth telling [m]."""

COUNTED_APART = 0.02
"""Share by which the length that the device counted may differ untold."""


MOST_COUNTED = 5.0
"""Times the length of the road that no device counts, however much of it has no positions."""


def _lost(track: Track, counted: FloatArray, steps: FloatArray, report: CourseReport) -> FloatArray:
    """Road that the device counted and no positions show, as `Road.lost`."""
    known, lost, told = np.flatnonzero(np.isfinite(counted)), np.zeros(2), track.counted_total
    if track.counted is not None and len(known) >= 2:
        filled = np.interp(np.arange(len(counted)), known, counted[known])
        begin = float(np.nanmin(track.counted))
        total = max(float(np.nanmax(track.counted)), track.counted_total or 0.0)
        gaps = np.where(steps > GAP, np.diff(filled) - steps, 0.0)
        lost = np.concatenate([[filled[0] - begin], gaps, [total - filled[-1]]])
        lost[lost < LEAST_LOST] = 0.0
        told = total - begin - float(np.sum(lost))
    length = float(np.sum(steps))
    if most := _miscounted(track, length):
        report.warn(
            f"The device counted {most / 1000:.2f} km where its positions give "
            f"{length / 1000:.2f} km, which cannot be right: its distance was not used."
        )
        return np.zeros(2)
    if told and abs(told / length - 1.0) > COUNTED_APART:
        report.warn(
            f"The device counted {told / 1000:.2f} km where its positions give "
            f"{length / 1000:.2f} km: check official_length."
        )
    return lost


def _miscounted(track: Track, length: float) -> float:
    """Most that the device counted, if nobody rides that in the time or road [m]; else 0."""
    rows, total = len(column_or_missing(track.latitude, 0)), track.counted_total or 0.0
    counted = np.append(column_or_missing(track.counted, rows), total)
    counted -= np.nanmin(counted[:-1], initial=total)
    seconds = np.full(rows + 1, np.inf)
    if track.time is not None:
        last = float(np.nanmax(track.time))
        seconds = np.append(track.time, last) - np.nanmin(track.time)
    flown = counted > FASTEST * np.maximum(seconds, A_MINUTE)
    most = float(np.nanmax(counted))
    return most if np.any(flown) or most > MOST_COUNTED * length else 0.0


def measured_road(track: Track, report: CourseReport) -> Road:
    """Line of a track that gives distances."""
    distance = column_or_missing(track.distance, 0)
    report.points_read = len(distance)
    elevation = column_or_missing(track.elevation, len(distance))
    keep = far_enough(distance[:, None], CLOSEST_TYPED)
    report.drop("same place as the point before", ~keep)
    distance = distance[keep]
    if len(distance) < 2:
        raise InputError(track.source, "all points are at one place", "give their distances")
    if distance[0] != 0.0:
        report.note(f"Distances were counted from the first point, {distance[0]:g} m.")
    distance = distance - distance[0]
    pieces = {
        name: values[keep][:-1]
        for name in ("bearing", "crr", "shelter", "max_speed")
        if (values := getattr(track, name)) is not None
    }
    bearing = np.mod(pieces.pop("bearing", np.full(len(distance) - 1, np.nan)), 2.0 * np.pi)
    return Road(distance, elevation[keep], None, bearing, pieces)
