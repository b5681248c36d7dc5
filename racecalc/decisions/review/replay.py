"""A race ridden again on the computer, split by split, with its inputs moved."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from racecalc.arrays import FloatArray
from racecalc.decisions.pacing.plan import COASTING, Plan, ridden_at
from racecalc.decisions.riding import Ridden
from racecalc.decisions.surrogate import moved_air
from racecalc.decisions.timing import Split, cut_at
from racecalc.domain.race import Change
from racecalc.motion.setting import ride_again

MOST_ROUNDS = 30
"""Rounds in which the power of the splits is met; a handful does."""

MOST_TIMES = 2.0
"""Greatest mean of a split times this is the most that is ridden where nothing limits; our
choice."""

MET = 1e-3
"""Change of a power below which it is met [W]."""

LEAST_FREE = 0.1
"""Share of a split's time, free of speed ceilings, below which power says nothing about it."""

Shift = Mapping[str, float]
"""How far inputs are moved: "cda", "crr", "wind" and "power" as a share of what is stated,
"watts" in W on top; inputs not named stay."""


@dataclass(frozen=True)
class Replay:
    """How a race is ridden again.

    Parameters
    ----------
    base : Ridden
        The race as its file states it, at one power.
    limits : FloatArray, shape (n + 1,)
        Start and the end of each split [m].
    planned : FloatArray, shape (k,)
        Power of the plan on every step, where the power meter stands [W].
    measured : FloatArray, shape (n,), or None
        Mean power ridden on each split [W]; without it the plan's power is ridden.
    """

    base: Ridden
    limits: FloatArray
    planned: FloatArray
    measured: FloatArray | None = None

    @cached_property
    def planned_ride(self) -> Plan:
        """The race ridden as planned."""
        return ridden_at(self.base, self.planned)

    @cached_property
    def plan(self) -> tuple[Split, ...]:
        """The splits of the plan."""
        return cut_at(self.planned_ride.ridden, self.limits)

    def again(self, by: Shift | None = None) -> tuple[Split, ...]:
        """The splits with the power that was ridden and with inputs moved.

        Raises
        ------
        InputError
            If the rider comes to a stop on the way.
        ValueError
            If nothing is left of the drag area or the rolling resistance.
        """
        return cut_at(self._ridden(by or {}).ridden, self.limits)

    def times(self, by: Shift | None = None) -> FloatArray:
        """Time on each split with inputs moved [s], shape (n,); errors as `again`."""
        return np.array([split.time_s for split in self.again(by)])

    def _ridden(self, by: Shift) -> Plan:
        share, watts = 1.0 + by.get("power", 0.0), by.get("watts", 0.0)
        moved = self._moved(by)
        if self.measured is None:
            return ridden_at(moved, self.planned * share + watts)
        return self._met(moved, self.measured * share + watts, self._levels)[1]

    def _moved(self, by: Shift) -> Ridden:
        """The race moved, on the same nodes; its solution is that of the base, as a guess."""
        race, solution = self.base.race, self.base.solution
        area = race.bike.cda.at_zero_yaw
        change = Change(cda=area * by.get("cda", 0.0), crr=race.bike.crr * by.get("crr", 0.0))
        moved = race.changed(change) if change != Change() else race
        if by.get("wind"):
            wind = {"wind_along": race.air.wind.speed * by["wind"]}
            moved = replace(moved, air=moved_air(race.air, wind))
        ride = ride_again(solution.ride, race, moved)
        return Ridden(moved, replace(solution, ride=ride))

    @cached_property
    def _levels(self) -> FloatArray:
        """Power to ride where no ceiling decides, nothing moved [W], shape (n,)."""
        if self.measured is None:
            raise TypeError("nothing was measured")
        middle = 0.5 * (self.limits[:-1] + self.limits[1:])
        planned = np.interp(middle, self.base.solution.ride.middle, self.planned)
        return self._met(self.base, self.measured, planned)[0]

    @cached_property
    def _split(self) -> NDArray[np.int_]:
        """Split that each step lies in, n beyond the last, shape (k,)."""
        return np.asarray(np.searchsorted(self.limits, self.base.solution.ride.middle) - 1)

    def _met(self, moved: Ridden, wanted: FloatArray, start: FloatArray) -> tuple[FloatArray, Plan]:
        """Ride so that the mean power of each split is the one wanted.

        A power meter shows less where the rider brakes or rolls, so what is ridden elsewhere lies
        above the mean of the split. Where a ceiling decides nearly all along, nothing is done, and
        what would take more than can be believed is left unmet.
        """
        most = max(MOST_TIMES * float(np.max(wanted)), COASTING)
        level = np.clip(start, COASTING, most)
        plan = ridden_at(moved, self._on_steps(level))
        for _ in range(MOST_ROUNDS):
            mean = np.array([split.power_w for split in cut_at(plan.ridden, self.limits)])
            free = self._free(plan)
            answers = free > LEAST_FREE
            change = np.where(answers, (wanted - mean) / np.where(answers, free, 1.0), 0.0)
            better = np.clip(level + change, COASTING, most)
            if np.max(np.abs(better - level)) < MET:
                break
            level = better
            plan = ridden_at(moved, self._on_steps(level), plan)
        return level, plan

    def _on_steps(self, level: FloatArray) -> FloatArray:
        """Powers of splits on every step; what lies beyond the last split is ridden as planned."""
        inside = self._split < len(level)
        return np.where(inside, level[np.where(inside, self._split, 0)], self.planned)

    def _free(self, plan: Plan) -> FloatArray:
        """Share of each split's time in which no ceiling decides; 0 where it has no step."""
        solution, count = plan.ridden.solution, len(self.limits) - 1
        free = np.concatenate(([0.0], np.cumsum(solution.step_time * ~solution.at_ceiling)))
        ends = [np.interp(self.limits, plan.nodes, one) for one in (free, plan.elapsed)]
        steps = np.bincount(self._split, minlength=count + 1)[:count]
        return np.where(steps > 0, np.diff(ends[0]) / np.diff(ends[1]), 0.0)
