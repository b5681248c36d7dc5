"""The heights of a course: holes filled, spikes removed, noise smoothed, walls found."""

import math

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.domain.course import CourseReport
from racecalc.domain.surveying.cleaning import STEEPEST, Mask, Road, without_spikes
from racecalc.domain.surveying.smoothing import noise_level, smooth
from racecalc.errors import InputError
from racecalc.files.tracks import HIGHEST, LOWEST

NOTED_GRADE = 0.20
"""Grade from which a stretch is worth a note."""

NOTED_LENGTH = 20.0
"""Length from which a steep stretch is more than a glitch [m]."""

NOTED_RISE = 10.0
"""Rise from which it is more than a glitch however short [m]."""

UPRIGHT = 0.95
"""Sine of a slope that no smoothing excuses."""


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


def smooth_levels(road: Road, noise: float | None, report: CourseReport) -> FloatArray:
    """Elevations of the road with holes filled, spikes removed and noise smoothed away."""
    raw = _filled(road, report)
    estimate = noise_level(road.distance, raw)
    elevation = without_spikes(road.distance, raw, estimate, report)
    report.ascent_before, report.noise = _rise(raw), estimate if noise is None else noise
    return smooth(road.distance, elevation, report.noise, given=noise is not None)


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


def _too_steep(source: str, start: float, length: float, rise: float) -> InputError:
    return InputError(
        f"{source}, km {start / 1000:.2f}",
        f"the road {'rises' if rise > 0 else 'falls'} {abs(rise):.1f} m within "
        f"{length:.3g} m, steeper than {STEEPEST:.0%}",
        "correct the elevations there, smooth more strongly or ride it flat",
    )


def check_steepness(distance: FloatArray, elevation: FloatArray, report: CourseReport) -> None:
    """Refuse what is no road and note what is very steep."""
    for start, length, rise in _stretches(distance, elevation, math.sin(math.atan(STEEPEST))):
        if length >= NOTED_LENGTH or abs(rise) >= NOTED_RISE:
            raise _too_steep(report.source, start, length, rise)
    for start, length, rise in _stretches(distance, elevation, UPRIGHT):
        raise _too_steep(report.source, start, length, rise)
    noted = _stretches(distance, elevation, math.sin(math.atan(NOTED_GRADE)))
    steep = [stretch for stretch in noted if stretch[1] > NOTED_LENGTH]
    if steep:
        report.note(
            f"The road is steeper than {NOTED_GRADE:.0%} over "
            f"{sum(length for _, length, _ in steep):.0f} m, first at "
            f"km {min(steep)[0] / 1000:.2f}: check the elevations."
        )
