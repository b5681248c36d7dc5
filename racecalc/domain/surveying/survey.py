"""From recorded points to a course: cut, reversed, repeated, its levels smoothed, with sections."""

import math
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.domain.course import MADE_UP, PIECE_FIELDS, Course, CourseReport
from racecalc.domain.surveying.cleaning import (
    ARM,
    CORNER,
    STEEPEST,
    Mask,
    Road,
    along,
    bend_radius,
    measured_road,
    placed_road,
    radius_of_turn,
    turn_between,
    without_false_ends,
    without_spikes,
)
from racecalc.domain.surveying.smoothing import (
    chained_noise,
    noise_level,
    smooth,
    smooth_to_rise,
    without_chained,
)
from racecalc.errors import InputError, require
from racecalc.files.tracks import HIGHEST, LOWEST, Track

# --- The heights of a course ---------------------------------------------------------------------

NOTED_GRADE = 0.20
"""Grade from which a stretch is worth a note."""

NOTED_LENGTH = 20.0
"""Length from which a steep stretch is more than a glitch [m]."""

NOTED_RISE = 10.0
"""Rise from which it is more than a glitch however short [m]."""

HINTED = 0.1
"""Share of rise beyond the device's own from which its total is a hint."""

LEAST_HINT = 0.3
"""Share of the rise below which the total of a device is not believed."""

UPRIGHT = 0.95
"""Sine of a slope that no smoothing excuses."""

VERTICAL = 0.9999
"""Sine of one that cannot be calculated with, even where it is cut off."""


def _known(road: Road) -> Mask:
    """Where an elevation stands that a road can have."""
    return (road.elevation >= LOWEST) & (road.elevation <= HIGHEST)


def _filled(road: Road, report: CourseReport) -> FloatArray:
    known = _known(road)
    if not np.any(known):
        raise InputError(
            report.source,
            "no point has an elevation",
            "write flat = true under [course], or add --set course.flat=true, to ride it flat",
        )
    missing = int(np.count_nonzero(~known))
    if missing:
        report.note(
            f"The elevation was missing or no road's at {missing} of {len(known)} points, "
            "where it was interpolated."
        )
    elevation: FloatArray = np.interp(road.distance, road.distance[known], road.elevation[known])
    if np.ptp(elevation) == 0.0 and len(elevation) > 2:
        report.note(f"Every point has the elevation {elevation[0]:g} m.")
    return elevation


def _rise(elevation: FloatArray) -> float:
    return float(np.sum(np.maximum(np.diff(elevation), 0.0)))


def flat_levels(road: Road, report: CourseReport) -> FloatArray:
    """One level for the whole road: the median of its elevations, 0 where there are none."""
    known = road.elevation[_known(road)]
    report.note("The course is taken as flat, as asked for.")
    report.ascent_before = _rise(known)
    return np.full(len(road.distance), float(np.median(known)) if len(known) else 0.0)


def smooth_levels(
    road: Road, noise: float | None, ascent: float | None, report: CourseReport
) -> tuple[FloatArray, FloatArray | None]:
    """Elevations of the road with holes filled, spikes removed and noise smoothed away.

    Where noise that hangs together was told from road, what the heights were without that, less
    what they are, is given as well.
    """
    raw = _filled(road, report)
    estimate = noise_level(road.distance, raw)
    elevation = without_spikes(road.distance, raw, estimate, report)
    if road.plane is not None:
        elevation = without_false_ends(road.distance, elevation, estimate, report)
    report.ascent_before, report.noise = _rise(raw), estimate if noise is None else noise
    levels = smooth(road.distance, elevation, report.noise, given=noise is not None)
    if noise is not None or not estimate:
        return levels, None
    return _told_from_noise(road.distance, elevation, levels, ascent, report)


