"""The course as the solver sees it, and the account of how it came from the file."""

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Annotated, Any

import numpy as np
from numpy.typing import NDArray

from racecalc.arrays import FloatArray
from racecalc.errors import require
from racecalc.written import HIDDEN, As


def grade_of(slope_sine: FloatArray) -> FloatArray:
    """Grade, rise over run, of slopes given by rise over road length."""
    return slope_sine / np.sqrt(1.0 - slope_sine**2)


MADE_UP = "race file"
"""Source of a course that no file describes."""


@dataclass(frozen=True)
class PointGap:
    """A stretch of a course file without points."""

    from_m: float
    """Where it begins, along the course [m]."""
    length_m: float
    """How long it is [m]."""


@dataclass
class CourseReport:
    """What was done to the points of a course file; written while they are cleaned."""

    source: str
    """File name, or `MADE_UP`."""
    points_read: int = 0
    points_kept: int = 0
    """Points in the file and points left after cleaning."""
    dropped: dict[str, int] = field(default_factory=dict)
    """Reason (such as "same place as the point before") to number of points."""
    gaps: tuple[PointGap, ...] = ()
    """Stretches with no points: start along the course [m], length [m]."""
    pauses: Annotated[int, HIDDEN] = 0
    """Times a recording stood still or was switched off."""
    paused_time: Annotated[float, As(paused_time_s="")] = 0.0
    """Total duration of the pauses [s]."""
    ascent_before: Annotated[float, As(ascent_before_m="")] = 0.0
    ascent_after: Annotated[float, As(ascent_after_m="")] = 0.0
    """Total rise before and after smoothing [m]."""
    noise: Annotated[float, As(noise_m="")] = 0.0
    """Standard deviation of the elevation noise that was smoothed away [m]; 0 for none."""
    noise_given: bool = False
    """True where the user gave the noise, False where it was estimated."""
    notes: tuple[str, ...] = ()
    """One sentence each: flat ride asked for, loop closed, spikes removed and the like."""
    warned: Annotated[tuple[str, ...], HIDDEN] = ()
    """Those of them that change what to do."""

    def drop(self, reason: str, dropped: NDArray[np.bool_]) -> None:
        """Count the points that are marked as dropped."""
        if count := int(np.count_nonzero(dropped)):
            self.dropped[reason] = self.dropped.get(reason, 0) + count

    def note(self, text: str) -> None:
        """Add a sentence."""
        self.notes += (text,)

    def warn(self, text: str) -> None:
        """Add one that changes what to do."""
        self.note(text)
        self.warned += (text,)


@dataclass(frozen=True)
class Landmark:
    """A place on the course by which the rider knows where they are."""

    at: float
    """Distance from the start along the road, as it is ridden [m]."""
    name: str
    """What it is called."""
    note: str = ""
    """The user's own words; empty for none."""

    def __post_init__(self) -> None:
        require(self.at >= 0, "a landmark must not lie before the start")


@dataclass(frozen=True)
class Positions:
    """Where places of a course lie on WGS84."""

    latitude: FloatArray
    """North of the equator [deg]; shape (n,)."""
    longitude: FloatArray
    """East of Greenwich [deg], without a step at the 180th meridian: it may go past 180; shape
    (n,).
    """

    def changed(self, change: Callable[[FloatArray], FloatArray]) -> "Positions":
        """Return the positions with latitude and longitude changed alike."""
        return Positions(change(self.latitude), change(self.longitude))


POINT_FIELDS = ("distance", "elevation", "bend_radius")
PIECE_FIELDS = ("bearing", "crr", "roughness", "shelter", "max_speed")
"""Fields of a course that hold one value a point, and one a piece."""


