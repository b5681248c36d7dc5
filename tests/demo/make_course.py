"""Make the demo course: an invented road, and the recording a rider might bring home from it.

Run it to write the file again:

    python tests/demo/make_course.py

The road itself is exact and known (`ROAD`), so that tests can say how much of it the cleaning
of a recording gives back. It lies in the open ocean, far from any land, so that it is nobody's
road. Every error of the recording is drawn from one seed: the same file comes out each time.
"""

import math
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import cached_property
from itertools import pairwise
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from pyproj import Transformer

FloatArray = NDArray[np.float64]

DEMO = Path(__file__).parents[2] / "course_demo" / "oskavell_shore.gpx"

SEED = 20260
LATITUDE, LONGITUDE = -44.6, -119.2
FIRST_HEADING = 250.0
"""Direction of travel at the start [deg]; the shore runs this way."""

STARTED = datetime(2025, 5, 11, 7, 30, tzinfo=UTC)
SHORE_LEVEL = 4.0

CONE_RADIUS = 3.0
GAP_LENGTH = 250.0
PAUSE_SECONDS = 40
DUPLICATES = 5
SPIKE = 16.4
DRIFT = 3.4

POSITION_NOISE = 1.3
"""Standard deviation east and north each [m]."""

POSITION_MEMORY = 25.0
"""Distance over which an error of the position fades [m]."""

CREEP = 1.5
"""Speed at which errors go on changing while the rider stands [m/s]."""

HEIGHT_NOISE = 0.4
HEIGHT_MEMORY = 15.0
HEIGHT_STEP = 0.2

RIDER_MASS, RIDER_POWER, RIDER_AREA, RIDER_CRR = 77.0, 215.0, 0.26, 0.0045
AIR_DENSITY, GRAVITY = 1.22, 9.80665
CORNERING, BRAKING, BRAVEST = 4.0, 2.0, 17.0


@dataclass(frozen=True)
class Piece:
    """A straight or an arc of a circle; `turn` in degrees, positive to the right."""

    length: float
    turn: float = 0.0

    @property
    def radius(self) -> float:
        return self.length / math.radians(abs(self.turn)) if self.turn else math.inf


def straight(length: float) -> Piece:
    return Piece(length)


def bend(turn: float, radius: float) -> Piece:
    return Piece(math.radians(abs(turn)) * radius, turn)


@dataclass(frozen=True)
class Leg:
    """A part of the course.

    `grades` lists (share of the leg's length, grade); between them the grade changes evenly, as
    on built roads.
    """

    name: str
    pieces: tuple[Piece, ...]
    grades: tuple[tuple[float, float], ...] = ((0.0, 0.0), (1.0, 0.0))

    @property
    def length(self) -> float:
        return sum(piece.length for piece in self.pieces)


def evenly(grade: float, blend: float = 0.06) -> tuple[tuple[float, float], ...]:
    """One grade, eased in and out."""
    return (0.0, 0.0), (blend, grade), (1.0 - blend, grade), (1.0, 0.0)


def graded(*pairs: float) -> tuple[tuple[float, float], ...]:
    """Share, grade, share, grade and so on, level at both ends."""
    return (0.0, 0.0), *zip(pairs[::2], pairs[1::2], strict=True), (1.0, 0.0)


def varied(*grades: float) -> tuple[tuple[float, float], ...]:
    """Grades at evenly spread places, level at both ends."""
    listed = (0.0, *grades, 0.0)
    return tuple((index / (len(listed) - 1), grade) for index, grade in enumerate(listed))


SHORE_OUT = (
    straight(1500.0),
    bend(12.0, 900.0),
    straight(1300.0),
    bend(-21.0, 700.0),
    straight(1100.0),
    bend(9.0, 1300.0),
    straight(1900.0),
)
SHORE_WAVES = varied(0.003, -0.004, 0.002, 0.004, -0.005, 0.003, -0.003)


def turned_back(pieces: tuple[Piece, ...]) -> tuple[Piece, ...]:
    """The same pieces ridden back in the other lane, on the left of the way out."""
    apart = 2.0 * CONE_RADIUS
    return tuple(
        bend(-one.turn, one.radius + math.copysign(apart, one.turn)) if one.turn else one
        for one in reversed(pieces)
    )


