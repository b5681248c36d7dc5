"""The resisting force written out once more, from the textbook and not from the package."""

from math import atan2, degrees, sqrt

import numpy as np
from numpy.typing import ArrayLike
from scipy.optimize import brentq

from racecalc.arrays import FloatArray
from racecalc.motion.ride import Ride

GRAVITY = 9.80665
"""Standard acceleration of free fall [m/s^2]; 3rd CGPM (1901)."""


def cubic_root(*coefficients: float) -> float:
    """The one positive real root of a polynomial, highest power first."""
    roots = np.roots(coefficients)
    real = roots[np.abs(roots.imag) < 1e-9 * np.abs(roots)].real
    (only,) = real[real > 0]
    return float(only)


def resisting_force(
    speed: ArrayLike,
    *,
    mass: float,
    sine: ArrayLike,
    crr: ArrayLike,
    density: float,
    area: ArrayLike,
    head: ArrayLike = 0.0,
    cross: ArrayLike = 0.0,
    bearings: tuple[float, float] = (0.0, 0.0),
) -> FloatArray:
    """Force against the rider [N] for yaws below 30 degrees, with the air from ahead."""
    speed, along = np.asarray(speed), np.asarray(speed) + np.asarray(head)
    assert np.all(along >= np.abs(cross) / np.tan(np.radians(30)))
    air = 0.5 * density * np.asarray(area) * (along**2 + np.asarray(cross) ** 2)
    slope = np.arcsin(sine)
    road = mass * GRAVITY * (np.asarray(crr) * np.cos(slope) + np.sin(slope))
    return air + road + bearings[0] + bearings[1] * speed


def one_by_one(ride: Ride, yaws: ArrayLike = (0.0,), areas: ArrayLike = (0.25,)) -> FloatArray:
    """Speeds at the ends of all steps, each the root of its own balance, by Brent's method."""
    steps = zip(
        ride.step, ride.slope_sine, ride.wheel_power, ride.mass, ride.crr, ride.density,
        ride.head, ride.cross, ride.ceiling[1:], strict=True,
    )  # fmt: skip
    speeds = [min(ride.start_speed, float(ride.ceiling[0]))]
    for row in steps:
        length, sine, power, mass, crr, density, head, cross, ceiling = (float(one) for one in row)
        road = mass * GRAVITY * (crr * sqrt(1 - sine**2) + sine) + ride.bearing_drag
        start, inertia = speeds[-1], mass + ride.rotating_mass

        def surplus(end: float) -> float:
            mean = 0.5 * (start + end)  # noqa: B023
            along = mean + head  # noqa: B023
            area = np.interp(degrees(atan2(abs(cross), along)), yaws, areas)  # noqa: B023
            air = 0.5 * density * (area + ride.spoke_drag) * (along**2 + cross**2)  # noqa: B023
            force = air + road + ride.bearing_drag_slope * mean  # noqa: B023
            gained = 0.5 * inertia * (end**2 - start**2)  # noqa: B023
            return float(gained - length * (power / mean - force))  # noqa: B023

        end = brentq(surplus, 1e-9, 60.0, xtol=1e-14, rtol=1e-14)
        speeds.append(min(end, ceiling))
    return np.array(speeds[1:])