@dataclass(frozen=True)
class Course:
    """A road of n points joined by n - 1 straight pieces of constant grade.

    A ValueError is raised if lengths disagree, distance does not increase, or a value is not
    finite where it must be.
    """

    distance: FloatArray
    """Distance along the road surface, as a wheel measures it, from 0, increasing [m]; shape (n,).
    """
    elevation: FloatArray
    """Height above sea level [m]; shape (n,)."""
    bearing: FloatArray
    """Direction of travel, clockwise from north [rad]; NaN where it is not known; shape (n - 1,).
    """
    crr: FloatArray
    """Rolling-resistance coefficient of the piece as the file states it; NaN where the bike's own
    holds. A race takes it as a roughness, so that better tyres help there too; shape (n - 1,).
    """
    roughness: FloatArray
    """Factor of the surface on the bike's rolling-resistance coefficient; shape (n - 1,)."""
    shelter: FloatArray
    """Share of the open wind that the rider feels, 0 to 1; shape (n - 1,)."""
    max_speed: FloatArray
    """Speed ceiling of the piece [m/s]; infinite for none; shape (n - 1,)."""
    bend_radius: FloatArray
    """Radius of the bend at the point [m]; infinite where the road is straight; shape (n,)."""
    report: CourseReport
    """What was done to the points of the file."""
    positions: Positions | None = None
    """Of the n points, for maps only: lengths and directions stand above. None where the course has
    none.
    """
    height_in_doubt: FloatArray | None = None
    """How much higher the points were without noise that hangs together taken out [m]; shape (n,).
    None where none was.
    """

    def __post_init__(self) -> None:
        self._check_shapes()
        rising = self.distance[0] == 0 and np.all(np.diff(self.distance) > 0)
        require(rising, "distance must start at 0 and increase")
        finite = np.all(np.isfinite([self.distance, self.elevation]))
        require(finite, "distance and elevation must be finite")
        require(np.all(np.abs(self.slope_sine) < 1), "a piece rises or falls more than it is long")
        shares = np.all((self.shelter >= 0) & (self.shelter <= 1))
        require(shares, "shelter must lie between 0 and 1")
        positive = np.all(self.max_speed > 0) and np.all(self.bend_radius > 0)
        require(positive, "speed ceilings and bend radii must be positive")

    def _check_shapes(self) -> None:
        points = len(self.distance)
        require(points >= 2, "a course needs at least two points")
        for name in (*POINT_FIELDS, *PIECE_FIELDS):
            count, what = (points, "point") if name in POINT_FIELDS else (points - 1, "piece")
            matched = len(getattr(self, name)) == count
            require(matched, f"{name} needs one value a {what} ({count})")
        if self.positions is not None:
            matched = len(self.positions.latitude) == len(self.positions.longitude) == points
            require(matched, f"positions need one value a point ({points})")

    def remade(
        self,
        point: Callable[[FloatArray], FloatArray],
        piece: Callable[[FloatArray], FloatArray],
        **others: FloatArray,
    ) -> "Course":
        """Another course made of this one: what becomes of values a point, and of those a piece.

        Fields that are made otherwise are given themselves.
        """
        ways = dict.fromkeys(POINT_FIELDS, point) | dict.fromkeys(PIECE_FIELDS, piece)
        made: dict[str, Any] = {
            name: others[name] if name in others else way(getattr(self, name))
            for name, way in ways.items()
        }
        doubt, places = self.height_in_doubt, self.positions and self.positions.changed(point)
        made["height_in_doubt"] = None if doubt is None else point(doubt)
        return replace(self, positions=places, **made)

    @property
    def needs_bearings(self) -> str:
        """What gives it the bearings that it lacks."""
        if self.report.source == MADE_UP:
            return 'add bearing = "90 deg" to [course]'
        return "add a column 'bearing [deg]' to the course as a CSV file"

    @property
    def length(self) -> float:
        """Length of the road [m]."""
        return float(self.distance[-1])

    @property
    def ascent(self) -> float:
        """Total rise [m]."""
        return float(np.sum(np.maximum(np.diff(self.elevation), 0.0)))

    def with_own_crr_as_roughness(self, crr: float) -> "Course":
        """The same road for a bike of the given coefficient, with `roughness` in place of `crr`."""
        own = ~np.isnan(self.crr)
        return replace(
            self,
            roughness=np.where(own, self.crr / crr, self.roughness),
            crr=np.full_like(self.crr, np.nan),
        )

    def moved_up(self, by: float) -> "Course":
        """The same road that much higher [m]."""
        if not by:
            return self
        way = f"up by {by:.0f}" if by > 0 else f"down by {-by:.0f}"
        notes = (*self.report.notes, f"The course and its weather were moved {way} m.")
        report = replace(self.report, notes=notes)
        return replace(self, elevation=self.elevation + by, report=report)

    @property
    def slope_sine(self) -> FloatArray:
        """Sine of the slope angle of each piece: rise over road length, shape (n - 1,)."""
        return np.diff(self.elevation) / np.diff(self.distance)

    @property
    def grade(self) -> FloatArray:
        """Tangent of the slope angle of each piece: rise over run, shape (n - 1,)."""
        return grade_of(self.slope_sine)

    def elevation_at(self, position: FloatArray) -> FloatArray:
        """Height above sea level [m] at distances from the start [m]."""
        return np.interp(position, self.distance, self.elevation)

    def positions_at(self, position: FloatArray) -> Positions | None:
        """Positions at distances from the start [m]; None where the course has none."""
        if self.positions is None:
            return None
        return self.positions.changed(lambda values: np.interp(position, self.distance, values))

    def piece_at(self, position: FloatArray) -> NDArray[np.intp]:
        """Number of the piece on which each distance from the start [m] lies."""
        piece = np.searchsorted(self.distance, position, side="right") - 1
        return np.clip(piece, 0, len(self.distance) - 2)
