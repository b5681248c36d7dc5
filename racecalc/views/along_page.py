"""The course as a stack of charts, a point of it and its stretches, for a part of a screen."""

from typing import TypeVar

import numpy as np

from racecalc.decisions.timing import Along, Point, Stretch
from racecalc.quantities.clock import show_duration
from racecalc.quantities.showing import (
    System,
    What,
    show,
    show_number,
    shown_unit,
    to_shown,
    unit_size,
)
from racecalc.views.chart import along_chart
from racecalc.views.tables import width

Numbers = TypeVar("Numbers", float, np.ndarray)

LEAST_HEIGHT = 4
"""Least lines of one chart, its title included."""

GETTING_UNDER_WAY = 100.0
"""Distance from the start within which the worth of a watt falls steeply [m]; our choice."""

HIGHEST_SHOWN = 99.0
"""Percentile above which the worth of a watt is cut off in its chart."""

CURVES: dict[str, tuple[str, What | None]] = {
    "elevation_m": ("elevation", "elevation"),
    "speed_m_s": ("speed", "speed"),
    "power_w": ("power", "power"),
    "head_wind_m_s": ("head wind, - from behind", "wind_speed"),
    "worth_s_per_w_km": (
        "where a watt counts: seconds saved by it on a",
        None,
    ),
}


def charts_text(
    along: Along,
    curves: tuple[str, ...],
    height: int,
    units: System,
    cursor_m: float,
    stretch: tuple[float, float] | None,
) -> str:
    """Charts of some curves above each other, as many as fit."""
    shown = curves[: max(1, (height - 1) // LEAST_HEIGHT)]
    each, over = divmod(max(height - 1, LEAST_HEIGHT), len(shown))
    at = np.linspace(0.0, along.length_m, 4 * width())
    ends = to_shown(np.array([*(stretch or ()), cursor_m]), "course_distance", units).tolist()
    upright = [*((end, ":") for end in ends[:-1]), (ends[-1], "|")]
    last = shown[-1]
    return "".join(
        along_chart(
            to_shown(at, "course_distance", units),
            _values(along, name, at, units),
            _title(name, units),
            each + (over if name == shown[0] else 0) + (name == last),
            upright,
            scale=name == last,
        )
        for name in shown
    )


def _values(along: Along, name: str, at: np.ndarray, units: System) -> np.ndarray:
    what = CURVES[name][1]
    values = along.curve(name, at)
    if what is not None:
        return to_shown(values, what, units)
    # Off the line a watt is worth ten times as much as anywhere else, which would flatten the rest.
    return _by_unit(np.minimum(values, np.percentile(values, HIGHEST_SHOWN)), units)


def _by_unit(per_km: Numbers, units: System) -> Numbers:
    """What holds for a kilometre, for the unit in which distances are shown."""
    return per_km * unit_size("course_distance", units) / 1000.0


def _title(name: str, units: System) -> str:
    words, what = CURVES[name]
    if what is None:
        return f"{words} {shown_unit('course_distance', units)}, the start cut off"
    return f"{words} [{shown_unit(what, units)}]"


def point_text(point: Point, units: System) -> str:
    """Everything at the cursor, in three lines."""
    side = "right" if point.cross_wind_m_s > 0 else "left"
    wind = "ahead" if point.head_wind_m_s > 0 else "behind"
    head, cross = (
        show(abs(one), "wind_speed", units) for one in (point.head_wind_m_s, point.cross_wind_m_s)
    )
    return (
        f"at {show(point.at_m, 'course_distance', units)}"
        f"  {show_duration(point.elapsed_s, 1)}"
        f"  {show(point.elevation_m, 'elevation', units)}"
        f"  {show(point.grade, 'grade', units, signed=True)}\n"
        f"{show(point.speed_m_s, 'speed', units)}  {show(point.power_w, 'power', units)}"
        f"  wind {head} from {wind}, {cross} from the {side}, yaw {abs(point.yaw_deg):.0f} deg\n"
        f"one watt more here saves {_by_unit(point.worth_s_per_w_km, units):.2f} s on each"
        f" {shown_unit('course_distance', units)}"
        + (", while the rider still speeds up" if point.at_m < GETTING_UNDER_WAY else "")
    )


def stretch_headings(units: System) -> tuple[str, ...]:
    """Headings over the cells of `stretch_row`."""
    return (
        f"from {shown_unit('course_distance', units)}",
        "to",
        "time",
        shown_unit("speed", units),
        "W",
        "grade %",
        f"head {shown_unit('wind_speed', units)}",
        "s/W",
        "<stretch",
    )


def stretch_row(stretch: Stretch, units: System) -> tuple[str, ...]:
    """A stretch in the units of the reader."""
    split = stretch.split
    return (
        show_number(split.from_m, "course_distance", units),
        show_number(split.to_m, "course_distance", units),
        show_duration(split.time_s),
        show_number(split.speed_m_s, "speed", units),
        show_number(split.power_w, "power", units),
        show_number(split.grade, "grade", units, signed=True),
        show_number(split.head_wind_m_s, "wind_speed", units, signed=True),
        f"{stretch.seconds_per_watt:.2f}",
        stretch.name,
    )


def marked_text(stretch: Stretch, units: System) -> str:
    """The stretch between the mark and the cursor, in a line."""
    split = stretch.split
    return (
        f"from the mark: {show(split.to_m - split.from_m, 'course_distance', units)} in"
        f" {show_duration(split.time_s, 1)}, {show(split.speed_m_s, 'speed', units)},"
        f" {show(split.grade, 'grade', units, signed=True)};"
        f" one watt more on it saves {stretch.seconds_per_watt:.2f} s"
    )
