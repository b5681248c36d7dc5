"""Exact derivatives of the total time from one transposed triangular solve.

With the step balances ``R(v, q) = 0`` and the time ``T(v)``, the multipliers ``J^T y = dT/dv``
(``J = dR/dv``) give ``dT/dq = -y . dR/dq`` for every quantity ``q`` at every step at once. Steps
held to a speed ceiling do not answer to anything.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from racecalc.arrays import FloatArray
from racecalc.motion.solver import Solution, solve_unit
from racecalc.physics.forces import (
    GRAVITY,
    ForceAndSlope,
    air_drag,
    air_drag_by_cross,
    air_speed_product,
)


@dataclass(frozen=True)
class TimeDerivatives:
    """Change of the total time for a unit change of a quantity on one step, shape (k,).

    Exact for the discrete equations, to rounding; each is worked out when it is first asked for.
    """

    solution: Solution
    """A solved ride."""

    @cached_property
    def _weight(self) -> FloatArray:
        """Derivative by the force on each step [s/N]."""
        step = self.solution.ride.step
        return -_multipliers(self.solution, np.ones_like(step)) * step

    @cached_property
    def _wind(self) -> tuple[FloatArray, FloatArray, FloatArray]:
        return self.solution.mean_speed, self.solution.ride.head, self.solution.ride.cross

    @cached_property
    def _air(self) -> ForceAndSlope:
        ride = self.solution.ride
        return air_drag(*self._wind, ride.density, ride.cda, ride.spoke_drag)

    @cached_property
    def _cosine(self) -> FloatArray:
        return np.sqrt(1.0 - self.solution.ride.slope_sine**2)

    @cached_property
    def wheel_power(self) -> FloatArray:
        """[s/W], negative: power saves time."""
        return -self._weight / self.solution.mean_speed

    @cached_property
    def cda(self) -> FloatArray:
        """[s/m^2], the same change at every yaw."""
        product, _ = air_speed_product(*self._wind)
        return self._weight * 0.5 * self.solution.ride.density * product

    @cached_property
    def crr(self) -> FloatArray:
        """[s]."""
        return self._weight * self.solution.ride.mass * GRAVITY * self._cosine

    @cached_property
    def mass(self) -> FloatArray:
        """[s/kg]."""
        ride = self.solution.ride
        kinetic = 0.5 * np.diff(self.solution.speed**2) / ride.step
        return self._weight * (kinetic + GRAVITY * (ride.crr * self._cosine + ride.slope_sine))

    @cached_property
    def density(self) -> FloatArray:
        """[s m^3/kg]."""
        return self._weight * self._air[0] / self.solution.ride.density

    @cached_property
    def head(self) -> FloatArray:
        """[s per m/s]."""
        return self._weight * self._air[1]

    @cached_property
    def cross(self) -> FloatArray:
        """[s per m/s]."""
        ride = self.solution.ride
        by_cross = air_drag_by_cross(*self._wind, ride.density, ride.cda, ride.spoke_drag)
        return self._weight * by_cross


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
    weights : FloatArray, shape (k,) or (sums, k)
        Weight of each step's time, in any unit, for one sum or several.
    by_held_power : FloatArray, of the same shape, optional
        Weight of the power at the road of each step that is held to a ceiling [unit s/W]; what
        stands at other steps, and where the brakes work, does not count.

    Returns
    -------
    FloatArray, of the same shape
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
    by_node[..., :-1] += half[..., 1:]
    if by_start is not None:
        by_node[..., :-1] += by_start[..., 1:]
    diagonal = np.where(held, 1.0, terms.by_next)
    below = np.where(held, 0.0, terms.by_previous)[1:]
    found = solve_unit(below / diagonal[1:], by_node, transposed=True)
    return np.where(held, 0.0, found / diagonal)
