"""The same steps solved one by one with a bracketed root: slow, needs no guess, never lost."""

import numpy as np
from numpy.typing import NDArray

from racecalc.domain.course import grade_of
from racecalc.errors import InputError
from racecalc.motion.ride import Ride

MOST_PARTS = 4096
"""A step may be cut into so many parts before the rider is said to stand still."""


def march(ride: Ride) -> tuple[NDArray[np.int_], list[float]]:
    """March over the steps, cutting those that are too long for a very slow rider.

    Parameters
    ----------
    ride : Ride
        What to solve.

    Returns
    -------
    parts : ndarray of int
        Number of equal parts into which each step was cut.
    speeds : list of float
        Speed at the end of every part [m/s].

    Raises
    ------
    InputError
        If the rider comes to a stop; it names the kilometre.
    """
    speeds: list[float] = []
    parts = np.ones(len(ride.wheel_power), dtype=int)
    speed = min(ride.start_speed, float(ride.ceiling[0]))
    for index in range(len(parts)):
        single = ride.part(slice(index, index + 1), speed)
        reached = None
        while reached is None:
            reached = _ride_parts(single.cut(parts[index : index + 1]))
            if reached is None:
                parts[index] *= 2
            if parts[index] > MOST_PARTS:
                raise _stalled(single)
        speeds.extend(reached)
        speed = reached[-1]
    return parts, speeds


def _ride_parts(ride: Ride) -> list[float] | None:
    speeds: list[float] = []
    speed = ride.start_speed
    for index in range(len(ride.wheel_power)):
        end = _end_speed(ride.part(slice(index, index + 1), speed))
        if end is None:
            return None
        speed = min(end, float(ride.ceiling[index + 1]))
        speeds.append(speed)
    return speeds


def _surplus(single: Ride, end: float) -> tuple[float, float]:
    """Energy balance of a single step and its derivative with respect to the end speed."""
    start = single.start_speed
    mean = 0.5 * (start + end)
    force, slope = single.resistance(np.array([mean]))
    drive = single.wheel_power[0] / mean
    step = single.step[0]
    inertia = single.inertia[0]
    residual = 0.5 * inertia * (end**2 - start**2) - step * (drive - force[0])
    return residual, inertia * end + 0.5 * step * (drive / mean + slope[0])


def _end_speed(single: Ride) -> float | None:
    """Root of the energy balance by Newton's method kept in a bracket; None if there is none."""
    low, high = 1e-6, max(2.0 * single.start_speed, 1.0)
    if _surplus(single, low)[0] > 0:
        return None
    while _surplus(single, high)[0] < 0:
        low, high = high, 2.0 * high
    end = min(max(single.start_speed, low), high)
    for _ in range(200):
        residual, slope = _surplus(single, end)
        if residual > 0:
            high = end
        else:
            low = end
        trial = end - residual / slope if slope > 0 else low
        trial = trial if low < trial < high else 0.5 * (low + high)
        if abs(trial - end) <= 1e-14 * end:
            return trial
        end = trial
    return end


def _stalled(single: Ride) -> InputError:
    grade = float(grade_of(single.slope_sine)[0])
    return InputError(
        f"kilometre {single.nodes[0] / 1000:.2f}",
        f"the rider comes to a stop: {single.wheel_power[0]:.0f} W at the road,"
        f" grade {100 * grade:.1f} %, head wind {single.head[0]:.1f} m/s",
        "give more power or check the course and the wind there",
    )
