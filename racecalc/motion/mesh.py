"""Where the nodes of the solver stand."""

import numpy as np
from numpy.typing import NDArray

from racecalc.arrays import FloatArray
from racecalc.domain.course import Course
from racecalc.motion.ride import Ride
from racecalc.motion.solver import run_in_length, steady_guess

LAUNCH_GROWTH = 0.2
"""Steps may grow to this share of the distance from a slow start."""

LAUNCH_LENGTH = 0.5
"""Distance that stands for the start line itself in that rule [m]."""

MOST_PARTS = 64


def lay_nodes(course: Course, step: float) -> FloatArray:
    """Nodes at most `step` apart that keep the shape of the course.

    Nodes stand where a property of the road changes, at the ends of pieces longer than `step`
    (a typed course has few points, and each one is meant), and at the tightest point of bends;
    between them they are spread evenly. Shorter pieces, as in a recording, are merged.

    Parameters
    ----------
    course : Course
        The road.
    step : float
        Greatest distance between nodes [m].

    Returns
    -------
    FloatArray
        Distances of the nodes from the start [m].
    """
    kept = course.distance[_fixed_points(course, step)]
    gaps = np.diff(kept)
    parts = np.maximum(np.ceil(gaps / step - 1e-9), 1).astype(int)
    starts = np.repeat(kept[:-1], parts)
    count = np.arange(np.sum(parts)) - np.repeat(np.cumsum(parts) - parts, parts)
    return np.append(starts + count * np.repeat(gaps / parts, parts), kept[-1])


def _fixed_points(course: Course, step: float) -> NDArray[np.bool_]:
    fixed = np.zeros(len(course.distance), dtype=bool)
    fixed[[0, -1]] = True
    long = np.diff(course.distance) > step
    fixed[:-1] |= long
    fixed[1:] |= long
    for values in (course.crr, course.roughness, course.shelter, course.max_speed):
        both_unknown = np.isnan(values[:-1]) & np.isnan(values[1:])
        fixed[1:-1] |= (values[:-1] != values[1:]) & ~both_unknown
    radius = course.bend_radius
    tightest = (radius[1:-1] <= radius[:-2]) & (radius[1:-1] < radius[2:])
    fixed[1:-1] |= tightest
    return fixed


def refined_nodes(ride: Ride) -> FloatArray:
    """Nodes that are closer where the rider is slow: at a slow start and on steep ramps.

    Parameters
    ----------
    ride : Ride
        Ride on evenly laid nodes.

    Returns
    -------
    FloatArray
        Nodes no further apart than the run-in length of the speed there [m].
    """
    steady = steady_guess(ride)
    parts = np.ceil(ride.step / run_in_length(ride, steady))
    if ride.start_speed < 0.5 * steady[0]:
        allowed = LAUNCH_GROWTH * (ride.nodes[:-1] + LAUNCH_LENGTH)
        parts = np.maximum(parts, np.ceil(ride.step / allowed))
    return ride.cut(np.clip(parts, 1, MOST_PARTS).astype(int)).nodes