def _told_from_noise(
    distance: FloatArray,
    elevation: FloatArray,
    levels: FloatArray,
    ascent: float | None,
    report: CourseReport,
) -> tuple[FloatArray, FloatArray | None]:
    """Heights smoothed further where noise that hangs together passed for road, and by how much."""
    found, rise = levels, _rise(levels)
    if chained := chained_noise(distance, elevation):
        likely = without_chained(distance, elevation, chained)
        if ascent is None or abs(_rise(likely) - ascent) < abs(rise - ascent):
            found, report.noise = likely, math.hypot(chained.spread, chained.white)
            report.note(
                f"Errors of the height hang together over {chained.reach:.0f} m: smoothed away,"
                f" they leave {_rise(likely):.0f} m of rise and not {rise:.0f} m."
            )
    left = _rise(found)
    if ascent is not None and LEAST_HINT * left < ascent < left / (1.0 + HINTED) - 1.0:
        found = smooth_to_rise(distance, elevation, ascent)
        report.note(
            f"{left:.0f} m of rise were left where the device counted {ascent:.0f} m, so the"
            " heights were smoothed more."
        )
    return found, None if found is levels else levels - found


def _stretches(
    distance: FloatArray, elevation: FloatArray, sine: float
) -> list[tuple[float, float, float]]:
    """Start, length and rise of each stretch steeper than a slope, up ones first."""
    found = []
    for up in (1.0, -1.0):
        steep = up * np.diff(elevation) > sine * np.diff(distance)
        edges = np.diff(np.concatenate([[False], steep, [False]]).astype(int))
        starts, ends = np.flatnonzero(edges == 1), np.flatnonzero(edges == -1)
        length, rise = distance[ends] - distance[starts], elevation[ends] - elevation[starts]
        found += np.column_stack([distance[starts], length, rise]).tolist()
    return [(start, length, rise) for start, length, rise in found]


def _wall(course: Course) -> tuple[float, float, float] | None:
    """Start, length and rise of the first stretch that is no road."""
    at, height = course.distance, course.elevation
    steep = _stretches(at, height, math.sin(math.atan(STEEPEST)))
    walls = [one for one in steep if one[1] >= NOTED_LENGTH or abs(one[2]) >= NOTED_RISE]
    return next(iter([*walls, *_stretches(at, height, UPRIGHT)]), None)


def _note_steepness(course: Course) -> None:
    noted = _stretches(course.distance, course.elevation, math.sin(math.atan(NOTED_GRADE)))
    steep = [stretch for stretch in noted if stretch[1] > NOTED_LENGTH]
    if steep:
        course.report.note(
            f"The road is steeper than {NOTED_GRADE:.0%} over "
            f"{sum(length for _, length, _ in steep):.0f} m, first at "
            f"km {min(steep)[0] / 1000:.2f}: check the elevations."
        )


LONG_BRIDGE, BRIDGE_SHARE = 1000.0, 0.05
"""Length of a gap in the points [m], and its share of the course, from which both are a warning."""


def _warn_of_bridge(course: Course, start: float, finish: float) -> None:
    """Tell the longest straight line across a gap between two places of the file's road [m]."""
    gaps = [
        (min(gap.from_m + gap.length_m, finish) - max(gap.from_m, start), gap.from_m)
        for gap in course.report.gaps
    ]
    length, at = max(gaps, default=(0.0, 0.0))
    if length > max(LONG_BRIDGE, BRIDGE_SHARE * course.length):
        course.report.warn(
            f"No points lie on {length / 1000:.2f} km from km {max(at - start, 0.0) / 1000:.2f} on,"
            f" {length / course.length:.0%} of the course: ridden as a straight line."
        )


# --- Make another course of a course -------------------------------------------------------------


SHORTEST_PIECE = 1e-3
"""Cuts closer than this to a point fall on it [m]."""


def noted(course: Course, *notes: str) -> Course:
    """Return the course with further notes in its report."""
    report = replace(course.report, notes=(*course.report.notes, *notes))
    return replace(course, report=report)