def legs(valley: float, shore_home: float, valley_grade: float) -> tuple[Leg, ...]:
    """The course; the last two lengths and the grade before them make it close."""
    back_grades = tuple((1.0 - share, -grade) for share, grade in reversed(SHORE_WAVES))
    return (
        Leg("shore out", SHORE_OUT, SHORE_WAVES),
        Leg("cone", (bend(-180.0, CONE_RADIUS),)),
        Leg("shore back", turned_back(SHORE_OUT), back_grades),
        Leg("to the mill", (straight(900.0),)),
        Leg("mill corner", (bend(-90.0, 10.0),)),
        Leg(
            "long climb",
            (
                straight(520.0),
                bend(38.0, 110.0),
                straight(430.0),
                bend(-56.0, 80.0),
                straight(560.0),
                bend(30.0, 140.0),
                straight(480.0),
                bend(-12.0, 300.0),
                straight(330.0),
            ),
            graded(0.06, 0.04, 0.3, 0.045, 0.45, 0.058, 0.62, 0.041, 0.85, 0.054, 0.94, 0.05),
        ),
        Leg("over the top", (straight(150.0), bend(90.0, 140.0), straight(200.0)), varied(-0.012)),
        Leg(
            "rollers",
            (
                straight(1300.0),
                bend(-24.0, 380.0),
                straight(1200.0),
                bend(24.0, 420.0),
                straight(1500.0),
            ),
            varied(
                *(-0.034, 0.038, -0.028, 0.041, -0.04, 0.03, -0.022, 0.036, -0.045, 0.028),
                *(-0.03, 0.044, -0.036, 0.025, -0.029, 0.04, -0.033, 0.031, -0.02, 0.024, -0.025),
            ),
        ),
        Leg("chapel corner", (bend(-90.0, 9.0),)),
        Leg(
            "short climb",
            (
                straight(600.0),
                bend(-20.0, 150.0),
                straight(500.0),
                bend(20.0, 150.0),
                straight(350.0),
            ),
            evenly(0.055, 0.08),
        ),
        Leg("wood", (straight(120.0), bend(90.0, 70.0), straight(1250.0)), varied(0.006, -0.008)),
        Leg("quarry corner", (bend(90.0, 12.0),)),
        Leg(
            "descent",
            (
                straight(420.0),
                bend(62.0, 46.0),
                straight(260.0),
                bend(-84.0, 40.0),
                straight(310.0),
                bend(72.0, 38.0),
                straight(240.0),
                bend(-50.0, 60.0),
                straight(900.0),
                bend(-18.0, 220.0),
                straight(700.0),
                bend(18.0, 220.0),
                straight(300.0),
            ),
            graded(0.05, -0.05, 0.3, -0.062, 0.5, -0.045, 0.75, -0.068, 0.9, -0.05),
        ),
        Leg("valley", (straight(valley),), evenly(valley_grade, 0.15)),
        Leg("sea corner", (bend(90.0, 11.0),)),
        Leg("shore home", (straight(shore_home),)),
    )


