"""A recording as running sums, so that any stretch of it is a difference of two of them."""

from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from racecalc.arrays import FloatArray
from racecalc.domain.surveying.cleaning import geodesic_steps
from racecalc.errors import InputError
from racecalc.files.recordings import Recording

PEDALLED = 40.0
"""Cadence from which a power of 0 W is one that was lost and not freewheeling [1/min]; our choice.
"""

LEAST_SPEED = 7.0
"""Speed above which an air speed is compared with that over the ground [m/s]; our choice."""

AROUND = 2
"""Points either side over which a direction of travel is taken; our choice: a position is good to
some metres, and a bicycle goes about forty between these points."""


GAP = 10.0
"""Time without points from which nothing is known between two of them [s]; our choice."""


@dataclass(frozen=True, eq=False)
class Signals:
    """Power and speed of a ride, bridged where they are missing, and their sums; shape (n,)."""

    recording: Recording
    time: FloatArray
    """Clock of the recording [s]."""
    speed: FloatArray
    """[m/s]."""
    power: FloatArray
    """Mean of the time that ends at the point [W]."""
    lost: NDArray[np.bool_]
    """Where power or speed is missing, or power is 0 although the rider pedals."""
    speed_from: str
    """What the speed is taken from: "speed", "distance" or "positions"."""

    @cached_property
    def distance(self) -> FloatArray:
        """Integral of the speed [m]."""
        return self.summed(self.speed)

    @cached_property
    def work(self) -> FloatArray:
        """Work at the meter [J]."""
        return np.concatenate(([0.0], np.cumsum(self.power[1:] * np.diff(self.time))))

    def summed(self, values: FloatArray) -> FloatArray:
        """Integral of what is known at the points, over time, by trapezoids."""
        steps = 0.5 * (values[1:] + values[:-1]) * np.diff(self.time)
        return np.concatenate(([0.0], np.cumsum(steps)))

    def at(self, times: FloatArray, values: FloatArray) -> FloatArray:
        """Values between the points."""
        return np.interp(times, self.time, values)

    def within(self, start: float, end: float) -> slice:
        """Points after a time and up to another."""
        first, last = np.searchsorted(self.time, [start, end], side="right")
        return slice(int(first), int(last))

    def bridged(self, start: float, end: float) -> float:
        """Time between two times for which power or speed is missing [s]."""
        inside = self.within(start, end)
        steps = np.diff(self.time, prepend=self.time[0])[inside]
        return float(np.sum(steps[self.lost[inside]]))

    def way(self, start: float, end: float) -> float:
        """Distance between two times [m]."""
        return float(np.diff(self.at(np.array([start, end]), self.distance))[0])

    def cut(self, start: float, end: float) -> "Signals":
        """The same around a stretch, so that sums are no longer than needed."""
        near = self.within(start - 30.0, end + 30.0)
        return replace(
            self,
            time=self.time[near],
            speed=self.speed[near],
            power=self.power[near],
            lost=self.lost[near],
            recording=_cut(self.recording, near),
        )

    def slowed(self, by: float) -> "Signals":
        """The same with all speeds divided."""
        return replace(self, speed=self.speed / by)

    @cached_property
    def sensed(self) -> NDArray[np.bool_]:
        """Where the air speed is known: a reading of 0 at speed is one that was lost."""
        air = self.recording.air_speed
        if air is None:
            return np.zeros(len(self.time), dtype=bool)
        return np.isfinite(air) & ((air > 0) | (self.speed < LEAST_SPEED))

    @cached_property
    def travel(self) -> FloatArray | None:
        """Direction of travel, clockwise from north [rad]; None without positions."""
        north, east = self.recording.latitude, self.recording.longitude
        if north is None or east is None:
            return None
        north, east = (_bridged(self.time, one)[0] for one in (north, east))
        behind = np.maximum(np.arange(len(north)) - AROUND, 0)
        ahead = np.minimum(np.arange(len(north)) + AROUND, len(north) - 1)
        across = np.cos(np.radians(north)) * (east[ahead] - east[behind])
        return np.arctan2(across, north[ahead] - north[behind])

    def apart(self, one: float, other: float) -> float | None:
        """Distance between the places of two times [m]; None without positions."""
        north, east = self.recording.latitude, self.recording.longitude
        if north is None or east is None:
            return None
        places = []
        for values in (north, east):
            known = np.isfinite(values)
            if not np.any(known):
                return None
            places.append(np.interp([one, other], self.time[known], values[known]))
        return float(geodesic_steps(*places)[0][0])


AROUND_RUNS, SHOWN = 180.0, 200
"""Seconds of a ride that are shown before its first and after its last run [s], and points shown;
our choice."""


def trace(ride: Signals, start: float, end: float, points: int) -> tuple[FloatArray, FloatArray]:
    """Mean power [W] and speed [m/s] of even parts of a stretch; 0 where nothing was recorded."""
    edges = np.linspace(start, end, points + 1)
    middle = 0.5 * (edges[1:] + edges[:-1])
    work, way = (ride.at(edges, one) for one in (ride.work, ride.distance))
    after = np.clip(np.searchsorted(ride.time, middle), 1, len(ride.time) - 1)
    near = (np.diff(ride.time)[after - 1] <= GAP) & (middle <= ride.time[-1])
    power, speed = (np.where(near, np.diff(one) / np.diff(edges), 0.0) for one in (work, way))
    return power, speed


def _cut(recording: Recording, near: slice) -> Recording:
    columns: dict[str, Any] = {
        name: column[near]
        for name, column in vars(recording).items()
        if isinstance(column, np.ndarray)
    }
    return replace(recording, **columns)


def _bridged(time: FloatArray, values: FloatArray) -> tuple[FloatArray, NDArray[np.bool_]]:
    """Values with what is missing on straight lines, and where it is missing."""
    known = np.isfinite(values)
    if not np.any(known):
        return np.zeros_like(time), ~known
    return np.interp(time, time[known], values[known]), ~known


def signals_of(recording: Recording) -> Signals:
    """Power and speed of a recording that has both."""
    time = recording.time
    raw = np.array(recording.power, dtype=float)
    if recording.cadence is not None:
        raw[(raw == 0) & (np.nan_to_num(recording.cadence) >= PEDALLED)] = np.nan
    power, no_power = _bridged(time, raw)
    came_from, known = _speed(recording)
    speed, no_speed = _bridged(time, known)
    return Signals(recording, time, speed, power, no_power | no_speed, came_from)


def _speed(recording: Recording) -> tuple[str, FloatArray]:
    if recording.speed is not None:
        return "speed", recording.speed
    if recording.distance is not None:
        covered, missing = _bridged(recording.time, recording.distance)
        speed = np.gradient(covered, recording.time)
        return "distance", np.where(missing, np.nan, speed)
    if recording.latitude is None or recording.longitude is None:
        raise InputError(recording.source, "it has neither speed nor positions", "record them")
    north, missing = _bridged(recording.time, recording.latitude)
    east, _ = _bridged(recording.time, recording.longitude)
    steps = geodesic_steps(north, east)[0]
    speed = np.gradient(np.concatenate(([0.0], np.cumsum(steps))), recording.time)
    return "positions", np.where(missing, np.nan, speed)
