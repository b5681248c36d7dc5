"""The best power of each section within a limit, and the same in whole steps of 5 W."""

import numpy as np
from scipy.optimize import minimize

from racecalc.arrays import FloatArray
from racecalc.decisions.integer_program import best_choice
from racecalc.decisions.pacing.limits import Limit
from racecalc.decisions.pacing.plan import Plan, ridden_at
from racecalc.decisions.pacing.sections import Sections
from racecalc.decisions.riding import Ridden

STEPS = (5.0, 2.0, 1.0)
"""Sizes of the steps of a target that are tried, until a card is no slower than wanted [W]; finer
ones than 5 W hardly anybody can hold."""

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
    base: Ridden, sections: Sections, limit: Limit, levels: FloatArray, even: float
) -> tuple[FloatArray, Plan]:
    """Round the powers of sections to whole steps, within the limit.

    Steps of 5 W; finer ones where these would be slower than one power all along, as they may where
    there are few sections.

    Parameters
    ----------
    base, sections, limit
        As for `best_levels`.
    levels : FloatArray, shape (sections,)
        The best powers, which hold the limit [W].
    even : float
        Time at one power all along within the same limit [s].

    Returns
    -------
    levels : FloatArray, shape (sections,)
        In whole steps but for the least and the most power [W].
    plan : Plan
        The race ridden at them; it holds the limit.
    """
    rides = _Rides(base, sections, limit)
    found = []
    for step in STEPS:
        rounded = _rounded(rides, levels, step)
        found.append((rounded, rides.plan(rounded)))
        if found[-1][1].time <= even:
            break
    return min(found, key=lambda one: one[1].time)


def _rounded(rides: _Rides, levels: FloatArray, step: float) -> FloatArray:
    """The best levels in steps of one size.

    Each section is ridden at the whole steps around its level, all others as they are. An integer
    program picks one for each, as if their effects on time and limit added up; where the limit is
    not held after all, it is asked for a little more room.
    """
    choices = [_whole_steps(rides.limit, level, step) for level in levels]
    owner = np.repeat(np.arange(len(levels)), [len(one) for one in choices])
    tried = np.concatenate(choices)
    time, room = rides.plan(levels).time, rides.room(levels)
    plans = [
        _with(levels, int(section), level) for section, level in zip(owner, tried, strict=True)
    ]
    gain = np.array([time - rides.plan(one).time for one in plans])
    effect = np.array([rides.room(one) - room for one in plans]).T
    one_each = (owner == np.arange(len(levels))[:, None]).astype(float)
    spared = 0.0
    for _ in range(TRIES):
        found = best_choice(
            gain,
            np.vstack((effect, one_each)),
            np.concatenate((spared - room, np.ones(len(levels)))),
            np.concatenate((np.full(len(room), np.inf), np.ones(len(levels)))),
        )
        if found is None:
            break
        rounded = tried[found > 0]
        if np.all(rides.room(rounded) >= 0.0):
            return np.asarray(rounded)
        spared += 2e-4
    lowest = np.array([one[0] for one in choices])
    return _lowered(rides, lowest, step)


def _with(levels: FloatArray, section: int, level: float) -> FloatArray:
    changed = levels.copy()
    changed[section] = level
    return changed


def _whole_steps(limit: Limit, level: float, step: float) -> FloatArray:
    """Whole steps near a power, two to either side, within the least and the most power.

    One watt is the least that is tried: it is as good as coasting, and no rider is stopped by it.
    """
    near = step * (np.floor(level / step) + np.arange(-2.0, 4.0))
    return np.unique(np.clip(near, max(limit.least, 1.0), limit.most))


def _lowered(rides: _Rides, levels: FloatArray, step: float) -> FloatArray:
    """Whole steps less, where it costs least, until the limit is held."""
    lowest = max(rides.limit.least, step)
    for _ in range(10 * len(levels)):
        if np.all(rides.room(levels) >= 0.0) or np.all(levels <= lowest):
            break
        relief = -np.min(rides.room_slopes(levels), axis=0) / -rides.time_slopes(levels)
        dearest = int(np.argmax(np.where(levels > lowest, relief, -np.inf)))
        levels = _with(levels, dearest, max(levels[dearest] - step, lowest))
    return levels
