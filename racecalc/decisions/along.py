"""Everything along the course at every point, and what one stretch of it amounts to."""

from collections.abc import Callable
from dataclasses import dataclass, fields
from functools import cached_property
from itertools import pairwise

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.decisions.riding import Ridden
from racecalc.decisions.timing import Split, cut_at, pedalled, round_split, splits
from racecalc.domain.course import grade_of

WHOLE = "whole course"


@dataclass(frozen=True)
class Point:
    """The ride at one point of the course.

    Parameters
    ----------
    at_m : float
        Distance from the start [m].
    elapsed_s : float
        Time since the start [s].
    elevation_m, grade : float
        Height above sea level [m], and rise over run.
    speed_m_s, power_w : float
        Of the rider [m/s], [W].
    head_wind_m_s, cross_wind_m_s : float
        Wind at the rider [m/s], positive from ahead and from the right.
    yaw_deg : float
        Of the apparent wind [deg].
    worth_s_per_w_km : float
        Seconds that one watt more would save on each kilometre here [s/W/km].
    """

    at_m: float
    elapsed_s: float
    elevation_m: float
    grade: float
    speed_m_s: float
    power_w: float
    head_wind_m_s: float
    cross_wind_m_s: float
    yaw_deg: float
    worth_s_per_w_km: float


@dataclass(frozen=True)
class Stretch:
    """One stretch of the course.

    Parameters
    ----------
    name : str
        What it is called.
    split : Split
        Its time, speed, power, grade and wind.
    seconds_per_watt : float
        Seconds that one watt more all along it would save [s/W].
    """

    name: str
    split: Split
    seconds_per_watt: float


@dataclass(frozen=True)
class Along:
    """A ride along its course.

    Parameters
    ----------
    ridden : Ridden
        The ride.
    """

    ridden: Ridden

    @property
    def length_m(self) -> float:
        """Length of the course [m]."""
        return self.ridden.race.course.length

    def curve(self, name: str, at: FloatArray) -> FloatArray:
        """A field of `Point` at distances [m], in its unit; same shape.

        Raises
        ------
        KeyError
            If there is no such field.
        """
        return self._curves[name](at)

    def point(self, at_m: float) -> Point:
        """Everything at one distance [m]."""
        at = np.array([min(max(at_m, 0.0), self.length_m)])
        return Point(**{one.name: float(self.curve(one.name, at)[0]) for one in fields(Point)})

    def stretch(self, name: str, from_m: float, to_m: float) -> Stretch:
        """What a stretch between two distances [m] amounts to."""
        (split,) = cut_at(self.ridden, np.array([from_m, to_m]))
        nodes, worth = self._nodes, np.concatenate(([0.0], np.cumsum(self._worth)))
        ends = np.interp([from_m, to_m], nodes, worth)
        return Stretch(name, split, float(ends[1] - ends[0]))

    def stretches(self, unit: float = 1000.0) -> tuple[Stretch, ...]:
        """The whole course, what lies between its landmarks, and splits round in a unit [m]."""
        race = self.ridden.race
        marks = [(mark.name, mark.at) for mark in race.landmarks if 0.0 < mark.at < self.length_m]
        limits = [("start", 0.0), *marks, ("finish", self.length_m)]
        between = [
            (f"{one} to {other}", start, end)
            for (one, start), (other, end) in pairwise(limits)
            if end > start and marks
        ]
        rounds = splits(self.ridden, round_split(self.length_m, unit))
        whole = (WHOLE, 0.0, self.length_m)
        pieces = [("", split.from_m, split.to_m) for split in rounds]
        return tuple(self.stretch(*one) for one in (whole, *between, *pieces))

    @property
    def _nodes(self) -> FloatArray:
        return self.ridden.solution.ride.nodes

    @property
    def _worth(self) -> FloatArray:
        """Seconds that a watt at the meter saves on each step [s/W], shape (k,)."""
        wheel = self.ridden.derivatives.wheel_power
        return np.asarray(-wheel * self.ridden.race.bike.efficiency)

    @cached_property
    def _curves(self) -> dict[str, Callable[[FloatArray], FloatArray]]:
        solution, course = self.ridden.solution, self.ridden.race.course
        ride, nodes = solution.ride, self._nodes
        middle = ride.middle

        def on_steps(values: FloatArray) -> Callable[[FloatArray], FloatArray]:
            return lambda at: np.interp(at, middle, values)

        grade = grade_of(np.diff(course.elevation) / np.diff(course.distance))
        return {
            "at_m": lambda at: at,
            "elapsed_s": lambda at: np.interp(at, nodes, solution.elapsed),
            "elevation_m": course.elevation_at,
            "grade": lambda at: grade[course.piece_at(at)],
            "speed_m_s": lambda at: np.interp(at, nodes, solution.speed),
            "power_w": on_steps(pedalled(self.ridden)),
            "head_wind_m_s": on_steps(ride.head),
            "cross_wind_m_s": on_steps(ride.cross),
            "yaw_deg": on_steps(np.degrees(solution.yaw)),
            "worth_s_per_w_km": on_steps(1000.0 * self._worth / ride.step),
        }
