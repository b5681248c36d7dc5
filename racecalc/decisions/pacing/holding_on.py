"""The ideal and the even ride within either kind of limit."""

from dataclasses import replace

import numpy as np

from racecalc.decisions.pacing.ideal import constant_plan, ideal_plan
from racecalc.decisions.pacing.levels import best_levels
from racecalc.decisions.pacing.limits import FOURTH, CriticalPower, PowerMean
from racecalc.decisions.pacing.plan import Plan, ridden_at
from racecalc.decisions.pacing.reserve import highest_power_for
from racecalc.decisions.pacing.sections import cut
from racecalc.decisions.riding import Ridden

PacingLimit = PowerMean | CriticalPower

FINE = 30
"""Sections of the ideal within a critical power; our choice: twice as many gain a tenth of a
second on the demo."""


def constant_within(base: Ridden, limit: PacingLimit) -> Plan:
    """Ride one power all along, the highest within a limit."""
    if isinstance(limit, PowerMean):
        return constant_plan(base, limit)
    return _constant_above_critical(base, limit)


def _constant_above_critical(base: Ridden, limit: CriticalPower) -> Plan:
    """The highest power whose reserve lasts to the finish, by bisection."""
    steps = len(base.solution.ride.wheel_power)
    low, high = limit.critical, min(limit.most, 10.0 * limit.critical)
    plan = ridden_at(base, np.full(steps, low))
    while high - low > 0.01:
        middle = 0.5 * (low + high)
        tried = ridden_at(base, np.full(steps, middle), plan)
        if np.all(limit.room(tried) >= 0.0):
            low, plan = middle, tried
        else:
            high = middle
    return plan


def ideal_within(base: Ridden, limit: PacingLimit) -> Plan:
    """Find the ideal within a limit.

    Within a mean it is found at every metre; within a critical power over `FINE` sections, which
    are cut where the ideal within a mean of the same size changes.

    Parameters
    ----------
    base : Ridden
        The race.
    limit : PowerMean or CriticalPower
        What may be held.

    Returns
    -------
    Plan
        Within the limit.

    Raises
    ------
    InputError
        If the limit leaves nothing to choose.
    """
    if isinstance(limit, PowerMean):
        return ideal_plan(base, limit)
    even = _constant_above_critical(base, limit)
    able = float(highest_power_for(np.array(even.time), limit.critical, limit.work))
    level = float(np.clip(able, limit.critical, 0.99 * limit.most))
    shaped = ideal_plan(base, PowerMean(level, FOURTH, limit.least, limit.most))
    sections = cut(shaped, FINE, 0.0, FOURTH)
    start = sections.total(shaped.power * shaped.step_time) / sections.total(shaped.step_time)
    checked = replace(limit, checks=tuple(shaped.nodes[sections.edges].tolist()))
    _, plan = best_levels(base, sections, checked, start)
    return plan if plan.time < even.time else even
