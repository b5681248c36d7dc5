"""Forces that resist a cyclist, each with its derivative with respect to ground speed.

The model is that of Martin et al. [1]_; the treatment of cross wind is stated at
`air_speed_product`. Every function takes floats or arrays that broadcast and returns
``(force, derivative)`` in N and N s/m, positive against the direction of travel. Speed is that over
ground, head and cross the wind against the rider and from the right [m/s].

References
----------
.. [1] Martin JC, Milliken DL, Cobb JE, McFadden KL, Coggan AR. Validation of a mathematical
   model for road cycling power. J Appl Biomech 1998;14:276-291. doi:10.1123/jab.14.3.276
"""

from typing import TypeAlias

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.domain.race import DragArea

# --- Numeric constants, each with its unit and source --------------------------------------------

GRAVITY = 9.80665
"""Standard acceleration of free fall [m/s^2]; 3rd CGPM (1901), ISO 80000-3."""

STANDARD_TEMPERATURE = 288.15
"""Sea-level temperature of the standard atmosphere [K]; ISO 2533:1975."""

LAPSE_RATE = 0.0065
"""Fall of temperature with geopotential height below 11 km [K/m]; ISO 2533:1975."""

DRY_AIR_GAS_CONSTANT = 287.05287
"""Specific gas constant of dry air [J/(kg K)]; ISO 2533:1975."""

ZERO_CELSIUS = 273.15
"""0 degC [K]; SI Brochure, 9th edition."""


# --- Forces that resist a cyclist, each with its derivative with respect to ground speed ---------

Number: TypeAlias = FloatArray | float
ForceAndSlope: TypeAlias = tuple[Number, Number]

FULL_DRAG_COSINE = np.cos(np.radians(30.0))
"""Up to 30 degrees of yaw the drag area is taken as axial force over dynamic pressure."""


def air_speed_product(speed: Number, head: Number, cross: Number) -> ForceAndSlope:
    """Square of the apparent wind, signed and projected on the road [m^2/s^2], and its derivative.

    Axial drag is ``0.5 rho CdA`` times this product. Without cross wind it is ``va |va|`` with
    ``va = speed + head``. With cross wind it is the square of the apparent wind while the yaw
    stays below 30 degrees, because wind tunnels report axial force over dynamic pressure
    (common practice); beyond, it falls with the cosine of the yaw to zero at a right angle, so
    that a pure side wind neither holds nor pushes. The 30 degrees are an assumption.
    """
    along = np.asarray(speed + head)
    ahead = along**2
    square = np.asarray(ahead + np.asarray(cross) ** 2)
    if along.shape != square.shape:
        along = np.broadcast_to(along, square.shape)
    product, slope = np.asarray(np.copysign(square, along)), np.asarray(2.0 * np.abs(along))
    # Few steps of few rides meet the wind from the side, and this is what solving spends most on.
    beside = ahead < FULL_DRAG_COSINE**2 * square
    if np.any(beside):
        along, apparent = along[beside], np.sqrt(square[beside])
        product[beside] = apparent * along / FULL_DRAG_COSINE
        slope[beside] = (apparent + along**2 / apparent) / FULL_DRAG_COSINE
    return product, slope


def air_drag(
    speed: Number, head: Number, cross: Number, density: Number, cda: DragArea, spokes: float
) -> ForceAndSlope:
    """Axial aerodynamic drag of rider and bike, with the rotation of the wheels [1]_.

    ``0.5 rho (CdA(yaw) + spokes)`` times `air_speed_product`; the density in kg/m^3, the drag area
    of the rotating wheels in m^2.

    >>> force, slope = air_drag(12.5, 0.0, 0.0, 1.2, DragArea((0.24,)), 0.0)
    >>> round(float(force), 3), round(float(slope), 3)
    (22.5, 3.6)
    """
    product, product_slope = air_speed_product(speed, head, cross)
    if cda.is_constant:
        half = 0.5 * density * (cda.area[0] + spokes)
        return half * product, half * product_slope
    along = np.asarray(speed + head)
    area, area_slope = cda.at(np.arctan2(cross, along))
    square = along**2 + np.asarray(cross) ** 2
    yaw_slope = -np.asarray(cross) / np.where(square > 0, square, 1.0)
    half = 0.5 * density
    slope = half * ((area + spokes) * product_slope + area_slope * yaw_slope * product)
    return half * (area + spokes) * product, slope


def air_drag_by_cross(
    speed: Number, head: Number, cross: Number, density: Number, cda: DragArea, spokes: float
) -> Number:
    """Derivative of `air_drag` with respect to the cross wind [N s/m]; same arguments."""
    along = np.asarray(speed + head)
    square = along**2 + np.asarray(cross) ** 2
    apparent = np.sqrt(square)
    safe = np.where(apparent > 0, apparent, 1.0)
    ahead = np.abs(along) >= FULL_DRAG_COSINE * apparent
    by_cross = np.where(
        ahead, 2.0 * np.sign(along) * cross, along * cross / (safe * FULL_DRAG_COSINE)
    )
    if cda.is_constant:
        return np.asarray(0.5 * density * (cda.area[0] + spokes) * by_cross)
    product, _ = air_speed_product(speed, head, cross)
    area, by_yaw = cda.at(np.arctan2(cross, along))
    turn = along / safe**2
    slope: FloatArray = 0.5 * density * ((area + spokes) * by_cross + by_yaw * turn * product)
    return slope


def rolling_drag(crr: Number, mass: Number, slope_sine: Number) -> ForceAndSlope:
    """Rolling resistance ``Crr m g cos(slope)`` [1]_ of rider, bike and all they carry [kg]."""
    return crr * mass * GRAVITY * np.sqrt(1.0 - np.asarray(slope_sine) ** 2), 0.0


def bearing_drag(speed: Number, constant: float, growth: float) -> ForceAndSlope:
    """Drag of the wheel bearings, ``constant + growth * speed`` [N] and [N s/m] [1]_.

    >>> force, _ = bearing_drag(12.5, 0.091, 0.0087)
    >>> round(force * 12.5, 3)
    2.497
    """
    return constant + growth * speed, growth


def lean_in_bend(speed: FloatArray, radius: float, height: float) -> tuple[FloatArray, FloatArray]:
    """Lean of a rider in a bend, and the share of the speed of the wheels that the body has.

    The centre of mass goes round on a smaller circle than the wheels: its radius and speed are
    theirs times ``f = 1 - h sin(lean) / R``, and ``tan(lean) = (f v)^2 / (g f R)``; mechanics of a
    point mass on a leaning line without width. Speed of the wheels [m/s], radius of the line that
    they follow and height of the centre of mass when upright [m]; lean [rad].

    >>> lean, share = lean_in_bend(np.array([14.0]), 23.0, 1.1)
    >>> round(float(np.degrees(lean[0])), 2), round(float(share[0]), 4)
    (40.1, 0.9692)
    """
    share = np.ones_like(speed)
    for _ in range(20):  # each round is some thirty times nearer
        lean = np.arctan(share * speed**2 / (GRAVITY * radius))
        share = 1.0 - height * np.sin(lean) / radius
    return lean, share


def weight_drag(mass: Number, slope_sine: Number) -> ForceAndSlope:
    """Weight along the slope, ``m g sin(slope)`` [N], positive uphill [1]_."""
    return mass * GRAVITY * np.asarray(slope_sine), 0.0