def with_points_at(course: Course, places: Iterable[float]) -> Course:
    """Put points at given distances."""
    old = course.distance
    wanted = np.unique(np.asarray(list(places), dtype=float))
    wanted = wanted[(wanted > 0.0) & (wanted < course.length)]
    nearest = np.min(np.abs(wanted[:, None] - old), axis=1, initial=np.inf)
    distance = np.union1d(old, wanted[nearest > SHORTEST_PIECE])
    piece = np.searchsorted(old, distance[:-1], side="right") - 1
    curvature = np.interp(distance, old, 1.0 / course.bend_radius)
    bent = curvature > 0.0
    radius = np.where(bent, 1.0 / np.where(bent, curvature, 1.0), np.inf)
    return course.remade(
        lambda values: np.interp(distance, old, values),
        lambda values: values[piece],
        distance=distance,
        bend_radius=radius,
    )


def trimmed(course: Course, start: float, end: float) -> Course:
    """Cut off both ends."""
    if start == 0.0 and end == 0.0:
        return course
    finish = course.length - end
    if finish - start < 1.0:
        problem = f"cutting off {start:g} m and {end:g} m leaves nothing of {course.length:.0f} m"
        raise InputError("course.trim_start", problem, "cut off less")
    whole = with_points_at(course, (start, finish))
    slack = SHORTEST_PIECE * 2.0
    inside = (whole.distance >= start - slack) & (whole.distance <= finish + slack)
    pieces = inside[:-1] & inside[1:]
    distance = whole.distance[inside] - whole.distance[inside][0]
    part = whole.remade(
        lambda values: values[inside], lambda values: values[pieces], distance=distance
    )
    return noted(part, f"{start:g} m were cut off at the start and {end:g} m at the end.")


def turned_round(course: Course) -> Course:
    """Ride the course from its finish to its start."""
    distance = course.length - course.distance[::-1]
    bearing = np.mod(course.bearing[::-1] + math.pi, 2.0 * math.pi)
    return course.remade(np.flip, np.flip, distance=distance, bearing=bearing)


def closed(course: Course) -> Course:
    """Spread the difference of elevation between finish and start evenly over a loop."""
    mismatch = course.elevation[-1] - course.elevation[0]
    if abs(mismatch) < 0.01:
        return course
    level = course.elevation - mismatch * course.distance / course.length
    level[-1] = level[0]
    return noted(
        replace(course, elevation=level),
        f"The loop was closed: its finish was {abs(mismatch):.1f} m "
        f"{'above' if mismatch > 0 else 'below'} its start, which was spread over its length.",
    )


def extended(course: Course, length: float, bearing: float, end_at: int = 0) -> Course:
    """Add a level piece to the finish, with the last piece's surface.

    It ends where the point `end_at` lies, on the map.
    """
    return course.remade(
        lambda values: np.append(values, values[end_at]),
        lambda values: np.append(values, values[-1]),
        distance=np.append(course.distance, course.length + length),
        elevation=np.append(course.elevation, course.elevation[-1]),
        bend_radius=np.append(course.bend_radius, np.inf),
        bearing=np.append(course.bearing, bearing % (2.0 * math.pi)),
    )


def with_lost(course: Course, lost: FloatArray, ride: bool) -> Course:
    """Tell road that the device counted without positions, and add it if wished."""
    if not np.any(lost):
        return course
    named = ("before the first position", "in gaps", "after the last position")
    lengths = (float(lost[0]), float(np.sum(lost[1:-1])), float(lost[-1]))
    parts = [
        f"{length / 1000:.2f} km {where}"
        for where, length in zip(named, lengths, strict=True)
        if length
    ]
    told = f"The device counted {' and '.join(parts)}: "
    if not ride:
        course.report.warn(told + 'left out; lost_road = "straight" rides them straight and flat.')
        return course
    if lengths[1]:
        further = np.concatenate([[0.0], np.cumsum(lost[1:-1])])
        course = replace(course, distance=course.distance + further)
    for length in (lengths[0], lengths[2]):
        course = turned_round(course)
        if length:
            course = extended(course, length, float(course.bearing[-1]), -1)
    return noted(course, told + "ridden straight and flat.")


