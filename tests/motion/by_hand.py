"""The resisting force written out once more, from the textbook and not from the package."""

import numpy as np
from numpy.typing import ArrayLike

from racecalc.arrays import FloatArray

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
