"""Exact derivatives of the total time from one transposed triangular solve.

With the step balances ``R(v, q) = 0`` and the time ``T(v)``, the multipliers ``J^T y = dT/dv``
(``J = dR/dv``) give ``dT/dq = -y . dR/dq`` for every quantity ``q`` at every step at once. Steps
held to a speed ceiling do not answer to anything.
"""

from dataclasses import dataclass

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.motion.solver import Solution, solve_lower
from racecalc.physics.forces import GRAVITY, air_drag, air_drag_by_cross, air_speed_product


@dataclass(frozen=True)
class TimeDerivatives:
    """Change of the total time for a unit change of a quantity on one step, shape (k,)."""

    wheel_power: FloatArray
    """[s/W], negative: power saves time."""
    cda: FloatArray
    """[s/m^2], the same change at every yaw."""
    crr: FloatArray
    """[s]."""
    mass: FloatArray
    """[s/kg]."""
    density: FloatArray
    """[s m^3/kg]."""
    head: FloatArray
    cross: FloatArray
    """[s per m/s]."""


def time_derivatives(solution: Solution) -> TimeDerivatives:
    """Derivatives of the total time with respect to every quantity on every step.

    Parameters
    ----------
    solution : Solution
        A solved ride.

    Returns
    -------
    TimeDerivatives
        Exact for the discrete equations, to rounding.
    """
    ride = solution.ride
    speed = solution.mean_speed
    weight = -_multipliers(solution, np.ones_like(ride.step)) * ride.step
    wind = (speed, ride.head, ride.cross)
    product, _ = air_speed_product(*wind)
    air, by_speed = air_drag(*wind, ride.density, ride.cda, ride.spoke_drag)
    by_cross = air_drag_by_cross(*wind, ride.density, ride.cda, ride.spoke_drag)
    cosine = np.sqrt(1.0 - ride.slope_sine**2)
    kinetic = 0.5 * np.diff(solution.speed**2) / ride.step
    return TimeDerivatives(
        wheel_power=-weight / speed,
        cda=weight * 0.5 * ride.density * product,
        crr=weight * ride.mass * GRAVITY * cosine,
        mass=weight * (kinetic + GRAVITY * (ride.crr * cosine + ride.slope_sine)),
        density=weight * air / ride.density,
        head=weight * by_speed,
        cross=weight * by_cross,
    )


def weighted_time_by_power(
    solution: Solution, weights: FloatArray, by_held_power: FloatArray | None = None
) -> FloatArray:
    """Derivative of a weighted sum of the step times with respect to the power of every step.

    The sum may also count the power at the road where a ceiling decides it: who comes to a
    ceiling faster needs less of it there.

    Parameters
    ----------
    solution : Solution
        A solved ride.
    weights : FloatArray, shape (k,)
        Weight of each step's time, in any unit.
    by_held_power : FloatArray, shape (k,), optional
        Weight of the power at the road of each step that is held to a ceiling [unit s/W]; what
        stands at other steps, and where the brakes work, does not count.

    Returns
    -------
    FloatArray, shape (k,)
        [unit s/W at the road]; all ones for the weights give `TimeDerivatives.wheel_power`.
    """
    by_start = None if by_held_power is None else by_held_power * solution.held_power_slope
    return _multipliers(solution, weights, by_start) * solution.step_time


def _multipliers(
    solution: Solution, weights: FloatArray, by_start: FloatArray | None = None
) -> FloatArray:
    terms, held = solution.terms, solution.at_ceiling
    half = -0.5 * weights * solution.step_time / solution.mean_speed
    by_node = half.copy()
    by_node[:-1] += half[1:]
    if by_start is not None:
        by_node[:-1] += by_start[1:]
    diagonal = np.where(held, 1.0, terms.by_next)
    below = np.where(held, 0.0, terms.by_previous)[1:]
    found = solve_lower(diagonal, below, by_node, transposed=True)
    return np.where(held, 0.0, found)