def _joint(course: Course) -> float:
    """Radius of the bend from the end of one lap into the next, its chords as in `bend_radius`.

    Infinite for a table, whose bends are not known.
    """
    if course.positions is None:
        return math.inf
    turn = turn_between(course.bearing[-1:], course.bearing[:1])
    step = np.diff(course.distance)
    arm = np.where(turn > CORNER, ARM, max(ARM, min(step[0], step[-1])))
    return float(radius_of_turn(arm, turn)[0])


LONGEST = 2e6
"""Length of the longest race [m], as for `course.distance`."""


def repeated(course: Course, laps: int) -> Course:
    """Ride a closed course several times."""
    if laps == 1:
        return course
    if course.length * laps > LONGEST:
        problem = (
            f"{laps} laps of {course.length / 1000:.3f} km make more than {LONGEST / 1000:g} km"
        )
        raise InputError("course.laps", problem, "give fewer laps")

    def in_laps(values: FloatArray) -> FloatArray:
        return np.append(np.tile(values[:-1], laps), values[-1])

    starts = course.length * np.arange(laps)
    distance = (starts[:, None] + course.distance[:-1]).ravel()
    radius = in_laps(np.concatenate([[_joint(course)], course.bend_radius[1:]]))
    radius[[0, -1]] = np.inf
    whole = course.remade(
        in_laps,
        lambda values: np.tile(values, laps),
        distance=np.append(distance, course.length * laps),
        bend_radius=radius,
    )
    return noted(whole, f"The course is {laps} laps of {course.length / 1000:.3f} km.")


def stretched(course: Course, length: float | None) -> Course:
    """Stretch a course to its official length."""
    if length is None:
        return course
    ratio = length / course.length
    lengths = f"{course.length / 1000:.3f} km against the official {length / 1000:.3f} km"
    if not 0.8 < ratio < 1.25 or np.any(np.abs(course.slope_sine) >= 0.99 * ratio):
        problem = f"the course is too far from its official length: {lengths}"
        raise InputError("course.official_length", problem, "check laps, trimming and the file")
    doubt = " More than 1 % apart: check which is right." if abs(ratio - 1.0) > 0.01 else ""
    scaled = replace(course, distance=course.distance * ratio)
    return noted(scaled, f"Distances were scaled by {ratio:.4f}: {lengths}.{doubt}")


# --- Stretches of a course where the road or its rules differ ------------------------------------


@dataclass(frozen=True)
class CourseSection:
    """A stretch of the course where the road or its rules differ; None leaves a value as it is."""

    start: float
    end: float
    """Limits along the course [m]."""
    crr: float | None = None
    """Rolling-resistance coefficient."""
    roughness: float | None = None
    """Factor of the surface on the bike's coefficient."""
    shelter: float | None = None
    """Share of the open wind that the rider feels, 0 to 1."""
    max_speed: float | None = None
    """Speed ceiling [m/s]."""

    def __post_init__(self) -> None:
        require(0.0 <= self.start < self.end, "a section must end after its start")
        for name, value in self.values.items():
            most = {"crr": 0.1, "roughness": 100.0, "shelter": 1.0}.get(name, math.inf)
            least = value >= 0.0 if name == "shelter" else value > 0.0
            require(least and value <= most, f"{name} of a section cannot be {value:g}")

    @property
    def place(self) -> str:
        """Name of the section in messages."""
        return f"section from {self.start / 1000:g} to {self.end / 1000:g} km"

    @property
    def values(self) -> dict[str, float]:
        """The values that it sets, by field of `Course`."""
        named = ((name, getattr(self, name)) for name in PIECE_FIELDS if name != "bearing")
        return {name: value for name, value in named if value is not None}


