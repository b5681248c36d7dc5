"""The best power of each section within a limit, and the same in whole steps of 5 W."""

import numpy as np
from scipy.optimize import minimize

from racecalc.arrays import FloatArray
from racecalc.decisions.integer_program import best_choice
from racecalc.decisions.pacing.limits import Limit
from racecalc.decisions.pacing.plan import Plan, ridden_at
from racecalc.decisions.pacing.sections import Sections
from racecalc.decisions.riding import Ridden

ROUND = 5.0
"""Steps of a target [W]; finer ones nobody can hold."""

FTOL = 1e-2
"""Seconds at which the search for the best powers stops."""

TRIES = 30


class _Rides:
    """Rides sections at given powers, each once."""

    def __init__(self, base: Ridden, sections: Sections, limit: Limit) -> None:
        self.base, self.sections, self.limit = base, sections, limit
        self._ridden: dict[tuple[float, ...], Plan] = {}
        self._last: Plan | None = None

    def plan(self, levels: FloatArray) -> Plan:
        key = tuple(float(level) for level in levels)
        if key not in self._ridden:
            self._last = ridden_at(self.base, self.sections.spread(levels), self._last)
            self._ridden[key] = self._last
        return self._ridden[key]

    def time_slopes(self, levels: FloatArray) -> FloatArray:
        """Derivative of the time by the power of each section [s/W]."""
        plan = self.plan(levels)
        return self.sections.total(plan.by_power(np.ones_like(plan.power)))

    def room(self, levels: FloatArray) -> FloatArray:
        return self.limit.room(self.plan(levels))

    def room_slopes(self, levels: FloatArray) -> FloatArray:
        return self.sections.total(self.limit.slopes(self.plan(levels)))


def best_levels(
    base: Ridden, sections: Sections, limit: Limit, start: FloatArray
) -> tuple[FloatArray, Plan]:
    """Find the power of each section that takes least time within a limit.

    Sequential quadratic programming (`scipy.optimize.minimize`, SLSQP) with exact derivatives.

    Parameters
    ----------
    base : Ridden
        The race.
    sections : Sections
        Where the power may change.
    limit : Limit
        What must be held.
    start : FloatArray, shape (sections,)
        Powers to start from [W].

    Returns
    -------
    levels : FloatArray, shape (sections,)
        [W]
    plan : Plan
        The race ridden at them.
    """
    rides = _Rides(base, sections, limit)
    size = float(np.mean(start))
    lowest, highest = max(limit.least, 1.0), min(limit.most, 10.0 * size)
    found = minimize(
        lambda x: rides.plan(size * x).time,
        np.clip(start, lowest, highest) / size,
        jac=lambda x: size * rides.time_slopes(size * x),
        bounds=[(lowest / size, highest / size)] * sections.count,
        constraints={
            "type": "ineq",
            "fun": lambda x: rides.room(size * x),
            "jac": lambda x: size * rides.room_slopes(size * x),
        },
        method="SLSQP",
        options={"ftol": FTOL, "maxiter": 100},
    )
    levels = _held(rides, size * np.asarray(found.x), lowest)
    return levels, rides.plan(levels)


def _held(rides: _Rides, levels: FloatArray, lowest: float) -> FloatArray:
    """Powers lowered by as little as makes them hold the limit for sure."""
    for _ in range(TRIES):
        if np.all(rides.room(levels) >= 0.0):
            break
        levels = np.maximum(levels * (1.0 - 2e-4), lowest)
    return levels


def rounded_levels(
    base: Ridden, sections: Sections, limit: Limit, levels: FloatArray
) -> tuple[FloatArray, Plan]:
    """Round the powers of sections to `ROUND`, up or down, within the limit.

    An integer program on the exact slopes of time and limit says which to round up; the race is
    ridden so, and where the limit is not held after all, the program is asked for a little more
    room.

    Parameters
    ----------
    base, sections, limit
        As for `best_levels`.
    levels : FloatArray, shape (sections,)
        The best powers, which hold the limit [W].

    Returns
    -------
    levels : FloatArray, shape (sections,)
        In steps of `ROUND` but for the least and the most power [W].
    plan : Plan
        The race ridden at them; it holds the limit.
    """
    rides = _Rides(base, sections, limit)
    low = np.clip(ROUND * np.floor(levels / ROUND), limit.least, limit.most)
    high = np.clip(low + ROUND, limit.least, limit.most)
    gain = -rides.time_slopes(levels) * (high - low)
    slopes, room = rides.room_slopes(levels), rides.room(levels)
    at_low = room + slopes @ (low - levels)
    spared = 0.0
    for _ in range(TRIES):
        found = best_choice(
            gain, slopes * (high - low), spared - at_low, np.full(len(room), np.inf)
        )
        up = np.zeros(sections.count) if found is None else found
        rounded = low + up * (high - low)
        if np.all(rides.room(rounded) >= 0.0):
            return rounded, rides.plan(rounded)
        spared += 2e-4
    return _lowered(rides, low)


def _lowered(rides: _Rides, levels: FloatArray) -> tuple[FloatArray, Plan]:
    """Whole steps less, where it costs least, until the limit is held."""
    lowest = max(rides.limit.least, ROUND)
    for _ in range(10 * len(levels)):
        if np.all(rides.room(levels) >= 0.0):
            break
        relief = -np.min(rides.room_slopes(levels), axis=0) / -rides.time_slopes(levels)
        dearest = int(np.argmax(np.where(levels > lowest, relief, -np.inf)))
        levels = levels.copy()
        levels[dearest] = max(levels[dearest] - ROUND, lowest)
    return levels, rides.plan(levels)
