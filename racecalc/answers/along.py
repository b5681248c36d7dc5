"""The ride along its course: curves, one point of it, and its stretches."""

from collections.abc import Sequence

import numpy as np

from racecalc.answers.cells import quoted
from racecalc.answers.columns import Clock, Made, Number, Quantity
from racecalc.answers.sheet import Curves, Depth, Line
from racecalc.arrays import FloatArray
from racecalc.decisions.timing import Along, CoursePoint, Stretch
from racecalc.quantities.clock import show_duration
from racecalc.quantities.plain_text import one_line
from racecalc.quantities.showing import System, What, show, shown_unit, to_shown, unit_size

GETTING_UNDER_WAY = 100.0
"""Distance from the start within which the worth of a watt falls steeply [m]; our choice."""

HIGHEST_SHOWN = 99.0
"""Percentile above which the worth of a watt is cut off in its chart."""

CURVES: dict[str, tuple[str, What | None]] = {
    "elevation_m": ("elevation", "elevation"),
    "speed_m_s": ("speed", "speed"),
    "power_w": ("power", "power"),
    "head_wind_m_s": ("head wind, - from behind", "wind_speed"),
    "worth_s_per_w_km": ("where a watt counts: seconds saved by it on a", None),
}
"""What may be drawn along the course, by the fields of `CoursePoint`."""

STRETCHES = [
    Quantity("from", "split.from_m", what="course_distance"),
    Quantity("to", "split.to_m", what="course_distance"),
    Clock("time", "split.time_s"),
    Quantity("", "split.speed_m_s", what="speed"),
    Quantity("", "split.power_w", what="power"),
    Quantity("grade", "split.grade", what="grade", signed=True),
    Quantity("head", "split.head_wind_m_s", what="wind_speed", signed=True),
    Number("s/W", "seconds_per_watt", form=".2f"),
    Made("stretch", "", lambda one: quoted(one.name) if one.name else "", left=True),
]


def along_curves(
    along: Along,
    names: Sequence[str],
    units: System,
    marks: Sequence[tuple[float, str]] = (),
    points: int = 400,
) -> Curves:
    """Curves along the course, by keys of `CURVES`, with marks at distances [m]."""
    at, km = np.linspace(0.0, along.length_m, points), unit_size("course_distance", units)
    race = along.ridden.race
    return Curves(
        at / km,
        {_title(name, units): _values(along, name, at, units) for name in names},
        f"{show(race.course.ascent, 'elevation', units)} of climbing over"
        f" {show(along.length_m, 'course_distance', units)}.",
        across=shown_unit("course_distance", units),
        marks=[(place / km, name) for place, name in marks],
        depth=Depth.DETAILS,
    )


def landmarks(along: Along) -> list[tuple[float, str]]:
    """The landmarks of the course and where they are [m]."""
    marks = along.ridden.race.landmarks
    return [(one.at, one_line(one.name, most=24)) for one in marks]


def _values(along: Along, name: str, at: FloatArray, units: System) -> FloatArray:
    what = CURVES[name][1]
    values = along.curve(name, at)
    if what is not None:
        return to_shown(values, what, units)
    # Off the line a watt is worth ten times as much as anywhere else, which would flatten the rest.
    return _by_unit(1.0, units) * np.minimum(values, np.percentile(values, HIGHEST_SHOWN))


def _by_unit(per_km: float, units: System) -> float:
    """What holds for a kilometre, for the unit in which distances are shown."""
    return per_km * unit_size("course_distance", units) / 1000.0


def _title(name: str, units: System) -> str:
    words, what = CURVES[name]
    if what is None:
        return f"{words} {shown_unit('course_distance', units)}, the start cut off"
    return f"{words} [{shown_unit(what, units)}]"


def point_lines(point: CoursePoint, units: System) -> list[Line]:
    """Everything at one point of the course, in three lines."""
    side = "right" if point.cross_wind_m_s > 0 else "left"
    wind = "ahead" if point.head_wind_m_s > 0 else "behind"
    head, cross = (
        show(abs(one), "wind_speed", units) for one in (point.head_wind_m_s, point.cross_wind_m_s)
    )
    return [
        f"at {show(point.at_m, 'course_distance', units)}"
        f"  {show_duration(point.elapsed_s, 1)}"
        f"  {show(point.elevation_m, 'elevation', units)}"
        f"  {show(point.grade, 'grade', units, signed=True)}",
        f"{show(point.speed_m_s, 'speed', units)}  {show(point.power_w, 'power', units)}"
        f"  wind {head} from {wind}, {cross} from the {side}, yaw {abs(point.yaw_deg):.0f} deg",
        f"one watt more here saves {_by_unit(point.worth_s_per_w_km, units):.2f} s on each"
        f" {shown_unit('course_distance', units)}"
        + (", while the rider still speeds up" if point.at_m < GETTING_UNDER_WAY else ""),
    ]


def stretch_line(stretch: Stretch, units: System) -> Line:
    """A stretch from a mark to the point, in a line."""
    split = stretch.split
    return (
        f"from the mark: {show(split.to_m - split.from_m, 'course_distance', units)} in"
        f" {show_duration(split.time_s, 1)}, {show(split.speed_m_s, 'speed', units)},"
        f" {show(split.grade, 'grade', units, signed=True)};"
        f" one watt more on it saves {stretch.seconds_per_watt:.2f} s"
    )
