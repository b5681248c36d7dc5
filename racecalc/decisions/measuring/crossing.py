"""Laps and runs found by where the ride crosses a line on the road."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.decisions.measuring.signals import GAP, Signals
from racecalc.domain.run_sheet import Position
from racecalc.domain.surveying.cleaning import to_plane
from racecalc.errors import InputError
from racecalc.quantities.clock import show_duration

Leg = tuple[float, float]
"""From one time of a recording to another [s]."""

LapLegs = tuple[Leg, ...]
"""A closed lap as one leg, a way there and back as two."""

NEAR = 25.0
"""How far from the stated place the ride may cross its line [m]; our choice: positions are good to
some metres, and the two ways of a wide road are this far apart."""

ACROSS = 0.7
"""Least cosine between the way and the usual one there; our choice: a side road is no crossing."""

MOVING = 2.0
"""Speed below which nothing is crossed [m/s]; our choice: positions wander while one stands."""

STANDING, PAUSE = 1.0, 20.0
"""Speed below which one stands [m/s], and how long one stands between two runs [s]; our choice:
nothing is changed on a bicycle in less."""

OTHER_LAP = 0.03
"""Share by which a lap may differ in length from the median of its session; our choice."""


@dataclass(frozen=True)
class Crossing:
    """One crossing of a line."""

    time: float
    """[s]."""
    way: int
    """1 or -1 by its direction."""
    line: int
    """Which line, from 0."""


def crossings(ride: Signals, line: Position, number: int = 0) -> list[Crossing]:
    """Where a ride crosses a line square to the road at a place, either way.

    Raises `InputError` if it has no positions or never comes near.
    """
    place = _about(ride, line)
    step = np.diff(place, axis=0)
    length = np.hypot(step[:, 0], step[:, 1])
    nearest = _nearest(place, step, length)
    if not np.min(nearest, initial=np.inf) <= NEAR:
        problem = f"it never comes nearer than {np.min(nearest):.0f} m to the line"
        raise InputError(ride.recording.source, problem, "check latitude and longitude of the line")
    turn = np.arctan2(step[:, 1], step[:, 0])
    here = nearest <= NEAR
    # A road has one direction but two ways along it: doubled angles are the same for both.
    axis = 0.5 * float(np.angle(np.sum(length[here] * np.exp(2j * turn[here]))))
    along = place @ np.array([np.cos(axis), np.sin(axis)])
    aside = place @ np.array([-np.sin(axis), np.cos(axis)])
    found = (along[:-1] < 0) != (along[1:] < 0)
    found &= np.abs(np.cos(turn - axis)) >= ACROSS
    found &= (np.diff(ride.time) <= GAP) & (ride.speed[1:] >= MOVING)
    at = np.flatnonzero(found)
    share = along[at] / (along[at] - along[at + 1])
    at, share = (
        one[np.abs(aside[at] + share * (aside[at + 1] - aside[at])) <= NEAR] for one in (at, share)
    )
    times = ride.time[at] + share * (ride.time[at + 1] - ride.time[at])
    ways = np.sign(along[at + 1] - along[at])
    return [Crossing(float(t), int(way), number) for t, way in zip(times, ways, strict=True)]


def _about(ride: Signals, line: Position) -> FloatArray:
    """Places about a position, east and north [m]; far away where unknown."""
    north, east = ride.recording.latitude, ride.recording.longitude
    if north is None or east is None:
        problem = "it has no positions, so it crosses no line"
        raise InputError(ride.recording.source, problem, "give 'lap', or 'from' and 'to'")
    latitude, longitude = (np.append(one, at) for one, at in zip((north, east), line, strict=True))
    known = np.isfinite(latitude) & np.isfinite(longitude)
    plane = np.full((len(latitude), 2), 1e7)
    plane[known] = to_plane(latitude[known], longitude[known])
    return np.asarray(plane[:-1] - plane[-1])


def _nearest(place: FloatArray, step: FloatArray, length: FloatArray) -> FloatArray:
    """How near each step comes to the origin [m]."""
    share = -np.sum(place[:-1] * step, axis=1) / np.maximum(length, 1e-9) ** 2
    foot = place[:-1] + np.clip(share, 0.0, 1.0)[:, np.newaxis] * step
    return np.asarray(np.hypot(foot[:, 0], foot[:, 1]))


def paused(ride: Signals, start: float, end: float) -> bool:
    """Whether the rider stood for long between two times [s]."""
    times = np.concatenate(([start], ride.time[ride.within(start, end)], [end]))
    steps = np.diff(times)
    still = (ride.at(times[1:], ride.speed) < STANDING) | (steps > GAP)
    return float(np.sum(steps[still])) >= PAUSE


def _closed(ride: Signals, passes: Sequence[Crossing], *, whole: bool) -> Iterator[LapLegs | None]:
    for one, other in pairwise(passes):
        lap = one.way == other.way and (whole or not paused(ride, one.time, other.time))
        yield ((one.time, other.time),) if lap else None


def _there_and_back(
    ride: Signals, passes: Sequence[Crossing], *, whole: bool
) -> Iterator[LapLegs | None]:
    """Ways from one line to the other and back; the turn between them is left out."""
    at, last = 0, None
    while at + 3 < len(passes):
        a, b, c, d = passes[at : at + 4]
        if a.line == d.line != b.line == c.line:
            if last is not None and not whole and paused(ride, last, a.time):
                yield None
            yield (a.time, b.time), (c.time, d.time)
            at, last = at + 4, d.time
        else:
            yield None
            at += 1


def laps_between(
    ride: Signals, lines: Sequence[Position], window: Leg | None = None
) -> list[list[LapLegs]]:
    """Laps between crossings of one line, or there and back between two, as runs.

    A run ends where the rider stands for long, turns round on a closed lap, or rides a lap of
    another length. Within a window [s] all whole laps are one run.
    """
    passes = sorted(
        (one for number, line in enumerate(lines) for one in crossings(ride, line, number)),
        key=lambda one: one.time,
    )
    if window is not None:
        passes = [one for one in passes if window[0] <= one.time <= window[1]]
    cut = _closed if len(lines) == 1 else _there_and_back
    laps = [*cut(ride, passes, whole=window is not None)]
    if window is not None:
        return [[lap for lap in laps if lap is not None]]
    usual = float(np.median([length(ride, lap) for lap in laps if lap] or [0.0]))
    runs: list[list[LapLegs]] = [[]]
    for lap in laps:
        if lap is not None and abs(length(ride, lap) - usual) <= OTHER_LAP * usual:
            runs[-1].append(lap)
        elif runs[-1]:
            runs.append([])
    return [run for run in runs if run]


def length(ride: Signals, lap: LapLegs) -> float:
    """Way of a lap [m]."""
    return sum(ride.way(*leg) for leg in lap)


def told(ride: Signals, runs: Sequence[Sequence[LapLegs]]) -> str:
    """Beginning and laps of each run, for messages."""
    first = ride.time[0]
    each = [f"{show_duration(run[0][0][0] - first)} ({len(run)})" for run in runs[:12]]
    return ", ".join(each) + (" and more" if len(runs) > 12 else "")


# --- A loop in an ordinary ride ------------------------------------------------------------------

EVERY, PLACES = 200.0, 250
"""Way between two places at which a loop may begin [m], and the most of them; our choice."""

LEAST_LOOP = 400.0
"""Shortest loop [m]; our choice: shorter ones are turns and car parks."""

MOST_FREEWHEELED, MOST_BRAKED = 0.10, 0.01
"""Share of a lap's time without power, and of its work lost in braking, from which it is not used;
our choice: brakes on a descent cannot be seen, and such a lap has few."""

BRAKING = 0.6
"""Deceleration without power from which it is braking [m/s^2]; our choice: air and tyres take 0.4
from a rider at 12 m/s."""


@dataclass(frozen=True)
class Loop:
    """The laps of a closed loop in a ride."""

    start: float
    """Way from the start of the ride to the first of them [m]."""
    length: float
    """Mean of a lap [m]."""
    laps: tuple[Leg, ...]
    """Those that can be used."""
    ridden: int
    """How many there are."""
    because: str
    """Why others cannot be used; empty where all can."""


def find_loop(ride: Signals) -> Loop | None:
    """The closed loop with the most way in laps that can be used; None where no loop is ridden.

    Raises `InputError` if the ride has no positions.
    """
    north, east = ride.recording.latitude, ride.recording.longitude
    if north is None or east is None:
        raise InputError(ride.recording.source, "it has no positions, so no loop is found", "")
    at = np.linspace(0.0, ride.distance[-1], min(PLACES, int(ride.distance[-1] / EVERY) + 2))[1:-1]
    rows = np.searchsorted(ride.distance, at)
    rows = rows[np.isfinite(north[rows]) & np.isfinite(east[rows]) & (ride.speed[rows] > MOVING)]
    found = [_loop_at(ride, (float(north[row]), float(east[row]))) for row in rows]
    return max(
        filter(None, found), key=lambda one: (len(one.laps) * one.length, one.ridden), default=None
    )


def _loop_at(ride: Signals, place: Position) -> Loop | None:
    laps = [lap[0] for run in laps_between(ride, [place]) for lap in run]
    laps = [lap for lap in laps if ride.way(*lap) >= LEAST_LOOP]
    if len(laps) < 2:
        return None
    why = [_unfit(ride, lap) for lap in laps]
    good = tuple(lap for lap, because in zip(laps, why, strict=True) if not because)
    mean = float(np.mean([ride.way(*lap) for lap in laps]))
    start = float(ride.at(np.array([laps[0][0]]), ride.distance)[0])
    return Loop(start, mean, good, len(laps), next(filter(None, why), ""))


def _unfit(ride: Signals, lap: Leg) -> str:
    """Why a lap of an ordinary ride tells no drag area; empty where it does."""
    inside = ride.within(*lap)
    speed, power = ride.speed[inside], ride.power[inside]
    if np.min(speed) < MOVING:
        return "the rider stops"
    lost = ride.bridged(*lap)
    if lost > GAP:
        return f"power or speed is missing for {lost:.0f} s"
    resting = float(np.mean(power == 0))
    if resting > MOST_FREEWHEELED:
        return f"{100 * resting:.0f} % of it is without power, where brakes cannot be seen"
    slowed = -np.diff(speed) / np.diff(ride.time[inside])
    steps = np.diff(ride.time[inside])
    hard = (slowed > BRAKING) & (power[1:] < BRAKE_POWER)
    braked = USUAL_MASS * float(np.sum((speed[1:] * steps * slowed)[hard]))
    work = float(np.sum(power[1:] * steps))
    return "the rider brakes" if braked > MOST_BRAKED * work else ""


BRAKE_POWER, USUAL_MASS = 30.0, 80.0
"""Power below which one may brake [W], and mass with which braking is judged [kg]; our choice."""