class Road:
    """The true road: no noise, positions on a plane, heights, all by distance from the start.

    Distances are horizontal; `surface_length` is what a wheel would roll.
    """

    def __init__(self, parts: tuple[Leg, ...]) -> None:
        self.legs = parts
        self.pieces = [piece for leg in parts for piece in leg.pieces]
        lengths = [piece.length for piece in self.pieces]
        self.piece_starts = np.concatenate([[0.0], np.cumsum(lengths)])
        turns = [piece.turn for piece in self.pieces]
        headings = FIRST_HEADING + np.concatenate([[0.0], np.cumsum(turns)])
        self.headings = np.radians(headings)
        self.leg_starts = np.concatenate([[0.0], np.cumsum([leg.length for leg in parts])])
        knots = [
            (start + share * leg.length, grade)
            for start, leg in zip(self.leg_starts, parts, strict=False)
            for share, grade in leg.grades
        ]
        merged = [knots[0]] + [two for one, two in pairwise(knots) if two[0] > one[0] + 1e-6]
        self.knots, self.knot_grades = np.array(merged).T
        rises = np.diff(self.knots) * (self.knot_grades[:-1] + self.knot_grades[1:]) / 2.0
        self.knot_heights = SHORE_LEVEL + np.concatenate([[0.0], np.cumsum(rises)])

    @property
    def length(self) -> float:
        """Horizontal length [m]."""
        return float(self.piece_starts[-1])

    @cached_property
    def _piece_ends(self) -> FloatArray:
        places = [np.zeros(2)]
        for piece, heading in zip(self.pieces, self.headings, strict=False):
            places.append(places[-1] + self._within(piece, heading, np.array([piece.length]))[0])
        return np.array(places)

    @staticmethod
    def _within(piece: Piece, heading: float, run: FloatArray) -> FloatArray:
        """Way from the start of a piece [m], east and north."""
        if not piece.turn:
            return np.outer(run, [math.sin(heading), math.cos(heading)])
        half = np.radians(piece.turn) * run / piece.length / 2.0
        chord = 2.0 * piece.radius * np.sin(np.abs(half))
        return np.column_stack([chord * np.sin(heading + half), chord * np.cos(heading + half)])

    def places(self, distance: FloatArray) -> FloatArray:
        """Metres east and north of the start."""
        index = np.clip(
            np.searchsorted(self.piece_starts, distance, "right") - 1, 0, len(self.pieces) - 1
        )
        found = self._piece_ends[index]
        for number in np.unique(index):
            here = index == number
            run = distance[here] - self.piece_starts[number]
            found[here] += self._within(self.pieces[number], self.headings[number], run)
        return found

    def grade(self, distance: FloatArray) -> FloatArray:
        """Rise over run."""
        return np.asarray(np.interp(distance, self.knots, self.knot_grades))

    def height(self, distance: FloatArray) -> FloatArray:
        """Height above the sea [m]: the exact integral of the grade."""
        index = np.clip(np.searchsorted(self.knots, distance, "right") - 1, 0, len(self.knots) - 2)
        run = distance - self.knots[index]
        mean = (self.knot_grades[index] + self.grade(distance)) / 2.0
        return np.asarray(self.knot_heights[index] + run * mean)

    def radius(self, distance: FloatArray) -> FloatArray:
        """Radius of the bend [m]; infinite on straights."""
        index = np.searchsorted(self.piece_starts, distance, "right") - 1
        radii = np.array([piece.radius for piece in self.pieces])
        return radii[np.clip(index, 0, len(radii) - 1)]

    def leg_start(self, name: str) -> float:
        """Where a leg begins [m]."""
        return float(self.leg_starts[[leg.name for leg in self.legs].index(name)])

    def leg_length(self, name: str) -> float:
        """How long it is [m]."""
        return next(leg.length for leg in self.legs if leg.name == name)

    @cached_property
    def fine(self) -> FloatArray:
        """A place every metre or so."""
        return np.linspace(0.0, self.length, round(self.length) + 1)

    @cached_property
    def surface_length(self) -> float:
        """Length along the slope [m]."""
        rises = np.diff(self.height(self.fine))
        return float(np.sum(np.hypot(np.diff(self.fine), rises)))

    @cached_property
    def ascent(self) -> float:
        """Total rise [m]."""
        return float(np.sum(np.maximum(np.diff(self.height(self.fine)), 0.0)))


def closed_road() -> Road:
    """Choose the open lengths and grade so that the finish is the start."""
    valley, home = 1000.0, 5000.0
    last, before = math.radians(FIRST_HEADING), math.radians(FIRST_HEADING - 90.0)
    road = Road(legs(valley, home, 0.0))
    miss = road.places(np.array([road.length]))[0]
    ways = np.array([[math.sin(before), math.sin(last)], [math.cos(before), math.cos(last)]])
    more = np.linalg.solve(ways, -miss)
    valley, home = valley + more[0], home + more[1]
    left = Road(legs(valley, home, 0.0)).knot_heights[-1] - SHORE_LEVEL
    return Road(legs(valley, home, -left / (0.85 * valley)))


ROAD = closed_road()


@dataclass(frozen=True)
class Ridden:
    """Where the recording rider was at each second."""

    seconds: NDArray[np.int64]
    distance: FloatArray


def pause_place(road: Road) -> float:
    """Where the rider waited, on a straight among the rollers."""
    return road.leg_start("rollers") + 900.0


def ride(road: Road) -> Ridden:
    """Ride the road on an easy, windless day, with a wait on the way."""
    place = road.fine
    step = float(place[1])
    ceiling = np.minimum(np.sqrt(CORNERING * np.minimum(road.radius(place), 1e4)), BRAVEST)
    waits = round(pause_place(road) / step)
    ceiling[waits] = 1.0
    run = ceiling**2 + 2.0 * BRAKING * place
    ceiling = np.sqrt(np.minimum.accumulate(run[::-1])[::-1] - 2.0 * BRAKING * place)
    grade = road.grade(place)
    speed = np.empty(len(place))
    speed[0] = now = 1.0
    for index in range(1, len(place)):
        drag = 0.5 * AIR_DENSITY * RIDER_AREA * now**2
        weight = RIDER_MASS * GRAVITY * (RIDER_CRR + grade[index])
        push = min(RIDER_POWER / now, 200.0) - drag - weight
        now = math.sqrt(max(now**2 + 2.0 * step * push / RIDER_MASS, 1.0))
        speed[index] = now = min(now, float(ceiling[index]))
    passing = np.concatenate([[0.0], np.cumsum(2.0 * step / (speed[:-1] + speed[1:]))])
    passing[waits + 1 :] += PAUSE_SECONDS
    passing = np.insert(passing, waits + 1, passing[waits] + PAUSE_SECONDS)
    place = np.insert(place, waits + 1, place[waits])
    seconds = np.arange(math.ceil(passing[-1]) + 1)
    return Ridden(seconds, np.interp(seconds, passing, place))


