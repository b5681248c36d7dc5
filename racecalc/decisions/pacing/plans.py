"""A race ridden with a power for every step, and sections of one power."""

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from racecalc.arrays import FloatArray
from racecalc.decisions.riding import Ridden
from racecalc.decisions.timing import pedalled
from racecalc.motion.adjoint import weighted_time_by_power
from racecalc.motion.ride import Ride
from racecalc.motion.setting import ride_on
from racecalc.motion.solver import TOLERANCE, Solution, run_in_length, solve

COASTING = 0.01
"""Power taken for none [W]: the solver wants some everywhere."""


@dataclass(frozen=True)
class PacingPlan:
    """A race and its solution with a power for every step."""

    ridden: Ridden
    """The race; its solution holds the powers of the plan."""
    settled: bool = True
    """Whether the search that found it came to its end."""

    @property
    def time(self) -> float:
        """Over the course [s]."""
        return self.ridden.time

    @cached_property
    def power(self) -> FloatArray:
        """Planned on each step, at the power meter [W], shape (k,)."""
        return self.ridden.solution.ride.wheel_power / self.ridden.race.bike.efficiency

    @cached_property
    def pedalled(self) -> FloatArray:
        """Ridden on each step: less than planned where a speed ceiling decides [W], shape (k,)."""
        return pedalled(self.ridden)

    @property
    def step_time(self) -> FloatArray:
        """On each step [s], shape (k,)."""
        return self.ridden.solution.step_time

    @property
    def elapsed(self) -> FloatArray:
        """Since the start at every node [s], shape (k + 1,)."""
        return self.ridden.solution.elapsed

    @property
    def nodes(self) -> FloatArray:
        """Distance of every node [m], shape (k + 1,)."""
        return self.ridden.solution.ride.nodes

    @property
    def stretches(self) -> int:
        """How many stretches of one planned power there are."""
        return 1 + int(np.count_nonzero(np.diff(self.power)))

    def mean(self, order: float = 1.0) -> float:
        """Mean of an order over time of the power pedalled [W]."""
        return float(np.average(self.pedalled**order, weights=self.step_time) ** (1.0 / order))

    def distance_mean(self) -> float:
        """Mean over distance of the power pedalled [W]."""
        return float(np.average(self.pedalled, weights=np.diff(self.nodes)))

    def by_power(self, weights: FloatArray, by_pedalled: FloatArray | None = None) -> FloatArray:
        """Derivative of a weighted sum of step times by the power planned on every step.

        With `by_pedalled` the sum counts the power pedalled on every step too, so weighted.
        """
        efficiency, solution = self.ridden.race.bike.efficiency, self.ridden.solution
        if by_pedalled is None:
            return weighted_time_by_power(solution, weights) * efficiency
        found = weighted_time_by_power(solution, weights, by_pedalled / efficiency) * efficiency
        return np.where(solution.at_ceiling, 0.0, by_pedalled) + found

    @cached_property
    def time_by_power(self) -> FloatArray:
        """Derivative of the time by the power planned on every step [s/W], shape (k,)."""
        return self.by_power(np.ones_like(self.power))


def ridden_at(
    base: Ridden,
    power: FloatArray,
    near: PacingPlan | None = None,
    guess: FloatArray | None = None,
    tolerance: float = TOLERANCE,
    patient: bool = True,
) -> PacingPlan:
    """Ride a race with a power for every step; `tolerance` and `patient` as for `solve`."""
    wheel = np.maximum(power, COASTING) * base.race.bike.efficiency
    if guess is None:
        guess = (near.ridden if near else base).solution.speed
    ride = replace(base.solution.ride, wheel_power=wheel)
    return PacingPlan(Ridden(base.race, _on_nodes(ride, solve(ride, guess, tolerance, patient))))


def _on_nodes(ride: Ride, solution: Solution) -> Solution:
    """The speeds at the nodes asked for, where the solver laid more for a rider who is very slow.

    Sections count steps, and so need the same nodes in every ride.
    """
    if len(solution.ride.nodes) == len(ride.nodes):
        return solution
    asked = np.searchsorted(solution.ride.nodes, ride.nodes)
    return Solution(ride, solution.speed[asked], solution.at_ceiling[asked[1:] - 1], 0)


@dataclass(frozen=True)
class Sections:
    """Consecutive stretches of a course, in whole steps."""

    edges: NDArray[np.intp]
    """Numbers of the nodes between them, from 0 to k; shape (sections + 1,)."""

    @property
    def count(self) -> int:
        """How many there are."""
        return len(self.edges) - 1

    def spread(self, levels: FloatArray) -> FloatArray:
        """One value a section for every step of it, shape (k,)."""
        return np.repeat(levels, np.diff(self.edges))

    def ends(self, nodes: FloatArray) -> FloatArray:
        """Where they begin and end, of values at every node, shape (sections + 1,)."""
        return nodes[self.edges]

    def mean(self, values: FloatArray, weights: FloatArray) -> FloatArray:
        """Weighted means over the steps of each section."""
        return self.total(values * weights) / self.total(weights)

    def speed(self, plan: PacingPlan) -> FloatArray:
        """Mean speed on each [m/s]."""
        return np.asarray(np.diff(self.ends(plan.nodes)) / self.total(plan.step_time))

    def total(self, values: FloatArray) -> FloatArray:
        """Sums over the steps of each section; `values` has the steps last."""
        return np.add.reduceat(values, self.edges[:-1], axis=-1)


COARSE, RUN_IN = 45.0, 0.7
"""Longest steps that are made for a search [m], also as a share of the distance over which speeds
settle; our choice: what more power changes hardly depends on them."""


def coarser(base: Ridden, sections: Sections) -> tuple[Ridden, Sections]:
    """The race on fewer nodes, but where a rider is slow, and the same sections on them."""
    ride, speed = base.solution.ride, base.solution.mean_speed
    longest = np.minimum(RUN_IN * run_in_length(ride, speed), COARSE)
    number = np.floor(np.cumsum(ride.step / longest))
    kept = np.concatenate(([True], np.diff(number, prepend=0.0) > 0.0))
    kept[sections.edges] = True
    falling = ride.ceiling[1:] < ride.ceiling[:-1]
    kept[1:-1] |= falling[:-1] & ~falling[1:]
    nodes = ride.nodes[kept]
    coarse = Ridden(base.race, solve(ride_on(base.race, nodes), base.solution.speed[kept]))
    return coarse, Sections(np.searchsorted(nodes, ride.nodes[sections.edges]))
