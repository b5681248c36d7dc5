"""From the forecast wind to the air that meets the rider.

References
----------
.. [1] Troen I, Petersen EL. European Wind Atlas. Risoe National Laboratory, 1989: logarithmic
   law; power law fitted to it locally with exponent 1/ln(z/z0).
"""

import math

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.domain.race import WindLaw


def height_factor(
    from_height: float, to_height: float, roughness: float, law: WindLaw = "log"
) -> float:
    """Ratio of mean wind speeds at two heights above open, even terrain [1]_.

    Parameters
    ----------
    from_height, to_height : float
        Height of the known and of the wanted wind [m]; both above the roughness length.
    roughness : float
        Roughness length z0 [m].
    law : {"log", "power"}
        ``ln(to/z0) / ln(from/z0)``, or ``(to/from)**alpha`` with ``alpha = 1/ln(from/z0)``.

    Returns
    -------
    float
        Factor on the wind speed.

    Examples
    --------
    >>> round(height_factor(10.0, 1.0, 0.03), 2)
    0.60
    """
    if min(from_height, to_height) <= roughness:
        raise ValueError("heights must lie above the roughness length")
    if law == "log":
        return math.log(to_height / roughness) / math.log(from_height / roughness)
    return float((to_height / from_height) ** (1.0 / math.log(from_height / roughness)))


def wind_components(
    wind_speed: FloatArray | float, wind_from: float, bearing: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Split the wind into the part against the rider and the part from the right.

    Parameters
    ----------
    wind_speed : FloatArray or float
        Wind speed at the rider [m/s].
    wind_from : float
        Direction the wind comes from, clockwise from north [rad].
    bearing : FloatArray
        Direction of travel, clockwise from north [rad].

    Returns
    -------
    head, cross : FloatArray
        Head wind (tail wind negative) and wind from the right-hand side [m/s].
    """
    angle = wind_from - bearing
    return wind_speed * np.cos(angle), wind_speed * np.sin(angle)


def yaw_angle(speed: FloatArray, head: FloatArray, cross: FloatArray) -> FloatArray:
    """Angle between the apparent wind and the direction of travel.

    Parameters
    ----------
    speed : FloatArray
        Ground speed [m/s].
    head, cross : FloatArray
        Head wind and wind from the right [m/s].

    Returns
    -------
    FloatArray
        Yaw [rad], positive from the right; beyond a right angle the air comes from behind.
    """
    return np.arctan2(cross, speed + head)


def apparent_wind(speed: FloatArray, head: FloatArray, cross: FloatArray) -> FloatArray:
    """Speed of the air that meets the rider [m/s], same arguments as `yaw_angle`."""
    return np.hypot(speed + head, cross)