def wandering(moved: FloatArray, memory: float, draws: FloatArray) -> FloatArray:
    """Noise of unit size that fades over a distance."""
    noise = np.empty_like(draws)
    noise[0] = now = draws[0]
    for index, step in enumerate(moved, start=1):
        kept = math.exp(-step / memory)
        noise[index] = now = kept * now + math.sqrt(1.0 - kept**2) * draws[index]
    return noise


def position_noise(moved: FloatArray, draws: FloatArray) -> FloatArray:
    """Errors of a receiver [m]: it filters its fixes, so they wander without sharp corners."""
    rough = wandering(moved, POSITION_MEMORY, draws)
    smooth = np.empty_like(rough)
    smooth[0] = now = rough[0]
    for index, step in enumerate(moved, start=1):
        kept = math.exp(-step / (0.5 * POSITION_MEMORY))
        smooth[index] = now = kept * now + (1.0 - kept) * rough[index]
    return POSITION_NOISE * smooth / float(np.std(smooth))


def as_positions(place: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Latitude and longitude [deg] of metres east and north of the start."""
    plane = f"+proj=tmerc +lat_0={LATITUDE} +lon_0={LONGITUDE} +ellps=WGS84"
    globe = Transformer.from_crs(plane, "EPSG:4326", always_xy=True)
    longitude, latitude = globe.transform(place[:, 0], place[:, 1])
    return np.asarray(latitude), np.asarray(longitude)


@dataclass(frozen=True)
class Recording:
    """What the unit wrote down."""

    seconds: NDArray[np.int64]
    latitude: FloatArray
    longitude: FloatArray
    height: FloatArray


def recorded(road: Road) -> Recording:
    """Ride the road and record it with all that goes wrong in recordings."""
    random = np.random.default_rng(SEED)
    ridden = ride(road)
    count = len(ridden.seconds)
    moved = np.diff(ridden.distance) + CREEP
    place = road.places(ridden.distance)
    for axis in (0, 1):
        place[:, axis] += position_noise(moved, random.standard_normal(count))
    share = ridden.seconds / ridden.seconds[-1]
    drift = DRIFT * share + 0.8 * np.sin(2.0 * np.pi * share)
    noise = HEIGHT_NOISE * wandering(moved, HEIGHT_MEMORY, random.standard_normal(count))
    height = road.height(ridden.distance) + drift + noise
    height[round(0.31 * count)] += SPIKE
    height = np.round(height / HEIGHT_STEP) * HEIGHT_STEP

    gap = road.leg_start("wood") + 700.0
    seen = (ridden.distance < gap) | (ridden.distance > gap + GAP_LENGTH)
    times = np.ones(count, dtype=int)
    times[random.choice(count, DUPLICATES, replace=False)] = 2
    order = np.repeat(np.arange(count), np.where(seen, times, 0))
    latitude, longitude = as_positions(place[order])
    return Recording(ridden.seconds[order], latitude, longitude, height[order])


HEADER = """<?xml version="1.0" encoding="UTF-8"?>
<gpx version="1.1" creator="make_course.py of racecalc" \
xmlns="http://www.topografix.com/GPX/1/1">
<metadata>
<name>Oskavell Shore Road</name>
<desc>An invented course, made by a program. There is no such road: the positions lie in the \
open ocean. Errors as in a recording were added on purpose.</desc>
<time>{time}</time>
</metadata>
<trk>
<name>Oskavell Shore Road</name>
<trkseg>
"""

FOOTER = "</trkseg>\n</trk>\n</gpx>\n"


def stamp(seconds: int) -> str:
    return (STARTED + timedelta(seconds=seconds)).strftime("%Y-%m-%dT%H:%M:%SZ")


def as_gpx(recording: Recording) -> str:
    """Text of the GPX file."""
    points = [
        f'<trkpt lat="{latitude:.7f}" lon="{longitude:.7f}"><ele>{height:.1f}</ele>'
        f"<time>{stamp(int(seconds))}</time></trkpt>\n"
        for seconds, latitude, longitude, height in zip(
            recording.seconds,
            recording.latitude,
            recording.longitude,
            recording.height,
            strict=True,
        )
    ]
    return HEADER.format(time=stamp(0)) + "".join(points) + FOOTER


def write(path: Path) -> None:
    """Write the demo course."""
    path.write_bytes(as_gpx(recorded(ROAD)).encode())


if __name__ == "__main__":
    write(DEMO)