def with_sections(course: Course, sections: Iterable[CourseSection]) -> Course:
    """Set what the road is like on stretches of a course."""
    listed = tuple(sections)
    notes = []
    for section in listed:
        finish = f"{course.length / 1000:.3f} km"
        if section.start >= course.length:
            problem = f"it starts beyond the finish at {finish}"
            raise InputError(section.place, problem, "give a start on the course")
        if section.end > course.length + 1.0:
            notes.append(f"The {section.place} was cut off at the finish, {finish}.")
    cut = with_points_at(course, [limit for part in listed for limit in (part.start, part.end)])
    middle = (cut.distance[:-1] + cut.distance[1:]) / 2.0
    for section in listed:
        inside = (middle > section.start) & (middle < section.end)
        for name, value in section.values.items():
            changed: Any = {name: np.where(inside, value, getattr(cut, name))}
            cut = replace(cut, **changed)
    return noted(cut, *notes)


# --- From the raw points of a course file, or a few numbers, to a course -------------------------

LOOP = 30.0
"""Distance from finish to start within which a course is a loop [m]."""

LAP = 100.0
"""Distance from finish to start within which a course may be ridden in laps [m]."""

MOST_MISMATCH = 30.0
"""Most that the finish of a loop may lie above or below its start [m]; drift is less."""

STEEPEST_MISMATCH = 0.02
"""The same, as a share of its length."""


@dataclass(frozen=True)
class CourseWishes:
    """What the user wants done to a course file."""

    laps: int = 1
    """How often the course is ridden."""
    reverse: bool = False
    """Whether it is ridden from the end of the file to its start."""
    noise: float | None = None
    """Standard deviation of the elevation noise to smooth away [m]; None estimates it, 0 leaves the
    elevations as they are.
    """
    ride_flat: bool = False
    """Whether all elevations are taken as equal."""
    ride_lost: bool = False
    """Whether road that the device counted without positions is ridden, straight and flat."""
    trim_start: float = 0.0
    trim_end: float = 0.0
    """Lengths to cut off, in the direction of the file [m]."""
    official_length: float | None = None
    """Length of the whole course, all laps, that distances are scaled to [m]."""

    def __post_init__(self) -> None:
        require(self.laps >= 1, "a course is ridden once at least")
        lengths = (self.noise or 0.0, self.trim_start, self.trim_end)
        require(all(0.0 <= one < math.inf for one in lengths), "lengths must not be negative")
        official = 1.0 if self.official_length is None else self.official_length
        require(0.0 < official < math.inf, "the official length must be above 0")


def _along_surface(road: Road, elevation: FloatArray) -> FloatArray:
    if road.plane is None:
        return road.distance
    steps = np.hypot(np.diff(road.distance), np.diff(elevation))
    return np.concatenate([[0.0], np.cumsum(steps)])


def _assembled(
    road: Road, distance: FloatArray, elevation: FloatArray, report: CourseReport
) -> Course:
    unknown = np.full(len(distance) - 1, np.nan)
    crr, shelter, max_speed = (
        road.pieces.get(name, unknown) for name in ("crr", "shelter", "max_speed")
    )
    straight = np.full(len(distance), np.inf)
    return Course(
        distance=distance,
        elevation=elevation,
        bearing=road.bearing,
        crr=crr,
        roughness=np.ones_like(unknown),
        shelter=np.where(np.isnan(shelter), 1.0, shelter),
        max_speed=np.where(np.isnan(max_speed), np.inf, max_speed),
        bend_radius=straight if road.plane is None else bend_radius(road.distance, road.plane),
        report=report,
        positions=road.positions,
    )


def _link(road: Road, course: Course, start: float, end: float) -> FloatArray | None:
    """Way from the finish to the start after trimming [m], east and north; None if unknown."""
    if road.plane is None:
        return None
    places = along(course.distance, road.plane, np.array([start, course.length - end]))
    way: FloatArray = places[0] - places[1]
    return way


def _mismatch(course: Course) -> str | None:
    """What forbids to close the course by spreading its difference of height."""
    rise = float(course.elevation[-1] - course.elevation[0])
    if abs(rise) <= min(MOST_MISMATCH, STEEPEST_MISMATCH * course.length):
        return None
    return f"the finish lies {abs(rise):.0f} m {'above' if rise > 0 else 'below'} the start"


def _closed_if_loop(course: Course, link: FloatArray | None) -> Course:
    if link is None or np.hypot(*link) > min(LOOP, course.length / 4.0):
        return course
    mismatch = _mismatch(course)
    if mismatch:
        return noted(course, f"This looks like a loop, but {mismatch}: check the elevations.")
    return closed(course)


def _one_lap(source: str, course: Course, link: FloatArray | None) -> Course:
    """The course as a lap that ends where it began."""
    apart = 0.0 if link is None else float(np.hypot(*link))
    problem = _mismatch(course)
    if apart > min(LAP, course.length / 4.0):
        problem = f"the finish lies {apart:.0f} m from the start"
    if problem:
        problem += ", so it cannot be ridden in laps"
        raise InputError(source, problem, "trim the file to one lap, or ride it once")
    lap = closed(course)
    if link is None or apart <= 1.0:
        return lap
    longer = extended(lap, apart, math.atan2(*link))
    return noted(longer, f"The {apart:.0f} m from the finish to the start were added to each lap.")


def _finished(course: Course, wishes: CourseWishes) -> Course:
    if wishes.reverse:
        course = noted(turned_round(course), "The course is ridden in reverse.")
    return stretched(course, wishes.official_length)


def survey(
    track: Track, wishes: CourseWishes | None = None, sections: Iterable[CourseSection] = ()
) -> Course:
    """Turn the points of a course file into a course.

    Jumps, pauses and repeated places are dropped, positions and elevations smoothed, lengths
    and bearings taken along geodesics of WGS84 and then along the road's slope; distances that
    the file gives are kept. Then the sections are laid on the road, and the course is trimmed,
    closed if it is a loop, checked, repeated, turned round and scaled, as wished.
    """
    wishes, sections = wishes or CourseWishes(), tuple(sections)
    report = CourseReport(track.source, noise_given=wishes.noise is not None)
    for text in track.notes:
        report.warn(text)
    road = placed_road(track, report) if track.distance is None else measured_road(track, report)
    untouched = replace(report)

    def helps(wish: CourseWishes) -> bool:
        try:
            return _wall(_part(road, track.ascent, wish, sections, replace(untouched))[0]) is None
        except InputError:
            return False

    part, link = _part(road, track.ascent, wishes, sections, report)
    if wall := _wall(part):
        raise _too_steep(report.source, wall, part.length, wishes, helps)
    _note_steepness(part)
    _warn_of_bridge(part, wishes.trim_start, float(road.distance[-1]) - wishes.trim_end)
    if wishes.laps > 1:
        part = repeated(_one_lap(track.source, part, link), wishes.laps)
    return _finished(part, wishes)


def _part(
    road: Road,
    ascent: float | None,
    wishes: CourseWishes,
    sections: Iterable[CourseSection],
    report: CourseReport,
) -> tuple[Course, FloatArray | None]:
    """The part of a road that is ridden, once, and the way from its finish to its start."""
    doubt = None
    if wishes.ride_flat:
        elevation = flat_levels(road, report)
    else:
        elevation, doubt = smooth_levels(road, wishes.noise, ascent, report)
    distance = _along_surface(road, elevation)
    for wall in _stretches(distance, elevation, VERTICAL):
        raise _wall_error(report.source, 0.0, wall, "correct the elevations")
    whole = _assembled(road, distance, elevation, report)
    report.points_kept = len(elevation)
    link = None
    if not (wishes.ride_lost and np.any(road.lost)):
        link = _link(road, whole, wishes.trim_start, wishes.trim_end)
    whole = with_lost(replace(whole, height_in_doubt=doubt), road.lost, wishes.ride_lost)
    part = with_sections(whole, sections)
    part = _closed_if_loop(trimmed(part, wishes.trim_start, wishes.trim_end), link)
    part.report.ascent_after = part.ascent
    return part, link


TRIED_NOISE = (1.0, 2.0, 3.0, 4.0, 6.0, 8.0, 10.0, 15.0, 20.0)
"""Values of `smoothing` that are tried where a road is too steep [m]."""

MOST_TRIMMED = 0.2
"""Share of the course that is offered to be cut off."""


def _too_steep(
    source: str,
    wall: tuple[float, float, float],
    length: float,
    wishes: CourseWishes,
    helps: Callable[[CourseWishes], bool],
) -> InputError:
    """What is no road, with the values of keys that were found to help."""
    start, over, _ = wall
    offers: dict[str, Iterable[float]] = {
        "trim_start": _cuts(wishes.trim_start, start + over, length),
        "trim_end": _cuts(wishes.trim_end, length - start, length),
        "smoothing": TRIED_NOISE,
    }
    written = []
    for key, values in offers.items():
        of_wishes = "noise" if key == "smoothing" else key
        tried: Iterator[tuple[float, Any]] = ((one, {of_wishes: one}) for one in values)
        for value in (one for one, change in tried if helps(replace(wishes, **change))):
            shown = f"{value:g} m" if value < 100.0 else f"{value / 1000:g} km"
            written.append(f'{key} = "{shown}"')
            break
    remedy = f"write under [course] {' or '.join([*written, 'flat = true'])}"
    return _wall_error(source, wishes.trim_start, wall, f"{remedy}, or correct the elevations")


def _wall_error(
    source: str, cut_off: float, wall: tuple[float, float, float], remedy: str
) -> InputError:
    start, over, rise = wall
    return InputError(
        f"{source}, km {(cut_off + start) / 1000:.2f}",
        f"the road {'rises' if rise > 0 else 'falls'} {abs(rise):.1f} m within "
        f"{over:.3g} m, steeper than {STEEPEST:.0%}",
        remedy,
    )


def _cuts(already: float, wall: float, length: float) -> list[float]:
    """Lengths to cut off an end that has a wall so near [m], the least first."""
    if wall > MOST_TRIMMED * length:
        return []
    least = 100.0 * math.ceil((already + wall) / 100.0)
    return [least + further for further in (0.0, 100.0, 300.0)]


def made_up(
    distance: float,
    grade: float = 0.0,
    bearing: float | None = None,
    wishes: CourseWishes | None = None,
    sections: Iterable[CourseSection] = (),
    altitude: float = 0.0,
) -> Course:
    """Straight course of constant grade, as given in a race file."""
    wishes = wishes or CourseWishes()
    grade = 0.0 if wishes.ride_flat else grade
    if wishes.laps > 1 and grade != 0.0:
        problem = f"a lap with a grade of {grade:.1%} does not close"
        raise InputError("course.laps", problem, "give one lap")
    ends = np.array([0.0, distance])
    elevation = altitude + ends * math.sin(math.atan(grade))
    direction = math.nan if bearing is None else bearing % (2.0 * math.pi)
    road = Road(ends, elevation, None, np.array([direction]))
    rise = max(float(elevation[-1] - elevation[0]), 0.0)
    report = CourseReport(MADE_UP, 2, 2, ascent_before=rise, ascent_after=rise)
    course = with_sections(_assembled(road, ends, elevation, report), sections)
    course = repeated(trimmed(course, wishes.trim_start, wishes.trim_end), wishes.laps)
    return _finished(course, wishes)
